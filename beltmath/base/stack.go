package base

import (
	"fmt"
	"math"
	"slices"
)

// laneMiddle returns the z of the mid-plane of a lane: its pulleys stand
// PulleyGapMM off their plate.
func (p *layoutProblem) laneMiddle(lane Lane) float64 {
	off := p.PulleyGapMM + p.PulleyWidthMM/2
	if lane == LaneInboard {
		return off
	}
	return p.CavityWidthMM - off
}

// fitStacks finds the common mid-plane of the wheels: as near to the middle of
// the cavity as the parts beside them allow. It refuses a cavity in which there
// is none.
func (p *layoutProblem) fitStacks(in *inputs) {
	low, high := math.Inf(-1), math.Inf(1)
	short, shortA, shortB := 0.0, 0, 0
	lows, highs := make([]float64, len(p.Axles)), make([]float64, len(p.Axles))
	for i, a := range p.Axles {
		inner, outer := p.PulleyGapMM, p.CavityWidthMM-p.PulleyGapMM
		for _, k := range p.linksOn(i) {
			if p.lanes[k] == LaneInboard {
				inner = 2*p.PulleyGapMM + p.PulleyWidthMM
			} else {
				outer = p.CavityWidthMM - 2*p.PulleyGapMM - p.PulleyWidthMM
			}
		}
		lows[i], highs[i] = inner+a.WheelWidthMM/2, outer-a.WheelWidthMM/2
		low, high = max(low, lows[i]), min(high, highs[i])
	}
	if low <= high+gapSlackMM {
		p.wheelMidZ = min(max(p.CavityWidthMM/2, low), max(low, high))
		return
	}
	for i := range lows {
		for k := range highs {
			// An axle that does not fit by itself is named before a pair.
			if lack := lows[i] - highs[k]; lack > short+gapSlackMM || lack > short-gapSlackMM && i == k && shortA != shortB {
				short, shortA, shortB = lack, i, k
			}
		}
	}
	where := fmt.Sprintf("the parts on axle %d", shortA+1)
	if shortA != shortB {
		where = fmt.Sprintf("the parts on axles %d and %d, whose wheels share a plane,", shortA+1, shortB+1)
	}
	in.add("CavityWidthMM", p.CavityWidthMM, ReasonCavityNarrow, fmt.Sprintf(
		"it is short by %s mm: %s need %s with gaps of %v; widen it, or take narrower pulleys or wheels",
		size(short), where, size(p.CavityWidthMM+short), p.PulleyGapMM))
}

// stacks returns the parts on each axle from the inner plate to the outer one,
// what lies between them filled with spacers.
func (p *layoutProblem) stacks() []Stack {
	stacks := make([]Stack, len(p.Axles))
	for i, a := range p.Axles {
		parts := []StackPart{{
			Part: PartKindWheel, StartMM: p.wheelMidZ - a.WheelWidthMM/2, EndMM: p.wheelMidZ + a.WheelWidthMM/2,
		}}
		for _, k := range p.linksOn(i) {
			middle := p.laneMiddle(p.lanes[k])
			parts = append(parts, StackPart{
				Part: PartKindPulley, Link: new(k), StartMM: middle - p.PulleyWidthMM/2, EndMM: middle + p.PulleyWidthMM/2,
			})
		}
		slices.SortFunc(parts, func(a, b StackPart) int {
			if a.StartMM < b.StartMM {
				return -1
			}
			return 1
		})
		stacks[i].Parts = withSpacers(parts, p.CavityWidthMM)
	}
	return stacks
}

func withSpacers(parts []StackPart, width float64) []StackPart {
	var all []StackPart
	z := 0.0
	fill := func(to float64) {
		if to-z > gapSlackMM {
			all = append(all, StackPart{Part: PartKindSpacer, StartMM: z, EndMM: to})
		}
	}
	for _, part := range parts {
		fill(part.StartMM)
		all = append(all, part)
		z = part.EndMM
	}
	fill(width)
	return all
}
