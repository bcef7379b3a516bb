package base

import (
	"errors"
	"math"
	"math/bits"
	"slices"
	"sort"

	"github.com/beltspan/beltspan/beltmath"
)

// errTooMuchWork says that a search took all the steps it was allowed.
var errTooMuchWork = errors.New("base search: too much work")

// engine searches the plans of one problem.
//
// A plan's section, pulleys and the multiset of belts on each class of gaps
// settle all of its rank but the last part, the belts from left to right; so
// the engine walks these multisets and keeps those with the best first
// arrangement. It takes the number of distinct belts in rising order, deals
// the gaps of each class out to that many columns, and picks rising belts for
// the columns. The last belt is not tried but looked up: what the wheelbase
// leaves for it moves one way as the belt before it grows. Once enough plans
// are known, the worst of them narrows the window of the wheelbase and, where
// no lesser shift can come, that of the gap difference; so nothing that could
// enter the answer is skipped.
type engine struct {
	p        *problem
	best     ranking
	steps    int
	searched int64

	// Of the section and pulley counts at hand.
	section  *beltmath.Section
	belts    []int
	teeth    []int
	scrub    float64
	shelves  []beltmath.Shelf
	classes  []class
	apart    bool
	spacings []spacings
	leastKey float64 // no plan of these has a lesser key
	distinct int

	// Of the columns at hand.
	columns []column
	pick    []int // for each column the index of its belt
	found   candidate

	low, high rail // window of the wheelbase
	spread    rail // greatest gap difference
}

// column is gaps that share a belt: how many of each class, and for each belt
// from lo to hi, hi outside, the sum and the extremes of their spacings.
type column struct {
	counts             []int
	total              int
	lo, hi             int
	sum, least, most   []rail
	leastSum, mostRest rail
}

// search returns the best plans of p, at most keep of them, with the number of
// combinations covered.
func (p *problem) search(keep int) (*engine, error) {
	e := &engine{p: p, best: ranking{capacity: keep}}
	classes := [2][]class{p.classes(false), p.classes(true)}
	for distinct := 1; distinct <= min(p.distinct, len(p.gaps)); distinct++ {
		for _, section := range p.sections {
			e.section, e.belts = section, p.beltCounts(section)
			done := p.teethSets(p.pulleys, e.step, func(teeth []int, scrub float64) bool {
				e.searched = addBounded(e.searched, combinations(len(e.belts), len(p.gaps), distinct))
				e.teeth, e.scrub = teeth, scrub
				return e.teethSet(classes, distinct)
			})
			if !done {
				return e, errTooMuchWork
			}
		}
	}
	return e, nil
}

// step counts one step and reports whether another is allowed.
func (e *engine) step() bool {
	e.steps++
	return e.steps <= e.p.work
}

// teethSet searches the plans of one section and set of pulleys with exactly
// so many distinct belts.
func (e *engine) teethSet(classes [2][]class, distinct int) bool {
	var ok bool
	if e.shelves, ok = e.p.shelvesFor(e.section, e.teeth); !ok {
		return true
	}
	if !e.fill(classes[0]) {
		return e.steps <= e.p.work
	}
	if e.apart = !e.p.wheelsClear(e.leastSpacings()); e.apart && !e.fill(classes[1]) {
		return e.steps <= e.p.work
	}
	e.leastKey = e.keyBound()
	e.distinct = distinct
	if !e.refresh() {
		return true
	}
	for len(e.columns) < distinct {
		e.columns = append(e.columns, column{})
	}
	e.columns = e.columns[:distinct]
	e.pick = make([]int, distinct)
	left := make([]int, len(e.classes))
	for i, c := range e.classes {
		left[i] = len(c.gaps)
	}
	return e.deal(0, left)
}

// fill finds the spacings of all classes; false where a class has none.
func (e *engine) fill(classes []class) bool {
	e.classes = classes
	for len(e.spacings) < len(classes) {
		e.spacings = append(e.spacings, spacings{})
	}
	profile := beltmath.Profile{Section: e.section, Pitch: e.section.Pitch}
	for i := range classes {
		s := &e.spacings[i]
		s.fill(e.p, &classes[i], profile, e.teeth, e.belts, e.p.mostAlong())
		e.steps += 32 + s.hi - s.lo // some searches, then one center distance a belt
		if s.lo >= s.hi || e.steps > e.p.work {
			return false
		}
	}
	return true
}

