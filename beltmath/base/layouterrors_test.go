package base

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// ring is three wheels of which each is joined with each of the others, and a
// fourth on one of them.
func ring(teeth ...int) Base {
	b := roverA()
	b.Standoffs, b.Members, b.AxlePositions = nil, nil, nil
	b.Axles = append(b.Axles, b.Axles[0])
	b.Links = nil
	for i, ends := range [][2]int{{0, 1}, {1, 2}, {2, 3}, {0, 3}} {
		b.Links = append(b.Links, beltOn(ends[0], ends[1], "H5M", beltmath.Pulley{ToothCount: teeth[2*i]}, beltmath.Pulley{ToothCount: teeth[2*i+1]}, 174))
	}
	return b
}

func TestLayoutRefusals(t *testing.T) {
	tests := []struct {
		name, reason, field, text string
		change                    func(*Base)
	}{
		{"no axles", beltmath.ReasonOutOfRange, "Base.Axles", "2 to 16", func(b *Base) { b.Axles, b.Links = b.Axles[:1], b.Links[:0] }},
		{"link to itself", ReasonSelfLink, "Base.Links[1].ToAxle", "two axles", func(b *Base) { b.Links[1].ToAxle = 1 }},
		{"link to nowhere", beltmath.ReasonOutOfRange, "Base.Links[0].FromAxle", "0 to 2", func(b *Base) { b.Links[0].FromAxle = 3 }},
		{"negative axle", beltmath.ReasonOutOfRange, "Base.Links[0].ToAxle", "0 to 2", func(b *Base) { b.Links[0].ToAxle = -1 }},
		{"missing link", ReasonNotConnected, "Base.Links", "axle 3", func(b *Base) { b.Links = b.Links[:1] }},
		{"no link", beltmath.ReasonOutOfRange, "Base.Links", "1 to 16", func(b *Base) { b.Links = nil }},
		{"wheel at two speeds", ReasonTwoSpeeds, "Base.Links[2].Drive", "two speeds", func(b *Base) { *b = ring(36, 36, 36, 36, 36, 36, 36, 37) }},
		{"ring that does not close", ReasonLoopOpen, "Base.Links[2].Drive.BeltToothCount", "mm apart", func(b *Base) {
			*b = ring(36, 36, 36, 36, 36, 36, 36, 36)
			b.Links[2].Drive.BeltToothCount = new(180)
		}},
		{"three belts on an axle", ReasonTooManyBelts, "Base.Links", "two lanes", func(b *Base) { b.Links = append(b.Links, b.Links[0]) }},
		{"ring of three belts", ReasonTooManyBelts, "Base.Links[2]", "two lanes", func(b *Base) {
			p := flanged(36, 61)
			b.Links = append(b.Links, beltOn(0, 2, "H5M", p, p, 316))
		}},
		{"wheels that overlap", ReasonWheelsTouch, "Base.Links[0].Drive.BeltToothCount", "overlaps that of axle 1", func(b *Base) { b.Links[0].Drive.BeltToothCount = new(90) }},
		{"drilled wheels that overlap", ReasonWheelsTouch, "Base.AxlePositions[1]", "by 60.000 mm", func(b *Base) {
			b.AxlePositions = []beltmath.Point{at(0, 0), at(100, 0), at(400, 0)}
		}},
		{"drilled out of order", ReasonOutOfOrder, "Base.AxlePositions[2]", "axle 2", func(b *Base) {
			b.AxlePositions = []beltmath.Point{at(0, 0), at(400, 0), at(200, 0)}
		}},
		{"too few drilled", ReasonWrongLength, "Base.AxlePositions", "3 axles", func(b *Base) { b.AxlePositions = make([]beltmath.Point, 2) }},
		{"drilled at infinity", beltmath.ReasonNotFinite, "Base.AxlePositions[1]", "finite", func(b *Base) {
			b.AxlePositions = []beltmath.Point{at(0, 0), at(math.Inf(1), 0), at(math.Inf(1), 0)}
		}},
		{"belt shorter than the drop", ReasonCenterTooShort, "Base.Links[0].Drive.BeltToothCount", "less drop", func(b *Base) { b.Axles[1].DropMM = 400 }},
		{"belt too short", beltmath.ReasonBeltTooShort, "Base.Links[1].Drive.BeltToothCount", "smallest belt", func(b *Base) { b.Links[1].Drive.BeltToothCount = new(30) }},
		{"flanges touch", beltmath.ReasonFlangesTouch, "Base.Links[1].Drive.BeltToothCount", "smallest belt", func(b *Base) { b.Links[1].Drive.BeltToothCount = new(59) }},
		{"unknown section", beltmath.ReasonUnknownSection, "Base.Links[0].Drive.Section", "H5M", func(b *Base) { b.Links[0].Drive.Section = "H6M" }},
		{"no heights held", ReasonHeightsUnknown, "Base.Links[0].Drive.Section", "belt_height_mm, tooth_height_mm", func(b *Base) { b.Links[0].Drive.Section = "R5M" }},
		{"pitch without heights", ReasonHeightsUnknown, "Base.Links[1].Drive.PitchMM", "pitch_line_differential_mm", func(b *Base) {
			b.Links[1].Drive.Section, b.Links[1].Drive.PitchMM = "", new(5.0)
		}},
		{"heights that contradict", beltmath.ReasonOutOfRange, "Base.BeltHeightMM", "at least", func(b *Base) {
			b.BeltHeightMM = new(2.0)
			b.Links = b.Links[:1]
			b.Axles = b.Axles[:2]
		}},
		{"height of zero", beltmath.ReasonOutOfRange, "Base.ToothHeightMM", "above 0", func(b *Base) { b.ToothHeightMM = new(0.0) }},
		{"narrow cavity", ReasonCavityNarrow, "Base.CavityWidthMM", "short by 4 mm", func(b *Base) { b.CavityWidthMM = 121 }},
		{"wheel without width", beltmath.ReasonOutOfRange, "Base.Axles[2].WheelWidthMM", "above 0", func(b *Base) { b.Axles[2].WheelWidthMM = 0 }},
		{"belt wider than pulley", beltmath.ReasonOutOfRange, "Base.PulleyWidthMM", "at least belt_width_mm", func(b *Base) { b.BeltWidthMM = 40 }},
		{"standoff beyond the end", ReasonOutsidePlate, "Base.Standoffs[0].Center", "x from -53.000 to 752.974", func(b *Base) { b.Standoffs[0].Center = at(-54, 0) }},
		{"standoff above the plate", ReasonOutsidePlate, "Base.Standoffs[0].Center", "y from -53.000 to 53.000", func(b *Base) { b.Standoffs[0].Center = at(170, 54) }},
		{"hole through the edge", ReasonOutsidePlate, "Base.Axles[1].HoleDiameterMM", "breaks out of the plate", func(b *Base) { b.Axles[1].HoleDiameterMM = 116 }},
		{"holes that overlap", ReasonHolesOverlap, "Base.Standoffs[1].HoleDiameterMM", "hole of standoff 1", func(b *Base) {
			b.Standoffs[1].Center = b.Standoffs[0].Center
			b.Standoffs[1].Center.XMM += 5 // holes of 5.5 mm
		}},
		{"hole larger than its standoff", beltmath.ReasonOutOfRange, "Base.Standoffs[0].HoleDiameterMM", "from 0 to 14", func(b *Base) { b.Standoffs[0].HoleDiameterMM = 15 }},
		{"standoff without diameter", beltmath.ReasonOutOfRange, "Base.Standoffs[2].DiameterMM", "above 0", func(b *Base) { b.Standoffs[2].DiameterMM = 0 }},
		{"standoff longer than its bar", ReasonBarTooShort, "Base.StandoffStockLengthMM", "at least 125", func(b *Base) { b.StandoffStockLengthMM = 100 }},
		{"no members of a kind", beltmath.ReasonOutOfRange, "Base.Members[0].Quantity", "1 to 1000", func(b *Base) { b.Members[0].Quantity = 0 }},
		{"member without name", beltmath.ReasonOutOfRange, "Base.Members[1].Name", "1 to 100", func(b *Base) { b.Members[1].Name = "" }},
		{"member that writes on the terminal", beltmath.ReasonOutOfRange, "Base.Members[0].Name", "control characters", func(b *Base) { b.Members[0].Name = "a\n\x1b[31mb" }},
		{"member of two lengths", beltmath.ReasonExactlyOne, "Base.Members[0].LengthMM", "exactly one", func(b *Base) { b.Members[0].LengthMM = new(5.0) }},
		{"member of no length", beltmath.ReasonExactlyOne, "Base.Members[2].LengthMM", "exactly one", func(b *Base) { b.Members[2].LengthMM = nil }},
		{"member longer than its bar", ReasonBarTooShort, "Base.Members[1].StockLengthMM", "657 mm", func(b *Base) { b.Members[1].StockLengthMM = 600 }},
		{"member of negative length", beltmath.ReasonOutOfRange, "Base.Members[0].EndAllowanceMM", "more than -191.5", func(b *Base) { b.Members[0].EndAllowanceMM = new(-200.0) }},
		{"round up to atoms", beltmath.ReasonOutOfRange, "Base.RoundUpMM", "0.001", func(b *Base) { b.RoundUpMM = 1e-5 }},
		{"too many pieces", beltmath.ReasonOutOfRange, "Base.Members", "2000 pieces", func(b *Base) {
			for i := range b.Members {
				b.Members[i].Quantity = 900
			}
		}},
		{"no sides", beltmath.ReasonOutOfRange, "Base.SideCount", "1 to 100", func(b *Base) { b.SideCount = new(0) }},
		{"force and torque", beltmath.ReasonExactlyOne, "Base.AxleTorqueNM", "at most one", func(b *Base) { b.AxleTorqueNM = new(11.0) }},
		{"no force", beltmath.ReasonOutOfRange, "Base.SideSlipForceN", "above 0", func(b *Base) { b.SideSlipForceN = new(0.0) }},
		{"motor on no axle", beltmath.ReasonOutOfRange, "Base.DrivenAxles[0]", "0 to 2", func(b *Base) { b.DrivenAxles = []int{3} }},
		{"not a number", beltmath.ReasonNotFinite, "Base.KerfMM", "finite", func(b *Base) { b.KerfMM = math.NaN() }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := roverA()
			tt.change(&b)
			_, err := LayOutBase(LayOutQuery{Base: b})
			require.Error(t, err)
			var none *beltmath.NoSolutionError
			if errors.As(err, &none) {
				assert.Equal(t, []string{tt.reason, tt.field}, []string{none.Reason, none.Field})
				assert.Contains(t, none.Msg, tt.text)
				return
			}
			var faults beltmath.InputErrors
			require.ErrorAs(t, err, &faults)
			found := false
			for _, f := range faults {
				found = found || f.Reason == tt.reason && f.Field == tt.field && assert.Contains(t, f.Msg, tt.text)
			}
			assert.True(t, found, "%v", err)
		})
	}
}

