package path

import (
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// movingQuery lets a wheel of a random path move on a random way near it, with
// a belt that is near the length of the path.
func movingQuery(r *rand.Rand) (Query, bool) {
	q := waveQuery(r)
	if r.IntN(3) == 0 {
		q = convexQuery(r)
	}
	a, err := Solve(q)
	if err != nil {
		return q, false
	}
	i := r.IntN(len(q.Wheels))
	c := q.Wheels[i].Center
	around := func(size float64) *beltmath.Point {
		return &beltmath.Point{XMM: c.XMM + size*(2*r.Float64()-1), YMM: c.YMM + size*(2*r.Float64()-1)}
	}
	q.Moving = &Moving{WheelIndex: i}
	if r.IntN(2) == 0 {
		q.Moving.Segment = &Segment{From: around(150), To: around(150)}
	} else {
		pivot := around(200)
		start := 720*r.Float64() - 360
		q.Moving.Arc = &Arc{
			Center: pivot, RadiusMM: math.Hypot(pivot.XMM-c.XMM, pivot.YMM-c.YMM),
			FromDeg: start, ToDeg: start + 720*r.Float64() - 360,
		}
	}
	belt := int(a.Solutions[0].ExactToothCount) + r.IntN(5) - 2
	q.BeltToothCount = &belt
	return q, true
}

// bruteCrossings walks the way in small steps and lists the steps in which a
// path, valid at both ends with nearly one length, passes the length of the
// belt.
func bruteCrossings(p *problem, direction float64, steps int) []float64 {
	var found []float64
	wanted := p.pitchMM * float64(*p.BeltToothCount)
	step := p.way.length / float64(steps)
	previous, valid := 0.0, false
	var c course
	for n := range steps + 1 {
		p.moveTo(step * float64(n))
		p.loop.wind(direction, &c)
		ok := p.loop.overlap() == nil && p.loop.check(&c) == nil
		excess := c.length - wanted
		if ok && valid && math.Abs(excess-previous) <= 2*step*(1+1e-9) && (excess < 0) != (previous < 0) {
			found = append(found, step*(float64(n)-0.5))
		}
		previous, valid = excess, ok
	}
	return found
}

// TestEveryPositionIsFound compares the positions found with a walk in small
// steps, which may miss two positions within one step or next to the end of
// where a path exists, but invents none.
func TestEveryPositionIsFound(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 4))
	const steps = 4000
	queries, positions, most := 0, 0, 0
	for queries < 250 {
		q, ok := movingQuery(r)
		if !ok {
			continue
		}
		queries++
		p, err := q.resolve()
		require.NoError(t, err)
		a, err := Solve(q)
		var none *beltmath.NoSolutionError
		if err != nil {
			require.True(t, errors.As(err, &none), err)
		}
		step := p.way.length / steps
		for _, direction := range p.directions() {
			walked := bruteCrossings(p, direction, steps)
			count := 0
			for _, s := range a.Solutions {
				if s.CounterClockwise == (direction > 0) {
					count++
				}
			}
			assert.GreaterOrEqual(t, count, len(walked))
			for _, at := range walked {
				near := math.Inf(1)
				for _, s := range a.Solutions {
					if s.CounterClockwise == (direction > 0) {
						near = math.Min(near, math.Abs(*s.PositionMM-at))
					}
				}
				assert.LessOrEqual(t, near, step, "the walk passes the length at %v, query %+v", at, q)
			}
		}
		positions += len(a.Solutions)
		most = max(most, len(a.Solutions))
		for i, s := range a.Solutions {
			assert.InDelta(t, 5.0*float64(*q.BeltToothCount), s.BeltLengthMM, 1e-9)
			if i > 0 {
				assert.Greater(t, *s.PositionMM, *a.Solutions[i-1].PositionMM)
			}
		}
	}
	assert.Greater(t, positions, 100)
	assert.GreaterOrEqual(t, most, 2)
}

// pressed is two equal wheels 300 mm apart and one on the back that moves along
// a line above the upper span, symmetric about its middle, where the length is
// greatest. The pitch, of no other effect here, makes the belt of 200 teeth
// longer than that by the given part of it.
func pressed(t *testing.T, longer float64) Query {
	t.Helper()
	q := flat(smooth(60, -150, 0), smooth(60, 150, 0), back(40, 0, 30))
	length := solveOne(t, q).BeltLengthMM
	q.PitchMM = new(length * (1 + longer) / 200)
	q.BeltToothCount = new(200)
	q.Moving = &Moving{WheelIndex: 2, Segment: &Segment{From: at(-100, 30), To: at(100, 30)}}
	return q
}

