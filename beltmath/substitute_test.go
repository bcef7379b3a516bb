package beltmath

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slowCenter solves the length equation by bisection, apart from the kernel:
// L = 2 C sin t + p z1 t/pi + p z2 (pi - t)/pi, cos t = p (z2 - z1)/(2 pi C).
func slowCenter(p float64, z1, z2, zb int) float64 {
	if z1 > z2 {
		z1, z2 = z2, z1
	}
	length := func(c float64) float64 {
		t := math.Acos(min(1, p*float64(z2-z1)/(2*math.Pi*c)))
		return 2*c*math.Sin(t) + p*float64(z1)*t/math.Pi + p*float64(z2)*(math.Pi-t)/math.Pi
	}
	low, high := p*float64(z2-z1)/(2*math.Pi), p*float64(zb)
	if z1 == z2 {
		low = 1e-9
	}
	if length(low) >= p*float64(zb) {
		return math.NaN()
	}
	for range 64 {
		if mid := low + (high-low)/2; length(mid) < p*float64(zb) {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

func slowMesh(p float64, z1, z2 int, c float64) int {
	if z1 == z2 {
		return z1 / 2
	}
	small := min(z1, z2)
	return int(float64(small) * math.Acos(p*math.Abs(float64(z2-z1))/(2*math.Pi*c)) / math.Pi)
}

// slowSubstitutes tries every combination of the query's section, one by one,
// by the words of its documentation. The query gives limits, needed quantity,
// greatest change of ratio and count of results.
func slowSubstitutes(q SubstituteQuery, drivers, drivens, belts []int) []Substitute {
	section, _ := SectionByName(q.Drive.Section)
	p, outer := section.Pitch.MM(), func(z int) float64 {
		od, _, ok := section.OutsideDiameterMM(z)
		if !ok {
			od = section.Pitch.PitchDiameterMM(z)
		}
		return od
	}
	old1, old2, oldBelt := q.Drive.Driver.ToothCount, q.Drive.Driven.ToothCount, *q.Drive.BeltToothCount
	var found []Substitute
	for _, z1 := range drivers {
		for _, z2 := range drivens {
			for _, zb := range belts {
				if z1 == old1 && z2 == old2 && zb == oldBelt || q.StandardLengthsOnly && !section.IsStandardLength(zb) {
					continue
				}
				change := 100 * ((float64(z2)/float64(z1))/(float64(old2)/float64(old1)) - 1)
				c := slowCenter(p, z1, z2, zb)
				if math.Abs(change) > *q.MaxRatioChangePercent+1e-9 || !(c > (outer(z1)+outer(z2))/2) || !slowInStock(q, z1, z2, zb) {
					continue
				}
				mesh := slowMesh(p, z1, z2, c)
				if mesh < *q.Limits.RejectedMeshedToothCount {
					continue
				}
				s := Substitute{CenterDistanceMM: c, DeviationMM: q.DrilledCenterDistanceMM - c, RatioChangePercent: change, Verdict: VerdictRejected}
				s.Drive = Drive{Driver: Pulley{ToothCount: z1}, Driven: Pulley{ToothCount: z2}, BeltToothCount: zb}
				s.StandardLength = section.IsStandardLength(zb)
				touching := q.DrilledCenterDistanceMM <= (outer(z1)+outer(z2))/2
				if dev := s.DeviationMM; !touching && dev >= *q.Limits.MarginalLowMM && dev <= *q.Limits.MarginalHighMM {
					s.SameHoles, s.Verdict = true, VerdictMarginal
					if dev >= *q.Limits.FitLowMM && dev <= *q.Limits.FitHighMM && mesh >= *q.Limits.MarginalMeshedToothCount {
						s.Verdict = VerdictFits
					}
				} else {
					s.HoleMoveMM = -dev
				}
				found = append(found, s)
			}
		}
	}
	key := func(s Substitute) []float64 {
		not := func(b bool) float64 {
			if b {
				return 0
			}
			return 1
		}
		kept := s.Drive.Driver.ToothCount == old1 && s.Drive.Driven.ToothCount == old2
		return []float64{
			not(s.SameHoles), math.Round(math.Abs(s.HoleMoveMM) * 100), not(kept),
			// Equal changes of ratio differ in their last bits here.
			math.Round(math.Abs(s.RatioChangePercent) * 1e9), float64(s.Drive.BeltToothCount),
			float64(s.Drive.Driver.ToothCount), float64(s.Drive.Driven.ToothCount),
		}
	}
	sort.Slice(found, func(i, j int) bool {
		a, b := key(found[i]), key(found[j])
		for k := range a {
			if a[k] != b[k] {
				return a[k] < b[k]
			}
		}
		return false
	})
	return found[:min(len(found), *q.MaxResults)]
}

// slowInStock looks for one width of which belt and changed pulleys are there.
func slowInStock(q SubstituteQuery, z1, z2, zb int) bool {
	if q.Stock == nil {
		return true
	}
	quantity := func(rows []StockItem, teeth int, width float64) (n int) {
		for _, row := range rows {
			if row.Section == q.Drive.Section && row.ToothCount == teeth && row.WidthMM == width {
				n += row.Quantity
			}
		}
		return n
	}
	for _, row := range q.Stock.Belts {
		width := row.WidthMM
		if q.BeltWidthMM != nil && width != *q.BeltWidthMM || quantity(q.Stock.Belts, zb, width) < *q.NeededQuantity {
			continue
		}
		need := map[int]int{}
		if z1 != q.Drive.Driver.ToothCount {
			need[z1] += *q.NeededQuantity
		}
		if z2 != q.Drive.Driven.ToothCount {
			need[z2] += *q.NeededQuantity
		}
		enough := true
		for teeth, n := range need {
			enough = enough && quantity(q.Stock.Pulleys, teeth, width) >= n
		}
		if enough {
			return true
		}
	}
	return false
}

// wholeNumbers returns low to high.
func wholeNumbers(low, high int) (list []int) {
	for n := low; n <= high; n++ {
		list = append(list, n)
	}
	return list
}

func randomSubstituteQuery(r *rand.Rand) (q SubstituteQuery, drivers, drivens, belts []int) {
	section := []string{"H5M", "T5", "XL", "H8M", "G8M"}[r.IntN(5)]
	z1 := 10 + r.IntN(50)
	z2 := z1
	if r.IntN(2) == 0 {
		z2 = 10 + r.IntN(50)
	}
	zb := max(z1, z2) + 3 + r.IntN(150)
	s, _ := SectionByName(section)
	q = SubstituteQuery{
		Drive: DriveInput{Section: section, Driver: Pulley{ToothCount: z1}, Driven: Pulley{ToothCount: z2}, BeltToothCount: &zb},
		Limits: FitLimits{
			FitLowMM: new(-0.05), FitHighMM: new(0.15), MarginalLowMM: new(-0.15), MarginalHighMM: new(0.3),
			MarginalMeshedToothCount: new(6), RejectedMeshedToothCount: new(4),
		},
		NeededQuantity: new(1 + r.IntN(3)), MaxResults: new(1 + r.IntN([]int{5, 60}[r.IntN(2)])), MaxRatioChangePercent: new([]float64{0, 1, 3, 25, 100}[r.IntN(5)]),
	}
	q.DrilledCenterDistanceMM = s.Pitch.CenterMM(z1, z2, zb) + 0.3*r.NormFloat64()
	if r.IntN(4) == 0 || !(q.DrilledCenterDistanceMM > 0) {
		q.DrilledCenterDistanceMM = 20 + 300*r.Float64()
	}
	if r.IntN(6) == 0 { // pulleys about to touch
		q.DrilledCenterDistanceMM = (s.Pitch.PitchDiameterMM(z1)+s.Pitch.PitchDiameterMM(z2))/2 - 1.5*r.Float64()
		zb = int(s.Pitch.BeltTeeth(z1, z2, q.DrilledCenterDistanceMM+2))
	}
	if r.IntN(3) == 0 { // limits that shut the exact distance out, or are wide
		low := []float64{0.5, -7.5, -2}[r.IntN(3)] + 2.5*r.Float64()
		q.Limits.MarginalLowMM, q.Limits.FitLowMM = new(low), new(low+0.1)
		q.Limits.FitHighMM, q.Limits.MarginalHighMM = new(low+0.1+3*r.Float64()), new(low+4)
		q.Limits.MarginalMeshedToothCount, q.Limits.RejectedMeshedToothCount = new(12), new(9)
	}
	around := func(z int) ([]int, *ToothCounts) {
		low, high := max(6, z-r.IntN(7)), z+r.IntN(7)
		return wholeNumbers(low, high), &ToothCounts{Min: &low, Max: &high}
	}
	drivers, q.Driver = around(z1)
	drivens, q.Driven = around(z2)
	low, high := max(7, zb-r.IntN(60)), zb+r.IntN(60)
	belts, q.Belt = wholeNumbers(low, high), &ToothCounts{Min: &low, Max: &high}
	q.StandardLengthsOnly = len(s.lengths) > 0 && r.IntN(4) == 0
	return q, drivers, drivens, belts
}

func randomStock(r *rand.Rand, section string, pulleys, belts []int) *Stock {
	row := func(counts []int) StockItem {
		return StockItem{
			Section: []string{section, section, section, "L"}[r.IntN(4)], ToothCount: counts[r.IntN(len(counts))],
			WidthMM: []float64{9, 15, 25}[r.IntN(3)], Quantity: r.IntN(5),
		}
	}
	stock := new(Stock)
	for range 30 {
		stock.Belts = append(stock.Belts, row(belts))
		stock.Pulleys = append(stock.Pulleys, row(pulleys))
	}
	return stock
}

// TestSubstitutesBruteForce compares with a search of every combination that
// shares neither the kernel nor the bounds.
func TestSubstitutesBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7)) //nolint:gosec // test data
	total, same := 0, 0
	for n := range 300 {
		q, drivers, drivens, belts := randomSubstituteQuery(r)
		if n%2 == 0 {
			q.Stock = randomStock(r, q.Drive.Section, append(drivers, drivens...), belts)
			if r.IntN(2) == 0 {
				q.BeltWidthMM = new(15.0)
			}
		}
		want := slowSubstitutes(q, drivers, drivens, belts)
		got, err := SearchSubstitutes(q)
		require.NoError(t, err)
		require.Len(t, got.Substitutes, len(want), "query %d: %+v", n, q)
		for i, w := range want {
			g := got.Substitutes[i]
			what := fmt.Sprintf("query %d, substitute %d of %d", n, i, len(want))
			require.Equal(t, [3]int{w.Drive.Driver.ToothCount, w.Drive.Driven.ToothCount, w.Drive.BeltToothCount},
				[3]int{g.Drive.Driver.ToothCount, g.Drive.Driven.ToothCount, g.Drive.BeltToothCount}, what)
			assert.Equal(t, w.Verdict, g.Verdict, what)
			assert.Equal(t, w.SameHoles, g.SameHoles, what)
			assert.Equal(t, w.StandardLength, g.StandardLength, what)
			// Bisection of a rounded length: steep next to touching.
			assert.InDelta(t, w.CenterDistanceMM, g.CenterDistanceMM, 1e-9, what)
			assert.InDelta(t, w.DeviationMM, g.DeviationMM, 1e-9, what)
			assert.InDelta(t, w.HoleMoveMM, g.HoleMoveMM, 1e-9, what)
			assert.InDelta(t, w.RatioChangePercent, g.RatioChangePercent, 1e-9, what)
			total++
			if g.SameHoles {
				same++
			}
		}
	}
	t.Logf("%d substitutes compared, %d of them on the same holes", total, same)
	assert.Greater(t, same, 200, "the queries must be worth it")
}

