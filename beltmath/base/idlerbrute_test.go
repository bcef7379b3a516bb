package base

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// idlerPlan is a plan with idlers found by trying every belt.
type idlerPlan struct {
	bruteplan
	idlers  []bool
	offsets []float64
	count   int
}

// idlerBrute answers a query that no plain plan meets: every section, every
// count on every axle, every shelf, and on each gap every belt one by one.
type idlerBrute struct {
	brute
	wanted []float64
	all    []idlerPlan
}

func newIdlerBrute(q SearchQuery) *idlerBrute {
	b := &idlerBrute{brute: brute{q: q, heights: AxleHeightsMM(q.Axles)}}
	if b.wanted = b.wantedGaps(); b.wanted == nil {
		return b
	}
	for _, name := range q.Sections {
		section, _ := beltmath.SectionByName(name)
		b.eachTeeth(section, nil)
	}
	slices.SortFunc(b.all, func(x, y idlerPlan) int {
		return cmp.Or(cmp.Compare(x.key, y.key), cmp.Compare(x.count, y.count), cmp.Compare(math.Abs(x.scrub), math.Abs(y.scrub)),
			cmp.Compare(x.spread, y.spread), cmp.Compare(x.distinct, y.distinct), cmp.Compare(x.sum, y.sum),
			slices.Compare(x.belts, y.belts), cmp.Compare(x.section, y.section), slices.Compare(x.teeth, y.teeth))
	})
	b.all = slices.CompactFunc(b.all, func(x, y idlerPlan) bool { return x.String() == y.String() })
	return b
}

// wantedGaps tries for each gap whether it is at its target, at an end of its
// range, or takes an equal part.
func (b *idlerBrute) wantedGaps() []float64 {
	n := len(b.q.Axles) - 1
	for code := range int(math.Pow(3, float64(n))) {
		wanted, free, rest, ok := make([]float64, n), 0, b.q.TargetWheelbaseMM, true
		state := func(i int) int { return code / int(math.Pow(3, float64(i))) % 3 }
		gap := func(i int) Gap {
			if len(b.q.Gaps) == 0 {
				return Gap{}
			}
			return b.q.Gaps[i]
		}
		for i := range n {
			g := gap(i)
			switch {
			case g.TargetMM != nil:
				wanted[i], ok = *g.TargetMM, ok && state(i) == 0
			case state(i) == 0:
				free++
			case state(i) == 1:
				wanted[i] = or(g.MinMM, 0)
			default:
				wanted[i] = or(g.MaxMM, math.Inf(1))
			}
			rest -= wanted[i]
		}
		share := rest / float64(max(free, 1))
		ok = ok && (free > 0 || math.Abs(rest) <= b.q.ToleranceMM+1e-9)
		for i := range n {
			if g := gap(i); g.TargetMM == nil {
				switch low, high := or(g.MinMM, 0), or(g.MaxMM, math.Inf(1)); state(i) {
				case 0:
					wanted[i], ok = share, ok && share >= low && share <= high
				case 1:
					ok = ok && free > 0 && share < low
				case 2:
					ok = ok && free > 0 && share > high
				}
			}
		}
		if ok && slices.Min(wanted) > 0 {
			return wanted
		}
	}
	return nil
}

func (b *idlerBrute) eachTeeth(section *beltmath.Section, teeth []int) {
	if len(teeth) < len(b.q.Axles) {
		for _, z := range b.q.Pulley.Values {
			b.eachTeeth(section, append(slices.Clone(teeth), z))
		}
		return
	}
	scrub, ok := b.scrub(teeth)
	if !ok {
		return
	}
	if b.q.Stock == nil {
		b.eachShelf(section, teeth, scrub, 0)
		return
	}
	for _, width := range []float64{9, 15, 25} {
		enough := true
		for _, z := range teeth {
			need := 0
			for i := range len(teeth) - 1 {
				need += or(b.q.SideCount, 2) * (count(teeth[i] == z) + count(teeth[i+1] == z))
			}
			enough = enough && b.inBin(b.q.Stock.Pulleys, section, width, z) >= need
		}
		if enough {
			b.eachShelf(section, teeth, scrub, width)
		}
	}
}

func (b *idlerBrute) eachShelf(section *beltmath.Section, teeth []int, scrub, width float64) {
	if !b.rowOf(section, teeth, scrub, width, b.q.ToleranceMM) {
		b.rowOf(section, teeth, scrub, width, or(b.q.ResolutionMM, 0.01))
	}
}