func TestLayoutTooManyAxles(t *testing.T) {
	b := roverA()
	for len(b.Axles) < 17 {
		b.Axles = append(b.Axles, b.Axles[0])
	}
	_, err := LayOutBase(LayOutQuery{Base: b})
	fault := onlyFault(t, err)
	assert.Equal(t, "Base.Axles", fault.Field)
	assert.Equal(t, "a row of 17", fault.Value)
}

// TestLayoutAllFaultsAtOnce has faults in the base and beside it.
func TestLayoutAllFaultsAtOnce(t *testing.T) {
	b := roverA()
	b.CavityWidthMM = 0
	b.Links[0].Drive.Driver.ToothCount = 3
	_, err := LayOutBase(LayOutQuery{
		Base: b, StandoffLinesMM: []float64{70}, StandoffDiameterMM: 14,
		Limits: beltmath.FitLimits{FitLowMM: new(11.0)}, Stock: &beltmath.Stock{Belts: []beltmath.StockItem{part("H5M", 178, 25, -1)}},
	})
	var faults beltmath.InputErrors
	require.ErrorAs(t, err, &faults)
	var fields []string
	for _, f := range faults {
		fields = append(fields, f.Field)
	}
	for _, want := range []string{
		"Base.CavityWidthMM", "Base.Links[0].Drive.Driver.ToothCount", "StandoffLinesMM[0]", "Limits.FitLowMM", "Stock.Belts[0].Quantity",
	} {
		assert.Contains(t, fields, want)
	}
}