// demoBin is the parts bin of testdata/demo/parts_bin.csv.
func demoBin(t testing.TB) *Stock {
	t.Helper()
	stock := new(Stock)
	for _, row := range readTable(t, "../demo/parts_bin.csv") {
		whole := func(name string) int {
			n, err := strconv.Atoi(row[name])
			require.NoError(t, err)
			return n
		}
		item := StockItem{Section: row["section"], ToothCount: whole("tooth_count"), WidthMM: float64(whole("width_mm")), Quantity: whole("quantity")}
		if row["kind"] == "belt" {
			stock.Belts = append(stock.Belts, item)
		} else {
			stock.Pulleys = append(stock.Pulleys, item)
		}
	}
	return stock
}

func counts(s Substitute) [3]int {
	return [3]int{s.Drive.Driver.ToothCount, s.Drive.Driven.ToothCount, s.Drive.BeltToothCount}
}

// TestSubstitutesFromBin: belt 178 is sold out, the holes are drilled at 355.
// Equal pulleys keep C = p (zb - z)/2, so every number follows by hand.
func TestSubstitutesFromBin(t *testing.T) {
	q := SubstituteQuery{
		Drive:                   DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltToothCount: new(178)},
		DrilledCenterDistanceMM: 355, Stock: demoBin(t), NeededQuantity: new(2), BeltWidthMM: new(25.0),
	}
	a, err := SearchSubstitutes(q)
	require.NoError(t, err)
	type row struct {
		counts [3]int
		same   bool
		move   float64
	}
	var got []row
	for _, s := range a.Substitutes[:4] {
		got = append(got, row{counts(s), s.SameHoles, s.HoleMoveMM})
	}
	assert.Equal(t, []row{
		{[3]int{32, 32, 174}, true, 0}, // three on the shelf, for one drive two are enough
		{[3]int{36, 36, 180}, false, 5},
		{[3]int{32, 32, 172}, false, -5},
		{[3]int{40, 40, 180}, false, -5},
	}, got)

	q.NeededQuantity = new(4) // three belts of 174 teeth are not enough
	a, err = SearchSubstitutes(q)
	require.NoError(t, err)
	assert.Equal(t, [3]int{36, 36, 180}, counts(a.Substitutes[0]))
	for _, s := range a.Substitutes {
		assert.NotEqual(t, 174, s.Drive.BeltToothCount)
		assert.NotEqual(t, 178, s.Drive.BeltToothCount)
	}

	q.NeededQuantity = new(5) // eight 40-tooth pulleys serve four drives
	a, err = SearchSubstitutes(q)
	require.NoError(t, err)
	for _, s := range a.Substitutes {
		assert.NotEqual(t, 40, s.Drive.Driver.ToothCount)
	}

	q.NeededQuantity, q.BeltWidthMM = new(8), nil // only the narrow ones
	a, err = SearchSubstitutes(q)
	require.NoError(t, err)
	require.Len(t, a.Substitutes, 1)
	assert.Equal(t, [3]int{36, 36, 174}, counts(a.Substitutes[0]))
	assert.InDelta(t, -10, a.Substitutes[0].HoleMoveMM, 0)

	q.NeededQuantity = new(1)
	a, err = SearchSubstitutes(q)
	require.NoError(t, err)
	assert.Contains(t, reasonsOf(a.Notes), NoteSeveralWidths)
}

