package beltmath

import (
	"flag"
	"math"
	"math/big"
)

// long asks for the sweeps over the whole domain, some minutes on two cores:
//
//	go test ./beltmath -run 'WholeDomain|Nearest' -v -long -timeout 1h
var long = flag.Bool("long", false, "sweep the whole domain of the kernel")

// What follows is the plain and slow reference of the kernel tests: the length
// equation as textbooks print it, in math/big with 200 bits, the arc sine by
// Newton's method on the power series of the sine, the root by bisection.

const referenceBits = 200

var bigPi = bigText("3.14159265358979323846264338327950288419716939937510582097494459230781640628620899")

func bigText(s string) *big.Float {
	v, _, err := big.ParseFloat(s, 10, referenceBits, big.ToNearestEven)
	if err != nil {
		panic(err)
	}
	return v
}

func bigNum(v float64) *big.Float { return new(big.Float).SetPrec(referenceBits).SetFloat64(v) }

func bigAdd(a, b *big.Float) *big.Float { return bigNum(0).Add(a, b) }
func bigSub(a, b *big.Float) *big.Float { return bigNum(0).Sub(a, b) }
func bigMul(a, b *big.Float) *big.Float { return bigNum(0).Mul(a, b) }
func bigQuo(a, b *big.Float) *big.Float { return bigNum(0).Quo(a, b) }

func bigSqrt(a *big.Float) *big.Float { return bigNum(0).Sqrt(a) }

func bigFloat64(a *big.Float) float64 {
	v, _ := a.Float64()
	return v
}

// bigPitch returns the exact pitch, a decimal one where micrometers is given.
func bigPitch(p Pitch, micrometers int) *big.Float {
	if micrometers > 0 {
		return bigQuo(bigNum(float64(micrometers)), bigNum(1000))
	}
	return bigAdd(bigNum(p.hi), bigNum(p.lo))
}

// bigSinCos sums the power series at a/64 and doubles the angle six times.
func bigSinCos(a *big.Float) (sin, cos *big.Float) {
	a = bigQuo(a, bigNum(64))
	term := bigNum(1)
	sin, cos = bigNum(0), bigNum(0)
	for k := 1.; k < 40; k += 2 {
		cos = bigAdd(cos, term)
		term = bigQuo(bigMul(term, a), bigNum(k))
		sin = bigAdd(sin, term)
		term = bigQuo(bigMul(term, a), bigNum(-(k + 1)))
	}
	for range 6 {
		sin, cos = bigMul(bigNum(2), bigMul(sin, cos)), bigSub(bigMul(cos, cos), bigMul(sin, sin))
	}
	return sin, cos
}

// bigAsin returns the arc sine of x in [0, 1), given cos = sqrt(1 - x^2) as a
// start.
func bigAsin(x, cos *big.Float) *big.Float {
	a := bigNum(math.Atan2(bigFloat64(x), bigFloat64(cos)))
	for range 4 {
		s, c := bigSinCos(a)
		a = bigSub(a, bigQuo(bigSub(s, x), c))
	}
	return a
}

// bigLength returns the length of an open belt of the given pitch on pulleys of
// z1 <= z2 teeth at center distance c, or nil if c is below the difference of
// the radii.
func bigLength(pitch, z1, z2, c *big.Float) *big.Float {
	radius := func(z *big.Float) *big.Float { return bigQuo(bigMul(pitch, z), bigMul(bigNum(2), bigPi)) }
	d := bigSub(radius(z2), radius(z1))
	square := bigSub(bigMul(c, c), bigMul(d, d))
	if square.Sign() < 0 || c.Sign() < 0 {
		return nil
	}
	length := bigMul(bigPi, bigAdd(radius(z1), radius(z2)))
	if c.Sign() == 0 {
		return length
	}
	span := bigSqrt(square)
	angle := bigAsin(bigQuo(d, c), bigQuo(span, c))
	length.Add(length, bigMul(bigNum(2), span))
	return length.Add(length, bigMul(bigNum(2), bigMul(d, angle)))
}

// bigCenter solves the length equation for c in pitches by bisection, to steps
// bits of its first bracket.
func bigCenter(z1, z2, belt *big.Float, steps int) *big.Float {
	low := bigQuo(bigSub(z2, z1), bigMul(bigNum(2), bigPi))
	high := bigAdd(low, belt)
	for range steps {
		c := bigQuo(bigAdd(low, high), bigNum(2))
		length := bigLength(bigNum(1), z1, z2, c)
		if length == nil || length.Cmp(belt) < 0 {
			low = c
		} else {
			high = c
		}
	}
	return low
}

// ulpsOff returns |got - want| in units in the last place of want.
func ulpsOff(got float64, want *big.Float) float64 {
	return math.Abs(bigFloat64(bigSub(bigNum(got), want))) / ulpOf(bigFloat64(want))
}

// ulpOf returns the unit in the last place of a float64 near v.
func ulpOf(v float64) float64 {
	_, exponent := math.Frexp(v)
	return math.Ldexp(1, exponent-53)
}

// ulpsByLength returns how far center is from the exact root, in ulp, by the
// exact length it gives and the slope dL/dC = 2 sin t. It takes the forward
// equation in double-double, which TestBeltLengthReference checks.
func ulpsByLength(p Pitch, driver, driven, belt int, center float64) float64 {
	missing := p.exact().times(float64(belt)).sub(p.beltLength(driver, driven, center)).hi
	x := p.MM() * math.Abs(float64(driver-driven)) / (2 * math.Pi * center)
	return math.Abs(missing) / (2 * math.Sqrt((1-x)*(1+x))) / ulpOf(center)
}
