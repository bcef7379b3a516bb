package base

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// The demo scenario's rover, invented for demos and tests. Its numbers were
// computed outside this code, by bisection of the length equation, and are
// compared to the digits the scenario prints.

func flanged(teeth int, flangeMM float64) beltmath.Pulley {
	return beltmath.Pulley{ToothCount: teeth, FlangeDiameterMM: &flangeMM}
}

func beltOn(from, to int, section string, driver, driven beltmath.Pulley, teeth int) LinkInput {
	return LinkInput{FromAxle: from, ToAxle: to, Drive: beltmath.DriveInput{
		Section: section, Driver: driver, Driven: driven, BeltToothCount: &teeth,
	}}
}

func at(x, y float64) beltmath.Point { return beltmath.Point{XMM: x, YMM: y} }

// roverA is six wheels with centers nearly equal.
func roverA() Base {
	p := flanged(36, 61)
	dead := Axle{Kind: AxleKindDead, WheelDiameterMM: 160, WheelWidthMM: 45, HoleDiameterMM: 8, BoltDiameterMM: 8}
	b := Base{
		Axles: []Axle{dead, {Kind: AxleKindLive, WheelDiameterMM: 160, WheelWidthMM: 45, DropMM: 3, HoleDiameterMM: 22}, dead},
		Links: []LinkInput{beltOn(1, 0, "H5M", p, p, 174), beltOn(1, 2, "H5M", p, p, 178)},

		CavityWidthMM: 125, PlateThicknessMM: 6, PlateMarginMM: 60, PlateHeightMM: 120,
		PulleyWidthMM: 32, BeltWidthMM: 25, PulleyGapMM: 4,
		StandoffClearanceMM: 3, StandoffStockLengthMM: 1000,
		TrackWidthMM: 520, KerfMM: 2.5, RoundUpMM: 1,
		SideSlipForceN: new(0.7 * 40 * 9.81 / 2),
		Members: []Member{
			{Name: "cross member", Quantity: 4, EndAllowanceMM: new(0.0), StockLengthMM: 2000},
			{Name: "bumper", Quantity: 2, EndAllowanceMM: new(137.0), StockLengthMM: 2000},
			{Name: "skirt", Quantity: 2, LengthMM: new(820.0), StockLengthMM: 2000},
		},
	}
	for _, c := range []beltmath.Point{at(130, 40), at(215, 40), at(485, 40), at(570, 40), at(172.5, -43), at(527.5, -43)} {
		b.Standoffs = append(b.Standoffs, Standoff{Center: c, DiameterMM: 14, HoleDiameterMM: 5.5})
	}
	return b
}

func layOut(t *testing.T, q LayOutQuery) Layout {
	t.Helper()
	l, err := LayOutBase(q)
	require.NoError(t, err)
	return l
}

// printed compares with a number to the digits it is printed with.
func printed(t *testing.T, want, got float64, digits int) {
	t.Helper()
	assert.InDelta(t, want, got, 0.501*math.Pow10(-digits))
}

// roverB is eight wheels on T5 belts, driven on the second axle.
func roverB() Base {
	p := flanged(32, 55)
	axle := func(drop float64) Axle {
		return Axle{Kind: AxleKindDead, WheelDiameterMM: 130, WheelWidthMM: 35, DropMM: drop, HoleDiameterMM: 8, BoltDiameterMM: 8}
	}
	return Base{
		Axles:       []Axle{axle(0), axle(2), axle(2), axle(0)},
		DrivenAxles: []int{1},
		Links:       []LinkInput{beltOn(1, 0, "T5", p, p, 122), beltOn(1, 2, "T5", p, p, 112), beltOn(2, 3, "T5", p, p, 122)},

		CavityWidthMM: 115, PlateThicknessMM: 5, PlateMarginMM: 50, PlateHeightMM: 100,
		PulleyWidthMM: 22, BeltWidthMM: 16, PulleyGapMM: 4, StandoffClearanceMM: 3,
		SideSlipForceN: new(0.7 * 35 * 9.81 / 2),
	}
}

