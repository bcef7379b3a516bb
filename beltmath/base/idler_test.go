package base

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// leg is that of a right triangle.
func leg(hypotenuse, other float64) float64 {
	return math.Sqrt((hypotenuse - other) * (hypotenuse + other))
}

func toothedIdler(teeth int, from, to float64) *Idler {
	return &Idler{Kind: path.KindToothed, ToothCount: &teeth, Side: path.SideInside, FromMM: from, ToMM: to}
}

func backIdler(diameter, from, to float64) *Idler {
	return &Idler{Kind: path.KindSmooth, DiameterMM: &diameter, Side: path.SideOutside, FromMM: from, ToMM: to}
}

// withIdler is the demo rover whose first belt is of so many teeth and runs
// over an idler, its axles 345 mm apart as the planned belt has them.
func withIdler(d *Idler, teeth int) Base {
	b := roverA()
	b.PlateHeightMM = 300
	b.Links[0].Idler, b.Links[0].Drive.BeltToothCount, b.Links[0].CenterDistanceMM = d, &teeth, new(345.0)
	return b
}

// TestIdlerClosedForm compares with three equal wheels, whose belt is as long
// as the triangle of their centers and one rim.
func TestIdlerClosedForm(t *testing.T) {
	const half, from, to = 345.0 / 2, 5.0, 80.0
	length := func(h float64) float64 { return 2*half + 2*math.Hypot(half, h) + 180 }
	for teeth := 175; teeth <= 180; teeth++ {
		l := layOut(t, LayOutQuery{Base: withIdler(toothedIdler(36, from, to), teeth)}).Links[0]
		h := leg((5*float64(teeth)-180)/2-half, half)
		assert.InDelta(t, h, l.Idler.OffsetMM, 1e-9)
		assert.Equal(t, 1, l.Idler.PositionCount)
		assert.InDelta(t, length(to)-5*float64(teeth), l.Idler.LongerBeltMM, 1e-9)
		assert.InDelta(t, 5*float64(teeth)-length(from), l.Idler.ShorterBeltMM, 1e-9)
		assert.InDelta(t, to-h, l.Idler.LongerTravelMM, 1e-9)
		assert.InDelta(t, h-from, l.Idler.ShorterTravelMM, 1e-9)
		assert.InDelta(t, 345, l.Idler.CenterDistanceMM, 1e-9)
		dx := math.Sqrt(345*345 - 9) // axle 2 is dropped by 3 mm
		assert.InDelta(t, dx, l.RailSpacingMM, 1e-9)
		assert.InDelta(t, dx/2+h*3/345, l.Idler.Center.XMM, 1e-9)
		assert.InDelta(t, -1.5+h*dx/345, l.Idler.Center.YMM, 1e-9)
		assert.Nil(t, l.Drilled)
		// Corners of the triangle: what is left of a whole turn of the wheels.
		tilt := math.Atan(h / half)
		for i, want := range []float64{math.Pi - tilt, math.Pi - tilt, 2 * tilt} {
			assert.InDelta(t, want, l.Idler.Path.Wheels[i].WrapRad, 1e-9)
		}
		assert.Equal(t, int((math.Pi-tilt)/(2*math.Pi)*36), l.Idler.Path.Wheels[0].MeshedToothCount)
	}
}

