package base

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// bruteplan is a plan found by trying every combination.
type bruteplan struct {
	section  string
	teeth    []int // an axle each
	belts    []int
	shift    float64
	key      float64
	scrub    float64
	spread   float64
	distinct int
	sum      int
	mirrored bool
}

func (b bruteplan) String() string {
	return fmt.Sprintf("%s %v %v %.9f %.9f %.9f", b.section, b.teeth, b.belts, b.shift, b.scrub, b.spread)
}

// brute answers a query by trying every section, every count on every axle and
// every belt on every gap, judging each whole row by itself. Only the center
// distance of a drive and its meshed teeth come from beltmath.
type brute struct {
	q        SearchQuery
	plans    []bruteplan
	searched int64
	heights  []float64
}

func or[T any](given *T, otherwise T) T {
	if given == nil {
		return otherwise
	}
	return *given
}

// asRail rounds to the 2^-32 mm in which lengths are compared.
func asRail(mm float64) float64 { return math.Round(mm*(1<<32)) / (1 << 32) }

func newBrute(q SearchQuery) *brute {
	b := &brute{q: q}
	smallest := math.Inf(1)
	for _, a := range q.Axles {
		smallest = min(smallest, a.WheelDiameterMM)
	}
	for _, a := range q.Axles {
		b.heights = append(b.heights, (a.WheelDiameterMM-smallest)/2-a.DropMM)
	}
	for _, name := range q.Sections {
		section, _ := beltmath.SectionByName(name)
		b.chooseTeeth(section, nil)
	}
	b.merge()
	slices.SortFunc(b.plans, func(x, y bruteplan) int {
		return cmp.Or(cmp.Compare(x.key, y.key), cmp.Compare(math.Abs(x.scrub), math.Abs(y.scrub)),
			cmp.Compare(x.spread, y.spread), cmp.Compare(x.distinct, y.distinct), cmp.Compare(x.sum, y.sum),
			slices.Compare(x.belts, y.belts), cmp.Compare(x.section, y.section), slices.Compare(x.teeth, y.teeth))
	})
	return b
}

func (b *brute) chooseTeeth(section *beltmath.Section, teeth []int) {
	if len(teeth) == len(b.q.Axles) {
		if scrub, ok := b.scrub(teeth); ok {
			b.chooseBelts(section, teeth, scrub, nil)
		}
		return
	}
	for _, z := range b.q.Pulley.Values {
		b.chooseTeeth(section, append(slices.Clone(teeth), z))
	}
}

// scrub compares every two axles; ok is false where equal wheels have
// different counts or two wheels scrub too much.
func (b *brute) scrub(teeth []int) (worst float64, ok bool) {
	for i, x := range b.q.Axles {
		for j, y := range b.q.Axles {
			if x.WheelDiameterMM == y.WheelDiameterMM && teeth[i] != teeth[j] {
				return 0, false
			}
			if x.WheelDiameterMM <= y.WheelDiameterMM {
				continue
			}
			s := ScrubPercent(teeth[i], teeth[j], x.WheelDiameterMM, y.WheelDiameterMM)
			if math.Abs(s) > or(b.q.MaxScrubPercent, 0.5) {
				return 0, false
			}
			if math.Abs(s) > math.Abs(worst) {
				worst = s
			}
		}
	}
	return worst, true
}

func (b *brute) chooseBelts(section *beltmath.Section, teeth []int, scrub float64, belts []int) {
	if len(belts) == len(teeth)-1 {
		b.judge(section, teeth, scrub, belts)
		return
	}
	for _, belt := range b.q.Belt.Values {
		if b.q.StandardLengthsOnly && !section.IsStandardLength(belt) || !b.anyStock(section, belt) {
			continue
		}
		b.chooseBelts(section, teeth, scrub, append(slices.Clone(belts), belt))
	}
}

// anyStock reports whether the bin has one belt a side in some width.
func (b *brute) anyStock(section *beltmath.Section, belt int) bool {
	if b.q.Stock == nil {
		return true
	}
	for _, item := range b.q.Stock.Belts {
		if b.inBin(b.q.Stock.Belts, section, item.WidthMM, belt) >= or(b.q.SideCount, 2) {
			return true
		}
	}
	return false
}

func (b *brute) inBin(items []beltmath.StockItem, section *beltmath.Section, width float64, teeth int) int {
	n := 0
	for _, item := range items {
		if item.Section == section.Designation && item.WidthMM == width && item.ToothCount == teeth &&
			(b.q.BeltWidthMM == nil || *b.q.BeltWidthMM == width) {
			n += item.Quantity
		}
	}
	return n
}

