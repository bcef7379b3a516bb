package base

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

func TestSearchBasesRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name   string
		change func(*SearchQuery)
		fields string // field:reason, in order
	}{
		{"no axles", func(q *SearchQuery) { q.Axles = nil }, "Axles:OUT_OF_RANGE"},
		{"one axle", func(q *SearchQuery) { q.Axles = q.Axles[:1] }, "Axles:OUT_OF_RANGE"},
		{"17 axles", func(q *SearchQuery) { q.Axles = wheels(100, make([]float64, 17)...) }, "Axles:OUT_OF_RANGE"},
		{"no wheel", func(q *SearchQuery) { q.Axles[1].WheelDiameterMM = 0 }, "Axles[1].WheelDiameterMM:OUT_OF_RANGE"},
		{"negative wheel", func(q *SearchQuery) { q.Axles[1].WheelDiameterMM = -160 }, "Axles[1].WheelDiameterMM:OUT_OF_RANGE"},
		{"huge wheel", func(q *SearchQuery) { q.Axles[0].WheelDiameterMM = 1e300 }, "Axles[0].WheelDiameterMM:OUT_OF_RANGE"},
		{"wheel NaN", func(q *SearchQuery) { q.Axles[2].WheelDiameterMM = nan }, "Axles[2].WheelDiameterMM:NOT_FINITE"},
		{"drop", func(q *SearchQuery) { q.Axles[1].DropMM = 1001 }, "Axles[1].DropMM:OUT_OF_RANGE"},
		{"width", func(q *SearchQuery) { q.Axles[1].WheelWidthMM = -1 }, "Axles[1].WheelWidthMM:OUT_OF_RANGE"},
		{
			"hole and bolt", func(q *SearchQuery) { q.Axles[1].HoleDiameterMM, q.Axles[1].BoltDiameterMM = -1, inf },
			"Axles[1].HoleDiameterMM:OUT_OF_RANGE Axles[1].BoltDiameterMM:NOT_FINITE",
		},
		{"kind", func(q *SearchQuery) { q.Axles[0].Kind = 3 }, "Axles[0].Kind:OUT_OF_RANGE"},
		{
			"driven axle", func(q *SearchQuery) { q.DrivenAxles = []int{3, -1, 1, 1} },
			"DrivenAxles[0]:OUT_OF_RANGE DrivenAxles[1]:OUT_OF_RANGE DrivenAxles[3]:REPEATED",
		},
		{"no section", func(q *SearchQuery) { q.Sections = nil }, "Sections:OUT_OF_RANGE"},
		{"41 sections", func(q *SearchQuery) { q.Sections = make([]string, 41) }, "Sections:OUT_OF_RANGE"},
		{"unknown section", func(q *SearchQuery) { q.Sections = []string{"H5M", "H6M"} }, "Sections[1]:UNKNOWN_SECTION"},
		{"no list", func(q *SearchQuery) { q.Sections = []string{"AT5"} }, "StandardLengthsOnly:NO_STANDARD_LENGTHS"},
		{"no pulleys", func(q *SearchQuery) { q.Pulley = nil }, "Pulley:NOT_GIVEN"},
		{
			"pulley", func(q *SearchQuery) { q.Pulley = teeth(5, 36, 601) },
			"Pulley.Values[0]:OUT_OF_RANGE Pulley.Values[2]:OUT_OF_RANGE",
		},
		{
			"belt", func(q *SearchQuery) { q.Belt = &beltmath.ToothCounts{Min: new(6), Max: new(5001)} },
			"Belt.Min:OUT_OF_RANGE Belt.Max:OUT_OF_RANGE",
		},
		{"belt step", func(q *SearchQuery) { q.Belt = &beltmath.ToothCounts{Min: new(60), Max: new(70), Step: new(0)} }, "Belt.Step:OUT_OF_RANGE"},
		{"belt range reversed", func(q *SearchQuery) { q.Belt = &beltmath.ToothCounts{Min: new(70), Max: new(60)} }, "Belt.Max:REVERSED_RANGE"},
		{"no wheelbase", func(q *SearchQuery) { q.TargetWheelbaseMM = 0 }, "TargetWheelbaseMM:OUT_OF_RANGE"},
		{"wheelbase NaN", func(q *SearchQuery) { q.TargetWheelbaseMM = nan }, "TargetWheelbaseMM:NOT_FINITE"},
		{"tolerance", func(q *SearchQuery) { q.ToleranceMM = -1 }, "ToleranceMM:OUT_OF_RANGE"},
		{"no sides", func(q *SearchQuery) { q.SideCount = new(0) }, "SideCount:OUT_OF_RANGE"},
		{"gap count", func(q *SearchQuery) { q.Gaps = make([]Gap, 3) }, "Gaps:WRONG_LENGTH"},
		{"gap target and range", func(q *SearchQuery) { q.Gaps = []Gap{{TargetMM: new(300.0), MinMM: new(1.0)}, {}} }, "Gaps[0].TargetMM:EXACTLY_ONE"},
		{"gap range reversed", func(q *SearchQuery) { q.Gaps = []Gap{{}, {MinMM: new(400.0), MaxMM: new(300.0)}} }, "Gaps[1].MaxMM:REVERSED_RANGE"},
		{"gap NaN", func(q *SearchQuery) { q.Gaps = []Gap{{MinMM: &nan}, {MaxMM: &inf}} }, "Gaps[0].MinMM:NOT_FINITE Gaps[1].MaxMM:NOT_FINITE"},
		{"gap difference", func(q *SearchQuery) { q.MaxGapDifferenceMM = &nan }, "MaxGapDifferenceMM:NOT_FINITE"},
		{"distinct belts", func(q *SearchQuery) { q.MaxDistinctBelts = new(0) }, "MaxDistinctBelts:OUT_OF_RANGE"},
		{"scrub", func(q *SearchQuery) { q.MaxScrubPercent = new(3.1) }, "MaxScrubPercent:OUT_OF_RANGE"},
		{"wheel gap", func(q *SearchQuery) { q.MinWheelGapMM = -0.1 }, "MinWheelGapMM:OUT_OF_RANGE"},
		{"mesh", func(q *SearchQuery) { q.MinMeshedToothCount = new(-1) }, "MinMeshedToothCount:OUT_OF_RANGE"},
		{"resolution", func(q *SearchQuery) { q.ResolutionMM = new(-0.01) }, "ResolutionMM:OUT_OF_RANGE"},
		{"results", func(q *SearchQuery) { q.MaxResults = new(0) }, "MaxResults:OUT_OF_RANGE"},
		{"belt width", func(q *SearchQuery) { q.BeltWidthMM = new(0.0) }, "BeltWidthMM:OUT_OF_RANGE"},
		{"stock", func(q *SearchQuery) {
			q.Stock = &beltmath.Stock{Belts: []beltmath.StockItem{part("H6M", 6, 25, 1), part("H5M", 174, -25, -1)}, Pulleys: []beltmath.StockItem{part("H5M", 601, nan, 1)}}
		}, "Stock.Belts[0].Section:UNKNOWN_SECTION Stock.Belts[0].ToothCount:OUT_OF_RANGE Stock.Belts[1].WidthMM:OUT_OF_RANGE " +
			"Stock.Belts[1].Quantity:OUT_OF_RANGE Stock.Pulleys[0].ToothCount:OUT_OF_RANGE Stock.Pulleys[0].WidthMM:NOT_FINITE"},
		{"stock without pulleys", func(q *SearchQuery) {
			q.Pulley, q.Stock = nil, &beltmath.Stock{Pulleys: []beltmath.StockItem{part("H5M", 36, 25, 0)}}
		}, "Stock.Pulleys:EMPTY_SEARCH"},
		{
			"several at once", func(q *SearchQuery) { q.TargetWheelbaseMM, q.ToleranceMM, q.SideCount = -1, inf, new(101) },
			"TargetWheelbaseMM:OUT_OF_RANGE ToleranceMM:NOT_FINITE SideCount:OUT_OF_RANGE",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			q := variantA()
			tt.change(&q)
			a, err := SearchBases(q)
			var errs beltmath.InputErrors
			require.ErrorAs(t, err, &errs)
			var got []string
			for _, e := range errs {
				got = append(got, e.Field+":"+e.Reason)
				assert.NotEmpty(t, e.Msg)
			}
			assert.Equal(t, tt.fields, strings.Join(got, " "))
			assert.Empty(t, a)
		})
	}
}