// TestIdlerTwoPositions takes the upper one of two as near the line of centers,
// and the nearer one of two that are not.
func TestIdlerTwoPositions(t *testing.T) {
	both := layOut(t, LayOutQuery{Base: withIdler(toothedIdler(36, -80, 80), 178)})
	place := both.Links[0].Idler
	assert.Equal(t, 2, place.PositionCount)
	assert.Positive(t, place.OffsetMM)
	assert.Len(t, notesOf(both, NoteIdlerTravels), 1)
	lower := layOut(t, LayOutQuery{Base: withIdler(toothedIdler(36, -80, 0), 178)}).Links[0].Idler
	assert.InDelta(t, -place.OffsetMM, lower.OffsetMM, 1e-9)
	assert.Equal(t, 1, lower.PositionCount)
	// Its way back ends where it touches the belt of the two pulleys: on the line.
	assert.InDelta(t, place.OffsetMM, place.ShorterTravelMM, 1e-6)
	assert.InDelta(t, 178*5-(2*345+180), place.ShorterBeltMM, 1e-6)

	uneven := withIdler(toothedIdler(20, -120, 120), 190)
	uneven.Links[0].Drive.Driver.ToothCount = 50 // leans down to the driven pulley
	uneven.Links[0].Drive.Driver.FlangeDiameterMM = nil
	uneven.Links[1].Drive.Driver.ToothCount = 50
	uneven.Links[1].Drive.BeltToothCount = new(190)
	uneven.Axles[1].WheelDiameterMM *= 50. / 36
	uneven.PlateHeightMM = 300
	got := layOut(t, LayOutQuery{Base: uneven}).Links[0].Idler
	assert.Equal(t, 2, got.PositionCount)
	assert.Positive(t, got.OffsetMM) // mirror images of one another: as near
}

// idlerGeometry is a case of testdata/layout/idler.json; see generate_idler.py.
type idlerGeometry struct {
	Teeth          [2]int
	Belt           int
	CenterDistance float64 `json:"center_distance"`
	Drop           float64
	IdlerTeeth     *int     `json:"idler_teeth"`
	IdlerDiameter  *float64 `json:"idler_diameter"`
	Outside        bool
	Share          *float64
	From, To       float64
	Offset         float64
	Center         [2]float64
	Wraps, Spans   [3]float64
	Longer         float64
	Shorter        float64
	LongerTravel   float64 `json:"longer_travel"`
	ShorterTravel  float64 `json:"shorter_travel"`
	Wheel, Floor   float64
	OwnSpan        float64 `json:"own_span"`
	Standoffs      []struct {
		X, Y, Diameter, Belt, Pulley float64
		Inside                       bool
	}
}

func (c *idlerGeometry) base() Base {
	b := Base{
		CavityWidthMM: 125, PlateThicknessMM: 6, PlateMarginMM: 200, PlateHeightMM: 600,
		PulleyWidthMM: 32, BeltWidthMM: 25, PulleyGapMM: 4, StandoffClearanceMM: 3, DrivenAxles: []int{0},
	}
	for i := range c.Teeth {
		b.Axles = append(b.Axles, Axle{Kind: AxleKindDead, WheelDiameterMM: 160, WheelWidthMM: 45, DropMM: c.Drop * float64(i), BoltDiameterMM: 8})
	}
	// The wheels are not in the ratio of the pulleys, which is refused.
	b.Axles[1].WheelDiameterMM = 160
	link := beltOn(0, 1, "H5M", beltmath.Pulley{ToothCount: c.Teeth[0]}, beltmath.Pulley{ToothCount: c.Teeth[1]}, c.Belt)
	link.CenterDistanceMM = &c.CenterDistance
	link.Idler = &Idler{
		Kind: path.KindSmooth, DiameterMM: c.IdlerDiameter, Side: path.SideInside, Position: c.Share, FromMM: c.From, ToMM: c.To,
	}
	if c.IdlerTeeth != nil {
		link.Idler.Kind, link.Idler.ToothCount = path.KindToothed, c.IdlerTeeth
	}
	if c.Outside {
		link.Idler.Side = path.SideOutside
	}
	b.Links = []LinkInput{link}
	for _, s := range c.Standoffs {
		b.Standoffs = append(b.Standoffs, Standoff{Center: at(s.X, s.Y), DiameterMM: s.Diameter})
	}
	return b
}