// TestLayoutUndrivenWheel has holes for a wheel that no belt reaches.
func TestLayoutUndrivenWheel(t *testing.T) {
	b := roverA()
	b.Links = b.Links[:1]
	b.AxlePositions = []beltmath.Point{at(0, 0), at(344.99, -3), at(700, 0)}
	l := layOut(t, LayOutQuery{Base: b})
	require.Len(t, notesOf(l, NoteNotDriven), 1)
	assert.Contains(t, notesOf(l, NoteNotDriven)[0].Message, "wheel 3 is driven by no motor")
	assert.Len(t, l.Stacks[2].Parts, 3) // spacer, wheel, spacer

	b.DrivenAxles = []int{2} // now nothing drives the belt
	l = layOut(t, LayOutQuery{Base: b})
	assert.Zero(t, l.Links[0].DownstreamWheelCount)
	assert.Nil(t, l.Links[0].EffectiveTensionN)
	assert.Len(t, notesOf(l, NoteNotDriven), 2)
}

// TestLayoutDrilled has holes off what the belts want. Deviations are the
// distance of the holes less 345 and 355, which equal pulleys give exactly.
func TestLayoutDrilled(t *testing.T) {
	tests := []struct {
		x         [3]float64
		deviation [2]float64
		verdicts  [2]beltmath.Verdict
		reasons   []string
	}{
		{[3]float64{0, 345, 700}, [2]float64{math.Hypot(345, 3) - 345, math.Hypot(355, 3) - 355}, [2]beltmath.Verdict{beltmath.VerdictFits, beltmath.VerdictFits}, nil},
		{[3]float64{0, 344.75, 700}, [2]float64{math.Hypot(344.75, 3) - 345, math.Hypot(355.25, 3) - 355}, [2]beltmath.Verdict{beltmath.VerdictRejected, beltmath.VerdictMarginal}, []string{NoteDrilledSlack, NoteDrilledTight}},
		{[3]float64{0, 344.75, 701}, [2]float64{math.Hypot(344.75, 3) - 345, math.Hypot(356.25, 3) - 355}, [2]beltmath.Verdict{beltmath.VerdictRejected, beltmath.VerdictRejected}, []string{NoteDrilledSlack, NoteDrilledTight}},
		{[3]float64{0, 346, 701}, [2]float64{math.Hypot(346, 3) - 345, math.Hypot(355, 3) - 355}, [2]beltmath.Verdict{beltmath.VerdictRejected, beltmath.VerdictFits}, []string{NoteDrilledTight}},
		{[3]float64{10, 355.4, 710}, [2]float64{math.Hypot(345.4, 3) - 345, math.Hypot(354.6, 3) - 355}, [2]beltmath.Verdict{beltmath.VerdictRejected, beltmath.VerdictRejected}, []string{NoteDrilledTight, NoteDrilledSlack}},
	}
	for _, tt := range tests {
		b := roverA()
		b.Standoffs = nil
		b.AxlePositions = []beltmath.Point{at(tt.x[0], 0), at(tt.x[1], -3), at(tt.x[2], 0)}
		l := layOut(t, LayOutQuery{Base: b})
		for i, k := range l.Links {
			assert.InDelta(t, tt.deviation[i], k.Drilled.DeviationMM, 1e-9)
			assert.Equal(t, tt.verdicts[i], k.Drilled.Verdict)
			if k.Drilled.MoveAlone {
				continue // see TestLayoutMoveOneAxle
			}
			// Moving the named axle makes the distance what the belt wants.
			moved := [3]float64{tt.x[0], tt.x[1], tt.x[2]}
			moved[k.Drilled.MoveAxle] += *k.Drilled.MoveMM
			assert.InDelta(t, k.Geometry.CenterDistanceMM, math.Hypot(moved[i+1]-moved[i], 3), 1e-9)
			if k.Drilled.Verdict != beltmath.VerdictFits {
				assert.NotEmpty(t, k.Drilled.Substitutes)
			}
		}
		for _, reason := range tt.reasons {
			assert.Len(t, notesOf(l, reason), 1, reason)
		}
	}
	b := roverA() // an end axle moves with none beyond it
	b.AxlePositions = []beltmath.Point{at(0, 0), at(344.75, -3), at(701, 0)}
	l := layOut(t, LayOutQuery{Base: b})
	assert.Equal(t, []int{0, 2}, []int{l.Links[0].Drilled.MoveAxle, l.Links[1].Drilled.MoveAxle})
	// Limits decide.
	l = layOut(t, LayOutQuery{Base: b, Limits: beltmath.FitLimits{FitLowMM: new(-0.5), FitHighMM: new(0.5)}})
	assert.Equal(t, beltmath.VerdictFits, l.Links[0].Drilled.Verdict)
}

