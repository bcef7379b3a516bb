package beltmath

import (
	"cmp"
	"container/heap"
	"math"
	"sort"
)

// candidate is a substitute under comparison.
type candidate struct {
	sameHoles            bool
	move                 float64 // whole hundredths of a millimeter, 0 with sameHoles
	pulleysKept          bool
	ratioChange          float64
	belt, driver, driven int
	center               float64
}

// compareCandidates is the order of SearchSubstitutes, a total one.
func compareCandidates(a, b candidate) int {
	return cmp.Or(
		compareTrueFirst(a.sameHoles, b.sameHoles),
		cmp.Compare(a.move, b.move),
		compareTrueFirst(a.pulleysKept, b.pulleysKept),
		cmp.Compare(math.Abs(a.ratioChange), math.Abs(b.ratioChange)),
		cmp.Compare(a.belt, b.belt),
		cmp.Compare(a.driver, b.driver),
		cmp.Compare(a.driven, b.driven),
	)
}

func compareTrueFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// best holds the best candidates seen, the worst of them at the root.
type best struct {
	list []candidate
	most int
}

func (b *best) Len() int           { return len(b.list) }
func (b *best) Less(i, j int) bool { return compareCandidates(b.list[i], b.list[j]) > 0 }
func (b *best) Swap(i, j int)      { b.list[i], b.list[j] = b.list[j], b.list[i] }
func (b *best) Push(c any)         { b.list = append(b.list, c.(candidate)) } //nolint:forcetypeassert // heap's interface
func (b *best) Pop() any           { panic("never popped") }

// wants tells whether c is better than the worst held, or there is room.
func (b *best) wants(c candidate) bool {
	return len(b.list) < b.most || compareCandidates(c, b.list[0]) < 0
}

func (b *best) add(c candidate) {
	if len(b.list) < b.most {
		heap.Push(b, c)
		return
	}
	b.list[0] = c
	heap.Fix(b, 0)
}

// run finds the best candidates of one pass. For each pair of pulleys it walks
// from the belt nearest to the holes outward, both ways, until no belt beyond
// can be better than what is held: the center distance rises with the belt, so
// beyond the limits of fitting the move of the hole does.
func (s *substituteSearch) run(pass substitutePass) []candidate {
	held := &best{most: s.most}
	for _, driver := range pass.drivers {
		for _, driven := range pass.drivens {
			change := s.ratioChangePercentOf(driver, driven)
			if math.Abs(change) > s.ratioChangePercent || min(driver, driven)/2 < s.rule.rejectedMeshed ||
				!s.available(pass, driver, driven) {
				continue
			}
			p := pairSearch{s: s, belts: pass.belts, held: held, drive: s.with(driver, driven, 0), change: change}
			p.limit, _ = p.drive.leastCenterMM()
			p.walk()
		}
	}
	return held.list
}

// pairSearch is the search of one pair of pulleys.
type pairSearch struct {
	s             *substituteSearch
	belts         []int
	held          *best
	drive         Drive
	limit, change float64
}

func (p *pairSearch) walk() {
	start := p.firstBeyond()
	for i := start - 1; i >= 0 && p.take(i, p.s.drilled-p.center(i) > p.s.rule.marginalHigh+limitSlackMM); i-- {
	}
	if start < len(p.belts) && !p.works(start) {
		start += sort.Search(len(p.belts)-start, func(i int) bool { return p.works(start + i) })
	}
	for i := start; i < len(p.belts) && p.take(i, p.s.drilled-p.center(i) < p.s.rule.marginalLow-limitSlackMM); i++ {
	}
}

func (p *pairSearch) center(i int) float64 {
	return p.drive.Pitch.CenterMM(p.drive.Driver.ToothCount, p.drive.Driven.ToothCount, p.belts[i])
}

// firstBeyond returns the index of the first belt whose center distance is at
// least the drilled one.
func (p *pairSearch) firstBeyond() int {
	return sort.Search(len(p.belts), func(i int) bool { return p.center(i) >= p.s.drilled })
}

// works tells whether pulleys with belt i keep clear of each other with enough
// teeth in mesh. Once a belt works, so do all longer ones.
func (p *pairSearch) works(i int) bool {
	p.drive.BeltToothCount = p.belts[i]
	return p.center(i) > p.limit && p.drive.meshedTeeth() >= p.s.rule.rejectedMeshed
}

// take holds belt i if it is good enough. It tells whether to look further on:
// not beyond the limits of fitting once belts are not good enough, and not
// below the shortest that works.
func (p *pairSearch) take(i int, beyond bool) bool {
	c := candidate{
		belt: p.belts[i], driver: p.drive.Driver.ToothCount, driven: p.drive.Driven.ToothCount,
		ratioChange: p.change, center: p.center(i),
	}
	if !(c.center > p.limit) {
		return false
	}
	c.pulleysKept = c.driver == p.s.drive.Driver.ToothCount && c.driven == p.s.drive.Driven.ToothCount
	if c.pulleysKept && c.belt == p.s.drive.BeltToothCount {
		return true
	}
	c.sameHoles = p.s.drilled > p.limit && p.s.rule.ofDeviation(p.s.drilled-c.center) != VerdictRejected
	if !c.sameHoles {
		c.move = hundredths(c.center - p.s.drilled)
	}
	if !p.held.wants(c) {
		return !beyond
	}
	if !p.works(i) {
		return false
	}
	p.held.add(c)
	return true
}