func (e *engine) leastSpacings() []rail {
	least := make([]rail, len(e.p.gaps))
	for i, c := range e.classes {
		for _, g := range c.gaps {
			least[g] = e.spacings[i].along[e.spacings[i].lo]
		}
	}
	return least
}

// keyBound returns a key no plan of these pulleys can beat. With equal pulleys
// on every link the center distances add up to multiples of half a pitch, and
// the height steps shorten that sum by bounded amounts.
func (e *engine) keyBound() float64 {
	shortest, longest := 0.0, 0.0 // what the steps take off the sum
	for i, c := range e.classes {
		if e.teeth[c.wheels[0]] != e.teeth[c.wheels[1]] {
			return 0
		}
		s, n := e.spacings[i], float64(len(c.gaps))
		off := func(index int) float64 {
			center := e.section.Pitch.CenterMM(e.teeth[c.wheels[0]], e.teeth[c.wheels[1]], e.belts[index])
			return center - along(center, c.step)
		}
		shortest, longest = shortest+n*off(s.hi-1), longest+n*off(s.lo)
	}
	const slack = 1e-6 // far above all rounding, far below what is drilled
	half := e.section.Pitch.MM() / 2
	from, to := e.p.target+shortest-slack, e.p.target+longest+slack
	above := math.Ceil(from/half) * half
	if above <= to {
		return 0
	}
	return e.p.key(toRail(min(above-to, from-(above-half))))
}

// refresh draws the windows as narrow as the plans found allow; false where no
// plan of these pulleys can enter any more.
func (e *engine) refresh() bool {
	tolerance, spread := toRail(e.p.tolerance), boundless
	if e.p.equal {
		spread = toRail(e.p.grain)
	}
	if e.p.spread != nil {
		spread = min(spread, toRail(*e.p.spread))
	}
	if worst, full := e.best.worst(); full {
		scrub := math.Abs(e.scrub)
		if worst.key < e.leastKey || worst.key == e.leastKey && worst.scrub < scrub {
			return false
		}
		if worst.key == e.leastKey && worst.scrub == scrub {
			spread = min(spread, worst.spread)
			if e.distinct > worst.distinct { // loses where the rest is equal
				spread = min(spread, worst.spread-1)
			}
		}
		tolerance = min(tolerance, e.p.keyReach(worst.key))
	}
	target := toRail(e.p.target)
	e.low, e.high, e.spread = target-tolerance, target+tolerance, spread
	return true
}

// key returns the amount of a shift in units of the resolution, rounded; where
// the resolution is 0 in units of rail, exactly.
func (p *problem) key(shift rail) float64 {
	shift = max(shift, -shift)
	if p.grain == 0 {
		return float64(shift)
	}
	return math.Round(shift.mm() / p.grain)
}

// keyReach returns a shift above which every key is greater.
func (p *problem) keyReach(key float64) rail {
	if p.grain == 0 {
		return rail(min(key, float64(boundless)))
	}
	return toRail((key+0.5)*p.grain*(1+1e-12)) + 1
}

// deal gives column i each share of the gaps left, and the last column what
// remains.
func (e *engine) deal(i int, left []int) bool {
	c := &e.columns[i]
	after := len(e.columns) - 1 - i
	if after == 0 {
		c.counts = append(c.counts[:0], left...)
		return !e.sumUp(c) || e.pickAll()
	}
	free := 0
	for _, n := range left {
		free += n
	}
	c.counts = append(c.counts[:0], make([]int, len(left))...)
	for e.nextShare(c.counts, left) {
		if !e.step() {
			return false
		}
		rest, total := make([]int, len(left)), 0
		for k, n := range c.counts {
			rest[k], total = left[k]-n, total+n
		}
		if total <= free-after && e.sumUp(c) && !e.deal(i+1, rest) {
			return false
		}
	}
	return true
}