// TestSubstitutesShortStock: what is short is told in numbers of the shelf, all
// of them read off testdata/demo/parts_bin.csv: 3 belts of 174 teeth and 24
// pulleys of 32 of 25 mm width.
func TestSubstitutesShortStock(t *testing.T) {
	q := SubstituteQuery{
		Drive:                   DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltToothCount: new(178)},
		DrilledCenterDistanceMM: 355, Stock: demoBin(t),
	}
	short := func(needed int) string {
		q.NeededQuantity = &needed
		a, err := SearchSubstitutes(q)
		require.NoError(t, err)
		for _, n := range a.Notes {
			if n.Reason == NoteShortStock {
				assert.Equal(t, "NeededQuantity", n.Field)
				assert.NotContains(t, reasonsOf(a.Notes), NoteNoSubstitute)
				return n.Message
			}
		}
		return ""
	}
	assert.Empty(t, short(3))
	assert.Contains(t, short(4), "a belt of 174 teeth, 25 mm wide, on pulleys of 32 and 32 teeth fits the holes as they are, but the stock has 3 of 4 belts needed:")
	assert.Contains(t, short(13), "has 3 of 13 belts needed and 24 of 26 pulleys of 32 teeth needed:")

	// Nothing on the shelf fits 301.2 mm in any number: equal pulleys make
	// multiples of 2.5 mm.
	q.DrilledCenterDistanceMM = 301.2
	a, err := SearchSubstitutes(q)
	require.NoError(t, err)
	assert.Contains(t, reasonsOf(a.Notes), NoteNoSubstitute)
	assert.NotContains(t, reasonsOf(a.Notes), NoteShortStock)

	// A single pulley is half of what two axles need, and of it none is on the
	// shelf where the row says 0.
	q.DrilledCenterDistanceMM, q.Stock = 355, &Stock{
		Belts: []StockItem{{"H5M", 174, 9, 1}}, Pulleys: []StockItem{{"H5M", 32, 9, 1}},
	}
	assert.Contains(t, short(1), "the stock has 1 of 2 pulleys of 32 teeth needed:")
	q.Stock.Pulleys[0].Quantity = 0
	assert.Empty(t, short(1))
}