// roverC has big rear wheels and unequal pulleys.
func roverC(rearTeeth, rearBelt, frontBelt int) Base {
	b := roverA()
	b.Members, b.Standoffs = nil, nil
	b.Axles[0].WheelDiameterMM = 200
	b.Axles[1].DropMM = 2
	b.Links = []LinkInput{
		beltOn(1, 0, "H5M", flanged(36, 61), beltmath.Pulley{ToothCount: rearTeeth}, rearBelt),
		beltOn(1, 2, "H5M", flanged(36, 61), flanged(36, 61), frontBelt),
	}
	return b
}

// roverD is a frame in inches.
func roverD() Base {
	b := roverA()
	b.Members, b.Standoffs = nil, nil
	for i := range b.Axles {
		b.Axles[i].WheelDiameterMM = 6 * 25.4
	}
	b.Axles[1].DropMM = 25.4 / 8
	p := flanged(22, 72)
	b.Links = []LinkInput{beltOn(1, 0, "L", p, p, 86), beltOn(1, 2, "L", p, p, 86)}
	b.BeltWidthMM = 19.1
	b.SideSlipForceN = new(0.7 * 30 * 9.81 / 2)
	return b
}

func TestLayoutDemoPositions(t *testing.T) {
	for _, tt := range []struct {
		name string
		base Base
		x, y []float64
	}{
		{"A", roverA(), []float64{0, 344.986956, 699.974280}, []float64{0, -3, 0}},
		{"B", roverB(), []float64{0, 224.991111, 424.991111, 649.982222}, []float64{0, -2, -2, 0}},
		{"C 169 188", roverC(45, 169, 188), []float64{0, 320.415761, 700.410498}, []float64{20, -2, 0}},
		{"C 188 169", roverC(45, 188, 169), []float64{0, 368.023453, 700.517438}, []float64{20, -2, 0}},
		// The page prints 697.997276 for this one; 40 digits give 697.99727656709.
		{"C 184 172", roverC(45, 184, 172), []float64{0, 358.003159, 697.997277}, []float64{20, -2, 0}},
		{"C 178 178", roverC(45, 178, 178), []float64{0, 342.970496, 697.964862}, []float64{20, -2, 0}},
		{"D", roverD(), []float64{0, 304.783463, 609.566926}, []float64{0, -3.175, 0}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l := layOut(t, LayOutQuery{Base: tt.base})
			for i := range tt.x {
				printed(t, tt.x[i], l.Axles[i].Center.XMM, 6)
				assert.InDelta(t, tt.y[i], l.Axles[i].Center.YMM, 1e-12) // sums of decimals
			}
			printed(t, tt.x[len(tt.x)-1], l.WheelbaseMM, 6)
			for _, k := range l.Links {
				assert.Nil(t, k.Drilled)
				assert.InDelta(t, k.Geometry.CenterDistanceMM, distance(l.Axles[k.FromAxle].Center, l.Axles[k.ToAxle].Center), 1e-10)
			}
		})
	}
	l := layOut(t, LayOutQuery{Base: roverA()})
	printed(t, 0.013, 345-l.Links[0].RailSpacingMM, 3) // what forgetting the drop costs
	assert.InDelta(t, 304.8, layOut(t, LayOutQuery{Base: roverD()}).Links[0].Geometry.CenterDistanceMM, 0)
	for i, c := range []float64{321.170142, 368.680434, 358.678494, 343.675372} {
		rear := []int{169, 188, 184, 178}[i]
		printed(t, c, layOut(t, LayOutQuery{Base: roverC(45, rear, 178)}).Links[0].Geometry.CenterDistanceMM, 6)
	}
}

// gaps picks the gaps of one kind.
func gaps(l Layout, kind ClearanceKind) []float64 {
	var list []float64
	for _, c := range l.Clearances {
		if c.Kind == kind {
			list = append(list, c.GapMM)
		}
	}
	return list
}