// arrangeLoose is resolve without the refusal of wheels that scrub: the cases
// have wheels of one size on pulleys of two.
func arrangeLoose(t *testing.T, b Base) *layoutProblem {
	t.Helper()
	p := &layoutProblem{Base: b}
	var in inputs
	p.checkValues(&in)
	require.NoError(t, p.solveLinks(&in))
	require.Empty(t, in.errs)
	p.checker, _ = beltmath.NewChecker(beltmath.FitLimits{}, "")
	p.assignLanes(&in)
	p.place(&in)
	p.fitStacks(&in)
	require.Empty(t, in.errs)
	require.NoError(t, p.setIdlers())
	p.checkPlaced(&in)
	require.Empty(t, in.errs)
	return p
}

// TestIdlerAgainstGeometryLibrary compares places, wraps, spans, what is left to
// take up and clearances with tangents found by bisection and polygons.
func TestIdlerAgainstGeometryLibrary(t *testing.T) {
	const (
		near     = 1e-7 // bisection of the length, of which a millimeter of travel makes 0.02 at least
		nearArea = 1e-4 // polygons of 4096 corners an arc
	)
	raw, err := os.ReadFile("../../testdata/layout/idler.json")
	require.NoError(t, err)
	var cases []idlerGeometry
	require.NoError(t, json.Unmarshal(raw, &cases))
	require.Len(t, cases, 36)
	for i, c := range cases {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			p := arrangeLoose(t, c.base())
			d := p.idlerLayout(0)
			assert.InDelta(t, c.Offset, d.OffsetMM, near)
			assert.InDelta(t, c.Center[0], d.Center.XMM, near)
			assert.InDelta(t, c.Center[1], d.Center.YMM, near)
			for k, want := range c.Wraps {
				assert.InDelta(t, want, d.Path.Wheels[k].WrapRad, near)
			}
			spans := []float64{d.Path.Spans[0].LengthMM, min(d.Path.Spans[1].LengthMM, d.Path.Spans[2].LengthMM), max(d.Path.Spans[1].LengthMM, d.Path.Spans[2].LengthMM)}
			for k, want := range c.Spans {
				assert.InDelta(t, want, spans[k], near)
			}
			assert.InDelta(t, c.Longer, d.LongerBeltMM, near)
			assert.InDelta(t, c.Shorter, d.ShorterBeltMM, near)
			assert.InDelta(t, c.LongerTravel, d.LongerTravelMM, near)
			assert.InDelta(t, c.ShorterTravel, d.ShorterTravelMM, near)
			assert.InDelta(t, float64(c.Belt)*5, d.Path.BeltLengthMM, near)

			l := Layout{Clearances: p.clearances()}
			assert.InDelta(t, c.Wheel, gaps(l, ClearanceKindIdlerWheel)[0], near)
			assert.InDelta(t, c.OwnSpan, gaps(l, ClearanceKindIdlerBelt)[0], near)
			floor := gaps(l, ClearanceKindFlangeFloor)
			assert.InDelta(t, c.Floor, floor[len(floor)-1], near)
			belts, pulleys := gaps(l, ClearanceKindStandoffBelt), gaps(l, ClearanceKindStandoffPulley)
			for k, s := range c.Standoffs {
				assert.InDelta(t, s.Belt, belts[k], nearArea, "%+v", s)
				assert.InDelta(t, s.Pulley, pulleys[k], nearArea, "%+v", s)
				if s.Pulley > -s.Diameter/2 && s.Belt > -s.Diameter/2 {
					assert.Equal(t, s.Inside, p.insideLoop(at(s.X, s.Y)), "%+v", s)
				}
			}
		})
	}
}