// rowOf tells whether there is a plan in which plain belts miss by off.
func (b *idlerBrute) rowOf(section *beltmath.Section, teeth []int, scrub, width, off float64) bool {
	p := idlerPlan{bruteplan: bruteplan{section: section.Designation, teeth: teeth, scrub: scrub}}
	taken, x := map[int]int{}, []float64{0}
	var spacings []float64
	for i := range len(teeth) - 1 {
		have := func(belt int) bool {
			if b.q.StandardLengthsOnly && !section.IsStandardLength(belt) {
				return false
			}
			return b.q.Stock == nil || b.inBin(b.q.Stock.Belts, section, width, belt)-taken[belt] >= or(b.q.SideCount, 2)
		}
		belt, spacing := b.plain(section, teeth, i, off, have)
		offset, needed := 0.0, belt == 0
		if needed {
			belt, offset = b.longer(section, teeth, i, have)
			spacing = b.wanted[i]
			p.count++
		}
		if belt == 0 {
			return false
		}
		taken[belt] += or(b.q.SideCount, 2)
		p.belts, p.idlers, p.offsets = append(p.belts, belt), append(p.idlers, needed), append(p.offsets, offset)
		p.sum += belt
		spacings = append(spacings, asRail(spacing))
		x = append(x, x[i]+asRail(spacing))
	}
	p.distinct = len(taken)
	p.shift = x[len(x)-1] - asRail(b.q.TargetWheelbaseMM)
	p.spread = slices.Max(spacings) - slices.Min(spacings)
	grain := or(b.q.ResolutionMM, 0.01)
	p.key = math.Abs(p.shift) * (1 << 32)
	if grain > 0 {
		p.key = math.Round(math.Abs(p.shift) / grain)
	}
	ok := p.count > 0 && p.distinct <= or(b.q.MaxDistinctBelts, 2) && math.Abs(p.shift) <= asRail(b.q.ToleranceMM)+float64(len(spacings))/(1<<32) && // each is rounded
		(!b.q.EqualGaps || p.spread <= asRail(grain)) && p.spread <= asRail(or(b.q.MaxGapDifferenceMM, 1e5))
	for k := range x {
		for i := range k - 1 { // neighbors were looked at
			apart := math.Hypot(x[k]-x[i], b.heights[k]-b.heights[i]) - (b.q.Axles[i].WheelDiameterMM+b.q.Axles[k].WheelDiameterMM)/2
			ok = ok && apart > 0 && apart >= b.q.MinWheelGapMM
		}
	}
	if ok {
		b.all = append(b.all, p)
	}
	return ok
}

func (b *idlerBrute) driveOf(section *beltmath.Section, teeth []int, i, belt int) beltmath.Drive {
	return beltmath.Drive{
		Profile: beltmath.Profile{Section: section, Pitch: section.Pitch}, BeltToothCount: belt,
		Driver: beltmath.Pulley{ToothCount: teeth[i]}, Driven: beltmath.Pulley{ToothCount: teeth[i+1]},
	}
}

// apart tells whether neighbors keep clear.
func (b *idlerBrute) apart(i int, center float64) bool {
	touch := (b.q.Axles[i].WheelDiameterMM + b.q.Axles[i+1].WheelDiameterMM) / 2
	return center > touch && center >= touch+b.q.MinWheelGapMM
}

func (b *idlerBrute) plain(section *beltmath.Section, teeth []int, i int, off float64, have func(int) bool) (best int, spacing float64) {
	for _, belt := range b.q.Belt.Values {
		g, err := b.driveOf(section, teeth, i, belt).Geometry()
		step := math.Abs(b.heights[i+1] - b.heights[i])
		if err != nil || !have(belt) || g.CenterDistanceMM <= step || g.MeshedToothCount() < or(b.q.MinMeshedToothCount, 6) || !b.apart(i, g.CenterDistanceMM) {
			continue
		}
		here := math.Sqrt((g.CenterDistanceMM - step) * (g.CenterDistanceMM + step))
		if len(b.q.Gaps) > 0 && !b.wished(b.q.Gaps[i], here) || here < b.wanted[i]-off || here > b.wanted[i]+off {
			continue
		}
		if best == 0 || math.Abs(here-b.wanted[i]) < math.Abs(spacing-b.wanted[i]) {
			best, spacing = belt, here
		}
	}
	return best, spacing
}