// TestSubstitutesSameHoleFamily: a tooth more on the belt and on both pulleys
// keeps m and w, so the center distance to the last bit, for any pulleys.
func TestSubstitutesSameHoleFamily(t *testing.T) {
	for _, pulleys := range [][2]int{{36, 36}, {36, 45}, {60, 20}} {
		d := DriveInput{Section: "H5M", Driver: Pulley{ToothCount: pulleys[0]}, Driven: Pulley{ToothCount: pulleys[1]}, BeltToothCount: new(178)}
		resolved, err := d.Resolve()
		require.NoError(t, err)
		c, err := resolved.Center()
		require.NoError(t, err)
		a, err := SearchSubstitutes(SubstituteQuery{Drive: d, DrilledCenterDistanceMM: c, MaxRatioChangePercent: new(100.0), MaxResults: new(1000)})
		require.NoError(t, err)
		family := 0
		for _, s := range a.Substitutes {
			more := s.Drive.BeltToothCount - 178
			if s.Drive.Driver.ToothCount == pulleys[0]+more && s.Drive.Driven.ToothCount == pulleys[1]+more {
				assert.Equal(t, c, s.CenterDistanceMM) //nolint:testifylint // equal by construction
				assert.True(t, s.SameHoles)
				family++
			}
		}
		assert.Equal(t, 8, family, "up to four teeth either way") // the default sets
	}
}