// TestIdlerZones puts a standoff on every half millimeter of lines across an
// idler and compares its clearances with the zones.
func TestIdlerZones(t *testing.T) {
	for _, d := range []*Idler{toothedIdler(20, 0, 60), backIdler(40, 0, 40)} {
		d.FlangeDiameterMM = new(52.0)
		b := withIdler(d, 176)
		b.Standoffs, b.Members = nil, nil
		q := LayOutQuery{Base: b, StandoffDiameterMM: 10}
		for y := -30.0; y <= 50; y += 10 {
			q.StandoffLinesMM = append(q.StandoffLinesMM, y)
		}
		l := layOut(t, q)
		p, err := q.resolve()
		require.NoError(t, err)
		for _, y := range q.StandoffLinesMM {
			for x := 81.0; x <= 264; x += 0.5 {
				free, inZone := true, false
				p.Standoffs = []Standoff{{Center: at(x, y), DiameterMM: 10}}
				for _, c := range p.standoffGaps(0) {
					free = free && c.Clear
				}
				for _, z := range l.StandoffZones {
					inZone = inZone || z.YMM == y && x >= z.FromMM && x <= z.ToMM
				}
				require.Equal(t, free, inZone, "at (%v, %v)", x, y)
			}
		}
	}
}

// TestIdlerMonotone: a longer belt pushes an idler inside outward and lets one
// on the back in, and what it can take up adds up to the same.
func TestIdlerMonotone(t *testing.T) {
	r := rand.New(rand.NewPCG(90, 91)) //nolint:gosec // a fixed seed
	compared := 0
	for range 200 {
		outward := 1.0
		d := toothedIdler(12+r.IntN(30), 0, 40+r.Float64()*60)
		if r.IntN(2) == 0 {
			d, outward = backIdler(25+30*r.Float64(), -5, 50), -1
		}
		d.Position = new(0.2 + 0.6*r.Float64())
		var before *IdlerLayout
		for teeth := 174; teeth < 186; teeth++ {
			l, err := LayOutBase(LayOutQuery{Base: withIdler(d, teeth)})
			if err != nil {
				continue
			}
			here := l.Links[0].Idler
			// A wheel on the back may stand on the other span for a longer belt.
			if before != nil && here.Path.CounterClockwise == before.Path.CounterClockwise {
				compared++
				up := outward
				if here.span() == "lower" {
					up = -outward
				}
				require.Positive(t, up*(here.OffsetMM-before.OffsetMM))
				steps := math.Round((here.Path.BeltLengthMM - before.Path.BeltLengthMM) / 5)
				require.InDelta(t, before.LongerBeltMM-5*steps, here.LongerBeltMM, 1e-6)
				require.InDelta(t, before.ShorterBeltMM+5*steps, here.ShorterBeltMM, 1e-6)
			}
			before = here
		}
	}
	assert.Greater(t, compared, 100)
}

func TestIdlerDrilled(t *testing.T) {
	b := withIdler(backIdler(40, 0, 60), 177)
	b.Links[0].CenterDistanceMM = nil
	b.AxlePositions = []beltmath.Point{at(0, 0), at(345.4, -3), at(701, 0)}
	l := layOut(t, LayOutQuery{Base: b})
	d := l.Links[0].Drilled
	assert.Equal(t, beltmath.VerdictFits, d.Verdict)
	assert.InDelta(t, math.Hypot(345.4, 3), d.CenterDistanceMM, 1e-12)
	assert.InDelta(t, math.Hypot(345.4, 3)-352.5, d.DeviationMM, 1e-9)
	assert.Nil(t, d.MoveMM)
	assert.Empty(t, d.Substitutes)
	assert.NotNil(t, l.Links[0].Idler)
	assert.Empty(t, notesOf(l, NoteDrilledSlack))
	assert.Equal(t, beltmath.VerdictRejected, l.Links[1].Drilled.Verdict) // 355.6 for 355

	// Teeth in mesh count.
	l = layOut(t, LayOutQuery{Base: b, Limits: beltmath.FitLimits{MarginalMeshedToothCount: new(30)}})
	assert.Equal(t, beltmath.VerdictMarginal, l.Links[0].Drilled.Verdict)

	// An idler out of reach is judged, and the note says what would do.
	b.Links[0].Idler = toothedIdler(36, 5, 20)
	l = layOut(t, LayOutQuery{Base: b, Fit: &Fit{}})
	assert.Equal(t, beltmath.VerdictRejected, l.Links[0].Drilled.Verdict)
	assert.Nil(t, l.Links[0].Idler)
	notes := notesOf(l, NoteIdlerMisses)
	require.Len(t, notes, 1)
	half := math.Hypot(345.4, 3) / 2
	assert.Contains(t, notes[0].Message, fmt.Sprintf("hold %.3f mm", leg((885.0-180)/2-half, half)))
	assert.Equal(t, "Base.Links[0].Drive.BeltToothCount", notes[0].Field)
	assert.InDelta(t, 1, l.Fit.Links[0].ShareLoose, 0) // too long for the range
	assert.Zero(t, l.Fit.ShareGood)
	b.Links[0].Idler = toothedIdler(36, 70, 90)
	l = layOut(t, LayOutQuery{Base: b, Fit: &Fit{}})
	assert.InDelta(t, 1, l.Fit.Links[0].ShareTight, 0)
	for _, part := range l.Parts { // it is to be had all the same
		if part.Kind == PartKindIdler {
			assert.Equal(t, "H5M, 36 teeth, for 25 mm belt, 32 mm wide", part.Designation)
			assert.Equal(t, 2, part.NeededQuantity)
		}
	}
}