func notesOf(l Layout, reason string) []beltmath.Note {
	var list []beltmath.Note
	for _, n := range l.Notes {
		if n.Reason == reason {
			list = append(list, n)
		}
	}
	return list
}

func TestLayoutDemoGaps(t *testing.T) {
	l := layOut(t, LayOutQuery{Base: roverA()})
	for i, want := range []float64{185, 195} {
		printed(t, want, gaps(l, ClearanceKindWheelWheel)[i], 1)
	}
	for i, want := range []float64{52.5, 49.5, 52.5} {
		printed(t, want, gaps(l, ClearanceKindFlangeFloor)[i], 1)
	}
	for _, c := range l.Clearances {
		assert.True(t, c.Clear, "%+v", c)
	}
	assert.InDelta(t, -83, l.FloorYMM, 0)
	require.Len(t, notesOf(l, NoteRocks), 1)
	assert.Contains(t, notesOf(l, NoteRocks)[0].Message, "0.50 degrees onto wheel 1 or 0.48 degrees onto wheel 3")
}

func TestLayoutDemoStandoffs(t *testing.T) {
	const inside = true
	tests := []struct {
		name        string
		x, y        float64
		belt, wheel float64
		verdict     StandoffVerdict
		inside      bool
	}{
		{"S1", 130, 40, 4.333, 49.0, StandoffVerdictClear, false},
		{"S2", 215, 40, 5.072, 49.9, StandoffVerdictClear, false},
		{"S3", 485, 40, 5.019, 59.5, StandoffVerdictClear, false},
		{"S4", 570, 40, 4.301, 49.0, StandoffVerdictClear, false},
		{"S5", 172.5, -43, 4.702, 90.1, StandoffVerdictClear, false},
		{"S6", 527.5, -43, 4.745, 90.8, StandoffVerdictClear, false},
		{"X1", 250, -40, 1.028, 14.9, StandoffVerdictTooClose, false},
		{"X2", 220, 30, -4.884, 42.3, StandoffVerdictHits, false},
		{"X3", 172.5, 0, 17.496, 85.5, StandoffVerdictClear, inside},
	}
	b := roverA()
	b.Standoffs = nil
	for _, tt := range tests {
		b.Standoffs = append(b.Standoffs, Standoff{Center: at(tt.x, tt.y), DiameterMM: 14, HoleDiameterMM: 5.5})
	}
	l := layOut(t, LayOutQuery{Base: b})
	for i, tt := range tests {
		s := l.Standoffs[i]
		printed(t, tt.belt, gaps(l, ClearanceKindStandoffBelt)[i], 3)
		printed(t, tt.wheel, gaps(l, ClearanceKindWheelStandoff)[i], 1)
		assert.Equal(t, tt.verdict, s.Verdict, tt.name)
		assert.Equal(t, tt.inside, s.InsideLoop, tt.name)
		printed(t, tt.belt, s.GapMM, 3) // the belt is nearest everywhere
	}
	assert.Len(t, notesOf(l, NoteNotClear), 3) // X1, X2, and X2 in the place of S2
	assert.Len(t, gaps(l, ClearanceKindStandoffStandoff), 1)
	require.Len(t, notesOf(l, NoteInsideLoop), 1)
	assert.Equal(t, "Base.Standoffs[8].Center", notesOf(l, NoteInsideLoop)[0].Field)
	assert.Equal(t, beltmath.SeverityCaution, notesOf(l, NoteNotClear)[0].Severity)
}