func (b *idlerBrute) longer(section *beltmath.Section, teeth []int, i int, have func(int) bool) (belt int, offset float64) {
	from, to := beltmath.Point{YMM: b.heights[i]}, beltmath.Point{XMM: b.wanted[i], YMM: b.heights[i+1]}
	center := math.Hypot(b.wanted[i], to.YMM-from.YMM)
	if !b.apart(i, center) {
		return 0, 0
	}
	d := b.q.Idler
	for _, belt := range b.q.Belt.Values {
		drive := b.driveOf(section, teeth, i, belt)
		if g, err := drive.Geometry(); err != nil || g.CenterDistanceMM <= center || !have(belt) {
			continue
		}
		ux, uy, share := (to.XMM-from.XMM)/center, (to.YMM-from.YMM)/center, or(d.Position, 0.5)
		at := func(h float64) *beltmath.Point {
			return &beltmath.Point{XMM: share*(to.XMM-from.XMM) - h*uy, YMM: from.YMM + share*(to.YMM-from.YMM) + h*ux}
		}
		q := path.OfDrive(drive, center)
		q.BeltToothCount = &belt
		q.Wheels[0].Center, q.Wheels[1].Center = &from, &to
		q.Wheels = append(q.Wheels, path.Wheel{Kind: d.Kind, ToothCount: d.ToothCount, DiameterMM: d.DiameterMM, Side: d.Side})
		q.Moving = &path.Moving{WheelIndex: 2, Segment: &path.Segment{From: at(d.FromMM), To: at(d.ToMM)}}
		a, err := path.Solve(q)
		if err != nil {
			continue
		}
		nearest := slices.MinFunc(a.Solutions, func(x, y path.Solution) int {
			hx, hy := d.FromMM+*x.PositionMM, d.FromMM+*y.PositionMM
			if math.Abs(math.Abs(hx)-math.Abs(hy)) > 1e-3 {
				return cmp.Compare(math.Abs(hx), math.Abs(hy))
			}
			return cmp.Compare(hy, hx)
		})
		if min(nearest.Wheels[0].MeshedToothCount, nearest.Wheels[1].MeshedToothCount) >= or(b.q.MinMeshedToothCount, 6) {
			return belt, d.FromMM + *nearest.PositionMM
		}
	}
	return 0, 0
}

func randomIdler(r *rand.Rand) *Idler {
	d := &Idler{FromMM: oneOf(r, -60, -20, 0, 10.0)}
	d.ToMM = d.FromMM + oneOf(r, 10, 50, 100.0)
	d.Position = sometimes(r, 50, 0.25+r.Float64()/2)
	if r.IntN(2) == 0 {
		d.Kind, d.Side, d.ToothCount = path.KindToothed, path.SideInside, new(8+r.IntN(30))
	} else {
		d.Kind, d.Side, d.DiameterMM = path.KindSmooth, oneOf(r, path.SideInside, path.SideOutside), new(15+40*r.Float64())
	}
	return d
}

// onePlainGap wishes for gaps of which a belt gives the first.
func (q *SearchQuery) onePlainGap(r *rand.Rand) {
	for i := range q.Axles {
		q.Axles[i].WheelDiameterMM = 60
	}
	heights := AxleHeightsMM(q.Axles)
	section, _ := beltmath.SectionByName(q.Sections[0])
	z := oneOf(r, q.Pulley.Values...)
	q.Gaps, q.TargetWheelbaseMM, q.MaxGapDifferenceMM, q.EqualGaps = nil, 0, nil, false
	for i := range len(q.Axles) - 1 {
		gap := math.Round(1200+2000*r.Float64()) / 10
		center := section.Pitch.CenterMM(z, z, oneOf(r, q.Belt.Values...))
		if exact := along(center, math.Abs(heights[i+1]-heights[i])); i == 0 && exact > 70 && exact < 500 {
			gap = exact
		}
		q.Gaps = append(q.Gaps, Gap{TargetMM: &gap})
		q.TargetWheelbaseMM += gap
	}
}

