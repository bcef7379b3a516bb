package path

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// flatWaveQuery is a waveQuery whose wheels are all smooth and carry the belt on
// their rims, so that everything in it can be scaled.
func flatWaveQuery(r *rand.Rand) Query {
	for {
		q := waveQuery(r)
		var wheels []Wheel
		for _, w := range q.Wheels {
			d := 5.0 * 30 / math.Pi
			if w.DiameterMM != nil {
				d = *w.DiameterMM
			}
			wheels = append(wheels, Wheel{Kind: KindSmooth, DiameterMM: &d, Side: w.Side, Center: w.Center})
		}
		q = flat(wheels...)
		if _, err := Solve(q); err == nil {
			return q
		}
	}
}

func mapped(q Query, point func(beltmath.Point) beltmath.Point, scale float64) Query {
	wheels := slices.Clone(q.Wheels)
	for i := range wheels {
		wheels[i].Center = new(point(*wheels[i].Center))
		wheels[i].DiameterMM = new(*wheels[i].DiameterMM * scale)
	}
	q.Wheels = wheels
	return q
}

// wraps is the arcs of contact, wheel by wheel.
func wraps(s Solution) []float64 {
	var all []float64
	for _, w := range s.Wheels {
		all = append(all, w.WrapRad)
	}
	return all
}

// TestLengthKeepsWithTheFrame: moving, turning and mirroring keeps length and
// wraps, scaling scales the length; a list that starts at another wheel or runs
// the other way is the same path.
func TestLengthKeepsWithTheFrame(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 5))
	for range 300 {
		q := flatWaveQuery(r)
		s := solveOne(t, q)
		// Coordinates stay below 1000 mm: their rounding is 1e-13 mm, and a
		// wrap changes by that over the shortest span, some 10 mm.
		const lengthDelta, wrapDelta = 1e-10, 1e-11
		sin, cos := math.Sincos(r.Float64() * fullTurn)
		dx, dy := r.Float64()*200-100, r.Float64()*200-100
		moved := solveOne(t, mapped(q, func(p beltmath.Point) beltmath.Point {
			return beltmath.Point{XMM: dx + p.XMM*cos - p.YMM*sin, YMM: dy + p.XMM*sin + p.YMM*cos}
		}, 1))
		assert.InDelta(t, s.BeltLengthMM, moved.BeltLengthMM, lengthDelta)
		assert.InDeltaSlice(t, wraps(s), wraps(moved), wrapDelta)
		assert.Equal(t, s.CounterClockwise, moved.CounterClockwise)

		mirror := solveOne(t, mapped(q, func(p beltmath.Point) beltmath.Point { return beltmath.Point{XMM: -p.XMM, YMM: p.YMM} }, 1))
		assert.InDelta(t, s.BeltLengthMM, mirror.BeltLengthMM, lengthDelta)
		assert.InDeltaSlice(t, wraps(s), wraps(mirror), wrapDelta)
		if len(q.Wheels) > 2 {
			assert.NotEqual(t, s.CounterClockwise, mirror.CounterClockwise)
		}

		scale := 0.5 + 2*r.Float64()
		scaled := solveOne(t, mapped(q, func(p beltmath.Point) beltmath.Point {
			return beltmath.Point{XMM: p.XMM * scale, YMM: p.YMM * scale}
		}, scale))
		assert.InDelta(t, s.BeltLengthMM*scale, scaled.BeltLengthMM, 3*lengthDelta)
		assert.InDeltaSlice(t, wraps(s), wraps(scaled), wrapDelta)

		k := r.IntN(len(q.Wheels))
		rolled := q
		rolled.Wheels = append(slices.Clone(q.Wheels[k:]), q.Wheels[:k]...)
		other := solveOne(t, rolled)
		assert.InDelta(t, s.BeltLengthMM, other.BeltLengthMM, lengthDelta)
		assert.InDeltaSlice(t, append(wraps(s)[k:], wraps(s)[:k]...), wraps(other), wrapDelta)

		backward := q
		backward.Wheels = slices.Clone(q.Wheels)
		slices.Reverse(backward.Wheels)
		other = solveOne(t, backward)
		assert.InDelta(t, s.BeltLengthMM, other.BeltLengthMM, lengthDelta)
		slices.Reverse(backward.Wheels)
	}
}

// TestSolutionClosesUp: spans and arcs join, tangents stand on their wheels,
// inside turns less outside turns are one, and the parts add up.
func TestSolutionClosesUp(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 6))
	for range 300 {
		q := flatWaveQuery(r)
		s := solveOne(t, q)
		total, turns := 0.0, 0.0
		for i, w := range s.Wheels {
			sign := 1.0
			if q.Wheels[i].Side == SideOutside {
				sign = -1
			}
			turns += sign * w.WrapRad
			before := s.Spans[(i+len(s.Spans)-1)%len(s.Spans)]
			ends := []beltmath.Point{before.To, s.Spans[i].From}
			if s.CounterClockwise != (sign > 0) {
				slices.Reverse(ends)
			}
			assert.Equal(t, ends, []beltmath.Point{w.WrapFrom, w.WrapTo})
			for _, p := range ends {
				assert.InDelta(t, w.PitchRadiusMM, math.Hypot(p.XMM-w.Center.XMM, p.YMM-w.Center.YMM), 1e-10)
			}
			span := s.Spans[i]
			assert.InDelta(t, span.LengthMM, math.Hypot(span.To.XMM-span.From.XMM, span.To.YMM-span.From.YMM), 1e-10)
			assert.InDelta(t, w.PitchRadiusMM*w.WrapRad, w.ContactLengthMM, 1e-12)
			total += span.LengthMM + w.ContactLengthMM
		}
		assert.InDelta(t, fullTurn, turns, 1e-11)
		assert.InDelta(t, s.BeltLengthMM, total, 1e-10)
	}
}

// TestSlopeIsTheDerivative compares it with a central difference.
func TestSlopeIsTheDerivative(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	compared := 0
	for compared < 100 {
		q, ok := movingQuery(r)
		if !ok {
			continue
		}
		a, err := Solve(q)
		if err != nil {
			continue
		}
		compared++
		p, err := q.resolve()
		require.NoError(t, err)
		for _, s := range a.Solutions {
			const h = 1e-3
			seek := p.seeker(map[bool]float64{true: 1, false: -1}[s.CounterClockwise])
			seek.put(*s.PositionMM + h)
			far, clear := seek.course.length, seek.course.turns == 1
			seek.put(*s.PositionMM - h)
			if clear && seek.course.turns == 1 {
				// Rounding 1e-12 over 2e-3; the third derivative, below 1/mm^2
				// for spans of some millimeters, times h^2/6.
				assert.InDelta(t, (far-seek.course.length)/(2*h), *s.LengthPerMM, 1e-6)
			}
		}
	}
}