// TestLayoutMoveOneAxle has the middle of three axles off: moved alone it lets
// both belts fit. The belts want it at sqrt(345^2 - 9) = 344.98695628 from the
// first axle and sqrt(355^2 - 9) = 354.98732372 from the last, which is 345.01267628
// from the first where they are 700 apart; half way, 344.99981628, they are 0.01285952
// and 0.01285954 too tight.
func TestLayoutMoveOneAxle(t *testing.T) {
	for _, tt := range []struct {
		x     [3]float64
		alone bool
		move  float64
	}{
		{[3]float64{0, 344.75, 700}, true, 0.24981628},
		{[3]float64{10, 355.4, 710}, true, -0.40018372},
		{[3]float64{0, 344.75, 701}, false, 0}, // half way both are 0.51 too tight
		{[3]float64{0, 346, 701}, false, 0},    // one belt is off: its end axle moves
		{[3]float64{0, 345, 700}, false, 0},    // none is
	} {
		b := roverA()
		b.Standoffs = nil
		b.AxlePositions = []beltmath.Point{at(tt.x[0], 0), at(tt.x[1], -3), at(tt.x[2], 0)}
		l := layOut(t, LayOutQuery{Base: b})
		for i, k := range l.Links {
			require.Equal(t, tt.alone, k.Drilled.MoveAlone, "%v", tt.x)
			if !tt.alone {
				continue
			}
			assert.Equal(t, 1, k.Drilled.MoveAxle)
			assert.InDelta(t, tt.move, *k.Drilled.MoveMM, 5e-9) // half of the last digit given
			assert.Empty(t, k.Drilled.Substitutes, "the belt itself is at hand, and none fits the holes better")
			moved := b
			moved.AxlePositions = []beltmath.Point{b.AxlePositions[0], at(tt.x[1]+*k.Drilled.MoveMM, -3), b.AxlePositions[2]}
			after := layOut(t, LayOutQuery{Base: moved}).Links[i].Drilled
			assert.Equal(t, beltmath.VerdictFits, after.Verdict)
			assert.InDelta(t, []float64{0.01285952, 0.01285954}[i], after.DeviationMM, 5e-9)
		}
		notes := append(notesOf(l, NoteDrilledSlack), notesOf(l, NoteDrilledTight)...)
		for _, n := range notes {
			assert.Equal(t, tt.alone, strings.Contains(n.Message, "move axle 2 alone"), n.Message)
			assert.Equal(t, !tt.alone, strings.Contains(n.Message, "and all beyond it"), n.Message)
		}
	}
}