func (b *brute) stocked(section *beltmath.Section, teeth, belts []int) bool {
	if b.q.Stock == nil {
		return true
	}
	var pulleys []int
	for i := range belts {
		pulleys = append(pulleys, teeth[i], teeth[i+1])
	}
	sides := or(b.q.SideCount, 2)
	for _, width := range []float64{9, 15, 25} {
		ok := true
		for _, part := range []struct{ needed []int }{{belts}, {pulleys}} {
			items := b.q.Stock.Belts
			if len(part.needed) != len(belts) {
				items = b.q.Stock.Pulleys
			}
			for _, t := range part.needed {
				same := 0
				for _, o := range part.needed {
					if o == t {
						same++
					}
				}
				ok = ok && b.inBin(items, section, width, t) >= same*sides
			}
		}
		if ok {
			return true
		}
	}
	return false
}

func (b *brute) judge(section *beltmath.Section, teeth []int, scrub float64, belts []int) {
	different := slices.Clone(belts)
	slices.Sort(different)
	different = slices.Compact(different)
	if len(different) > or(b.q.MaxDistinctBelts, 2) {
		return
	}
	b.searched++
	plan := bruteplan{section: section.Designation, teeth: teeth, belts: belts, scrub: scrub, distinct: len(different)}
	x := []float64{0}
	var gaps []float64
	for i, belt := range belts {
		d := beltmath.Drive{
			Profile: beltmath.Profile{Section: section, Pitch: section.Pitch}, BeltToothCount: belt,
			Driver: beltmath.Pulley{ToothCount: teeth[i]}, Driven: beltmath.Pulley{ToothCount: teeth[i+1]},
		}
		g, err := d.Geometry()
		step := math.Abs(b.heights[i+1] - b.heights[i])
		if err != nil || g.MeshedToothCount() < or(b.q.MinMeshedToothCount, 6) || g.CenterDistanceMM <= step {
			return
		}
		exact := math.Sqrt((g.CenterDistanceMM - step) * (g.CenterDistanceMM + step))
		if len(b.q.Gaps) > 0 && !b.wished(b.q.Gaps[i], exact) {
			return
		}
		gaps = append(gaps, asRail(exact))
		x = append(x, x[i]+asRail(exact))
		plan.sum += belt
		touch := (b.q.Axles[i].WheelDiameterMM + b.q.Axles[i+1].WheelDiameterMM) / 2
		if g.CenterDistanceMM <= touch || g.CenterDistanceMM < touch+b.q.MinWheelGapMM {
			return
		}
	}
	for i := range x {
		for j := range i - 1 {
			touch := (b.q.Axles[i].WheelDiameterMM + b.q.Axles[j].WheelDiameterMM) / 2
			apart := math.Hypot(x[i]-x[j], b.heights[i]-b.heights[j])
			if apart <= touch || apart < touch+b.q.MinWheelGapMM {
				return
			}
		}
	}
	plan.shift = x[len(x)-1] - asRail(b.q.TargetWheelbaseMM)
	plan.spread = slices.Max(gaps) - slices.Min(gaps)
	grain := or(b.q.ResolutionMM, 0.01)
	if plan.key = math.Abs(plan.shift); grain > 0 {
		plan.key = math.Round(math.Abs(plan.shift) / grain)
	}
	if math.Abs(plan.shift) > asRail(b.q.ToleranceMM) || plan.spread > asRail(or(b.q.MaxGapDifferenceMM, math.Inf(1))) ||
		b.q.EqualGaps && plan.spread > asRail(grain) || !b.stocked(section, teeth, belts) {
		return
	}
	b.plans = append(b.plans, plan)
}

func (b *brute) wished(g Gap, spacing float64) bool {
	if g.TargetMM != nil {
		return spacing >= *g.TargetMM-b.q.ToleranceMM && spacing <= *g.TargetMM+b.q.ToleranceMM
	}
	return spacing >= or(g.MinMM, 0) && spacing <= or(g.MaxMM, math.Inf(1))
}