func TestSubstitutesDefaults(t *testing.T) {
	d := DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 8, FlangeDiameterMM: new(20.0)}, Driven: Pulley{ToothCount: 8}, BeltToothCount: new(60)}
	a, err := SearchSubstitutes(SubstituteQuery{Drive: d, DrilledCenterDistanceMM: 130})
	require.NoError(t, err)
	require.Len(t, a.Substitutes, 20)
	for _, s := range a.Substitutes {
		assert.Equal(t, s.Drive.Driver.ToothCount, s.Drive.Driven.ToothCount, "a ratio change of 1 percent at most")
		assert.GreaterOrEqual(t, s.Drive.Driver.ToothCount, 8, "four teeth in mesh at least")
		assert.LessOrEqual(t, s.Drive.Driver.ToothCount, 12)
		assert.NotEqual(t, [3]int{8, 8, 60}, counts(s), "the drive itself")
		assert.Equal(t, s.Drive.Driver.ToothCount == 8, s.Drive.Driver.FlangeDiameterMM != nil)
	}
	assert.Contains(t, reasonsOf(a.Notes), NoteFlangesNotKnown)

	// With a stock, the own pulleys serve although none is on the shelf.
	stock := &Stock{Belts: []StockItem{{"H5M", 61, 9, 1}}, Pulleys: []StockItem{{"H5M", 12, 9, 1}}}
	a, err = SearchSubstitutes(SubstituteQuery{
		Drive: d, DrilledCenterDistanceMM: 130, Stock: stock, MaxRatioChangePercent: new(100.0),
		Limits: FitLimits{RejectedMeshedToothCount: new(3)},
	})
	require.NoError(t, err)
	require.Len(t, a.Substitutes, 3) // 12 on both would take two
	assert.Equal(t, [3]int{8, 8, 61}, counts(a.Substitutes[0]))

	a, err = SearchSubstitutes(SubstituteQuery{Drive: d, DrilledCenterDistanceMM: 130, Stock: new(Stock)})
	require.NoError(t, err)
	assert.Empty(t, a.Substitutes)
	assert.Contains(t, reasonsOf(a.Notes), NoteNoSubstitute)
}