// TestIdlerGaps looks at an idler beside the wheels and the other lane with its
// bolt, and at one without a bolt as a whole.
func TestIdlerGaps(t *testing.T) {
	b := withIdler(backIdler(40, 0, 60), 177)
	b.Links[0].Idler.HoleDiameterMM, b.Links[0].Idler.BoltDiameterMM = 10, 8
	l := layOut(t, LayOutQuery{Base: b})
	c := l.Links[0].Idler.Center
	bolt := math.Hypot(c.XMM, c.YMM) - 80 - 4
	assert.InDelta(t, bolt, gaps(l, ClearanceKindIdlerWheel)[0], 1e-9)
	b.Links[0].Idler.WidthMM = new(40.0)
	wide := layOut(t, LayOutQuery{Base: b})
	assert.InDelta(t, bolt, gaps(wide, ClearanceKindIdlerWheel)[0], 1e-9) // just beside the wheels
	b.Links[0].Idler.WidthMM, b.Links[0].Idler.BoltDiameterMM = nil, 0
	whole := layOut(t, LayOutQuery{Base: b})
	assert.InDelta(t, bolt+4-20-1.1485-2.6515, gaps(whole, ClearanceKindIdlerWheel)[0], 1e-9) // rim, back, pitch line to tooth tips
	b.Links[0].Idler.FlangeDiameterMM = new(60.0)
	flanged := layOut(t, LayOutQuery{Base: b})
	assert.InDelta(t, bolt+4-30, gaps(flanged, ClearanceKindIdlerWheel)[0], 1e-9)

	// Hole, stack, spacers.
	hole := l.Links[0].Idler
	assert.InDelta(t, 10, hole.HoleDiameterMM, 0)
	assert.InDelta(t, c.XMM+60, hole.FromEndMM, 1e-9)
	assert.InDelta(t, c.YMM+150, hole.FromEdgeMM, 1e-9)
	assert.Equal(t, []StackPart{
		{Part: PartKindSpacer, StartMM: 0, EndMM: 4}, {Part: PartKindIdler, Link: new(0), StartMM: 4, EndMM: 36}, {Part: PartKindSpacer, StartMM: 36, EndMM: 125},
	}, hole.Stack.Parts)
	for _, reason := range []string{NoteIdlerNip, NoteIdlerTight, NoteIdlerBends, NoteIdlerSets, path.NoteBackWheelUnknown} {
		assert.Len(t, notesOf(l, reason), 1, reason)
	}
	for i, n := range l.Notes {
		if n.Reason == NoteIdlerNip {
			assert.Less(t, i, 4, "what concerns hands comes first")
		}
		assert.NotContains(t, n.Message, "wheel 3 ")
	}
}