// TestLayoutMoveOneOfFour has one of four axles off, and then two neighbors: a
// link takes part in one lone move at most. Belts of 174 teeth want 345 mm.
func TestLayoutMoveOneOfFour(t *testing.T) {
	for _, tt := range []struct {
		x     []float64
		moved map[int]float64 // by link
	}{
		{[]float64{0, 345, 690.5, 1035}, map[int]float64{1: -0.5, 2: -0.5}},
		{[]float64{0, 345.5, 690, 1035}, map[int]float64{0: -0.5, 1: -0.5}},
		// Both inner axles by the same: the belt between them fits.
		{[]float64{0, 345.5, 690.5, 1035}, map[int]float64{}},
		// Each in its own way: none alone mends the belt between them.
		{[]float64{0, 345.5, 689.5, 1035}, map[int]float64{}},
	} {
		b := roverB()
		b.Standoffs, b.Members, b.AxlePositions = nil, nil, nil
		b.Axles = b.Axles[:4]
		for i := range b.Axles {
			b.Axles[i].WheelDiameterMM, b.Axles[i].DropMM = 160, 0
			b.AxlePositions = append(b.AxlePositions, at(tt.x[i], 0))
		}
		b.DrivenAxles = []int{1}
		b.Links = nil
		for i := range 3 {
			b.Links = append(b.Links, beltOn(i, i+1, "H5M", beltmath.Pulley{ToothCount: 36}, beltmath.Pulley{ToothCount: 36}, 174))
		}
		l := layOut(t, LayOutQuery{Base: b})
		got := map[int]float64{}
		for i, k := range l.Links {
			if k.Drilled.MoveAlone {
				got[i] = *k.Drilled.MoveMM
			}
		}
		assert.InDeltaMapValues(t, tt.moved, got, 1e-9, "%v", tt.x)
	}
}

// TestLayoutSubstitutesOnce has one belt off by 1 mm, its own at hand: nothing
// that wants the same distance is listed, and of each other distance one. With
// 36 teeth on both axles 173, 175, 172 teeth want 342.5, 347.5, 340 mm.
func TestLayoutSubstitutesOnce(t *testing.T) {
	b := roverA()
	b.Standoffs = nil
	b.AxlePositions = []beltmath.Point{at(0, 0), at(346, -3), at(701, 0)}
	list := layOut(t, LayOutQuery{Base: b}).Links[0].Drilled.Substitutes
	require.Len(t, list, 10)
	for i, want := range []float64{347.5, 342.5, 350, 340} {
		assert.InDelta(t, want, list[i].CenterDistanceMM, 1e-9)
		assert.Equal(t, 36, list[i].Drive.Driver.ToothCount)
	}
	seen := map[float64]bool{}
	for _, s := range list {
		assert.Greater(t, math.Abs(s.CenterDistanceMM-345), 1e-3)
		at := math.Round(s.CenterDistanceMM * 1000)
		assert.False(t, seen[at], "%v", s)
		seen[at] = true
	}
}