// Wheels that cannot stand beside each other are refused, with the wheelbase
// or the gap at which they would touch.
func TestSearchBasesWheelsOverlap(t *testing.T) {
	for _, tt := range []struct {
		name    string
		change  func(*SearchQuery)
		field   string
		nearest float64 // worked out by hand
	}{
		{"wheelbase", func(q *SearchQuery) { q.TargetWheelbaseMM = 300 }, "TargetWheelbaseMM", 2 * math.Sqrt(160*160-3*3)},
		{"gap range", func(q *SearchQuery) { q.Gaps = []Gap{{}, {MaxMM: new(159.0)}} }, "Gaps[1].MaxMM", math.Sqrt(160*160 - 3*3)},
		{"gap target", func(q *SearchQuery) { q.Gaps = []Gap{{TargetMM: new(150.0)}, {}} }, "Gaps[0].TargetMM", math.Sqrt(160*160-3*3) - 1},
		{"small wheel between large ones", func(q *SearchQuery) {
			q.Axles, q.TargetWheelbaseMM = []Axle{{WheelDiameterMM: 160}, {WheelDiameterMM: 90}, {WheelDiameterMM: 160}}, 230
		}, "TargetWheelbaseMM", 2 * math.Sqrt(160*90)}, // on one floor: sqrt((R+r)^2 - (R-r)^2)
	} {
		t.Run(tt.name, func(t *testing.T) {
			q := variantA()
			tt.change(&q)
			_, err := SearchBases(q)
			var none *beltmath.NoSolutionError
			require.ErrorAs(t, err, &none)
			assert.Equal(t, tt.field, none.Field)
			assert.Equal(t, ReasonWheelsTouch, none.Reason)
			var nearest float64
			_, err = fmt.Sscan(none.Nearest, &nearest)
			require.NoError(t, err)
			assert.InDelta(t, tt.nearest, nearest, 1e-9)
		})
	}
}

