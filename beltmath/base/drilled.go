package base

import (
	"math"
)

// LinkSubstitute is what serves in place of a belt on drilled axles.
type LinkSubstitute struct{}

// drilledLink tells how a belt fits axles that are in place.
func (p *layoutProblem) drilledLink(i int) *DrilledLink {
	l := &p.links[i]
	out := &DrilledLink{
		CenterDistanceMM: l.checked.centerMM, DeviationMM: l.checked.deviationMM, Verdict: l.checked.verdict,
	}
	out.MoveAxle, out.MoveMM = p.move(l, l.geometry.CenterDistanceMM)
	return out
}

// move returns which axle to move along the rail, all beyond it with it, and
// how far, for a center distance of a link: the one with fewer axles beyond it,
// of equals the later one.
func (p *layoutProblem) move(l *layoutLink, center float64) (axle int, mm *float64) {
	left, right := min(l.FromAxle, l.ToAxle), max(l.FromAxle, l.ToAxle)
	step := math.Abs(p.positions[left].YMM - p.positions[right].YMM)
	if center <= step {
		return right, nil
	}
	apart := along(center, step) - (p.positions[right].XMM - p.positions[left].XMM)
	if left < len(p.Axles)-1-right {
		return left, new(-apart)
	}
	return right, &apart
}