// TestLayoutRingOfBelts doubles a belt: both run beside each other in the two
// lanes, and each is reckoned with the whole load.
func TestLayoutRingOfBelts(t *testing.T) {
	b := roverA()
	b.Axles, b.Standoffs, b.Members = b.Axles[:2], nil, nil
	b.DrivenAxles = []int{1}
	b.Links = []LinkInput{b.Links[0], b.Links[0]}
	l := layOut(t, LayOutQuery{Base: b})
	assert.Equal(t, []Lane{LaneInboard, LaneOutboard}, []Lane{l.Links[0].Lane, l.Links[1].Lane})
	for _, k := range l.Links {
		assert.Equal(t, 1, k.DownstreamWheelCount)
		printed(t, 383.5, *k.EffectiveTensionN, 1)
	}
	require.NotNil(t, l.Links[1].Drilled) // it must fit what the first one sets
	assert.InDelta(t, 0, l.Links[1].Drilled.DeviationMM, 1e-9)
	assert.Len(t, notesOf(l, NoteLoadShared), 2)
	assert.Len(t, l.Stacks[0].Parts, 7)
}

// TestLayoutLoads works loads out by hand: power is kept, so the pull in a belt
// is the force at the rim times wheel diameter over pulley diameter wherever
// wheels do not scrub, and torque over pitch radius behind a motor.
func TestLayoutLoads(t *testing.T) {
	pitchDiameter := func(teeth int) float64 { return 5 * float64(teeth) / math.Pi }
	c := roverC(45, 178, 178)
	c.SideSlipForceN = new(100.0)
	l := layOut(t, LayOutQuery{Base: c})
	assert.InDelta(t, 100*200/pitchDiameter(45), *l.Links[0].EffectiveTensionN, 1e-9)
	assert.InDelta(t, 100*160/pitchDiameter(36), *l.Links[1].EffectiveTensionN, 1e-9)

	b := roverB() // motor on axle 2, a row of four
	b.SideSlipForceN, b.AxleTorqueNM = nil, new(8.0)
	l = layOut(t, LayOutQuery{Base: b})
	for _, k := range l.Links {
		assert.InDelta(t, 2000*8/pitchDiameter(32), *k.EffectiveTensionN, 1e-9)
	}
	b.DrivenAxles = []int{0, 3} // a motor at each end: the belts between are shared
	l = layOut(t, LayOutQuery{Base: b})
	for _, k := range l.Links {
		assert.InDelta(t, 2000*8/pitchDiameter(32), *k.EffectiveTensionN, 1e-9)
	}
	assert.Len(t, notesOf(l, NoteLoadShared), 3)
	b.DrivenAxles = []int{0, 2, 3} // the side with two motors counts, whichever it is
	for _, k := range layOut(t, LayOutQuery{Base: b}).Links {
		assert.InDelta(t, 2000*16/pitchDiameter(32), *k.EffectiveTensionN, 1e-9)
	}
	b.DrivenAxles = []int{0, 1} // both motors behind the second belt
	l = layOut(t, LayOutQuery{Base: b})
	assert.InDelta(t, 2000*16/pitchDiameter(32), *l.Links[1].EffectiveTensionN, 1e-9)

	b.DrivenAxles = []int{3} // the links point the other way
	l = layOut(t, LayOutQuery{Base: b})
	assert.Equal(t, []int{1, 2, 3}, []int{l.Links[0].DownstreamWheelCount, l.Links[1].DownstreamWheelCount, l.Links[2].DownstreamWheelCount})
	assert.Len(t, notesOf(l, NoteLinkReversed), 2) // 1-0 still points outward
}

// TestLayoutPassedAxle has a belt past an axle in the other lane.
func TestLayoutPassedAxle(t *testing.T) {
	b := roverA()
	p := flanged(36, 61)
	b.DrivenAxles = []int{0}
	b.Links = []LinkInput{beltOn(0, 1, "H5M", p, p, 174), beltOn(0, 2, "H5M", p, p, 316)}
	b.Standoffs = nil
	l := layOut(t, LayOutQuery{Base: b})
	require.Len(t, gaps(l, ClearanceKindBeltAxle), 1)
	// The bearing hole stands for the shaft: 28.648 - 2.6515 - 3 (drop) - 11.
	assert.InDelta(t, 90/math.Pi-0.5715-2.08-3-11, gaps(l, ClearanceKindBeltAxle)[0], 1e-9)
	assert.Len(t, notesOf(l, NoteAxleSize), 1)

	b.Axles[1].WheelWidthMM = 140 // the wheel reaches into the other lane
	b.CavityWidthMM = 170
	b.Links[0].ToAxle, b.Links[0].Drive.BeltToothCount = 2, new(316)
	b.AxlePositions = []beltmath.Point{at(0, 0), at(345, -3), at(700, 0)}
	l = layOut(t, LayOutQuery{Base: b})
	for _, gap := range gaps(l, ClearanceKindBeltAxle) {
		assert.InDelta(t, 90/math.Pi-0.5715-2.08-3-80, gap, 1e-9) // belt and wheel collide
	}
	assert.Len(t, notesOf(l, NoteNotClear), 2)
}