// TestSearchWithIdlers compares with brute force: an idler is offered where no
// plain plan is, and never else; which plans, in which order, and where their
// idlers stand.
func TestSearchWithIdlers(t *testing.T) {
	r := rand.New(rand.NewPCG(24, 26)) //nolint:gosec // a fixed seed, no secret
	cases, plain, with, mixed, none, truncated := 2500, 0, 0, 0, 0, 0
	if testing.Short() {
		cases = 500
	}
	for i := range cases {
		q := randomQuery(r)
		q.ToleranceMM = oneOf(r, 0, 0.05, 1, 20.0)
		q.Belt.Values = slices.Compact(slices.Sorted(slices.Values(append(pickFew(r, 60, 220, 20), q.Belt.Values...))))
		q.MaxResults = oneOf(r, nil, new(1), new(3))
		if r.IntN(2) == 0 {
			q.onePlainGap(r)
		}
		without, err := SearchBases(q)
		if err != nil {
			continue // no room for the wheels
		}
		q.Idler = randomIdler(r)
		got, err := SearchBases(q)
		require.NoError(t, err, "case %d", i)
		want := newIdlerBrute(q)
		if len(without.Plans) > 0 || len(want.all) == 0 {
			plain += count(len(without.Plans) > 0)
			none += count(len(without.Plans) == 0)
			got.Notes = slices.DeleteFunc(got.Notes, func(n beltmath.Note) bool {
				return n.Reason == ReasonHeightsUnknown || n.Reason == NoteNoIdlerPlan && len(want.all) == 0
			})
			require.Equal(t, without, got, "case %d", i)
			continue
		}
		n := min(or(q.MaxResults, 20), len(want.all))
		require.Len(t, got.Plans, n, "case %d", i)
		require.Equal(t, n < len(want.all), got.Truncated, "case %d", i)
		require.Empty(t, got.Exclusions)
		truncated += count(got.Truncated)
		with++
		for k, p := range got.Plans {
			w := want.all[k]
			name := fmt.Sprintf("case %d plan %d: want %v %v %+v %+v", i, k, w, w.idlers, q, q.Idler)
			require.Equal(t, w.belts, beltsOf(p), name)
			require.Equal(t, w.teeth, teethOf(p), name)
			require.Equal(t, w.distinct, p.DistinctBeltCount, name)
			require.InDelta(t, w.shift, p.WheelbaseShiftMM, 1e-8)
			require.InDelta(t, w.spread, p.GapDifferenceMM, 1e-8)
			mixed += count(w.count < len(w.idlers))
			for j, l := range p.Links {
				require.Equal(t, w.idlers[j], l.Idler != nil, name)
				if l.Idler == nil {
					continue
				}
				require.InDelta(t, w.offsets[j], l.Idler.OffsetMM, 1e-6, name)
				require.InDelta(t, want.wanted[j], l.RailSpacingMM, 1e-8)
				ends := []beltmath.Point{p.AxlePositions[j], p.AxlePositions[j+1]}
				require.InDelta(t, distance(ends[0], ends[1]), l.CenterDistanceMM, 1e-8)
				share := or(q.Idler.Position, 0.5)
				foot := at(ends[0].XMM+share*(ends[1].XMM-ends[0].XMM), ends[0].YMM+share*(ends[1].YMM-ends[0].YMM))
				require.InDelta(t, math.Abs(l.Idler.OffsetMM), distance(foot, l.Idler.Center), 1e-6)
				require.InDelta(t, l.Drive.Pitch.MM()*float64(l.Drive.BeltToothCount), l.Idler.Path.BeltLengthMM, 1e-6)
			}
		}
	}
	t.Logf("%d cases: %d with plain plans, %d with idlers, %d of their plans with plain belts too, %d truncated, %d with none", cases, plain, with, mixed, truncated, none)
	// The cases must be worth their while.
	assert.Greater(t, with, cases/20)
	assert.Greater(t, mixed, cases/250)
	assert.Greater(t, plain, cases/20)
	assert.Greater(t, none, cases/20)
}