func TestIdlerRefusals(t *testing.T) {
	tests := []struct {
		name, reason, field, text string
		change                    func(*Base)
	}{
		{"no distance", beltmath.ReasonExactlyOne, "Base.Links[0].CenterDistanceMM", "axle_positions", func(b *Base) { b.Links[0].CenterDistanceMM = nil }},
		{"distance twice", beltmath.ReasonExactlyOne, "Base.Links[0].CenterDistanceMM", "one of the two", func(b *Base) {
			b.AxlePositions = []beltmath.Point{at(0, 0), at(345, 0), at(700, 0)}
		}},
		{"distance without idler", beltmath.ReasonExactlyOne, "Base.Links[1].CenterDistanceMM", "leave it out", func(b *Base) { b.Links[1].CenterDistanceMM = new(355.0) }},
		{"no distance at all", beltmath.ReasonOutOfRange, "Base.Links[0].CenterDistanceMM", "above 0", func(b *Base) { b.Links[0].CenterDistanceMM = new(0.0) }},
		{"distance not a number", beltmath.ReasonNotFinite, "Base.Links[0].CenterDistanceMM", "finite", func(b *Base) { b.Links[0].CenterDistanceMM = new(math.NaN()) }},
		{"distance below the drop", ReasonCenterTooShort, "Base.Links[0].CenterDistanceMM", "less drop", func(b *Base) { b.Axles[1].DropMM = 400 }},
		{"kind", path.ReasonMissing, "Base.Links[0].Idler.Kind", "toothed or smooth", func(b *Base) { b.Links[0].Idler.Kind = 0 }},
		{"side", path.ReasonMissing, "Base.Links[0].Idler.Side", "inside", func(b *Base) { b.Links[0].Idler.Side = 7 }},
		{"toothed on the back", path.ReasonToothedOutside, "Base.Links[0].Idler.Side", "no teeth", func(b *Base) {
			b.Links[0].Idler = toothedIdler(20, 0, 50)
			b.Links[0].Idler.Side = path.SideOutside
		}},
		{"smooth without size", path.ReasonMissing, "Base.Links[0].Idler.DiameterMM", "diameter_mm", func(b *Base) { b.Links[0].Idler.DiameterMM = nil }},
		{"range reversed", beltmath.ReasonReversedRange, "Base.Links[0].Idler.ToMM", "more than from_mm, which is 0", func(b *Base) { b.Links[0].Idler.ToMM = 0 }},
		{"range without end", beltmath.ReasonNotFinite, "Base.Links[0].Idler.ToMM", "finite", func(b *Base) { b.Links[0].Idler.ToMM = math.Inf(1) }},
		{"range too far", beltmath.ReasonOutOfRange, "Base.Links[0].Idler.FromMM", "-10000", func(b *Base) { b.Links[0].Idler.FromMM = -20000 }},
		{"position", beltmath.ReasonOutOfRange, "Base.Links[0].Idler.Position", "0.01 to 0.99", func(b *Base) { b.Links[0].Idler.Position = new(1.0) }},
		{"narrow", beltmath.ReasonOutOfRange, "Base.Links[0].Idler.WidthMM", "at least belt_width_mm, which is 25", func(b *Base) { b.Links[0].Idler.WidthMM = new(20.0) }},
		{"wide", ReasonCavityNarrow, "Base.Links[0].Idler.WidthMM", "which is 40", func(b *Base) { b.Links[0].Idler.WidthMM = new(40.5) }},
		{"no width", beltmath.ReasonOutOfRange, "Base.Links[0].Idler.WidthMM", "above 0", func(b *Base) { b.Links[0].Idler.WidthMM = new(0.0) }},
		{"flange", beltmath.ReasonOutOfRange, "Base.Links[0].Idler.FlangeDiameterMM", "above 0", func(b *Base) { b.Links[0].Idler.FlangeDiameterMM = new(-1.0) }},
		{"hole", beltmath.ReasonOutOfRange, "Base.Links[0].Idler.HoleDiameterMM", "0 to 1000", func(b *Base) { b.Links[0].Idler.HoleDiameterMM = -1 }},
		{"hole through the edge", ReasonOutsidePlate, "Base.Links[0].Idler.HoleDiameterMM", "another range", func(b *Base) { b.Links[0].Idler.HoleDiameterMM = 310 }},
		{"hole on a standoff", ReasonHolesOverlap, "Base.Standoffs[0].HoleDiameterMM", "hole of idler of belt 1", func(b *Base) {
			l, _ := LayOutBase(LayOutQuery{Base: *b})
			b.Links[0].Idler.HoleDiameterMM, b.Standoffs[0].Center = 8, l.Links[0].Idler.Center
			b.Standoffs[0].Center.XMM += 5
		}},
		{"wheels overlap", ReasonWheelsTouch, "Base.Links[0].CenterDistanceMM", "overlaps", func(b *Base) { b.Links[0].CenterDistanceMM = new(150.0) }},
		{"closing distance", ReasonLoopOpen, "Base.Links[2].CenterDistanceMM", "give that", func(b *Base) {
			*b = ring(36, 36, 36, 36, 36, 36, 36, 36)
			b.Links[2].Idler, b.Links[2].CenterDistanceMM = backIdler(40, 0, 60), new(346.0)
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := withIdler(backIdler(40, 0, 60), 177)
			tt.change(&b)
			_, err := LayOutBase(LayOutQuery{Base: b})
			var errs beltmath.InputErrors
			require.ErrorAs(t, err, &errs)
			require.Equal(t, tt.field, errs[0].Field, err)
			assert.Equal(t, tt.reason, errs[0].Reason)
			assert.Contains(t, errs[0].Msg, tt.text)
		})
	}
}