func TestLayoutDemoZones(t *testing.T) {
	q := LayOutQuery{Base: roverA(), StandoffLinesMM: []float64{0, 40, 30, -40}, StandoffDiameterMM: 14}
	l := layOut(t, q)
	want := []StandoffZone{
		{YMM: 0, FromMM: 90.000, ToMM: 255.037, InsideLoop: true},
		{YMM: 0, FromMM: 434.937, ToMM: 609.974, InsideLoop: true},
		{YMM: 40, FromMM: 80.623, ToMM: 265.924},
		{YMM: 40, FromMM: 424.050, ToMM: 619.352},
	}
	require.Len(t, l.StandoffZones, len(want))
	for i, z := range l.StandoffZones {
		printed(t, want[i].FromMM, z.FromMM, 3)
		printed(t, want[i].ToMM, z.ToMM, 3)
		assert.Equal(t, want[i].InsideLoop, z.InsideLoop)
		assert.InDelta(t, want[i].YMM, z.YMM, 0)
	}
	assert.Len(t, notesOf(l, NoteNoRoom), 2) // y = 30 and y = -40
	// Near x = 250 the lower span needs y <= -41.97.
	for _, tt := range []struct {
		y    float64
		room bool
	}{{-41.96, false}, {-41.98, true}} {
		q.StandoffLinesMM = []float64{tt.y}
		found := false
		for _, z := range layOut(t, q).StandoffZones {
			found = found || z.FromMM <= 250 && z.ToMM >= 250
		}
		assert.Equal(t, tt.room, found, "y = %v", tt.y)
	}
}

func TestLayoutDemoStacks(t *testing.T) {
	type part struct {
		kind       PartKind
		start, end float64
		link       int
	}
	const none = -1
	check := func(t *testing.T, want []part, s Stack) {
		t.Helper()
		require.Len(t, s.Parts, len(want))
		for i, p := range s.Parts {
			assert.Equal(t, want[i].kind, p.Part)
			assert.InDelta(t, want[i].start, p.StartMM, 1e-12) // sums of halves and whole numbers
			assert.InDelta(t, want[i].end, p.EndMM, 1e-12)
			if want[i].link == none {
				assert.Nil(t, p.Link)
			} else {
				require.NotNil(t, p.Link)
				assert.Equal(t, want[i].link, *p.Link)
			}
		}
	}
	l := layOut(t, LayOutQuery{Base: roverA()})
	assert.Equal(t, []Lane{LaneInboard, LaneOutboard}, []Lane{l.Links[0].Lane, l.Links[1].Lane})
	check(t, []part{
		{PartKindSpacer, 0, 4, none},
		{PartKindPulley, 4, 36, 0},
		{PartKindSpacer, 36, 40, none},
		{PartKindWheel, 40, 85, none},
		{PartKindSpacer, 85, 125, none},
	}, l.Stacks[0])
	check(t, []part{
		{PartKindSpacer, 0, 4, none},
		{PartKindPulley, 4, 36, 0},
		{PartKindSpacer, 36, 40, none},
		{PartKindWheel, 40, 85, none},
		{PartKindSpacer, 85, 89, none},
		{PartKindPulley, 89, 121, 1},
		{PartKindSpacer, 121, 125, none},
	}, l.Stacks[1])
	check(t, []part{
		{PartKindSpacer, 0, 40, none},
		{PartKindWheel, 40, 85, none},
		{PartKindSpacer, 85, 89, none},
		{PartKindPulley, 89, 121, 1},
		{PartKindSpacer, 121, 125, none},
	}, l.Stacks[2])

	l = layOut(t, LayOutQuery{Base: roverB()})
	assert.Equal(t, []Lane{LaneInboard, LaneOutboard, LaneInboard}, []Lane{l.Links[0].Lane, l.Links[1].Lane, l.Links[2].Lane})
	assert.Len(t, l.Stacks[2].Parts, 7) // axle 3 needs both lanes too

	b := roverA()
	b.CavityWidthMM = 121
	_, err := LayOutBase(LayOutQuery{Base: b})
	fault := onlyFault(t, err)
	assert.Equal(t, ReasonCavityNarrow, fault.Reason)
	assert.Equal(t, "Base.CavityWidthMM", fault.Field)
	assert.Contains(t, fault.Msg, "short by 4 mm: the parts on axle 2 need 125")
}

