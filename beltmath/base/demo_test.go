package base

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// The numbers in this file are those of the demo scenario, worked out from the
// length equation with 40 digits and by the theorem of Pythagoras, apart from
// this code.

// Half of the last digit printed.
const digits6 = 5.01e-7

func wheels(diameterMM float64, drops ...float64) []Axle {
	var axles []Axle
	for _, drop := range drops {
		axles = append(axles, Axle{WheelDiameterMM: diameterMM, DropMM: drop})
	}
	return axles
}

func teeth(values ...int) *beltmath.ToothCounts { return &beltmath.ToothCounts{Values: values} }

func variantA() SearchQuery {
	return SearchQuery{
		Axles: wheels(160, 0, 3, 0), Sections: []string{"H5M"}, Pulley: teeth(36), StandardLengthsOnly: true,
		TargetWheelbaseMM: 700, ToleranceMM: 1, MinWheelGapMM: 12,
	}
}

func variantB() SearchQuery {
	return SearchQuery{
		Axles: wheels(130, 0, 2, 2, 0), DrivenAxles: []int{1}, Sections: []string{"T5"}, Pulley: teeth(32),
		StandardLengthsOnly: true, TargetWheelbaseMM: 650, ToleranceMM: 0.5,
	}
}

func variantC() SearchQuery {
	return SearchQuery{
		Axles:    []Axle{{WheelDiameterMM: 200}, {WheelDiameterMM: 160, DropMM: 2}, {WheelDiameterMM: 160}},
		Sections: []string{"H5M"}, Pulley: teeth(36, 45), StandardLengthsOnly: true,
		TargetWheelbaseMM: 700, ToleranceMM: 2.5,
	}
}

func variantD() SearchQuery {
	return SearchQuery{
		Axles: wheels(6*25.4, 0, 25.4/8, 0), Sections: []string{"L"}, Pulley: teeth(18, 20, 22, 24),
		StandardLengthsOnly: true, TargetWheelbaseMM: 673.1, ToleranceMM: 1,
	}
}

func search(t *testing.T, q SearchQuery) SearchAnswer {
	t.Helper()
	a, err := SearchBases(q)
	require.NoError(t, err)
	return a
}

// wantPlan is a row of a table of plans. Numbers that are 0 are not looked at.
type wantPlan struct {
	pulleys          []int // axle by axle
	belts            []int
	centers          []float64
	spacings         []float64
	wheelbase, shift float64
}

func checkPlan(t *testing.T, want wantPlan, got Plan) {
	t.Helper()
	assert.Equal(t, want.pulleys, teethOf(got))
	assert.Equal(t, want.belts, beltsOf(got))
	for i, c := range want.centers {
		assert.InDelta(t, c, got.Links[i].CenterDistanceMM, digits6)
	}
	for i, dx := range want.spacings {
		assert.InDelta(t, dx, got.Links[i].RailSpacingMM, digits6)
	}
	if want.wheelbase != 0 {
		assert.InDelta(t, want.wheelbase, got.WheelbaseMM, digits6)
	}
	if want.shift != 0 {
		assert.InDelta(t, want.shift, got.WheelbaseShiftMM, digits6)
	}
}