// TestIdlerNoPlace: with three equal wheels the belt of 885 mm wants
// sqrt(180^2 - 172.5^2), and 90 mm want 914.1 mm, that is 183 teeth.
func TestIdlerNoPlace(t *testing.T) {
	tests := []struct {
		name, reason, field, nearest string
		texts                        []string
		base                         Base
	}{
		{"too long", path.ReasonNoPosition, "Base.Links[0].Drive.BeltToothCount", "175", []string{"a belt of 175 teeth fits", "hold 51.417 mm"}, withIdler(toothedIdler(36, 20, 30), 177)},
		{"too short", path.ReasonNoPosition, "Base.Links[0].Drive.BeltToothCount", "183", []string{"a belt of 183 teeth fits", "hold 51.417 mm"}, withIdler(toothedIdler(36, 90, 110), 177)},
		{"far too long", path.ReasonNoPosition, "Base.Links[0].Drive.BeltToothCount", "177", []string{"a belt of 177 teeth fits"}, withIdler(backIdler(40, 0, 60), 190)},
		{"no path", path.ReasonNoPosition, "Base.Links[0].Idler.FromMM", "", []string{"none of 257 places"}, withIdler(backIdler(40, 60, 80), 177)},
		{"too short for the axles", path.ReasonNoPosition, "Base.Links[0].Drive.BeltToothCount", "175", nil, withIdler(toothedIdler(36, 5, 40), 170)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := LayOutBase(LayOutQuery{Base: tt.base})
			var none *beltmath.NoSolutionError
			require.ErrorAs(t, err, &none)
			assert.Equal(t, tt.field, none.Field)
			assert.Equal(t, tt.reason, none.Reason)
			assert.Equal(t, tt.nearest, none.Nearest)
			for _, text := range tt.texts {
				assert.Contains(t, none.Msg, text)
			}
		})
	}
	b := withIdler(toothedIdler(36, 20, 40), 177)
	b.Links[0].CenterDistanceMM = new(61.0)
	b.Axles[0].WheelDiameterMM, b.Axles[1].WheelDiameterMM, b.Axles[2].WheelDiameterMM = 50, 50, 50
	b.Axles[1].DropMM = 0
	_, err := LayOutBase(LayOutQuery{Base: b})
	var none *beltmath.NoSolutionError
	require.ErrorAs(t, err, &none)
	assert.Equal(t, beltmath.ReasonFlangesTouch, none.Reason)
	assert.Equal(t, "Base.Links[0].CenterDistanceMM", none.Field)
}