func reasonsOf(notes []Note) []string {
	var reasons []string
	for _, n := range notes {
		reasons = append(reasons, n.Reason)
	}
	return reasons
}

func TestSubstitutesErrors(t *testing.T) {
	good := func() SubstituteQuery {
		return SubstituteQuery{
			Drive:                   DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltToothCount: new(178)},
			DrilledCenterDistanceMM: 355,
		}
	}
	stockOf := func(row StockItem) *Stock { return &Stock{Belts: []StockItem{{"H5M", 60, 9, 1}, row}} }
	tests := []struct {
		change        func(*SubstituteQuery)
		field, reason string
	}{
		{func(q *SubstituteQuery) { q.Drive.Section = "H6M" }, "Drive.Section", ReasonUnknownSection},
		{func(q *SubstituteQuery) { q.DrilledCenterDistanceMM = 0 }, "DrilledCenterDistanceMM", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.DrilledCenterDistanceMM = math.NaN() }, "DrilledCenterDistanceMM", ReasonNotFinite},
		{func(q *SubstituteQuery) { q.Limits.FitHighMM = new(11.0) }, "Limits.FitHighMM", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.Driver = &ToothCounts{Values: []int{5}} }, "Driver.Values[0]", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.Driven = &ToothCounts{} }, "Driven", ReasonExactlyOne},
		{func(q *SubstituteQuery) { q.Belt = &ToothCounts{Min: new(7)} }, "Belt.Max", ReasonNotGiven},
		{func(q *SubstituteQuery) { q.NeededQuantity = new(0) }, "NeededQuantity", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.MaxResults = new(1001) }, "MaxResults", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.MaxRatioChangePercent = new(-1.0) }, "MaxRatioChangePercent", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.BeltWidthMM = new(0.0) }, "BeltWidthMM", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.Drive.Section = "G8M"; q.StandardLengthsOnly = true }, "StandardLengthsOnly", ReasonNoStandardLengths},
		{func(q *SubstituteQuery) { q.Drive.Section, q.Drive.PitchMM, q.Stock = "", new(5.0), new(Stock) }, "Stock", ReasonStockNeedsSection},
		{func(q *SubstituteQuery) { q.Stock = stockOf(StockItem{"H6M", 60, 9, 1}) }, "Stock.Belts[1].Section", ReasonUnknownSection},
		{func(q *SubstituteQuery) { q.Stock = stockOf(StockItem{"H5M", 6, 9, 1}) }, "Stock.Belts[1].ToothCount", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.Stock = stockOf(StockItem{"H5M", 60, math.Inf(1), 1}) }, "Stock.Belts[1].WidthMM", ReasonNotFinite},
		{func(q *SubstituteQuery) { q.Stock = stockOf(StockItem{"H5M", 60, 9, -1}) }, "Stock.Belts[1].Quantity", ReasonOutOfRange},
		{func(q *SubstituteQuery) { q.Stock = &Stock{Pulleys: make([]StockItem, 10001)} }, "Stock.Pulleys", ReasonOutOfRange},
	}
	for _, tt := range tests {
		q := good()
		tt.change(&q)
		_, err := SearchSubstitutes(q)
		var input *InputError
		require.ErrorAs(t, err, &input, tt.field)
		assert.Equal(t, tt.field, input.Field)
		assert.Equal(t, tt.reason, input.Reason, tt.field)
	}
	_, err := SearchSubstitutes(good())
	require.NoError(t, err)
}