func TestDemoSixWheels(t *testing.T) {
	a := search(t, variantA())
	want := []wantPlan{
		{belts: []int{174, 178}, centers: []float64{345, 355}, wheelbase: 699.974280, shift: -0.025720},
		{belts: []int{172, 180}, centers: []float64{340, 360}, wheelbase: 699.974264, shift: -0.025736},
		{belts: []int{166, 186}, centers: []float64{325, 375}, wheelbase: 699.974153, shift: -0.025847},
		{belts: []int{142, 210}},
		{belts: []int{127, 225}},
		{belts: []int{123, 229}},
	}
	require.Len(t, a.Plans, len(want))
	assert.False(t, a.Truncated)
	for i, w := range want {
		w.pulleys = []int{36, 36, 36}
		checkPlan(t, w, a.Plans[i])
		assert.True(t, a.Plans[i].MirroredToo)
		assert.Equal(t, 2, a.Plans[i].DistinctBeltCount)
	}
	first := a.Plans[0]
	for i, at := range []struct{ x, y float64 }{{0, 0}, {344.986956, -3}, {699.974280, 0}} {
		assert.InDelta(t, at.x, first.AxlePositions[i].XMM, digits6)
		assert.InDelta(t, at.y, first.AxlePositions[i].YMM, 0) // whole numbers
	}
	assert.Equal(t, []int{1, 0, 1, 2}, []int{
		first.Links[0].FromAxle, first.Links[0].ToAxle, first.Links[1].FromAxle, first.Links[1].ToAxle,
	}, "from the motor on the center axle outward")
	assert.Equal(t, []string{"LENGTH_UNVERIFIED"}, reasons(first), "lists from memory say so, the small drop does not matter")
}

func reasons(p Plan) []string {
	var words []string
	for _, n := range p.Notes {
		words = append(words, n.Reason)
	}
	return words
}

// Equal gaps miss with 36 teeth on both sides of the target.
func TestDemoEqualGapsFail(t *testing.T) {
	q := variantA()
	q.EqualGaps = true
	a := search(t, q)
	assert.Empty(t, a.Plans)
	x := exclusionOf(t, a, "ToleranceMM")
	assert.True(t, x.Sufficient)
	checkPlan(t, wantPlan{
		pulleys: []int{36, 36, 36}, belts: []int{178, 178}, centers: []float64{355, 355}, wheelbase: 709.974647, shift: 9.974647,
	}, *x.Nearest)
	x = exclusionOf(t, a, "EqualGaps")
	assert.True(t, x.Sufficient)
	assert.Equal(t, []int{174, 178}, beltsOf(*x.Nearest), "the plan to build")

	q.ToleranceMM = 11
	a = search(t, q)
	require.Len(t, a.Plans, 2)
	checkPlan(t, wantPlan{
		pulleys: []int{36, 36, 36}, belts: []int{174, 174}, centers: []float64{345, 345}, wheelbase: 689.973913, shift: -10.026087,
	}, a.Plans[1])
}

func exclusionOf(t *testing.T, a SearchAnswer, field string) Exclusion {
	t.Helper()
	i := slices.IndexFunc(a.Exclusions, func(x Exclusion) bool { return x.Field == field })
	require.GreaterOrEqual(t, i, 0, "an exclusion of %s in %v", field, a.Exclusions)
	return a.Exclusions[i]
}

// With other pulleys equal gaps of 350 mm come out, fewest belt teeth first.
func TestDemoOtherPulleys(t *testing.T) {
	q := variantA()
	q.Pulley = &beltmath.ToothCounts{Min: new(32), Max: new(40)}
	want := []wantPlan{
		{pulleys: []int{32, 32, 32}, belts: []int{172, 172}},
		{pulleys: []int{34, 34, 34}, belts: []int{174, 174}},
		{pulleys: []int{38, 38, 38}, belts: []int{178, 178}},
		{pulleys: []int{40, 40, 40}, belts: []int{180, 180}},
	}
	for _, equal := range []bool{false, true} {
		q.EqualGaps = equal
		a := search(t, q)
		require.GreaterOrEqual(t, len(a.Plans), len(want))
		for i, w := range want {
			w.centers, w.wheelbase = []float64{350, 350}, 699.974285
			checkPlan(t, w, a.Plans[i])
			assert.False(t, a.Plans[i].MirroredToo)
		}
		assert.Equal(t, equal, len(a.Plans) == len(want))
	}
}