// TestLayoutStackOffCenter has one lane only: the wheels make way for it.
func TestLayoutStackOffCenter(t *testing.T) {
	b := roverA()
	b.Axles, b.Links, b.Standoffs, b.DrivenAxles = b.Axles[:2], b.Links[:1], nil, []int{1}
	b.CavityWidthMM = 89 // 4 + 32 + 4 + 45 + 4
	l := layOut(t, LayOutQuery{Base: b})
	assert.InDelta(t, 40, l.Stacks[0].Parts[3].StartMM, 1e-12) // sums of whole numbers and halves
	assert.InDelta(t, 520-2*(62.5+6), l.Cuts[0].LengthMM, 1e-12)
	b.CavityWidthMM = 88.5
	_, err := LayOutBase(LayOutQuery{Base: b})
	assert.Contains(t, onlyFault(t, err).Msg, "short by 0.5 mm")
}

// TestLayoutCautions are those that must stand where results are read.
func TestLayoutCautions(t *testing.T) {
	l := layOut(t, LayOutQuery{Base: roverA()})
	require.Greater(t, len(l.Notes), 2)
	for i, want := range []struct {
		reason string
		texts  []string
	}{
		{NoteGuards, []string{"guard", "hands", "turning wheels", "local rules", "licensed practice"}},
		{NoteAssembly, []string{"tension", "turn everything by hand", "before power"}},
	} {
		assert.Equal(t, want.reason, l.Notes[i].Reason)
		assert.Equal(t, beltmath.SeverityCaution, l.Notes[i].Severity)
		for _, text := range want.texts {
			assert.Contains(t, l.Notes[i].Message, text)
		}
	}
	b := roverC(45, 178, 178)
	for i := range b.Links {
		b.Links[i].Drive.Driver.FlangeDiameterMM, b.Links[i].Drive.Driven.FlangeDiameterMM = nil, nil
	}
	assert.Len(t, notesOf(layOut(t, LayOutQuery{Base: b}), NoteNoFlange), 2)
	b = roverA()
	b.Links[0].Drive.Section, b.Links[1].Drive.Section = "S5M", "S5M"
	assert.NotEmpty(t, notesOf(layOut(t, LayOutQuery{Base: b}), NoteHeightsUnverified))
	b.BeltHeightMM, b.ToothHeightMM, b.PitchLineDifferentialMM = new(3.4), new(1.91), new(0.48)
	assert.Empty(t, notesOf(layOut(t, LayOutQuery{Base: b}), NoteHeightsUnverified))
}

// TestLayoutMirrored turns a row round: all lengths stay.
func TestLayoutMirrored(t *testing.T) {
	b := roverC(45, 178, 169)
	m := b
	m.Axles = []Axle{b.Axles[2], b.Axles[1], b.Axles[0]}
	m.Links = []LinkInput{b.Links[1], b.Links[0]}
	for i := range m.Links {
		m.Links[i].FromAxle, m.Links[i].ToAxle = 2-m.Links[i].FromAxle, 2-m.Links[i].ToAxle
	}
	one, two := layOut(t, LayOutQuery{Base: b}), layOut(t, LayOutQuery{Base: m})
	assert.InDelta(t, one.WheelbaseMM, two.WheelbaseMM, 1e-9)
	for i := range one.Axles {
		assert.InDelta(t, one.WheelbaseMM-one.Axles[i].Center.XMM, two.Axles[2-i].Center.XMM, 1e-9)
	}
	for i, k := range one.Links {
		other := two.Links[1-i]
		for _, pair := range [][2]beltmath.Point{
			{k.Geometry.Driver.UpperTangent, other.Geometry.Driver.UpperTangent},
			{k.Geometry.Driven.LowerTangent, other.Geometry.Driven.LowerTangent},
		} {
			assert.InDelta(t, one.WheelbaseMM-pair[0].XMM, pair[1].XMM, 1e-9)
			assert.InDelta(t, pair[0].YMM, pair[1].YMM, 1e-9)
		}
	}
}

