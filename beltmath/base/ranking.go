package base

import (
	"cmp"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// candidate is a section, pulley counts and a multiset of belts on each class
// of gaps, laid out as belts from left to right.
type candidate struct {
	key       float64 // shift in units of the resolution, rounded
	scrub     float64 // amount, percent
	spread    rail    // greatest less least rail spacing
	distinct  int
	beltTeeth int
	belts     []int
	section   *beltmath.Section
	teeth     []int // for each wheel diameter
	classes   []class
	// Of a plan with idlers: which links have one, and their rail spacings.
	idlers     []bool
	idlerCount int
	wanted     []float64
}

// rankFirst compares what all arrangements of a multiset share.
func (c *candidate) rankFirst(o *candidate) int {
	return cmp.Or(
		cmp.Compare(c.key, o.key), cmp.Compare(c.scrub, o.scrub), cmp.Compare(c.spread, o.spread),
		cmp.Compare(c.distinct, o.distinct), cmp.Compare(c.beltTeeth, o.beltTeeth),
	)
}

// rank compares two candidates in the order of plans.
func (c *candidate) rank(o *candidate) int {
	return cmp.Or(
		c.rankFirst(o), slices.Compare(c.belts, o.belts),
		cmp.Compare(c.section.Designation, o.section.Designation), slices.Compare(c.teeth, o.teeth),
	)
}

// ranking keeps the best candidates, at most capacity of them, best first.
type ranking struct {
	capacity int
	list     []*candidate
}

// worst returns the last candidate, and whether the ranking is full.
func (r *ranking) worst() (*candidate, bool) {
	if len(r.list) < r.capacity {
		return nil, false
	}
	return r.list[len(r.list)-1], true
}

// mayEnter reports whether c may be among the best; its belts need not be laid
// out yet.
func (r *ranking) mayEnter(c *candidate) bool {
	worst, full := r.worst()
	return !full || c.rankFirst(worst) <= 0
}

// add takes c in where it is among the best.
func (r *ranking) add(c *candidate) {
	at, _ := slices.BinarySearchFunc(r.list, c, (*candidate).rank)
	if at == r.capacity {
		return
	}
	if len(r.list) == r.capacity {
		r.list = r.list[:r.capacity-1]
	}
	r.list = slices.Insert(r.list, at, c)
}

// plans lays the candidates out in every order of belts and returns the best
// plans, at most n. The best n plans are among those of the best n candidates,
// because each of those has its own first plan before them.
func (r *ranking) plans(n int, symmetric bool) []*candidate {
	var plans []*candidate
	for i, c := range r.list {
		if len(plans) >= n && c.rankFirst(r.list[i-1]) > 0 {
			break
		}
		plans = append(plans, c.arrangements(n, symmetric)...)
		if len(plans) > 4*n {
			slices.SortFunc(plans, (*candidate).rank)
			plans = plans[:n]
		}
	}
	slices.SortFunc(plans, (*candidate).rank)
	return plans[:min(n, len(plans))]
}

// arrangements returns the first n orders of the belts of c from left to
// right. In a symmetric row an order whose mirror image comes before it is
// left out.
func (c *candidate) arrangements(n int, symmetric bool) []*candidate {
	left := make([]map[int]int, len(c.belts)) // for each gap what its class has left
	for _, class := range c.classes {
		counts := map[int]int{}
		for _, g := range class.gaps {
			left[g] = counts
			counts[c.belts[g]]++
		}
	}
	used := slices.Clone(c.belts)
	slices.Sort(used)
	used = slices.Compact(used)
	belts := make([]int, len(c.belts))
	var all []*candidate
	var place func(gap int)
	place = func(gap int) {
		if gap == len(belts) {
			if !symmetric || !mirrorFirst(belts) {
				laidOut := *c
				laidOut.belts = slices.Clone(belts)
				all = append(all, &laidOut)
			}
			return
		}
		for _, belt := range used {
			if left[gap][belt] == 0 || len(all) == n {
				continue
			}
			left[gap][belt]--
			belts[gap] = belt
			place(gap + 1)
			left[gap][belt]++
		}
	}
	place(0)
	return all
}

// mirrorFirst reports whether belts read from right to left come before belts
// read from left to right.
func mirrorFirst(belts []int) bool {
	for i, j := 0, len(belts)-1; i < j; i, j = i+1, j-1 {
		if belts[i] != belts[j] {
			return belts[j] < belts[i]
		}
	}
	return false
}

// palindrome reports whether belts read the same from both ends.
func palindrome(belts []int) bool {
	for i := range len(belts) / 2 {
		if belts[i] != belts[len(belts)-1-i] {
			return false
		}
	}
	return true
}