func TestDemoEightWheels(t *testing.T) {
	even := wantPlan{
		pulleys: []int{32, 32, 32, 32}, belts: []int{122, 112, 122}, centers: []float64{225, 200, 225},
		spacings: []float64{224.991111, 200, 224.991111}, wheelbase: 649.982222, shift: -0.017778,
	}
	q := variantB()
	a := search(t, q)
	require.NotEmpty(t, a.Plans)
	checkPlan(t, even, a.Plans[0])
	for i, ends := range [][2]int{{1, 0}, {1, 2}, {2, 3}} { // links 2-1, 2-3, 3-4
		assert.Equal(t, ends, [2]int{a.Plans[0].Links[i].FromAxle, a.Plans[0].Links[i].ToAxle})
	}
	q.DrivenAxles = nil
	assert.Equal(t, a, search(t, q), "axle 2 is the middle of four")

	q.MaxDistinctBelts = new(3)
	a = search(t, q)
	checkPlan(t, even, a.Plans[0])
	i := slices.IndexFunc(a.Plans, func(p Plan) bool { return slices.Equal(beltsOf(p), []int{122, 102, 132}) })
	require.Positive(t, i, "nearer by less than can be drilled, but uneven")
	checkPlan(t, wantPlan{
		pulleys: []int{32, 32, 32, 32}, belts: []int{122, 102, 132}, centers: []float64{225, 175, 250}, wheelbase: 649.983111,
	}, a.Plans[i])
	q.ResolutionMM = new(0.0)
	assert.Equal(t, 0, slices.IndexFunc(search(t, q).Plans, func(p Plan) bool {
		return slices.Equal(beltsOf(p), []int{122, 102, 132}) || p.WheelbaseShiftMM*p.WheelbaseShiftMM < 0.016889*0.016889
	}), "exactly compared the nearest comes first")
}

// The scenario prints 697.997276 for 184 + 172: 697.99727657 rounds to
// 697.997277, as 358.003159 + 339.994118 do.
func TestDemoBigRearWheels(t *testing.T) {
	a := search(t, variantC())
	require.Len(t, a.Plans, 9)
	want := []wantPlan{
		{belts: []int{169, 188}, centers: []float64{321.170142, 380}, spacings: []float64{320.415761, 379.994737}, wheelbase: 700.410498},
		{belts: []int{188, 169}, centers: []float64{368.680434, 332.5}, spacings: []float64{368.023453, 332.493985}, wheelbase: 700.517438},
		{belts: []int{184, 172}, centers: []float64{358.678494, 340}, spacings: []float64{358.003159, 339.994118}, wheelbase: 697.997277},
		{belts: []int{178, 178}, centers: []float64{343.675372, 355}, spacings: []float64{342.970496, 354.994366}, wheelbase: 697.964862},
	}
	for i, w := range want {
		at := slices.IndexFunc(a.Plans, func(p Plan) bool { return slices.Equal(beltsOf(p), w.belts) })
		require.GreaterOrEqual(t, at, 0)
		assert.True(t, i > 0 || at == 0, "169 + 188 is the first plan")
		w.pulleys = []int{45, 36, 36}
		checkPlan(t, w, a.Plans[at])
		assert.InDelta(t, 0, a.Plans[at].ScrubPercent, 0) // 45/36 = 200/160 to the bit
		assert.Contains(t, reasons(a.Plans[at]), NoteHeightStep)
		for k, y := range []float64{20, -2, 0} {
			assert.InDelta(t, y, a.Plans[at].AxlePositions[k].YMM, 0) // whole numbers
		}
	}
}