// TestSearchWithIdlersDemo is the demo's wish that no plain belt meets: equal
// gaps of 350 mm. Standard belts of 880 mm are none, so the next are taken up.
func TestSearchWithIdlersDemo(t *testing.T) {
	dead := Axle{WheelDiameterMM: 160}
	q := SearchQuery{
		Axles: []Axle{dead, {WheelDiameterMM: 160, DropMM: 3}, dead}, Sections: []string{"H5M"}, Pulley: &beltmath.ToothCounts{Values: []int{36}},
		StandardLengthsOnly: true, TargetWheelbaseMM: 700, ToleranceMM: 0.05, EqualGaps: true, Idler: toothedIdler(36, 0, 80),
	}
	a, err := SearchBases(q)
	require.NoError(t, err)
	require.Len(t, a.Plans, 1)
	p := a.Plans[0]
	assert.Equal(t, []int{178, 178}, beltsOf(p))
	assert.InDelta(t, 0, p.WheelbaseShiftMM, 1e-9)
	// Three equal wheels: 890 less the rim of 180 and the way back are two hypotenuses.
	c := math.Hypot(350, 3)
	h := leg((710-c)/2, c/2)
	for i, l := range p.Links {
		assert.InDelta(t, h, l.Idler.OffsetMM, 1e-9)
		assert.InDelta(t, c, l.CenterDistanceMM, 1e-9)
		assert.Equal(t, 1, l.FromAxle) // the motor is in the middle
		assert.InDelta(t, []float64{175, 525}[i], l.Idler.Center.XMM, h*3/350+1e-9)
	}
	var reasons []string
	for _, n := range append(a.Notes, p.Notes...) {
		reasons = append(reasons, n.Reason)
	}
	for _, reason := range []string{NotePlanIdler, NoteGuards, NoteIdlerNip, NoteIdlerTight} {
		assert.Contains(t, reasons, reason)
	}

	// Where idlers do not help the answer is that of a search without, and says so:
	// because the range is too small, or because the plans miss another condition,
	// here that one length of belt serves gaps of 300 and 400 mm.
	without := func(q SearchQuery, why string) SearchAnswer {
		got, err := SearchBases(q)
		require.NoError(t, err)
		told := 0
		got.Notes = slices.DeleteFunc(got.Notes, func(n beltmath.Note) bool {
			if n.Reason == NoteNoIdlerPlan {
				told++
				assert.Contains(t, n.Message, why)
			}
			return n.Reason == NoteNoIdlerPlan
		})
		assert.Equal(t, 1, told)
		q.Idler = nil
		want, err := SearchBases(q)
		require.NoError(t, err)
		assert.Equal(t, want, got)
		return got
	}
	impossible := q
	impossible.Gaps = []Gap{{TargetMM: new(300.0)}, {TargetMM: new(300.0)}}
	without(impossible, "do not make up the wheelbase")
	uneven := q
	uneven.EqualGaps, uneven.MaxDistinctBelts = false, new(1)
	uneven.Gaps = []Gap{{TargetMM: new(300.0)}, {TargetMM: new(400.0)}}
	without(uneven, "distinct belts")
	q.Idler = toothedIdler(36, 0, 20)
	got := without(q, "widen from_mm to to_mm")
	assert.NotEmpty(t, got.Exclusions)

	// A belt on the back bends far in about the line of centers, however short the
	// range: 96.04 teeth without an idler, 102.67 to 103.20 in it.
	near := q
	near.Axles = []Axle{{WheelDiameterMM: 60}, {WheelDiameterMM: 60}}
	near.TargetWheelbaseMM, near.ToleranceMM, near.StandardLengthsOnly = 150.1, 0.01, false
	near.Belt, near.Idler = &beltmath.ToothCounts{Min: new(90), Max: new(110)}, backIdler(40, -1, 1)
	got, err = SearchBases(near)
	require.NoError(t, err)
	require.Len(t, got.Plans, 1)
	assert.Equal(t, []int{103}, beltsOf(got.Plans[0]))

	// A belt whose heights are not held: a smooth idler cannot be tried, and a
	// note says so.
	q.Sections, q.StandardLengthsOnly, q.TargetWheelbaseMM = []string{"R5M"}, false, 701.3
	q.Idler = backIdler(40, 0, 60)
	got, err = SearchBases(q)
	require.NoError(t, err)
	assert.Empty(t, got.Plans)
	assert.Contains(t, fmt.Sprint(got.Notes), "take a toothed idler")
	q.Idler = toothedIdler(20, 0, 60)
	got, err = SearchBases(q)
	require.NoError(t, err)
	assert.NotEmpty(t, got.Plans)

	// A wrong idler is refused whether it is needed or not.
	q.Idler = toothedIdler(5, 60, 0)
	_, err = SearchBases(q)
	var errs beltmath.InputErrors
	require.ErrorAs(t, err, &errs)
	require.Len(t, errs, 2)
	assert.Equal(t, "Idler.ToothCount", errs[0].Field)
	assert.Equal(t, "Idler.ToMM", errs[1].Field)
}

// TestSearchWithIdlersIsBounded gives the widest question up in bounded time and
// says so.
func TestSearchWithIdlersIsBounded(t *testing.T) {
	q := SearchQuery{
		Sections: []string{"H3M", "H5M", "H8M", "T5", "T10", "XL"}, Pulley: &beltmath.ToothCounts{Min: new(12), Max: new(600)},
		TargetWheelbaseMM: 15 * 333.3337, ToleranceMM: 1e-6, EqualGaps: true, ResolutionMM: new(0.0), Idler: backIdler(30, -60, 60),
		MaxDistinctBelts: new(1),
	}
	for i := range 16 {
		q.Axles = append(q.Axles, Axle{WheelDiameterMM: 100, DropMM: float64(i%5) * 1.1})
	}
	start := time.Now()
	a, err := SearchBases(q)
	t.Log(time.Since(start), err, len(a.Plans))
	require.NoError(t, err)
	require.NotEmpty(t, a.Plans)
	assert.Contains(t, fmt.Sprint(a.Notes), "narrow sections, pulley or belt")
	assert.Less(t, time.Since(start), 30*time.Second) // seconds when alone
}
