package path

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestMargins compares with three equal wheels, whose belt is as long as the
// triangle of their centers and one rim: school geometry. Toward the line of
// centers the path ends where the moving wheel no longer touches the belt.
func TestMargins(t *testing.T) {
	const apart, from, to = 300.0, 10.0, 90.0
	rim := 40 * 5.0
	length := func(h float64) float64 { return apart + 2*math.Hypot(apart/2, h) + rim }
	q := flat(toothed(40, 0, 0), toothed(40, apart, 0), toothed(40, 0, 0))
	q.BeltToothCount = new(166)
	for _, tt := range []struct{ from, to float64 }{{from, to}, {to, from}, {-20, to}} {
		q.Moving = &Moving{WheelIndex: 2, Segment: &Segment{From: at(apart/2, tt.from), To: at(apart/2, tt.to)}}
		a, err := Solve(q)
		require.NoError(t, err)
		require.Len(t, a.Solutions, 1)
		h := tt.from + math.Copysign(*a.Solutions[0].PositionMM, tt.to-tt.from)
		require.InDelta(t, 166*5, length(h), 1e-9)
		back, ahead, err := Margins(q, &a.Solutions[0])
		require.NoError(t, err)
		for _, m := range []struct {
			end float64
			got Margin
		}{{max(tt.from, 0), back}, {tt.to, ahead}} {
			assert.InDelta(t, math.Abs(m.end-h), m.got.TravelMM, 1e-6) // a touch is found to the rounding granted to a wrap
			assert.InDelta(t, length(m.end)-length(h), m.got.LengthMM, 1e-6)
		}
	}
}

// TestMarginsTurn ends where the path is shortest: a wheel that moves along the
// line of centers on a belt round two others, off to one side.
func TestMarginsTurn(t *testing.T) {
	q := flat(toothed(20, 0, 0), toothed(20, 300, 0), toothed(20, 0, 0))
	q.BeltToothCount = new(158)
	q.Moving = &Moving{WheelIndex: 2, Segment: &Segment{From: at(-50, 120), To: at(350, 120)}}
	a, err := Solve(q)
	require.NoError(t, err)
	require.Len(t, a.Solutions, 2)
	_, ahead, err := Margins(q, &a.Solutions[0])
	require.NoError(t, err)
	shortest := 300 + 2*math.Hypot(150, 120) + 100
	assert.InDelta(t, shortest-790, ahead.LengthMM, 0.1) // the turn is looked for in parts of 1.6 mm
	assert.InDelta(t, 200, *a.Solutions[0].PositionMM+ahead.TravelMM, 1.6)
}

func TestMarginsRefuse(t *testing.T) {
	_, _, err := Margins(Query{}, &Solution{})
	require.Error(t, err)
	back, ahead, err := Margins(flat(toothed(40, 0, 0), toothed(40, 300, 0)), &Solution{})
	require.NoError(t, err)
	assert.Zero(t, back)
	assert.Zero(t, ahead)
}

// TestFits agrees with Solve for every belt.
func TestFits(t *testing.T) {
	q := Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), back(40, 0, 0)}}
	q.Moving = &Moving{WheelIndex: 2, Segment: &Segment{From: at(172.5, 60), To: at(172.5, 0)}}
	fitting := 0
	for teeth := 150; teeth < 200; teeth++ {
		q.BeltToothCount = &teeth
		fits, err := Fits(q)
		require.NoError(t, err)
		_, err = Solve(q)
		assert.Equal(t, err == nil, fits, "%d teeth", teeth)
		if fits {
			fitting++
		}
	}
	assert.Positive(t, fitting)
	q.Section = ""
	_, err := Fits(q)
	assert.Error(t, err)
}

// TestNamesOfWheels puts names in place of numbers in every text.
func TestNamesOfWheels(t *testing.T) {
	q := Query{Section: "H5M", BeltToothCount: new(175), Wheels: []Wheel{toothed(12, 0, 0), toothed(12, 345, 0), smooth(20, 170, 20)}}
	texts := func(q Query) string {
		a, err := Solve(q)
		if err != nil {
			return err.Error()
		}
		var all strings.Builder
		for _, n := range a.Notes {
			all.WriteString(n.Message + "\n")
		}
		return all.String()
	}
	numbered := texts(q)
	require.Contains(t, numbered, "only 5 teeth of wheel 1 in mesh")
	for i, name := range []string{"this pulley", "that pulley", "the idler"} {
		q.Wheels[i].Name = name
	}
	assert.Contains(t, texts(q), "only 5 teeth of this pulley in mesh")
	assert.NotContains(t, texts(q), "wheel 1")
	q.Wheels[2].Center = at(170, 5)
	q.Wheels[2].Side, q.Wheels[2].Center = SideOutside, at(170, 50)
	assert.Contains(t, texts(q), "the belt would pass the idler without touching it")
	q.Wheels[2] = back(60, 170, -20)
	q.Wheels[2].Name = "the idler"
	assert.Contains(t, texts(q), "between its parts this pulley to that pulley and that pulley to the idler")
	q.Wheels[2] = smooth(20, 0, 0)
	q.Wheels[2].Name = "the idler"
	q.Wheels[2].Center = at(5, 5)
	assert.Contains(t, texts(q), "this pulley and the idler overlap")
	q.Wheels[2].Name, q.Wheels[1].Name = "", "" // the others keep their numbers
	assert.Contains(t, texts(q), "this pulley and wheel 3 overlap")
}