func onlyFault(t *testing.T, err error) *beltmath.InputError {
	t.Helper()
	var faults beltmath.InputErrors
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults, 1, "%v", err)
	return faults[0]
}

func TestLayoutDemoMembers(t *testing.T) {
	l := layOut(t, LayOutQuery{Base: roverA()})
	want := []Cut{
		{PartKindMember, "cross member", 383, 4, 2000},
		{PartKindMember, "bumper", 657, 2, 2000},
		{PartKindMember, "skirt", 820, 2, 2000},
		{PartKindStandoff, "standoff", 125, 12, 1000},
		{PartKindPlate, "side plate", 820, 4, 0},
	}
	assert.Equal(t, want, l.Cuts) // whole numbers and halves: exact
	lengths := func(plan CutPlan) [][]float64 {
		var bars [][]float64
		for _, bar := range plan.Bars {
			var pieces []float64
			for _, piece := range bar.Pieces {
				pieces = append(pieces, piece.LengthMM)
			}
			bars = append(bars, pieces)
		}
		return bars
	}
	require.Len(t, l.CutPlans, 2)
	assert.ElementsMatch(t, [][]float64{{820, 820}, {657, 657, 383}, {383, 383, 383}}, lengths(l.CutPlans[0]))
	assert.Equal(t, 3, l.CutPlans[0].BoundBarCount) // ceil((4486 + 8 x 2.5) / 2002.5)
	assert.Equal(t, MinimumProofBound, l.CutPlans[0].Proof)
	hex := lengths(l.CutPlans[1])
	require.Len(t, hex, 2)
	assert.Len(t, hex[0], 7)
	assert.Len(t, hex[1], 5)
	assert.Equal(t, 2, l.CutPlans[1].BoundBarCount)
	assert.Equal(t, MinimumProofBound, l.CutPlans[1].Proof)

	b := roverA()
	for i := range b.Members {
		b.Members[i].StockLengthMM = 1500
	}
	l = layOut(t, LayOutQuery{Base: b})
	assert.Len(t, l.CutPlans[0].Bars, 4)
	assert.Equal(t, 3, l.CutPlans[0].BoundBarCount) // ceil(4506 / 1502.5): the bound does not prove 4
	assert.Equal(t, MinimumProofExhaustion, l.CutPlans[0].Proof)
}

func TestLayoutDemoLoads(t *testing.T) {
	l := layOut(t, LayOutQuery{Base: roverA()})
	for _, k := range l.Links {
		assert.Equal(t, 1, k.DownstreamWheelCount)
		printed(t, 383.5, *k.EffectiveTensionN, 1)
	}
	assert.Empty(t, notesOf(l, beltmath.NoteBeyondRating))

	b := roverA()
	b.SideSlipForceN = new(*b.SideSlipForceN / 2)
	printed(t, 191.8, *layOut(t, LayOutQuery{Base: b}).Links[0].EffectiveTensionN, 1)
	b.SideSlipForceN, b.AxleTorqueNM = nil, new(11.0)
	printed(t, 384, *layOut(t, LayOutQuery{Base: b}).Links[0].EffectiveTensionN, 0)

	b = roverA()
	b.BeltWidthMM = 15 // the trap: too narrow for the load
	l = layOut(t, LayOutQuery{Base: b})
	require.Len(t, notesOf(l, beltmath.NoteBeyondRating), 1)
	assert.Contains(t, notesOf(l, beltmath.NoteBeyondRating)[0].Message, "384 N on a 15 mm belt rated at 249 N")

	l = layOut(t, LayOutQuery{Base: roverB()})
	for i, wheels := range []int{1, 2, 1} {
		assert.Equal(t, wheels, l.Links[i].DownstreamWheelCount)
		// The page prints 306.8, from rounded factors (120.2 x 130 / 50.93); 40
		// digits give 306.74559757036.
		printed(t, 306.7, *l.Links[i].EffectiveTensionN, 1)
	}
	assert.Empty(t, notesOf(l, beltmath.NoteBeyondRating)) // of 549 N

	l = layOut(t, LayOutQuery{Base: roverD()})
	printed(t, 235, *l.Links[0].EffectiveTensionN, 0)
	require.Len(t, notesOf(l, beltmath.NoteBeyondRating), 1)
	assert.Contains(t, notesOf(l, beltmath.NoteBeyondRating)[0].Message, "235 N on a 19.1 mm belt rated at 177 N")
}

