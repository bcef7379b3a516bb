package base

import (
	"math"
	"slices"
	"sort"
)

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