// nextShare counts shares up, each place from 0 to left; false at the end.
func (e *engine) nextShare(share, left []int) bool {
	for k := range share {
		if share[k] < left[k] {
			share[k]++
			return true
		}
		share[k] = 0
	}
	return false
}

// sumUp fills the sums of a column; false where no belt serves it.
func (e *engine) sumUp(c *column) bool {
	c.lo, c.hi, c.total = 0, len(e.belts), 0
	for k, n := range c.counts {
		if n > 0 {
			c.lo, c.hi, c.total = max(c.lo, e.spacings[k].lo), min(c.hi, e.spacings[k].hi), c.total+n
		}
	}
	if c.lo >= c.hi {
		return false
	}
	if len(c.sum) < len(e.belts) {
		c.sum, c.least, c.most = make([]rail, len(e.belts)), make([]rail, len(e.belts)), make([]rail, len(e.belts))
	}
	for b := c.lo; b < c.hi; b++ {
		c.sum[b], c.least[b], c.most[b] = 0, boundless, 0
	}
	for k, n := range c.counts {
		if n == 0 {
			continue
		}
		e.steps += (c.hi - c.lo) / 2 // half as dear as a step of the search
		along := e.spacings[k].along
		for b := c.lo; b < c.hi; b++ {
			c.sum[b] += rail(n) * along[b]
			c.least[b], c.most[b] = min(c.least[b], along[b]), max(c.most[b], along[b])
		}
	}
	return true
}

// pickAll tries the belts of all columns dealt out.
func (e *engine) pickAll() bool {
	var rest rail
	for i := len(e.columns) - 1; i >= 0; i-- {
		c := &e.columns[i]
		c.mostRest = rest
		rest += c.sum[c.hi-1]
	}
	if rest < e.low {
		return true
	}
	if len(e.columns) == 1 {
		return e.pickOnly()
	}
	return e.pickFrom(0, 0, 0, boundless, 0)
}

func (e *engine) pickOnly() bool {
	c := &e.columns[0]
	first := c.lo + sort.Search(c.hi-c.lo, func(i int) bool { return c.sum[c.lo+i] >= e.low })
	for b := first; b < c.hi && c.sum[b] <= e.high; b++ {
		e.pick[0] = b
		if !e.step() {
			return false
		}
		e.hit(c.sum[b], c.least[b], c.most[b])
	}
	return true
}

// pickFrom tries the belts from index from on for column i and above; sum,
// least and most are those of the columns before it.
func (e *engine) pickFrom(i, from int, sum, least, most rail) bool {
	c := &e.columns[i]
	if i == len(e.columns)-2 {
		return e.pickLastTwo(from, sum, least, most)
	}
	for b := max(from, c.lo); b < c.hi; b++ {
		if !e.step() {
			return false
		}
		here := sum + c.sum[b]
		rest, ok := e.leastRest(i, b)
		if !ok || here+rest > e.high || c.most[b]-least > e.spread {
			return true // a longer belt only adds
		}
		if here+c.mostRest < e.low {
			continue
		}
		e.pick[i] = b
		if !e.pickFrom(i+1, b+1, here, min(least, c.least[b]), max(most, c.most[b])) {
			return false
		}
	}
	return true
}

// leastRest returns the least sum of the columns after i where column i has
// belt b; ok is false where they have none.
func (e *engine) leastRest(i, b int) (sum rail, ok bool) {
	for k := i + 1; k < len(e.columns); k++ {
		c := &e.columns[k]
		first := max(c.lo, b+k-i)
		if first >= c.hi {
			return 0, false
		}
		sum += c.sum[first]
	}
	return sum, true
}

// pickLastTwo walks the last column down while the one before it goes up.
func (e *engine) pickLastTwo(from int, sum, least, most rail) bool {
	last := len(e.columns) - 1
	c, z := &e.columns[last-1], &e.columns[last]
	x := z.hi
	for b := max(from, c.lo); b < c.hi; b++ {
		if !e.step() {
			return false
		}
		here, first := sum+c.sum[b], max(b+1, z.lo)
		if first >= z.hi || here+z.sum[first] > e.high || c.most[b]-least > e.spread {
			return true // a longer belt only adds
		}
		for x > first && here+z.sum[x-1] >= e.low {
			x--
		}
		for x = max(x, first); x < z.hi && here+z.sum[x] < e.low; x++ {
			e.steps++ // the window has become narrower
		}
		e.pick[last-1] = b
		least, most := min(least, c.least[b]), max(most, c.most[b])
		for y := x; y < z.hi && here+z.sum[y] <= e.high && z.most[y]-least <= e.spread; y++ {
			e.pick[last] = y
			if !e.step() {
				return false
			}
			e.hit(here+z.sum[y], min(least, z.least[y]), max(most, z.most[y]))
		}
	}
	return true
}