// Wheels that touch rub on each other: 50 L teeth on pulleys of 18 put wheels
// of six inches six inches apart.
func TestSearchBasesWheelsMayNotTouch(t *testing.T) {
	q := variantD()
	q.Axles = wheels(6*25.4, 0, 0)
	q.Pulley, q.Belt, q.StandardLengthsOnly, q.TargetWheelbaseMM = teeth(18), teeth(50), false, 6*25.4
	assert.Empty(t, search(t, q).Plans)
	q.Axles[0].WheelDiameterMM -= 0.01
	q.Axles[1].WheelDiameterMM -= 0.01
	require.Len(t, search(t, q).Plans, 1)
	q.MinWheelGapMM = 0.011
	a := search(t, q)
	assert.Empty(t, a.Plans)
	assert.True(t, exclusionOf(t, a, "MinWheelGapMM").Sufficient)
}

// Each condition is made the one that keeps the plan to build out.
func TestSearchBasesSaysWhatExcludes(t *testing.T) {
	for _, tt := range []struct {
		field   string
		change  func(*SearchQuery)
		message string
	}{
		{"ToleranceMM", func(q *SearchQuery) { q.ToleranceMM = 0.02 }, "tolerance_mm of at least 0.025721"},
		{"Gaps", func(q *SearchQuery) { q.Gaps = []Gap{{MaxMM: new(200.0)}, {}} }, "gaps of 344.987 mm, 354.987 mm"},
		{"EqualGaps", func(q *SearchQuery) { q.EqualGaps = true }, "a gap difference of 10.000368 mm"},
		{"MaxGapDifferenceMM", func(q *SearchQuery) { q.MaxGapDifferenceMM = new(10.0) }, "a gap difference of 10.000368 mm"},
		{"MaxDistinctBelts", func(q *SearchQuery) { q.MaxDistinctBelts = new(1) }, "2 distinct belts"},
		{"StandardLengthsOnly", func(q *SearchQuery) { q.Belt = teeth(173, 179) }, "in no list"},
		{"Stock", func(q *SearchQuery) {
			q.Belt, q.Stock = teeth(174, 178), &beltmath.Stock{
				Belts:   []beltmath.StockItem{part("H5M", 174, 25, 2), part("H5M", 178, 25, 1)},
				Pulleys: []beltmath.StockItem{part("H5M", 36, 25, 8)},
			}
		}, "1 of belt H5M 178 teeth 25 mm"},
		{"MinWheelGapMM", func(q *SearchQuery) { q.Belt, q.MinWheelGapMM = teeth(174, 178), 186 }, "min_wheel_gap_mm of at most 185"},
		{"MinMeshedToothCount", func(q *SearchQuery) { q.MinMeshedToothCount = new(19) }, "min_meshed_tooth_count of at most 18"},
	} {
		t.Run(tt.field, func(t *testing.T) {
			q := variantA()
			tt.change(&q)
			a := search(t, q)
			assert.Empty(t, a.Plans)
			x := exclusionOf(t, a, tt.field)
			assert.True(t, x.Sufficient)
			require.NotNil(t, x.Nearest)
			assert.Contains(t, x.Message, tt.message)
			for _, o := range a.Exclusions {
				assert.NotEmpty(t, o.Message)
				if o.Nearest != nil && o.Sufficient && o.Field != "ToleranceMM" {
					assert.LessOrEqual(t, math.Abs(o.Nearest.WheelbaseShiftMM), q.ToleranceMM)
				}
			}
		})
	}
}