// merge drops of each plan and its mirror image the later one.
func (b *brute) merge() {
	for i, a := range b.q.Axles {
		o := b.q.Axles[len(b.q.Axles)-1-i]
		if a.WheelDiameterMM != o.WheelDiameterMM || a.DropMM != o.DropMM {
			return
		}
	}
	text := func(g Gap) string { return fmt.Sprint(or(g.TargetMM, -1), or(g.MinMM, -1), or(g.MaxMM, -1)) }
	for i, g := range b.q.Gaps {
		if text(g) != text(b.q.Gaps[len(b.q.Gaps)-1-i]) {
			return
		}
	}
	b.plans = slices.DeleteFunc(b.plans, func(p bruteplan) bool { return slices.Compare(reversed(p.belts), p.belts) < 0 })
	for i := range b.plans {
		b.plans[i].mirrored = slices.Compare(reversed(b.plans[i].belts), b.plans[i].belts) != 0
	}
}

func reversed(belts []int) []int {
	belts = slices.Clone(belts)
	slices.Reverse(belts)
	return belts
}

// teethOf reads the counts on the axles back from the links.
func teethOf(p Plan) []int {
	teeth := make([]int, len(p.Links)+1)
	for _, l := range p.Links {
		teeth[l.FromAxle], teeth[l.ToAxle] = l.Drive.Driver.ToothCount, l.Drive.Driven.ToothCount
	}
	return teeth
}

func beltsOf(p Plan) []int {
	var belts []int
	for _, l := range p.Links {
		belts = append(belts, l.Drive.BeltToothCount)
	}
	return belts
}

func pickFew(r *rand.Rand, from, to, n int) []int {
	var values []int
	for range n {
		values = append(values, from+r.IntN(to-from+1))
	}
	slices.Sort(values)
	return slices.Compact(values)
}

func oneOf[T any](r *rand.Rand, values ...T) T { return values[r.IntN(len(values))] }

func sometimes[T any](r *rand.Rand, percent int, value T) *T {
	if r.IntN(100) >= percent {
		return nil
	}
	return &value
}

// randomQuery makes a small query that has plans about every other time.
func randomQuery(r *rand.Rand) SearchQuery {
	axles := 2 + r.IntN(4)
	q := SearchQuery{
		Sections: oneOf(r, []string{"H5M"}, []string{"T5"}, []string{"T5", "H5M"}, []string{"L", "XL"}),
		Pulley:   &beltmath.ToothCounts{Values: oneOf(r, pickFew(r, 14, 60, 3), []int{36, 45}, []int{20, 24, 25, 30}, pickFew(r, 6, 14, 2))},
		Belt:     &beltmath.ToothCounts{Values: oneOf(r, pickFew(r, 40, 300, 3+r.IntN(5)), pickFew(r, 90, 110, 6), []int{112, 122, 132, 156, 172, 178})},

		StandardLengthsOnly: r.IntN(5) == 0,
		MaxDistinctBelts:    sometimes(r, 60, 1+r.IntN(5)),
		MaxScrubPercent:     sometimes(r, 60, oneOf(r, 0, 1, 3.0)),
		MinWheelGapMM:       oneOf(r, 0, 0, 10, 50.0),
		MinMeshedToothCount: sometimes(r, 50, r.IntN(15)),
		ResolutionMM:        sometimes(r, 60, oneOf(r, 0, 0.001, 0.05, 5)),
		MaxResults:          sometimes(r, 80, oneOf(r, 1, 2, 5, 1000)),
		MaxGapDifferenceMM:  sometimes(r, 20, r.Float64()*100),
		EqualGaps:           r.IntN(8) == 0,
		ToleranceMM:         oneOf(r, 1, 20, 100, 1000.0),
	}
	wheels := oneOf(r, []float64{60}, []float64{100, 125}, []float64{60, 61, 75}, []float64{20, 120}, []float64{100, 100.2})
	drops := oneOf(r, []float64{0}, []float64{0, 2}, []float64{0, 1, 2, 3.3})
	for range axles {
		q.Axles = append(q.Axles, Axle{WheelDiameterMM: oneOf(r, wheels...), DropMM: oneOf(r, drops...)})
	}
	if r.IntN(2) == 0 { // make it read the same from both ends
		for i := range axles / 2 {
			q.Axles[axles-1-i] = q.Axles[i]
		}
	}
	q.TargetWheelbaseMM = float64(axles-1) * (80 + 250*r.Float64())
	if r.IntN(10) == 0 {
		q.betweenLargeWheels(r)
	}
	if r.IntN(5) == 0 {
		for range axles - 1 {
			q.Gaps = append(q.Gaps, oneOf(r, Gap{}, Gap{MinMM: new(150.0)}, Gap{MinMM: new(90.0), MaxMM: new(250.0)}, Gap{TargetMM: new(200.0)}))
		}
	}
	if r.IntN(4) == 0 {
		q.Stock = &beltmath.Stock{}
		q.SideCount = sometimes(r, 50, 1+r.IntN(2))
		q.BeltWidthMM = sometimes(r, 30, oneOf(r, 9, 15, 25.0))
		for range 30 {
			q.Stock.Belts = append(q.Stock.Belts, part(oneOf(r, q.Sections...), oneOf(r, q.Belt.Values...), oneOf(r, 9, 15, 25.0), r.IntN(4)))
			q.Stock.Pulleys = append(q.Stock.Pulleys, part(oneOf(r, q.Sections...), oneOf(r, q.Pulley.Values...), oneOf(r, 9, 15, 25.0), r.IntN(8)))
		}
	}
	return q
}

