package base

import (
	"errors"
	"math"
	"math/bits"

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
	section    *beltmath.Section
	belts      []int
	teeth      []int
	scrub      float64
	shelves    []beltmath.Shelf
	classes    []class
	apart      bool
	spacings   []spacings
	leastShift rail // no plan of these has a lesser shift
	distinct   int

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
	counts           []int
	total            int
	lo, hi           int
	sum, least, most []rail
	mostRest         rail
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
	e.leastShift = e.shiftBound()
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

// shiftBound returns a shift no plan of these pulleys can beat. With equal pulleys
// on every link the center distances add up to multiples of half a pitch, and
// the height steps shorten that sum by bounded amounts.
func (e *engine) shiftBound() rail {
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
	return toRail(min(above-to, from-(above-half)))
}

// refresh draws the windows as narrow as the plans found allow; false where no
// plan of these pulleys can enter any more.
func (e *engine) refresh() bool {
	tolerance, spread, leastKey := toRail(e.p.tolerance), boundless, e.p.key(e.leastShift)
	if e.leastShift > tolerance {
		return false
	}
	if e.p.equal {
		spread = toRail(e.p.grain)
	}
	if e.p.spread != nil {
		spread = min(spread, toRail(*e.p.spread))
	}
	if worst, full := e.best.worst(); full {
		scrub := math.Abs(e.scrub)
		if worst.key < leastKey || worst.key == leastKey && worst.scrub < scrub {
			return false
		}
		if worst.key == leastKey && worst.scrub == scrub {
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