// TestDoublePosition: just below the greatest length there are two positions
// the same way from the middle, at it one, which is told, above it none.
func TestDoublePosition(t *testing.T) {
	// To second order the length falls by k x^2 on either side of the middle,
	// x = sqrt(longer length / k); k is seen from a step of 1 mm.
	middle := solveOne(t, flat(smooth(60, -150, 0), smooth(60, 150, 0), back(40, 0, 30))).BeltLengthMM
	aside := solveOne(t, flat(smooth(60, -150, 0), smooth(60, 150, 0), back(40, 1, 30))).BeltLengthMM
	k := aside - middle
	require.NotZero(t, k)
	sign := math.Copysign(1, k)
	for _, part := range []float64{1e-4, 1e-7, 1e-9, 1e-11} {
		a, err := Solve(pressed(t, sign*part))
		require.NoError(t, err)
		require.Len(t, a.Solutions, 2, part)
		x := math.Sqrt(part * middle / math.Abs(k))
		assert.InEpsilon(t, x, 100-*a.Solutions[0].PositionMM, 0.02, part)
		assert.InDelta(t, 100-*a.Solutions[0].PositionMM, *a.Solutions[1].PositionMM-100, 1e-3)
		assert.NotContains(t, reasons(a.Notes), NotePositionsTouch)
	}
	a, err := Solve(pressed(t, 0))
	require.NoError(t, err)
	require.Len(t, a.Solutions, 1)
	assert.InDelta(t, 100, *a.Solutions[0].PositionMM, ResolutionMM)
	assert.InDelta(t, 0, *a.Solutions[0].LengthPerMM, 1e-5)
	assert.Contains(t, reasons(a.Notes), NotePositionsTouch)
	for _, part := range []float64{1e-4, 1e-7, 1e-11} {
		_, err = Solve(pressed(t, -sign*part))
		checkNone(t, err, ReasonNoPosition, "BeltToothCount")
	}
}

func checkNone(t *testing.T, err error, reason, field string) beltmath.NoSolutionError {
	t.Helper()
	var none *beltmath.NoSolutionError
	require.True(t, errors.As(err, &none), "%v", err)
	assert.Equal(t, reason, none.Reason, none.Msg)
	assert.Equal(t, field, none.Field)
	return *none
}

// TestEndsBelongToTheWay: positions at the very ends count, and one at the
// start of a full circle counts once.
func TestEndsBelongToTheWay(t *testing.T) {
	q := Query{Section: "H5M", BeltToothCount: new(174), Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 0, 0)}}
	// Equal pulleys: C = 5 (2 * 174 - 72) / 4 = 345.
	for _, s := range []Segment{
		{From: at(345, 0), To: at(500, 0)},
		{From: at(200, 0), To: at(345, 0)},
		{From: at(207, 276), To: at(300, 400)},
		{From: at(60, 80), To: at(207, 276)}, // 3:4:5
	} {
		q.Moving = &Moving{WheelIndex: 1, Segment: &s}
		found := solveOne(t, q)
		assert.InDelta(t, 345, math.Hypot(found.Wheels[1].Center.XMM, found.Wheels[1].Center.YMM), 1e-9)
	}
	// A circle of 45 mm round (300, 0) meets the circle of 345 mm at its start.
	q.Moving = &Moving{WheelIndex: 1, Arc: &Arc{Center: at(300, 0), RadiusMM: 45, FromDeg: 0, ToDeg: 360}}
	touching, err := Solve(q)
	require.NoError(t, err)
	require.Len(t, touching.Solutions, 1)
	assert.InDelta(t, 345, touching.Solutions[0].Wheels[1].Center.XMM, 1e-6)
	// Round (300, 0) with 100 mm both circles cross in two places, x = 348.375.
	x := (345.0*345 + 300*300 - 100*100) / 600
	for _, a := range []Arc{{FromDeg: 0, ToDeg: 360}, {FromDeg: 180, ToDeg: -180}, {FromDeg: -90, ToDeg: 90}} {
		a.Center, a.RadiusMM = at(300, 0), 100
		q.Moving = &Moving{WheelIndex: 1, Arc: &a}
		two, err := Solve(q)
		require.NoError(t, err)
		require.Len(t, two.Solutions, 2)
		for _, s := range two.Solutions {
			assert.InDelta(t, x, s.Wheels[1].Center.XMM, 1e-9)
		}
	}
}

// TestEveryPositionFits: round the other wheel the length does not change.
func TestEveryPositionFits(t *testing.T) {
	q := Query{Section: "H5M", BeltToothCount: new(174), Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0)}}
	q.Moving = &Moving{WheelIndex: 1, Arc: &Arc{Center: at(0, 0), RadiusMM: 345, FromDeg: 0, ToDeg: 90}}
	_, err := Solve(q)
	checkNone(t, err, ReasonEveryPosition, "BeltToothCount")
	q.BeltToothCount = new(173)
	_, err = Solve(q)
	checkNone(t, err, ReasonNoPosition, "BeltToothCount")
}

// TestNearestBeltWorks: the belt that an error proposes has a position.
func TestNearestBeltWorks(t *testing.T) {
	q := pressed(t, 0)
	q.PitchMM = new(5.0)
	for _, belt := range []int{20, 300} {
		q.BeltToothCount = &belt
		_, err := Solve(q)
		none := checkNone(t, err, ReasonNoPosition, "BeltToothCount")
		if none.Nearest == "" {
			continue
		}
		teeth, scanErr := strconv.Atoi(none.Nearest)
		require.NoError(t, scanErr)
		q.BeltToothCount = &teeth
		_, err = Solve(q)
		assert.NoError(t, err)
	}
}