// betweenLargeWheels puts tiny wheels between large ones, which then come near
// to each other.
func (q *SearchQuery) betweenLargeWheels(r *rand.Rand) {
	for i := range q.Axles {
		q.Axles[i].WheelDiameterMM = []float64{120, 20}[i%2]
	}
	q.Pulley.Values, q.Belt.Values = []int{10, 60}, pickFew(r, 66, 80, 6)
	q.MinMeshedToothCount, q.MinWheelGapMM = new(r.IntN(4)), oneOf(r, 0, 3.0)
	q.Sections, q.StandardLengthsOnly = []string{"H5M", "T5"}, false
	q.TargetWheelbaseMM, q.ToleranceMM = float64(len(q.Axles)-1)*(50+40*r.Float64()), oneOf(r, 5, 100.0)
	if len(q.Axles)%2 == 1 && r.IntN(2) == 0 {
		for i := range q.Axles {
			q.Axles[i].DropMM = 0 // reads the same from both ends
		}
	}
}

// TestSearchBasesIsExact compares whole answers with brute force: which plans,
// in which order, how many combinations, and whether there are more.
func TestSearchBasesIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(20, 26)) //nolint:gosec // a fixed seed, no secret
	cases, withPlans, truncated, mirrored, apart, plans := 4000, 0, 0, 0, 0, 0
	if testing.Short() {
		cases = 400
	}
	for i := range cases {
		q := randomQuery(r)
		got, err := SearchBases(q)
		if err != nil {
			var none *beltmath.NoSolutionError
			require.ErrorAs(t, err, &none, "case %d: %+v", i, q)
			require.Empty(t, newBrute(q).plans, "case %d", i)
			continue
		}
		want := newBrute(q)
		require.Equal(t, want.searched, got.SearchedCount, "case %d", i)
		n := min(or(q.MaxResults, 20), len(want.plans))
		require.Equal(t, n, len(got.Plans), "case %d: %+v", i, q)
		require.Equal(t, n < len(want.plans), got.Truncated, "case %d", i)
		for k, p := range got.Plans {
			w := want.plans[k]
			require.Equal(t, w.belts, beltsOf(p), "case %d plan %d: want %v", i, k, w)
			require.Equal(t, w.teeth, teethOf(p), "case %d plan %d", i, k)
			require.Equal(t, w.section, p.Links[0].Drive.Section.Designation, "case %d plan %d", i, k)
			require.Equal(t, w.mirrored, p.MirroredToo, "case %d plan %d", i, k)
			require.Equal(t, w.distinct, p.DistinctBeltCount)
			// 15 gaps rounded to 2^-32 mm each.
			require.InDelta(t, w.shift, p.WheelbaseShiftMM, 1e-8)
			require.InDelta(t, w.spread, p.GapDifferenceMM, 1e-8)
			require.InDelta(t, w.scrub, p.ScrubPercent, 1e-12)
			mirrored += count(p.MirroredToo)
		}
		plans += n
		withPlans += count(n > 0)
		truncated += count(got.Truncated)
		apart += count(len(want.plans) > 0 && slices.Min(diameters(q)) == 20 && slices.Max(diameters(q)) == 120)
	}
	t.Logf("%d cases, %d with plans, %d truncated, %d plans, %d of them mirrored; %d with tiny wheels between large ones",
		cases, withPlans, truncated, plans, mirrored, apart)
	// The cases must be worth their while.
	assert.Greater(t, withPlans, cases/4)
	assert.Greater(t, truncated, cases/20)
	assert.Greater(t, apart, cases/200)
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

func diameters(q SearchQuery) []float64 {
	var d []float64
	for _, a := range q.Axles {
		d = append(d, a.WheelDiameterMM)
	}
	return d
}