// hit looks at the multiset picked.
func (e *engine) hit(sum, least, most rail) {
	e.steps += 3 // dearer than a step of the search
	if most-least > e.spread {
		return
	}
	e.found = candidate{
		key: e.p.key(sum - toRail(e.p.target)), scrub: math.Abs(e.scrub), spread: most - least,
		distinct: len(e.columns), section: e.section,
	}
	for i := range e.columns {
		e.found.beltTeeth += e.columns[i].total * e.belts[e.pick[i]]
	}
	if !e.best.mayEnter(&e.found) || !e.inStock() {
		return
	}
	found := e.found
	found.belts = e.firstRow()
	if e.apart && !e.admits(found.belts) {
		return
	}
	found.teeth = slices.Clone(e.teeth)
	found.classes = e.classes
	e.steps += 20
	e.best.add(&found)
	if !e.refresh() {
		e.low, e.high = boundless, -boundless // nothing more with these pulleys
	}
}

// inStock reports whether one shelf that holds the pulleys holds the belts.
func (e *engine) inStock() bool {
	if e.p.bin == nil {
		return true
	}
	needed := make(map[int]int, len(e.columns))
	for i := range e.columns {
		needed[e.belts[e.pick[i]]] = e.columns[i].total
	}
	for _, s := range e.shelves {
		if holds(s.Belts, needed, e.p.sides) {
			return true
		}
	}
	return false
}

// firstRow lays the belts picked out so that they come first in the order of
// belts from left to right: within each class rising.
func (e *engine) firstRow() []int {
	belts := make([]int, len(e.p.gaps))
	for k, c := range e.classes {
		next := 0
		for i := range e.columns {
			for range e.columns[i].counts[k] {
				belts[c.gaps[next]] = e.belts[e.pick[i]]
				next++
			}
		}
	}
	return belts
}

// admits looks at a row whose gaps are told apart: wheels that are no
// neighbors keep clear, and of a row and its mirror image only one counts.
func (e *engine) admits(belts []int) bool {
	if e.p.symmetric && mirrorFirst(belts) {
		return false
	}
	gaps := make([]rail, len(belts))
	for k, c := range e.classes {
		index := sort.SearchInts(e.belts, belts[c.gaps[0]])
		gaps[c.gaps[0]] = e.spacings[k].along[index]
	}
	return e.p.wheelsClear(gaps)
}

// combinations returns in how many ways gaps can take exactly distinct of so
// many belts: the choices of the belts times the surjections of gaps onto
// them; at most the greatest int64.
func combinations(belts, gaps, distinct int) int64 {
	if distinct > belts || distinct > gaps {
		return 0
	}
	onto := make([]int64, distinct+1) // onto[d]: surjections of the gaps so far onto d
	onto[0] = 1
	for range gaps {
		for d := distinct; d > 0; d-- {
			onto[d] = int64(d) * (onto[d] + onto[d-1])
		}
		onto[0] = 0
	}
	choices := int64(1)
	for i := range distinct {
		// Divide before the product can overflow: it is whole anyway.
		hi, lo := bits.Mul64(uint64(choices), uint64(belts-i))
		if hi >= uint64(i+1) {
			return math.MaxInt64
		}
		quotient, _ := bits.Div64(hi, lo, uint64(i+1))
		if quotient > math.MaxInt64 {
			return math.MaxInt64
		}
		choices = int64(quotient)
	}
	if choices > math.MaxInt64/onto[distinct] {
		return math.MaxInt64
	}
	return choices * onto[distinct]
}

func addBounded(a, b int64) int64 {
	if a > math.MaxInt64-b {
		return math.MaxInt64
	}
	return a + b
}
