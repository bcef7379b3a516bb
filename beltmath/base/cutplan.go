package base

import (
	"fmt"
	"math"
	"slices"
)

// packWork is the steps that the exhaustive searches of all cutting plans of a
// base may take together; half a second or less.
const packWork = 500_000

// cutPlans returns a plan for each kind of bar: members by stock length, and
// standoffs. Each has the fewest bars that the search finds.
func (p *layoutProblem) cutPlans(cuts []Cut) []CutPlan {
	type bar struct {
		kind  PartKind
		stock float64
	}
	var order []bar
	pieces := map[bar][]Piece{}
	for _, c := range cuts {
		if c.StockLengthMM == 0 {
			continue
		}
		b := bar{c.Kind, c.StockLengthMM}
		if pieces[b] == nil {
			order = append(order, b)
		}
		for range c.Quantity {
			pieces[b] = append(pieces[b], Piece{c.Name, c.LengthMM})
		}
	}
	var plans []CutPlan
	work := packWork
	for _, b := range order {
		plan := planBars(pieces[b], b.stock, p.KerfMM, &work)
		plan.Kind = b.kind
		plans = append(plans, plan)
	}
	return plans
}

// planBars cuts pieces from bars of one length, each piece but the last of a
// full bar costing a kerf: pieces fit a bar where their lengths and kerfs
// together are at most stock and one kerf. Longest pieces first, each into the
// first bar with room; then, where the bound leaves a doubt, every plan with
// fewer bars is tried, as far as work lasts.
func planBars(pieces []Piece, stock, kerf float64, work *int) CutPlan {
	slices.SortStableFunc(pieces, func(a, b Piece) int {
		switch {
		case a.LengthMM > b.LengthMM:
			return -1
		case a.LengthMM < b.LengthMM:
			return 1
		}
		return 0
	})
	total := 0.0
	for _, piece := range pieces {
		total += piece.LengthMM + kerf
	}
	plan := CutPlan{StockLengthMM: stock, Proof: MinimumProofNone}
	plan.BoundBarCount = int(math.Ceil((total - gapSlackMM) / (stock + kerf)))
	bars := firstFit(pieces, stock, kerf)
	s := newPackSearch(pieces, stock, kerf, work)
	for len(bars) > plan.BoundBarCount {
		better, finished := s.pack(len(bars) - 1)
		if better == nil {
			if finished {
				plan.Proof = MinimumProofExhaustion
			}
			break
		}
		bars = better
	}
	if len(bars) == plan.BoundBarCount {
		plan.Proof = MinimumProofBound
	}
	for _, bar := range bars {
		plan.Bars = append(plan.Bars, Bar{Pieces: bar, RestMM: rest(bar, stock, kerf)})
	}
	slices.SortStableFunc(plan.Bars, func(a, b Bar) int {
		switch {
		case a.RestMM < b.RestMM:
			return -1
		case a.RestMM > b.RestMM:
			return 1
		}
		return 0
	})
	return plan
}

// rest returns what is left of a bar. The last cut takes no kerf where the
// piece ends with the bar.
func rest(bar []Piece, stock, kerf float64) float64 {
	for _, piece := range bar {
		stock -= piece.LengthMM + kerf
	}
	return max(0, stock)
}

func firstFit(pieces []Piece, stock, kerf float64) [][]Piece {
	var bars [][]Piece
	var room []float64
	at := 0
	for i, piece := range pieces {
		need := piece.LengthMM + kerf
		if i == 0 || piece.LengthMM != pieces[i-1].LengthMM { // else bars before the last one are full
			at = 0
		}
		for at < len(room) && need > room[at]+gapSlackMM {
			at++
		}
		if at == len(bars) {
			bars, room = append(bars, nil), append(room, stock+kerf)
		}
		bars[at] = append(bars[at], piece)
		room[at] -= need
	}
	return bars
}

// packSearch looks for a plan with a given number of bars. Pieces of one
// length are alike.
type packSearch struct {
	pieces   [][]Piece // by length, longest first
	need     []float64 // length and kerf of each
	left     []int     // of each, not placed yet
	capacity float64
	work     *int            // steps left
	failed   map[string]bool // what was left when no plan was found, by bars left
	bars     [][]int         // chosen: how many of each
}

func newPackSearch(pieces []Piece, stock, kerf float64, work *int) *packSearch {
	s := &packSearch{capacity: stock + kerf + gapSlackMM, work: work}
	for i, piece := range pieces {
		if i == 0 || piece.LengthMM != pieces[i-1].LengthMM {
			s.pieces, s.need = append(s.pieces, nil), append(s.need, piece.LengthMM+kerf)
		}
		last := len(s.pieces) - 1
		s.pieces[last] = append(s.pieces[last], piece)
	}
	return s
}

// pack returns a plan of at most the given bars, or nil. finished tells
// whether all were tried.
func (s *packSearch) pack(bars int) (plan [][]Piece, finished bool) {
	s.left = make([]int, len(s.pieces))
	for i := range s.pieces {
		s.left[i] = len(s.pieces[i])
	}
	s.failed, s.bars = map[string]bool{}, nil
	if !s.fillBars(bars) {
		return nil, *s.work > 0
	}
	used := make([]int, len(s.pieces))
	for _, counts := range s.bars {
		var bar []Piece
		for i, n := range counts {
			bar = append(bar, s.pieces[i][used[i]:used[i]+n]...)
			used[i] += n
		}
		plan = append(plan, bar)
	}
	return plan, true
}

// fillBars places what is left in that many bars. The longest piece left must
// lie in some bar, so the next bar is one that holds it.
func (s *packSearch) fillBars(bars int) bool {
	longest := slices.IndexFunc(s.left, func(n int) bool { return n > 0 })
	if longest < 0 {
		return true
	}
	total := 0.0
	for i, n := range s.left {
		total += float64(n) * s.need[i]
	}
	if total > float64(bars)*s.capacity {
		return false
	}
	key := fmt.Sprint(bars, s.left)
	if s.failed[key] {
		return false
	}
	counts := make([]int, len(s.left))
	counts[longest] = 1
	s.left[longest]--
	if s.fillBar(bars, longest, s.capacity-s.need[longest], counts) {
		return true
	}
	s.left[longest]++
	if *s.work > 0 {
		s.failed[key] = true
	}
	return false
}

// fillBar tries every way to fill the bar from kind on, fullest first, that
// leaves no room for a piece of a kind passed over.
func (s *packSearch) fillBar(bars, kind int, room float64, counts []int) bool {
	if *s.work--; *s.work < 0 {
		return false
	}
	if kind == len(s.left) {
		for i, n := range s.left {
			if n > 0 && s.need[i] <= room {
				return false // a fuller bar is tried as well and is no worse
			}
		}
		s.bars = append(s.bars, slices.Clone(counts))
		if s.fillBars(bars - 1) {
			return true
		}
		s.bars = s.bars[:len(s.bars)-1]
		return false
	}
	most := min(s.left[kind], int(room/s.need[kind]))
	for n := most; n >= 0; n-- {
		s.left[kind] -= n
		counts[kind] += n
		if s.fillBar(bars, kind+1, room-float64(n)*s.need[kind], counts) {
			return true
		}
		s.left[kind] += n
		counts[kind] -= n
		if *s.work < 0 {
			return false
		}
	}
	return false
}