func TestLayoutDemoScrub(t *testing.T) {
	assert.Empty(t, notesOf(layOut(t, LayOutQuery{Base: roverC(45, 178, 178)}), NoteScrub))
	l := layOut(t, LayOutQuery{Base: roverC(46, 178, 178)})
	require.Len(t, notesOf(l, NoteScrub), 1)
	assert.Contains(t, notesOf(l, NoteScrub)[0].Message, "2.22 percent")
	_, err := LayOutBase(LayOutQuery{Base: roverC(36, 178, 178)})
	fault := onlyFault(t, err)
	assert.Equal(t, ReasonScrub, fault.Reason)
	assert.Equal(t, "scrub of -20.0 percent between wheels 1 and 2", fault.Value)

	steps := notesOf(layOut(t, LayOutQuery{Base: roverC(45, 178, 178)}), NoteHeightStep)
	require.Len(t, steps, 1)
	assert.Contains(t, steps[0].Message, "342.970 mm apart, not 343.675") // 0.7 mm too tight otherwise
}

func TestLayoutDemoParts(t *testing.T) {
	needed := func(l Layout) map[string][2]int {
		list := map[string][2]int{}
		for _, p := range l.Parts {
			list[p.Designation] = [2]int{p.NeededQuantity, p.Quantity}
		}
		return list
	}
	want := map[string][2]int{
		"870 H5M, 174 teeth, 25 mm wide": {2, 0}, "890 H5M, 178 teeth, 25 mm wide": {2, 0}, "H5M, 36 teeth, for 25 mm belt": {8, 0},
		"160 mm diameter, 45 mm wide": {6, 6}, "4 mm long": {16, 16}, "40 mm long": {4, 4},
		"dead axle, bolt of 8 mm": {4, 4}, "live axle, bearing holes of 22 mm": {2, 2},
		"14 mm disc, 125 mm long": {12, 12}, "820 x 120 x 6 mm": {4, 4},
		"cross member, 383 mm long": {4, 4}, "bumper, 657 mm long": {2, 2}, "skirt, 820 mm long": {2, 2},
	}
	assert.Equal(t, want, needed(layOut(t, LayOutQuery{Base: roverA(), Stock: partsBin(t)})))
	// Two 45-tooth pulleys are exactly in the bin.
	assert.Equal(t, [2]int{2, 0}, needed(layOut(t, LayOutQuery{Base: roverC(45, 178, 178), Stock: partsBin(t)}))["H5M, 45 teeth, for 25 mm belt"])
	// 15 mm belts are on the shelf but not of the width asked for.
	b := roverA()
	b.BeltWidthMM = 15
	l := layOut(t, LayOutQuery{Base: b, Stock: partsBin(t)})
	assert.Equal(t, [2]int{2, 0}, needed(l)["870 H5M, 174 teeth, 15 mm wide"])
	assert.Equal(t, [2]int{2, 2}, needed(l)["890 H5M, 178 teeth, 15 mm wide"])
	assert.NotEmpty(t, notesOf(l, NoteOtherWidth))
}

