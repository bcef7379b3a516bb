package path

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// pair is a query without fault.
func pair() Query {
	return Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0)}}
}

func moving(q Query) Query {
	q.BeltToothCount = new(174)
	q.Moving = &Moving{WheelIndex: 1, Segment: &Segment{From: at(200, 0), To: at(500, 0)}}
	return q
}

func TestInputFaults(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Query)
		fields []string
		reason string
	}{
		{"no section", func(q *Query) { q.Section = "" }, []string{"Section"}, beltmath.ReasonExactlyOne},
		{"both", func(q *Query) { q.PitchMM = new(5.0) }, []string{"Section"}, beltmath.ReasonExactlyOne},
		{"unknown", func(q *Query) { q.Section = "H6M" }, []string{"Section"}, beltmath.ReasonUnknownSection},
		{"pitch", func(q *Query) { q.Section, q.PitchMM = "", new(0.4) }, []string{"PitchMM"}, beltmath.ReasonOutOfRange},
		{"pitch NaN", func(q *Query) { q.Section, q.PitchMM = "", new(math.NaN()) }, []string{"PitchMM"}, beltmath.ReasonNotFinite},
		{"belt", func(q *Query) { q.BeltToothCount = new(5001) }, []string{"BeltToothCount"}, beltmath.ReasonOutOfRange},
		{"height", func(q *Query) { q.BeltHeightMM = new(-1.0) }, []string{"BeltHeightMM"}, beltmath.ReasonOutOfRange},
		{"one wheel", func(q *Query) { q.Wheels = q.Wheels[:1] }, []string{"Wheels"}, beltmath.ReasonOutOfRange},
		{"thirteen wheels", func(q *Query) { q.Wheels = make([]Wheel, 13) }, []string{"Wheels"}, beltmath.ReasonOutOfRange},
		{"nothing said of a wheel", func(q *Query) { q.Wheels[1] = Wheel{} }, []string{"Wheels[1].Side", "Wheels[1].Kind", "Wheels[1].Center"}, ReasonMissing},
		{"teeth", func(q *Query) { q.Wheels[0].ToothCount = new(5) }, []string{"Wheels[0].ToothCount"}, beltmath.ReasonOutOfRange},
		{"no teeth", func(q *Query) { q.Wheels[0].ToothCount = nil }, []string{"Wheels[0].ToothCount"}, ReasonMissing},
		{"toothed with diameter", func(q *Query) { q.Wheels[0].DiameterMM = new(1.0) }, []string{"Wheels[0].DiameterMM"}, beltmath.ReasonExactlyOne},
		{"toothed outside", func(q *Query) { q.Wheels[0].Side = SideOutside }, []string{"Wheels[0].Side"}, ReasonToothedOutside},
		{"smooth without diameter", func(q *Query) { q.Wheels[0] = Wheel{Kind: KindSmooth, Side: SideInside, Center: at(0, 0)} }, []string{"Wheels[0].DiameterMM"}, ReasonMissing},
		{"smooth with teeth", func(q *Query) { q.Wheels[0] = smooth(50, 0, 0); q.Wheels[0].ToothCount = new(30) }, []string{"Wheels[0].ToothCount"}, beltmath.ReasonExactlyOne},
		{"diameter", func(q *Query) { q.Wheels[0] = smooth(0, 0, 0) }, []string{"Wheels[0].DiameterMM"}, beltmath.ReasonOutOfRange},
		{"diameter infinite", func(q *Query) { q.Wheels[0] = smooth(math.Inf(1), 0, 0) }, []string{"Wheels[0].DiameterMM"}, beltmath.ReasonNotFinite},
		{"far away", func(q *Query) { q.Wheels[1].Center = at(250001, 0) }, []string{"Wheels[1].Center"}, beltmath.ReasonOutOfRange},
		{"nowhere", func(q *Query) { q.Wheels[1].Center = at(0, math.Inf(-1)) }, []string{"Wheels[1].Center"}, beltmath.ReasonNotFinite},
		{"no center", func(q *Query) { q.Wheels[1].Center = nil }, []string{"Wheels[1].Center"}, ReasonMissing},
		{"no belt to move for", func(q *Query) { *q = moving(*q); q.BeltToothCount = nil }, []string{"BeltToothCount"}, ReasonMissing},
		{"index", func(q *Query) { *q = moving(*q); q.Moving.WheelIndex = 2 }, []string{"Moving.WheelIndex"}, beltmath.ReasonOutOfRange},
		{"no way", func(q *Query) { *q = moving(*q); q.Moving.Segment = nil }, []string{"Moving.Segment"}, beltmath.ReasonExactlyOne},
		{"two ways", func(q *Query) { *q = moving(*q); q.Moving.Arc = &Arc{} }, []string{"Moving.Segment"}, beltmath.ReasonExactlyOne},
		{"no length", func(q *Query) { *q = moving(*q); q.Moving.Segment.To = q.Moving.Segment.From }, []string{"Moving.Segment.To"}, beltmath.ReasonOutOfRange},
		{"no end", func(q *Query) { *q = moving(*q); q.Moving.Segment.To = nil }, []string{"Moving.Segment.To"}, ReasonMissing},
		{"end NaN", func(q *Query) { *q = moving(*q); q.Moving.Segment.To = at(math.NaN(), 0) }, []string{"Moving.Segment.To"}, beltmath.ReasonNotFinite},
		{"arc", func(q *Query) { *q = moving(*q); q.Moving.Segment, q.Moving.Arc = nil, &Arc{FromDeg: 721} }, []string{"Moving.Arc.Center", "Moving.Arc.RadiusMM", "Moving.Arc.FromDeg"}, ReasonMissing},
		{"arc too long", func(q *Query) {
			*q = moving(*q)
			q.Moving.Segment, q.Moving.Arc = nil, &Arc{Center: at(0, 0), RadiusMM: 1, ToDeg: 361}
		}, []string{"Moving.Arc.ToDeg"}, beltmath.ReasonOutOfRange},
		{"heights unknown", func(q *Query) { q.Section = "G8M"; q.Wheels[0] = smooth(80, 0, 0) }, []string{"ToothHeightMM"}, ReasonHeightsUnknown},
		{"heights of a pitch", func(q *Query) {
			q.Section, q.PitchMM = "", new(5.0)
			q.Wheels = append(q.Wheels, back(30, 170, 40))
		}, []string{"BeltHeightMM"}, ReasonHeightsUnknown},
		{"thin belt", func(q *Query) {
			q.BeltHeightMM = new(2.0) // 2.08 + 0.5715 are below the pitch line
			q.Wheels = append(q.Wheels, back(30, 170, 40))
		}, []string{"BeltHeightMM"}, beltmath.ReasonOutOfRange},
		{"all at once", func(q *Query) { q.Section = ""; q.BeltToothCount = new(1); q.Wheels[0].Center = nil }, []string{"Section", "BeltToothCount", "Wheels[0].Center"}, beltmath.ReasonExactlyOne},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			q := pair()
			tt.change(&q)
			_, err := Solve(q)
			var faults beltmath.InputErrors
			require.True(t, errors.As(err, &faults), "%v", err)
			var fields []string
			for _, f := range faults {
				fields = append(fields, f.Field)
				assert.NotEmpty(t, f.Msg)
			}
			assert.Equal(t, tt.fields, fields)
			assert.Equal(t, tt.reason, faults[0].Reason)
		})
	}
}

