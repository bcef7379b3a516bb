package beltmath

import (
	"cmp"
	"math"
	"slices"
)

// Page returns, in the search's order, the first n spacings that come after
// the given one, or the first n of all where it is nil. stop is as in Count.
//
// It neither sorts nor solves the whole answer: each run is walked in the
// search's order, and left where the n best so far are better.
func (s *Search) Page(after *Spacing, n int, stop func() bool) ([]Spacing, error) {
	if n < 1 {
		return nil, nil
	}
	best := selection{n: n, key: s.key()}
	if after != nil {
		best.after = &ranked{best.key(*after), *after}
	}
	var err error
	switch s.order {
	case OrderTargetShift:
		err = s.walkFromTarget(&best, stop)
	case OrderBeltToothCount:
		leastBelt := 0
		if after != nil {
			leastBelt = after.BeltToothCount()
		}
		err = s.walk(&best, s.window, leastBelt, stop)
	default:
		window := s.window
		if after != nil {
			window = window.within(after.CenterDistanceMM, math.Inf(1))
		}
		err = s.walk(&best, window, 0, stop)
	}
	if err != nil {
		return nil, err
	}
	return best.sorted(), nil
}

// key returns what the search's order compares first.
func (s *Search) key() func(Spacing) float64 {
	target := s.window.targetMM
	switch s.order {
	case OrderTargetShift:
		return func(one Spacing) float64 { return math.Abs(one.CenterDistanceMM - target) }
	case OrderBeltToothCount:
		return func(one Spacing) float64 { return float64(one.BeltToothCount()) }
	default:
		return func(one Spacing) float64 { return one.CenterDistanceMM }
	}
}

// walk offers the spacings of window, upward in each run.
func (s *Search) walk(best *selection, window centerWindow, leastBelt int, stop func() bool) error {
	var r run
	return s.runs(&r, window, leastBelt, stop, func() bool {
		for i := r.first; i < r.end && best.offer(r.spacing(i)); i++ {
		}
		return true
	})
}

// walkFromTarget offers the spacings from the target upward, then those below
// it downward, leaving out most of those nearer to it than the one after which
// to begin.
func (s *Search) walkFromTarget(best *selection, stop func() bool) error {
	target := s.window.targetMM
	up, down := target, math.Nextafter(target, 0)
	if best.after != nil {
		shift := best.after.key
		rounding := (target + shift) * 0x1p-50 // of the sums here and of shifts
		up = max(up, target+shift-rounding)
		down = min(down, target-shift+rounding)
	}
	if err := s.walk(best, s.window.within(up, math.Inf(1)), 0, stop); err != nil {
		return err
	}
	var r run
	return s.runs(&r, s.window.within(0, down), 0, stop, func() bool {
		for i := r.end - 1; i >= r.first && best.offer(r.spacing(i)); i-- {
		}
		return true
	})
}

// ranked is a spacing with what its order compares first.
type ranked struct {
	key float64
	Spacing
}

func compareRanked(a, b ranked) int {
	return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.counts, b.counts))
}

// selection keeps the n first of the spacings offered to it. It holds up to
// twice as many and drops the rest when it is full, so that an offer costs
// about log n comparisons at most.
type selection struct {
	n     int
	key   func(Spacing) float64
	after *ranked // only what comes after it counts
	kept  []ranked
	last  *ranked // the n-th of those offered when the rest was dropped last
}

// offer takes a spacing up if it may belong to the first n. It reports whether
// one with a greater key still may.
func (b *selection) offer(one Spacing) bool {
	r := ranked{b.key(one), one}
	if b.after != nil && compareRanked(r, *b.after) <= 0 {
		return true
	}
	if b.last != nil && compareRanked(r, *b.last) > 0 {
		return false
	}
	b.kept = append(b.kept, r)
	if len(b.kept) >= 2*b.n {
		b.cut()
	}
	return true
}

func (b *selection) cut() {
	slices.SortFunc(b.kept, compareRanked)
	b.kept = b.kept[:min(b.n, len(b.kept))]
	if len(b.kept) == b.n {
		last := b.kept[b.n-1]
		b.last = &last
	}
}

func (b *selection) sorted() []Spacing {
	b.cut()
	page := make([]Spacing, len(b.kept))
	for i, r := range b.kept {
		page[i] = r.Spacing
	}
	return page
}