func TestDemoScrub(t *testing.T) {
	assert.InDelta(t, 2.2, ScrubPercent(46, 36, 200, 160), 0.05)
	assert.InDelta(t, -20, ScrubPercent(36, 36, 200, 160), 1e-12)

	q := variantC()
	q.Pulley, q.ToleranceMM = teeth(36, 46), 20
	a := search(t, q)
	assert.Empty(t, a.Plans, "2.2 percent is above the limit of 0.5")
	x := exclusionOf(t, a, "MaxScrubPercent")
	assert.True(t, x.Sufficient)
	assert.InDelta(t, 2.2222222, x.Nearest.ScrubPercent, 1e-7)
	q.MaxScrubPercent = new(3.0)
	a = search(t, q)
	require.NotEmpty(t, a.Plans)
	assert.Contains(t, reasons(a.Plans[0]), NoteScrub)

	q.Pulley = teeth(36)
	a = search(t, q)
	assert.Empty(t, a.Plans, "20 percent is out of the question")
	assert.False(t, slices.ContainsFunc(a.Exclusions, func(x Exclusion) bool { return x.Sufficient }))
}

func TestDemoInches(t *testing.T) {
	q := variantD()
	q.Pulley, q.Belt, q.TargetWheelbaseMM = teeth(22), teeth(86), 24*25.4
	a := search(t, q)
	require.Len(t, a.Plans, 1)
	checkPlan(t, wantPlan{
		pulleys: []int{22, 22, 22}, belts: []int{86, 86}, centers: []float64{12 * 25.4, 12 * 25.4},
		spacings: []float64{304.783463, 304.783463}, wheelbase: 609.566926,
	}, a.Plans[0])
	assert.InDelta(t, 23.999, a.Plans[0].WheelbaseMM/25.4, 0.0005)
}

// The scenario names 92 + 93 teeth on pulleys of 22 as the best belts of any
// length; 88 + 89 on 18 give the same centers with fewer belt teeth, and so come
// first.
func TestDemoNoPlan(t *testing.T) {
	q := variantD()
	a := search(t, q)
	assert.Empty(t, a.Plans)
	require.NotEmpty(t, a.Notes)
	assert.Equal(t, NoteNoPlan, a.Notes[0].Reason)
	assert.Contains(t, a.Notes[0].Message, "tolerance_mm")
	x := exclusionOf(t, a, "ToleranceMM")
	assert.True(t, x.Sufficient)
	assert.Equal(t, []int{80, 98}, beltsOf(*x.Nearest))
	x = exclusionOf(t, a, "StandardLengthsOnly")
	assert.False(t, x.Sufficient, "belts made to any length do not help enough")
	anyLength := wantPlan{centers: []float64{333.375, 338.1375}, wheelbase: 671.482474, shift: -1.617526}
	anyLength.pulleys, anyLength.belts = []int{18, 18, 18}, []int{88, 89}
	checkPlan(t, anyLength, *x.Nearest)
	q.Pulley = teeth(22)
	anyLength.pulleys, anyLength.belts = []int{22, 22, 22}, []int{92, 93}
	checkPlan(t, anyLength, *exclusionOf(t, search(t, q), "StandardLengthsOnly").Nearest)

	q = variantD()
	type row struct {
		pulley int
		belts  []int
	}
	far := []row{{18, []int{80, 98}}, {24, []int{86, 104}}}
	even := []row{{18, []int{86, 92}}, {24, []int{92, 98}}}
	q.ToleranceMM = 3.2 // what helps
	for _, tt := range []struct {
		resolution *float64
		want       []row
	}{{nil, slices.Concat(far, even)}, {new(0.05), slices.Concat(even, far)}} {
		q.ResolutionMM = tt.resolution
		a = search(t, q)
		require.Len(t, a.Plans, 4)
		for i, w := range tt.want {
			assert.Equal(t, []int{w.pulley, w.pulley, w.pulley}, teethOf(a.Plans[i]))
			assert.Equal(t, w.belts, beltsOf(a.Plans[i]))
			shift, spread := 3.1447002, 85.7288410
			if slices.Contains([]int{86, 92}, w.belts[0]) && w.belts[1]-w.belts[0] == 6 {
				shift, spread = 3.1451338, 28.5762620
			}
			assert.InDelta(t, shift, a.Plans[i].WheelbaseShiftMM, digits6)
			assert.InDelta(t, spread, a.Plans[i].GapDifferenceMM, digits6)
		}
	}

	q = variantD()
	q.EqualGaps = true
	x = exclusionOf(t, search(t, q), "ToleranceMM")
	checkPlan(t, wantPlan{pulleys: []int{22, 22, 22}, belts: []int{92, 92}, wheelbase: 666.719761, shift: -6.380239}, *x.Nearest)
}