// TestImpossibleWindings: values that are allowed and give no path.
func TestImpossibleWindings(t *testing.T) {
	tests := []struct {
		name          string
		q             Query
		reason, field string
	}{
		{"overlap", flat(smooth(60, 0, 0), smooth(60, 200, 0), smooth(60, 210, 30)), ReasonWheelsOverlap, "Wheels[2].Center"},
		{"one place", flat(smooth(60, 0, 0), smooth(60, 0, 0)), ReasonWheelsOverlap, "Wheels[1].Center"},
		// 0, 2, 1, 3 of a square crosses.
		{"order", flat(smooth(20, 0, 0), smooth(20, 100, 100), smooth(20, 100, 0), smooth(20, 0, 100)), ReasonNotWound, "Wheels"},
		{"figure of eight", flat(smooth(60, 0, 0), back(60, 200, 0)), ReasonNotWound, "Wheels"},
		// The belt would have to leave its straight line to reach the wheel.
		{"not reached", flat(smooth(60, 0, 0), smooth(60, 300, 0), smooth(20, 150, 5)), ReasonNotReached, "Wheels[2].Center"},
		{"not reached from outside", flat(smooth(60, 0, 0), smooth(60, 300, 0), back(20, 150, 60)), ReasonNotReached, "Wheels[2].Center"},
		// From whichever side it is pressed, the wheel reaches beyond the other span.
		{"pressed through", flat(smooth(60, 0, 0), smooth(60, 300, 0), back(80, 150, 0)), ReasonSpansCross, "Wheels"},
		// A belt on the back of a wheel that stands next to another.
		{"no room", Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 300, 0), back(40, 0, 49)}}, ReasonNoTangent, "Wheels"},
		{"in the way", flat(smooth(60, 0, 0), smooth(20, 60, 80), smooth(60, 300, 0), smooth(30, 150, -28), smooth(20, 150, 200)), ReasonNotWound, "Wheels"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Solve(tt.q)
			none := checkNone(t, err, tt.reason, tt.field)
			assert.NotEmpty(t, none.Msg)
			t.Log(none.Msg)
		})
	}
}

