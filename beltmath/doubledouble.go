package beltmath

import "math"

// dd is the unevaluated sum hi + lo of two float64, |lo| at most half an ulp
// of hi: about 106 bits. Each operation below is good to 2^-102 of its result;
// products are split by math.FMA, which rounds once on every machine, so the
// bits are the same everywhere.
type dd struct{ hi, lo float64 }

// sum2 returns a + b exactly.
func sum2(a, b float64) dd {
	s := a + b
	t := s - a
	return dd{s, (a - (s - t)) + (b - t)}
}

// fastSum2 returns a + b exactly where |a| >= |b| or a is 0.
func fastSum2(a, b float64) dd {
	s := a + b
	return dd{s, b - (s - a)}
}

// product2 returns a * b exactly, barring underflow.
func product2(a, b float64) dd {
	p := float64(a * b)
	return dd{p, math.FMA(a, b, -p)}
}

func (a dd) add(b dd) dd {
	s, t := sum2(a.hi, b.hi), sum2(a.lo, b.lo)
	s = fastSum2(s.hi, s.lo+t.hi)
	return fastSum2(s.hi, s.lo+t.lo)
}

func (a dd) sub(b dd) dd { return a.add(dd{-b.hi, -b.lo}) }

func (a dd) mul(b dd) dd {
	p := product2(a.hi, b.hi)
	return fastSum2(p.hi, p.lo+(float64(a.hi*b.lo)+float64(a.lo*b.hi)))
}

// times returns a * f.
func (a dd) times(f float64) dd {
	p := product2(a.hi, f)
	return fastSum2(p.hi, p.lo+float64(a.lo*f))
}

// div divides in three steps, each with the exact remainder of the last.
func (a dd) div(b dd) dd {
	q1 := a.hi / b.hi
	r := a.sub(b.times(q1))
	q2 := r.hi / b.hi
	r = r.sub(b.times(q2))
	q := fastSum2(q1, q2)
	return q.add(dd{r.hi / b.hi, 0})
}

// sqrt takes one Newton step from the rounded root; 0 for 0.
func (a dd) sqrt() dd {
	if a.hi == 0 {
		return dd{}
	}
	root := math.Sqrt(a.hi)
	rest := a.sub(product2(root, root))
	return fastSum2(root, rest.hi/(2*root))
}