// BenchmarkSubstitutesWidest is the dearest request that is allowed: every
// pulley, every belt, the widest limits at the finest pitch.
func BenchmarkSubstitutesWidest(b *testing.B) {
	all := &ToothCounts{Min: new(minPulleyTeeth), Max: new(maxPulleyTeeth)}
	q := SubstituteQuery{
		Drive:                   DriveInput{PitchMM: new(0.5), Driver: Pulley{ToothCount: 100}, Driven: Pulley{ToothCount: 100}, BeltToothCount: new(2000)},
		DrilledCenterDistanceMM: 475, Driver: all, Driven: all, MaxRatioChangePercent: new(100.0), MaxResults: new(1000),
		Limits: FitLimits{FitLowMM: new(-10.0), FitHighMM: new(10.0)},
	}
	for b.Loop() {
		_, err := SearchSubstitutes(q)
		require.NoError(b, err)
	}
}

// TestSubstitutesBeyondNearest: with limits that shut an exact fit out, a belt
// farther from the holes serves them where the nearest does not. Equal pulleys:
// 178 teeth want 355 mm, each tooth 2.5 mm more.
func TestSubstitutesBeyondNearest(t *testing.T) {
	for _, tt := range []struct {
		drilled, low, high float64
		belt               int
	}{
		{355.1, 2.55, 2.65, 177},
		{354.9, -2.65, -2.55, 179},
	} {
		a, err := SearchSubstitutes(SubstituteQuery{
			Drive:                   DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltToothCount: new(170)},
			DrilledCenterDistanceMM: tt.drilled, MaxResults: new(1),
			Limits: FitLimits{FitLowMM: &tt.low, MarginalLowMM: &tt.low, FitHighMM: &tt.high, MarginalHighMM: &tt.high},
		})
		require.NoError(t, err)
		assert.Equal(t, [3]int{36, 36, tt.belt}, counts(a.Substitutes[0]))
		assert.True(t, a.Substitutes[0].SameHoles)
	}
}

// TestSubstitutesTouchingHoles: outside diameters of 56.153 mm cannot stand
// 56.1 mm apart, whatever the limits say of the deviation.
func TestSubstitutesTouchingHoles(t *testing.T) {
	a, err := SearchSubstitutes(SubstituteQuery{
		Drive:                   DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltToothCount: new(170)},
		DrilledCenterDistanceMM: 56.1, Driver: &ToothCounts{Values: []int{36}}, Driven: &ToothCounts{Values: []int{36}}, MaxResults: new(1),
		Limits: FitLimits{FitLowMM: new(-2.0)},
	})
	require.NoError(t, err)
	s := a.Substitutes[0]
	assert.Equal(t, [3]int{36, 36, 59}, counts(s))
	assert.False(t, s.SameHoles)
	assert.Equal(t, VerdictRejected, s.Verdict)
	assert.InDelta(t, 1.4, s.HoleMoveMM, 1e-12)
}