// TestLayoutAnyNumbers feeds numbers of all sizes: no panic, and no number in a
// result that is not finite.
func TestLayoutAnyNumbers(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	odd := func(v float64) float64 {
		switch r.IntN(12) {
		case 0:
			return []float64{0, -1, math.NaN(), math.Inf(1), 1e300, 5e-324}[r.IntN(6)]
		case 1, 2, 3:
			return v * math.Exp(r.NormFloat64())
		}
		return v
	}
	answered := 0
	for range 5000 {
		q := LayOutQuery{Base: []Base{roverA(), roverB(), roverC(45, 178, 178), roverD()}[r.IntN(4)], StandoffLinesMM: []float64{odd(0), odd(40)}, StandoffDiameterMM: odd(14)}
		b := &q.Base
		switch r.IntN(6) {
		case 0:
			b.CavityWidthMM, b.PulleyGapMM = odd(b.CavityWidthMM), odd(b.PulleyGapMM)
		case 1:
			b.Axles[r.IntN(len(b.Axles))].DropMM = odd(300)
		case 2:
			i := r.IntN(len(b.Links))
			b.Links[i].Drive.BeltToothCount = new(r.IntN(400))
			b.Links[i].FromAxle, b.Links[i].ToAxle = r.IntN(4)-1, r.IntN(4)
		case 3:
			for i := range b.Axles {
				b.AxlePositions = append(b.AxlePositions, at(odd(float64(350*i)), odd(-3)))
			}
		case 4:
			b.Standoffs = []Standoff{{Center: at(odd(170), odd(40)), DiameterMM: odd(14)}}
			b.Members = []Member{{Name: "bar", Quantity: 1 + r.IntN(20), EndAllowanceMM: new(odd(30)), StockLengthMM: odd(2000)}}
			b.TrackWidthMM, b.KerfMM, b.RoundUpMM = odd(520), odd(2.5), odd(1)
		}
		l, err := LayOutBase(q)
		if err == nil {
			answered++
			text := fmt.Sprintf("%+v", l)
			require.NotContains(t, text, "NaN", "%+v", q)
			require.NotContains(t, text, "Inf", "%+v", q)
		}
	}
	assert.Greater(t, answered, 1500)
}

// TestLayoutLargest is the most that may be asked for. It must come to an end:
// run with -timeout.
func TestLayoutLargest(t *testing.T) {
	b := roverA()
	p := flanged(36, 61)
	b.SideCount, b.KerfMM, b.PlateMarginMM = new(100), 2.5, 1000
	b.Axles, b.Links = b.Axles[:1], nil
	for i := range 15 {
		b.Axles = append(b.Axles, b.Axles[0])
		b.Links = append(b.Links, beltOn(i, i+1, "H5M", p, p, 174))
	}
	b.Standoffs, b.Members, b.StandoffStockLengthMM = nil, nil, 260
	q := LayOutQuery{StandoffDiameterMM: 14}
	r := rand.New(rand.NewPCG(7, 8))
	for range 200 {
		b.Standoffs = append(b.Standoffs, Standoff{Center: at(100, 40), DiameterMM: 14})
	}
	for i := range 100 {
		b.Members = append(b.Members, Member{Name: fmt.Sprintf("bar %d", i), Quantity: 20, LengthMM: new(200 + 600*r.Float64()), StockLengthMM: 1000})
		q.StandoffLinesMM = append(q.StandoffLinesMM, float64(i)/2-25)
	}
	q.Base = b
	l := layOut(t, q)
	require.Len(t, l.CutPlans, 2)
	assert.Len(t, l.CutPlans[1].Bars, 10000) // 20000 pieces of 125, two a bar
	assert.Less(t, len(l.Notes), 1000)
}

// TestHoleNearEdge: EN 1993-1-8, table 3.3 (from memory), asks for 1.2 diameters of
// a bolt's hole from its center to an edge, here 12 mm to the ends and 24 mm to the
// long edges.
func TestHoleNearEdge(t *testing.T) {
	for _, tt := range []struct {
		margin, height, hole float64
		fields               []string
	}{
		{12, 200, 10, nil},
		{11.99, 200, 10, []string{"Base.Axles[0].HoleDiameterMM", "Base.Axles[1].HoleDiameterMM"}},
		{100, 48, 20, nil},
		{100, 47.9, 20, []string{"Base.Axles[0].HoleDiameterMM", "Base.Axles[1].HoleDiameterMM"}},
	} {
		b := rowBase(2)
		b.Standoffs, b.PlateMarginMM, b.PlateHeightMM = nil, tt.margin, tt.height
		for i := range b.Axles {
			b.Axles[i].DropMM, b.Axles[i].HoleDiameterMM = 0, tt.hole
		}
		var fields []string
		for _, n := range layOut(t, LayOutQuery{Base: b}).Notes {
			if n.Reason == NoteThinEdge {
				assert.Equal(t, beltmath.SeverityCaution, n.Severity)
				fields = append(fields, n.Field)
			}
		}
		assert.Equal(t, tt.fields, fields, "%+v", tt)
	}
}