// TestIdlerFlange: of one flange it is cautioned where the axles are, not where
// the belt would put them without its idler: 61/2 + 56.15/2 = 58.58 mm.
func TestIdlerFlange(t *testing.T) {
	b := withIdler(toothedIdler(36, 20, 120), 76)
	for i := range b.Axles {
		b.Axles[i].WheelDiameterMM, b.Axles[i].DropMM = 50, 0
	}
	b.Links[0].CenterDistanceMM = new(58.0)
	b.Links[0].Drive.Driven.FlangeDiameterMM = nil
	b.Standoffs = nil
	notes := notesOf(layOut(t, LayOutQuery{Base: b}), beltmath.NoteFlangeReaches)
	require.Len(t, notes, 1)
	assert.Equal(t, "Base.Links[0].Drive.Driver.FlangeDiameterMM", notes[0].Field)
	assert.Contains(t, notes[0].Message, "at 58 mm")
	b.Links[0].CenterDistanceMM = new(59.0)
	assert.Empty(t, notesOf(layOut(t, LayOutQuery{Base: b}), beltmath.NoteFlangeReaches))
}

// TestHoleNotGiven: a hole that is not given is cautioned of, of axles and
// idlers alike.
func TestHoleNotGiven(t *testing.T) {
	d := toothedIdler(36, 5, 80)
	b := withIdler(d, 177)
	d.HoleDiameterMM = 8
	require.Empty(t, notesOf(layOut(t, LayOutQuery{Base: b}), NoteHoleNotGiven))
	d.HoleDiameterMM, b.Axles[1].HoleDiameterMM = 0, 0
	notes := notesOf(layOut(t, LayOutQuery{Base: b}), NoteHoleNotGiven)
	require.Len(t, notes, 2)
	assert.Equal(t, "Base.Axles[1].HoleDiameterMM", notes[0].Field)
	assert.Equal(t, "Base.Links[0].Idler.HoleDiameterMM", notes[1].Field)
}

// TestIdlerFuzz never panics and never answers with what is not finite.
func TestIdlerFuzz(t *testing.T) {
	r := rand.New(rand.NewPCG(92, 93)) //nolint:gosec // a fixed seed
	values := []float64{0, 1e-9, 1, -1, 20, 40, -40, 60, 500, 9999, 1e300, math.Inf(1), math.NaN()}
	pick := func() float64 { return values[r.IntN(len(values))] }
	answered := 0
	for range 3000 {
		d := &Idler{Kind: path.Kind(r.IntN(4)), Side: path.Side(r.IntN(4)), FromMM: pick(), ToMM: pick()}
		if r.IntN(2) == 0 {
			d.ToothCount = new(r.IntN(60))
		} else {
			d.DiameterMM = new(pick())
		}
		if r.IntN(2) == 0 {
			d.Position = new(r.Float64())
		}
		b := withIdler(d, 170+r.IntN(20))
		if r.IntN(8) == 0 {
			b.Links[0].CenterDistanceMM = new(pick())
		}
		l, err := LayOutBase(LayOutQuery{Base: b, Fit: &Fit{}})
		var faults beltmath.InputErrors
		var none *beltmath.NoSolutionError
		if err != nil {
			require.True(t, errors.As(err, &faults) || errors.As(err, &none), "%v", err)
			require.True(t, none == nil || strings.HasPrefix(none.Field, "Base."))
			continue
		}
		answered++
		_, err = json.Marshal(l) // refuses what is not finite
		require.NoError(t, err)
	}
	assert.Positive(t, answered)
}