// TestHeights: which radius carries the pitch line. H5M: belt 3.8, tooth 2.08,
// differential 0.5715 (S4, S7).
func TestHeights(t *testing.T) {
	q := Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), back(40, 170, 44), smooth(70, 170, -30)}}
	q.Wheels[2], q.Wheels[3] = q.Wheels[3], q.Wheels[2] // down at the lower span first
	q.Wheels = []Wheel{q.Wheels[0], q.Wheels[2], q.Wheels[1], q.Wheels[3]}
	s := solveOne(t, q)
	assert.InDelta(t, 36*5/fullTurn, s.Wheels[0].PitchRadiusMM, 1e-13)
	assert.InDelta(t, 36*5/fullTurn-0.5715, s.Wheels[0].RimRadiusMM, 1e-13)
	assert.InDelta(t, 35+2.08+0.5715, s.Wheels[1].PitchRadiusMM, 1e-13)
	assert.InDelta(t, 20+3.8-2.08-0.5715, s.Wheels[3].PitchRadiusMM, 1e-13)
	assert.Zero(t, s.Wheels[1].MeshedToothCount)

	q.BeltHeightMM, q.ToothHeightMM, q.PitchLineDifferentialMM = new(4.0), new(2.0), new(0.5)
	s = solveOne(t, q)
	assert.InDelta(t, 35+2.5, s.Wheels[1].PitchRadiusMM, 1e-13)
	assert.InDelta(t, 20+1.5, s.Wheels[3].PitchRadiusMM, 1e-13)
}