// TestLayoutDemoSoldOut is belt 178 sold out with the holes drilled at 345 and
// 355.
func TestLayoutDemoSoldOut(t *testing.T) {
	b := roverA()
	for _, a := range layOut(t, LayOutQuery{Base: b}).Axles {
		b.AxlePositions = append(b.AxlePositions, a.Center)
	}
	stock := partsBin(t)
	stock.Belts = slices.DeleteFunc(stock.Belts, func(item beltmath.StockItem) bool { return item.ToothCount == 178 })
	l := layOut(t, LayOutQuery{Base: b, Stock: stock})
	for _, k := range l.Links {
		require.NotNil(t, k.Drilled)
		assert.Equal(t, beltmath.VerdictFits, k.Drilled.Verdict)
		assert.InDelta(t, 0, k.Drilled.DeviationMM, 1e-9)
	}
	assert.Empty(t, l.Links[0].Drilled.Substitutes) // 174 fits and is there
	front := l.Links[1].Drilled
	printed(t, 355, front.CenterDistanceMM, 6)

	find := func(belt, teeth int) *LinkSubstitute {
		for i, s := range front.Substitutes {
			if s.Drive.BeltToothCount == belt && s.Drive.Driver.ToothCount == teeth && s.Drive.Driven.ToothCount == teeth {
				return &front.Substitutes[i]
			}
		}
		require.Fail(t, "not found", "%d with %d", belt, teeth)
		return nil
	}
	for _, tt := range []struct{ belt, teeth, belts, pulleys int }{
		{179, 37, 2, 4}, // would fit, not in the bin
		{180, 38, 0, 4}, // neither
		{174, 32, 1, 0}, // three are there, the rear links take two: one short
	} {
		s := find(tt.belt, tt.teeth)
		assert.True(t, s.SameHoles)
		assert.InDelta(t, 355, s.CenterDistanceMM, 0)
		assert.Equal(t, [2]int{tt.belts, tt.pulleys}, [2]int{s.MissingBeltCount, s.MissingPulleyCount}, "%d with %d", tt.belt, tt.teeth)
		assert.InDelta(t, 0, s.MoveMM, 0)
	}
	for _, s := range front.Substitutes {
		assert.False(t, s.SameHoles && s.MissingBeltCount+s.MissingPulleyCount == 0, "no substitute on these holes, not %s", s.text())
	}
	first := front.Substitutes[0] // the smallest move: 180 with the pulleys kept
	assert.Equal(t, []int{180, 36, 36}, []int{first.Drive.BeltToothCount, first.Drive.Driver.ToothCount, first.Drive.Driven.ToothCount})
	printed(t, 5.0, first.HoleMoveMM, 1)
	assert.Equal(t, 2, first.MoveAxle)
	assert.InDelta(t, math.Sqrt(360*360-9)-math.Sqrt(355*355-9), first.MoveMM, 1e-9)
	for _, tt := range []struct{ belt, teeth int }{{180, 40}, {172, 32}} {
		s := find(tt.belt, tt.teeth)
		printed(t, -5.0, s.HoleMoveMM, 1)
		assert.Zero(t, s.MissingBeltCount+s.MissingPulleyCount)
	}
	notes := notesOf(l, NoteMoveHoles)
	require.Len(t, notes, 1)
	assert.Contains(t, notes[0].Message, "a belt of 174 teeth with pulleys of 32 and 32 (1 belt short)")
	assert.Contains(t, notes[0].Message, "5.000 mm of center distance: a belt of 180 teeth with pulleys of 36 and 36: for an exact fit move axle 3, and all beyond it, 5.000 mm forward")
	require.Len(t, notesOf(l, NoteNotInStock), 1)
	assert.Contains(t, notesOf(l, NoteNotInStock)[0].Message, "lacks 2 of 2: 890 H5M")

	// With one more belt of 174 the front link has what it needs.
	stock.Belts = append(stock.Belts, part("H5M", 174, 25, 1))
	l = layOut(t, LayOutQuery{Base: b, Stock: stock})
	first = l.Links[1].Drilled.Substitutes[0]
	assert.True(t, first.SameHoles)
	assert.Equal(t, []int{174, 32, 0}, []int{first.Drive.BeltToothCount, first.Drive.Driver.ToothCount, first.MissingBeltCount})
	assert.Len(t, notesOf(l, NoteSameHoles), 1)
}