func part(section string, teeth int, widthMM float64, quantity int) beltmath.StockItem {
	return beltmath.StockItem{Section: section, ToothCount: teeth, WidthMM: widthMM, Quantity: quantity}
}

// partsBin reads the parts bin of the scenario.
func partsBin(t *testing.T) *beltmath.Stock {
	t.Helper()
	text, err := os.ReadFile("../../testdata/demo/parts_bin.csv")
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"kind", "section", "tooth_count", "width_mm", "quantity"}, rows[0])
	var stock beltmath.Stock
	for _, row := range rows[1:] {
		var item beltmath.StockItem
		_, err := fmt.Sscan(strings.Join(row[1:], " "), &item.Section, &item.ToothCount, &item.WidthMM, &item.Quantity)
		require.NoError(t, err)
		if row[0] == "belt" {
			stock.Belts = append(stock.Belts, item)
			continue
		}
		stock.Pulleys = append(stock.Pulleys, item)
	}
	return &stock
}

// The scenario names three plans; 160 + 184 and 166 + 178 with 32 teeth and
// 172 + 180 with 36 add up to the same wheelbase and are in the bin as well.
func TestDemoPartsBin(t *testing.T) {
	q := variantA()
	q.Pulley, q.Stock = nil, partsBin(t)
	q.Sections = []string{"H5M", "T5"}
	listed := func() (rows [][]int) {
		for _, p := range search(t, q).Plans {
			rows = append(rows, append(beltsOf(p), teethOf(p)[0]))
		}
		return rows
	}
	all := [][]int{{172, 172, 32}, {180, 180, 40}, {174, 178, 36}, {172, 180, 36}, {166, 178, 32}, {160, 184, 32}}
	assert.Equal(t, all, listed())

	q.Stock.Belts[4].Quantity = 1 // one 178 taken away
	assert.Equal(t, [][]int{{172, 172, 32}, {180, 180, 40}, {172, 180, 36}, {160, 184, 32}}, listed())
	q.Stock.Belts[4].Quantity = 2
	q.Stock.Belts[5].Quantity = 3 // 180 + 180 uses all four
	assert.NotContains(t, listed(), []int{180, 180, 40})
	q.Stock.Belts[5].Quantity = 4
	q.Stock.Pulleys[1].Quantity = 7 // and eight pulleys
	assert.NotContains(t, listed(), []int{180, 180, 40})

	q.Stock, q.BeltWidthMM, q.Pulley = partsBin(t), new(15.0), teeth(36)
	a := search(t, q)
	assert.Empty(t, a.Plans, "eight belts of 15 mm, and no pulley for them")
	assert.True(t, exclusionOf(t, a, "Stock").Sufficient)
}

func TestDemoPartsBinBigRearWheels(t *testing.T) {
	q := variantC()
	q.Pulley, q.Stock = nil, partsBin(t)
	a := search(t, q)
	require.NotEmpty(t, a.Plans, "two pulleys of 45 teeth are exactly enough")
	assert.Equal(t, []int{184, 172}, beltsOf(a.Plans[0]))
	assert.Equal(t, []int{45, 36, 36}, teethOf(a.Plans[0]))
	q.Stock.Pulleys[3].Quantity = 1
	a = search(t, q)
	assert.Empty(t, a.Plans)
	x := exclusionOf(t, a, "Stock")
	assert.True(t, x.Sufficient)
	assert.Contains(t, x.Message, "1 of pulley H5M 45 teeth 25 mm")
}