func TestSearchBasesWorkIsBounded(t *testing.T) {
	q := largeQuery(0, 1, 3, 6, 10, 15, 21, 28)
	q.MaxDistinctBelts = new(7)
	_, err := SearchBases(q)
	var e *beltmath.InputError
	require.ErrorAs(t, err, &e)
	assert.Equal(t, ReasonTooMuchWork, e.Reason)
	assert.Equal(t, "MaxDistinctBelts", e.Field)

	q = largeQuery(0)
	q.Axles = nil
	for i := range 16 { // fifteen gaps that all differ, sixteen wheels that all differ
		q.Axles = append(q.Axles, Axle{WheelDiameterMM: 160 + float64(i)*1.01, DropMM: float64(i * i)})
	}
	q.Pulley, q.Belt, q.MaxScrubPercent, q.TargetWheelbaseMM = &beltmath.ToothCounts{Min: new(6), Max: new(600)}, nil, new(3.0), 50000
	_, err = SearchBases(q)
	require.ErrorAs(t, err, &e)
	assert.Equal(t, ReasonTooMuchWork, e.Reason)
	assert.Equal(t, "Belt", e.Field)
}

// Where a relaxed search is too wide the answer says so.
func TestSearchBasesSaysWhatWasNotExamined(t *testing.T) {
	q := largeQuery(0, 1, 3, 6, 10, 15, 21, 28)
	q.Sections, q.ToleranceMM = []string{"H5M"}, 0
	a := search(t, q)
	assert.Empty(t, a.Plans)
	assert.True(t, exclusionOf(t, a, "ToleranceMM").Sufficient)
	require.Len(t, a.Notes, 2)
	assert.Equal(t, NoteUnchecked, a.Notes[1].Reason)
	assert.Contains(t, a.Notes[1].Message, "max_distinct_belts")
}

// The count of a large case, by hand: 3 sections, 49 pulleys, 361 belts,
// 7 gaps: 361 rows of one belt, 361 x 360 / 2 pairs with 2^7 - 2 rows each.
func TestSearchedCount(t *testing.T) {
	assert.Equal(t, int64(3*49*(361+361*360/2*(128-2))), search(t, largeQuery(0)).SearchedCount)
	assert.Equal(t, int64(math.MaxInt64), combinations(4994, 15, 15))
	assert.Equal(t, int64(1307674368000), combinations(15, 15, 15)) // 15!
	assert.Zero(t, combinations(3, 2, 3))
}

// The row of the belts does not depend on the order or repetition of what is
// asked.
func TestSearchBasesOrderOfInput(t *testing.T) {
	q := variantA()
	q.Sections, q.Pulley = []string{"T5", "H5M"}, teeth(32, 36, 40)
	want := search(t, q)
	require.NotEmpty(t, want.Plans)
	q.Sections, q.Pulley = []string{"H5M", "T5", "H5M"}, teeth(40, 36, 32, 36)
	assert.Equal(t, want, search(t, q))
}

