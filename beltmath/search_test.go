package beltmath

import (
	"cmp"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What follows is the plain and slow search: three loops over everything, each
// center distance by bisection of the length equation in float64 and one step
// of Newton's method on it in math/big, conditions as the contract states them.

type slowSearch struct {
	query   SearchQuery
	centers map[[2]int]*big.Float // in pitches, by difference and w
}

// slowCenterPitches solves the length equation for pulleys of z1 <= z2 teeth.
func slowCenterPitches(z1, z2, belt int) *big.Float {
	d := float64(z2-z1) / (2 * math.Pi)
	low, high := d, d+float64(belt)
	for range 200 {
		c := low + (high-low)/2
		if 2*math.Sqrt(c*c-d*d)+float64(z1+z2)/2+2*d*math.Asin(d/c) < float64(belt) {
			low = c
		} else {
			high = c
		}
	}
	num := func(n int) *big.Float { return bigNum(float64(n)) }
	missing := bigSub(num(belt), bigLength(bigNum(1), num(z1), num(z2), bigNum(high)))
	slope := 2 * math.Sqrt(1-d/high*(d/high))
	return bigAdd(bigNum(high), bigQuo(missing, bigNum(slope)))
}

// centerMM returns the center distance rounded to the nearest float64. Where
// the exact one lies halfway between two, as near as the accuracy promised for
// CenterMM, it is the one of the two that CenterMM gives.
func (s *slowSearch) centerMM(t *testing.T, p Pitch, micrometers, z1, z2, belt int) float64 {
	key := [2]int{z2 - z1, 2*belt - z1 - z2}
	if s.centers[key] == nil {
		s.centers[key] = slowCenterPitches(z1, z2, belt)
	}
	exact := bigMul(bigPitch(p, micrometers), s.centers[key])
	c := bigFloat64(exact)
	if served := p.CenterMM(z1, z2, belt); served != c {
		require.LessOrEqual(t, ulpsOff(served, exact), 0.51)
		return served
	}
	return c
}

// all returns the spacings by section, driver, driven, belt.
func (s *slowSearch) all(t *testing.T) []SpacingDetail {
	q := s.query
	names := slices.Compact(slices.Sorted(slices.Values(q.Sections)))
	if q.PitchMM != nil {
		names = []string{""}
	}
	belts := q.Belt
	if belts == nil {
		belts = &ToothCounts{Min: new(minBeltTeeth), Max: new(maxBeltTeeth)}
	}
	var found []SpacingDetail
	for _, name := range names {
		section, _ := SectionByName(name)
		for _, driver := range slowCounts(q.Driver) {
			for _, driven := range slowCounts(q.Driven) {
				for _, belt := range slowCounts(belts) {
					if one, ok := s.spacing(t, section, driver, driven, belt); ok {
						found = append(found, one)
					}
				}
			}
		}
	}
	return found
}

func slowCounts(c *ToothCounts) []int {
	if len(c.Values) > 0 {
		return slices.Compact(slices.Sorted(slices.Values(c.Values)))
	}
	step := 1
	if c.Step != nil {
		step = *c.Step
	}
	var counts []int
	for n := *c.Min; n <= *c.Max; n += step {
		counts = append(counts, n)
	}
	return counts
}

func (s *slowSearch) spacing(t *testing.T, section *Section, driver, driven, belt int) (SpacingDetail, bool) {
	q := s.query
	none := SpacingDetail{}
	small, large := min(driver, driven), max(driver, driven)
	ratio := float64(driven) / float64(driver)
	if belt <= large || q.EqualPulleys && driver != driven ||
		q.MinSpeedRatio != nil && ratio < *q.MinSpeedRatio || q.MaxSpeedRatio != nil && ratio > *q.MaxSpeedRatio {
		return none, false
	}
	standard := section != nil && slices.ContainsFunc(section.BeltLengths(), func(b BeltLength) bool { return b.ToothCount == belt })
	if q.StandardLengthsOnly && !standard {
		return none, false
	}
	pitch, micrometers, name := Pitch{}, 0, ""
	if section == nil {
		pitch = PitchMM(*q.PitchMM)
	} else {
		pitch, micrometers, name = section.Pitch, section.pitchUM, section.Designation
	}
	c := s.centerMM(t, pitch, micrometers, small, large, belt)
	var shift *float64
	if q.TargetCenterDistanceMM != nil {
		shift = new(c - *q.TargetCenterDistanceMM)
	}
	if q.MinCenterDistanceMM != nil && c < *q.MinCenterDistanceMM ||
		q.MaxCenterDistanceMM != nil && c > *q.MaxCenterDistanceMM ||
		shift != nil && math.Abs(*shift) > *q.ToleranceMM {
		return none, false
	}
	p := pitch.MM()
	contact := p * float64(driver+driven) / (2 * math.Pi)
	if section != nil && section.PitchLineDifferentialMM.Value != nil {
		contact -= 2 * *section.PitchLineDifferentialMM.Value
	}
	require.Greater(t, math.Abs(c-contact), 1e-9, "contact too near to call")
	meshed, want := slowMeshed(t, small, large, c/p), defaultMeshedTeeth
	if q.MinMeshedToothCount != nil {
		want = *q.MinMeshedToothCount
	}
	if c < contact || meshed < want {
		return none, false
	}
	return SpacingDetail{
		Section: name, DriverToothCount: driver, DrivenToothCount: driven, BeltToothCount: belt, CenterDistanceMM: c,
		TargetShiftMM: shift, SpeedRatio: ratio, MeshedToothCount: meshed, StandardLength: standard,
	}, true
}

func slowMeshed(t *testing.T, small, large int, pitches float64) int {
	if small == large {
		return small / 2
	}
	teeth := float64(small) / math.Pi * math.Acos(float64(large-small)/(2*math.Pi*pitches))
	require.Greater(t, math.Abs(teeth-math.Round(teeth)), 1e-10, "mesh too near to call")
	return int(teeth)
}

// randomQuery draws a query of some hundred to some thousand candidates whose
// limits often fall on a center distance or a ratio of one of them.
func randomQuery(t *testing.T, r *rand.Rand, centers map[[2]int]*big.Float) SearchQuery {
	coin := func(n int) bool { return r.IntN(n) == 0 }
	counts := func(least, most, width, values int) *ToothCounts {
		if coin(3) {
			c := &ToothCounts{}
			for range 1 + r.IntN(values) {
				c.Values = append(c.Values, least+r.IntN(most-least+1))
			}
			return c
		}
		first := least + r.IntN(most-least+1)
		c := &ToothCounts{Min: &first, Max: new(min(most, first+r.IntN(width)))}
		if coin(3) {
			c.Step = new(1 + r.IntN(4))
		}
		return c
	}
	most := 30
	if coin(8) {
		most = 600
	}
	q := SearchQuery{
		Driver: counts(6, most, 12, 8), Driven: counts(6, most, 12, 8), Belt: counts(most, 2*most+20, 50, 30),
		EqualPulleys: coin(6), OrderBy: SpacingOrder(r.IntN(4)),
	}
	var pitch Pitch
	var micrometers int
	if coin(3) {
		q.PitchMM = new([]float64{0.5, 2.032, 5, 9.525, 100, 3.3333333333333335}[r.IntN(6)])
		pitch = PitchMM(*q.PitchMM)
	} else {
		listed := []string{"T5", "H5M", "XL", "MXL", "T10", "L"}
		others := append(slices.Clone(listed), "G8M", "S5M", "AT5", "R5M")
		q.StandardLengthsOnly = coin(4)
		if q.StandardLengthsOnly {
			others = listed
			if coin(2) {
				q.Belt = nil
			}
		}
		for range 1 + r.IntN(3) {
			q.Sections = append(q.Sections, others[r.IntN(len(others))])
		}
		section, _ := SectionByName(q.Sections[0])
		pitch, micrometers = section.Pitch, section.pitchUM
	}
	// pick returns the center distance of some candidate, or one next to it.
	pick := func() float64 {
		slow := slowSearch{centers: centers}
		driver, driven := slowCounts(q.Driver), slowCounts(q.Driven)
		a, b := driver[r.IntN(len(driver))], driven[r.IntN(len(driven))]
		belt := max(a, b) + 1 + r.IntN(60)
		c := slow.centerMM(t, pitch, micrometers, min(a, b), max(a, b), belt)
		return [3]float64{c, math.Nextafter(c, 0), math.Nextafter(c, math.Inf(1))}[r.IntN(3)]
	}
	switch r.IntN(5) {
	case 0:
		q.MinCenterDistanceMM = new(pick())
	case 1:
		q.MaxCenterDistanceMM = new(pick())
	case 2:
		a, b := pick(), pick()
		q.MinCenterDistanceMM, q.MaxCenterDistanceMM = new(min(a, b)), new(max(a, b))
	case 3:
		target := pick()
		q.TargetCenterDistanceMM, q.ToleranceMM = &target, new(math.Abs(pick()-target))
	}
	if q.TargetCenterDistanceMM == nil && q.OrderBy == OrderTargetShift {
		q.OrderBy = OrderBeltToothCount
	}
	ratio := func() *float64 {
		driver, driven := slowCounts(q.Driver), slowCounts(q.Driven)
		return new(float64(driven[r.IntN(len(driven))]) / float64(driver[r.IntN(len(driver))]))
	}
	if coin(4) {
		q.MinSpeedRatio = ratio()
	}
	if coin(4) {
		q.MaxSpeedRatio = ratio()
	}
	if q.MinSpeedRatio != nil && q.MaxSpeedRatio != nil && *q.MinSpeedRatio > *q.MaxSpeedRatio {
		q.MinSpeedRatio, q.MaxSpeedRatio = q.MaxSpeedRatio, q.MinSpeedRatio
	}
	if coin(2) {
		q.MinMeshedToothCount = new(r.IntN(10))
	}
	return q
}

// inOrder sorts as the contract states the order.
func inOrder(q SearchQuery, found []SpacingDetail) []SpacingDetail {
	found = slices.Clone(found)
	slices.SortFunc(found, func(a, b SpacingDetail) int {
		first := cmp.Compare(a.CenterDistanceMM, b.CenterDistanceMM)
		switch q.OrderBy {
		case OrderTargetShift:
			first = cmp.Compare(math.Abs(*a.TargetShiftMM), math.Abs(*b.TargetShiftMM))
		case OrderBeltToothCount:
			first = cmp.Compare(a.BeltToothCount, b.BeltToothCount)
		}
		return cmp.Or(first, cmp.Compare(a.Section, b.Section), cmp.Compare(a.DriverToothCount, b.DriverToothCount),
			cmp.Compare(a.DrivenToothCount, b.DrivenToothCount), cmp.Compare(a.BeltToothCount, b.BeltToothCount))
	})
	return found
}

func details(s *Search, found []Spacing) []SpacingDetail {
	var all []SpacingDetail
	for _, one := range found {
		all = append(all, s.Detail(one))
	}
	return all
}

// pages reads the whole answer in pages of n.
func pages(t *testing.T, s *Search, n int) []Spacing {
	var all []Spacing
	var after *Spacing
	for {
		page, err := s.Page(after, n, nil)
		require.NoError(t, err)
		require.LessOrEqual(t, len(page), n)
		if len(page) == 0 {
			return all
		}
		if after != nil {
			require.NotEqual(t, *after, page[0], "a page begins with the end of the last one")
		}
		all = append(all, page...)
		after = &page[len(page)-1]
	}
}

func requireSame(t *testing.T, want, got []SpacingDetail, msg string, args ...any) {
	t.Helper()
	require.Len(t, got, len(want), append([]any{msg}, args...)...)
	for i := range want {
		require.Equal(t, want[i], got[i], append([]any{msg}, args...)...)
	}
}

// Equality includes every bit of the center distances.
func TestSearchBruteForce(t *testing.T) {
	rounds := 300
	if *long {
		rounds = 5000
	}
	r := rand.New(rand.NewPCG(20, 26))
	slow := slowSearch{centers: map[[2]int]*big.Float{}}
	total, empty := 0, 0
	for round := range rounds {
		q := randomQuery(t, r, slow.centers)
		slow.query = q
		want := slow.all(t)
		s, err := q.Resolve()
		require.NoError(t, err, "%+v", q)

		all := s.All(nil)
		requireSame(t, want, details(s, all), "round %d: %+v", round, q)
		count, err := s.Count(len(want), nil)
		require.NoError(t, err)
		require.Equal(t, len(want), count)
		var each []Spacing
		require.NoError(t, s.Each(nil, func(one Spacing) bool { each = append(each, one); return true }))
		require.Equal(t, all, each)

		ordered := inOrder(q, want)
		for _, n := range []int{1 + len(want)/7, len(want) + 1, 1 + r.IntN(len(want)+1)} {
			requireSame(t, ordered, details(s, pages(t, s, n)), "round %d, pages of %d: %+v", round, n, q)
		}
		total += len(want)
		if len(want) == 0 {
			empty++
		}
	}
	t.Logf("%d spacings in %d searches, %d of them empty", total, rounds, empty)
	assert.Less(t, empty, rounds/2, "searches too often empty to show much")
}

func TestSearchPagesOfEverySize(t *testing.T) {
	for _, order := range []SpacingOrder{OrderCenterDistance, OrderTargetShift, OrderBeltToothCount} {
		q := SearchQuery{
			Sections: []string{"T5", "H5M", "S5M"}, // equal pitches: ties between sections
			Driver:   &ToothCounts{Min: new(20), Max: new(24)}, Driven: &ToothCounts{Min: new(20), Max: new(24)},
			Belt:                   &ToothCounts{Min: new(80), Max: new(90)},
			TargetCenterDistanceMM: new(155.), ToleranceMM: new(8.), OrderBy: order,
		}
		s, err := q.Resolve()
		require.NoError(t, err)
		ordered := inOrder(q, details(s, s.All(nil)))
		require.Greater(t, len(ordered), 100)
		for n := 1; n <= len(ordered)+1; n++ {
			requireSame(t, ordered, details(s, pages(t, s, n)), "order %d, pages of %d", order, n)
		}
	}
}

// The limits are the returned numbers themselves: one at a limit is inside,
// the next number beyond it is not.
func TestSearchEdges(t *testing.T) {
	// 20 and 20 teeth of 5.08 mm with 70 belt teeth: C = 5.08 (140 - 40)/4.
	const center = 127.
	up, down := math.Nextafter(center, 200), math.Nextafter(center, 0)
	tests := []struct {
		name   string
		change func(*SearchQuery)
		want   int
	}{
		{"both limits on it", func(q *SearchQuery) { q.MinCenterDistanceMM, q.MaxCenterDistanceMM = new(center), new(center) }, 1},
		{"least above", func(q *SearchQuery) { q.MinCenterDistanceMM, q.MaxCenterDistanceMM = &up, new(center+1) }, 0},
		{"greatest below", func(q *SearchQuery) { q.MinCenterDistanceMM, q.MaxCenterDistanceMM = new(center-1), &down }, 0},
		{"target on it, no tolerance", func(q *SearchQuery) { q.TargetCenterDistanceMM, q.ToleranceMM = new(center), new(0.) }, 1},
		{"target beside it, no tolerance", func(q *SearchQuery) { q.TargetCenterDistanceMM, q.ToleranceMM = &up, new(0.) }, 0},
		{"at the tolerance below", func(q *SearchQuery) { q.TargetCenterDistanceMM, q.ToleranceMM = new(center+1), new(1.) }, 1},
		{"at the tolerance above", func(q *SearchQuery) { q.TargetCenterDistanceMM, q.ToleranceMM = new(center-1), new(1.) }, 1},
		{"beyond the tolerance", func(q *SearchQuery) {
			q.TargetCenterDistanceMM, q.ToleranceMM = new(center+1), &[]float64{math.Nextafter(1, 0)}[0]
		}, 0},
		{"ratio on both limits", func(q *SearchQuery) {
			q.Belt = &ToothCounts{Values: []int{70}}
			q.MinSpeedRatio, q.MaxSpeedRatio = new(1.), new(1.)
		}, 1},
		{"ratio beyond a limit", func(q *SearchQuery) {
			q.Belt, q.MinSpeedRatio = &ToothCounts{Values: []int{70}}, new(math.Nextafter(1, 2))
		}, 0},
		{"as many in mesh as there are", func(q *SearchQuery) {
			q.Belt, q.MinMeshedToothCount = &ToothCounts{Values: []int{70}}, new(10)
		}, 1},
		{"one more in mesh", func(q *SearchQuery) {
			q.Belt, q.MinMeshedToothCount = &ToothCounts{Values: []int{70}}, new(11)
		}, 0},
	}
	for _, tt := range tests {
		q := SearchQuery{
			Sections: []string{"XL"}, Driver: &ToothCounts{Values: []int{20}}, Driven: &ToothCounts{Values: []int{20}},
		}
		tt.change(&q)
		s, err := q.Resolve()
		require.NoError(t, err, tt.name)
		found := s.All(nil)
		require.Len(t, found, tt.want, tt.name)
		for _, one := range found {
			assert.Equal(t, center, one.CenterDistanceMM, tt.name) // exact for equal pulleys
			assert.Equal(t, 70, one.BeltToothCount(), tt.name)
		}
	}
}

// Pulleys may not touch: the belt that would make them is left out, the next
// longer one is in, as in the answer for a single drive.
func TestSearchKeepsClear(t *testing.T) {
	for _, section := range []string{"T5", "H8M", "G8M"} {
		q := SearchQuery{
			Sections: []string{section}, MinMeshedToothCount: new(0),
			Driver: &ToothCounts{Min: new(6), Max: new(40)}, Driven: &ToothCounts{Min: new(6), Max: new(600), Step: new(9)},
		}
		s, err := q.Resolve()
		require.NoError(t, err)
		least := map[[2]int]int{}
		for _, one := range s.All(nil) {
			pair := [2]int{one.DriverToothCount(), one.DrivenToothCount()}
			if least[pair] == 0 {
				least[pair] = one.BeltToothCount()
			}
		}
		require.Len(t, least, 35*67)
		for pair, belt := range least {
			d := Drive{Profile: s.sections[0].Profile, Driver: Pulley{ToothCount: pair[0]}, Driven: Pulley{ToothCount: pair[1]}}
			smallest, ok := d.smallestBelt()
			require.True(t, ok)
			require.Equal(t, smallest, belt, "%s %v", section, pair)
		}
	}
}

// Over the whole domain of pulleys and belts, a window holds for each pair the
// belts that its center distances, belt by belt, say.
func TestSearchWholeRanges(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 9))
	for _, window := range [][2]float64{{0, 700}, {699.2, 700}, {1500, 1530}, {19000, 250000}} {
		q := SearchQuery{
			PitchMM: new(8.),
			Driver:  &ToothCounts{Min: new(6), Max: new(600), Step: new(3)}, Driven: &ToothCounts{Min: new(6), Max: new(600)},
			MinCenterDistanceMM: &window[0], MaxCenterDistanceMM: &window[1],
		}
		s, err := q.Resolve()
		require.NoError(t, err)
		found := map[[2]int][]int{}
		require.NoError(t, s.Each(nil, func(one Spacing) bool {
			pair := [2]int{one.DriverToothCount(), one.DrivenToothCount()}
			found[pair] = append(found[pair], one.BeltToothCount())
			return true
		}))
		for range 2000 {
			pair := [2]int{6 + 3*r.IntN(199), 6 + r.IntN(595)}
			var want []int
			for belt := minBeltTeeth; belt <= maxBeltTeeth; belt++ {
				d := Drive{Profile: Profile{Pitch: PitchMM(8)}, Driver: Pulley{ToothCount: pair[0]}, Driven: Pulley{ToothCount: pair[1]}, BeltToothCount: belt}
				c := d.Pitch.CenterMM(pair[0], pair[1], belt)
				if limit, _ := d.leastCenterMM(); c >= window[0] && c <= window[1] && c > limit && d.geometryAt(c).MeshedToothCount() >= defaultMeshedTeeth {
					want = append(want, belt)
				}
			}
			require.Equal(t, want, found[pair], "%v in %v", pair, window)
		}
	}
}

// Neither way to walk an answer needs memory that grows with it.
func TestSearchAllocates(t *testing.T) {
	s := searchOf(t, func(q *SearchQuery) { q.Belt.Max = new(200) })
	dst := s.All(nil)
	require.Greater(t, len(dst), 100_000)
	assert.Zero(t, testing.AllocsPerRun(3, func() { dst = s.All(dst[:0]) }))
	var last Spacing
	assert.LessOrEqual(t, testing.AllocsPerRun(3, func() {
		_ = s.Each(nil, func(one Spacing) bool { last = one; return true })
	}), 1.)
	assert.Equal(t, dst[len(dst)-1], last)
}