func TestNotes(t *testing.T) {
	tests := []struct {
		name string
		q    Query
		want []string
	}{
		{"a listed belt that fits", pair(), nil},
		{"a fraction of a tooth", Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 346, 0)}}, []string{NoteNoWholeBelt}},
		{"another belt", Query{Section: "H5M", BeltToothCount: new(172), Wheels: pair().Wheels}, []string{NoteBeltDoesNotFit}},
		{"a belt in no list", Query{Section: "H5M", BeltToothCount: new(173), Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 342.5, 0)}}, []string{beltmath.NoteLengthNotListed}},
		{"few teeth", Query{PitchMM: new(5.0), Wheels: []Wheel{toothed(10, 0, 0), toothed(10, 100, 0)}}, []string{beltmath.NoteFewMeshedTeeth, beltmath.NoteFewMeshedTeeth}},
		{"below the least", Query{Section: "H8M", Wheels: []Wheel{toothed(20, 0, 0), toothed(24, 288, 0)}}, []string{NoteNoWholeBelt, beltmath.NoteBelowMinTeeth}},
		{"on the back, held", Query{Section: "XL", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), back(20, 170, 20)}}, []string{NoteNoWholeBelt, NoteBackWheelSmall}},
		{"on the back, not held", Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), back(40, 170, 30)}}, []string{NoteNoWholeBelt, NoteBackWheelUnknown}},
		{"heights not verified", Query{Section: "T5", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), back(40, 170, 30)}}, []string{NoteNoWholeBelt, NoteHeightsUnverified, beltmath.NoteDiameterUncertain}},
		{"small inside", Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), smooth(30, 170, 60)}}, []string{NoteNoWholeBelt, NoteInsideIdlerSmall}},
		{"hardly touched", flat(smooth(200, 0, 0), smooth(200, 400, 0), smooth(200, 200, 10)), []string{NoteSmallWrap, NoteNoWholeBelt}},
		{"both ways", flat(smooth(200, 0, 0), smooth(200, 400, 0), back(40, 200, 0)), []string{NoteBothDirections, NoteNoWholeBelt, NoteBackWheelUnknown}},
		{"rubbing", Query{Section: "H5M", Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), back(40, 170, -3)}}, []string{NoteBothDirections, NoteBeltRubs, NoteNoWholeBelt, NoteBackWheelUnknown}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a, err := Solve(tt.q)
			require.NoError(t, err)
			for _, n := range a.Notes {
				t.Log(n)
			}
			assert.Equal(t, tt.want, reasons(a.Notes))
		})
	}
}

// FuzzSolve: any numbers give an answer that is finite, or an error.
func FuzzSolve(f *testing.F) {
	f.Add(0.0, 0.0, 345.0, 0.0, 170.0, 45.0, 40.0, 3, uint8(0), 174, 100.0, 0.0, 0.0)
	f.Add(0.0, 0.0, 345.0, 0.0, 170.0, 45.0, 40.0, 3, uint8(7), 174, 170.0, 10.0, 90.0)
	f.Fuzz(func(t *testing.T, x1, y1, x2, y2, x3, y3, d float64, n int, kinds uint8, belt int, a, b, c float64) {
		wheels := []Wheel{toothed(36, x1, y1), toothed(20, x2, y2), smooth(d, x3, y3), smooth(d, y3, x3)}
		if kinds&1 != 0 {
			wheels[2].Side = SideOutside
		}
		q := Query{Section: "H5M", Wheels: wheels[:max(0, min(4, n))]}
		if kinds&2 != 0 {
			q.BeltToothCount = &belt
			q.Moving = &Moving{WheelIndex: n - 1, Segment: &Segment{From: at(a, b), To: at(b, c)}}
			if kinds&4 != 0 {
				q.Moving.Segment, q.Moving.Arc = nil, &Arc{Center: at(x1, y2), RadiusMM: a, FromDeg: b, ToDeg: c}
			}
		}
		answer, err := Solve(q)
		if err != nil {
			var inputs beltmath.InputErrors
			var none *beltmath.NoSolutionError
			assert.True(t, errors.As(err, &inputs) || errors.As(err, &none), "%v", err)
			return
		}
		for _, s := range answer.Solutions {
			assert.False(t, math.IsNaN(s.BeltLengthMM) || math.IsInf(s.BeltLengthMM, 0))
			for _, w := range s.Wheels {
				assert.False(t, math.IsNaN(w.WrapRad+w.WrapFrom.XMM+w.WrapTo.YMM+w.Center.XMM))
			}
		}
	})
}