func TestOutward(t *testing.T) {
	for _, tt := range []struct {
		driven []int
		want   [][2]int
	}{
		{[]int{0}, [][2]int{{0, 1}, {1, 2}, {2, 3}}},
		{[]int{3}, [][2]int{{1, 0}, {2, 1}, {3, 2}}},
		{[]int{2}, [][2]int{{1, 0}, {2, 1}, {2, 3}}},
		{[]int{0, 3}, [][2]int{{0, 1}, {1, 2}, {3, 2}}}, // the middle link has a motor on either side
	} {
		var got [][2]int
		for left := range 3 {
			from, to := outward(left, tt.driven)
			got = append(got, [2]int{from, to})
		}
		assert.Equal(t, tt.want, got, "%v", tt.driven)
	}
}

// More plans than asked for: the best ones come and the answer says so.
func TestSearchBasesTruncated(t *testing.T) {
	q := variantA()
	all := search(t, q)
	q.MaxResults = new(4)
	a := search(t, q)
	assert.True(t, a.Truncated)
	assert.Equal(t, all.Plans[:4], a.Plans)
	q.MaxResults = new(6)
	assert.False(t, search(t, q).Truncated)
}

// FuzzSearchBases looks for panics, endless searches and plans that break a
// condition.
func FuzzSearchBases(f *testing.F) {
	f.Add(160.0, 160.0, 3.0, 700.0, 1.0, 12.0, 0.01, 36, 7, 2)
	f.Add(200.0, 160.0, -22.0, 700.0, 100.0, 0.0, 0.0, 45, 3, 15)
	f.Add(math.NaN(), math.Inf(1), 1e308, -1.0, 0.0, 1e-300, 5.0, 0, 0, 0)
	f.Fuzz(func(t *testing.T, rear, front, drop, target, tolerance, gap, resolution float64, pulley, step, distinct int) {
		q := SearchQuery{
			Axles:    []Axle{{WheelDiameterMM: rear}, {WheelDiameterMM: front, DropMM: drop}, {WheelDiameterMM: rear}, {WheelDiameterMM: front}},
			Sections: []string{"H5M", "XL"}, Pulley: teeth(pulley, 36, 45), Belt: &beltmath.ToothCounts{Min: new(40), Max: new(200), Step: &step},
			TargetWheelbaseMM: target, ToleranceMM: tolerance, MinWheelGapMM: gap, ResolutionMM: &resolution, MaxDistinctBelts: &distinct,
		}
		a, err := SearchBases(q)
		if err != nil {
			var inputs beltmath.InputErrors
			var none *beltmath.NoSolutionError // wheels that would overlap
			assert.True(t, errors.As(err, &inputs) || errors.As(err, &none), "%v", err)
			return
		}
		for _, p := range a.Plans {
			assert.LessOrEqual(t, math.Abs(p.WheelbaseShiftMM), tolerance+1e-6)
			belts := beltsOf(p)
			slices.Sort(belts)
			assert.LessOrEqual(t, len(slices.Compact(belts)), distinct)
			for i, l := range p.Links {
				assert.GreaterOrEqual(t, l.CenterDistanceMM, (q.Axles[i].WheelDiameterMM+q.Axles[i+1].WheelDiameterMM)/2+gap)
				assert.InDelta(t, l.CenterDistanceMM, math.Hypot(l.RailSpacingMM, p.AxlePositions[i].YMM-p.AxlePositions[i+1].YMM), 1e-6)
			}
		}
	})
}

func ExampleSearchBases() {
	a, err := SearchBases(SearchQuery{
		Axles:    []Axle{{WheelDiameterMM: 160}, {WheelDiameterMM: 160, DropMM: 3}, {WheelDiameterMM: 160}},
		Sections: []string{"H5M"}, Pulley: &beltmath.ToothCounts{Values: []int{36}}, StandardLengthsOnly: true,
		TargetWheelbaseMM: 700, ToleranceMM: 1, MinWheelGapMM: 12,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range a.Plans[:3] {
		fmt.Printf("%d + %d teeth: wheelbase %.6f mm\n",
			p.Links[0].Drive.BeltToothCount, p.Links[1].Drive.BeltToothCount, p.WheelbaseMM)
	}
	// Output:
	// 174 + 178 teeth: wheelbase 699.974280 mm
	// 172 + 180 teeth: wheelbase 699.974264 mm
	// 166 + 186 teeth: wheelbase 699.974153 mm
}
