package beltmath

import (
	"fmt"
	"math"
)

// centerWindow is a range of center distances in millimeters, ends inclusive.
// It compares numbers as they are returned: the center distance with minMM and
// maxMM, its rounded difference from targetMM with toleranceMM. Without a
// target the latter two are 0 and +Inf.
type centerWindow struct {
	minMM, maxMM          float64
	targetMM, toleranceMM float64
}

func (w *centerWindow) below(c float64) bool {
	return c < w.minMM || c-w.targetMM < -w.toleranceMM
}

func (w *centerWindow) above(c float64) bool {
	return c > w.maxMM || c-w.targetMM > w.toleranceMM
}

// within returns the part of the window from least to most.
func (w centerWindow) within(least, most float64) centerWindow {
	w.minMM, w.maxMM = max(w.minMM, least), min(w.maxMM, most)
	return w
}

func (q SearchQuery) resolveWindow(errs *InputErrors) centerWindow {
	w := centerWindow{maxMM: math.Inf(1), toleranceMM: math.Inf(1)}
	if q.TargetCenterDistanceMM != nil || q.ToleranceMM != nil {
		q.resolveTarget(errs, &w)
		return w
	}
	ok := true
	if q.MinCenterDistanceMM != nil {
		w.minMM = *q.MinCenterDistanceMM
		ok = errs.CheckRange("MinCenterDistanceMM", w.minMM, 0, greatestCenterMM)
	}
	if q.MaxCenterDistanceMM != nil {
		w.maxMM = *q.MaxCenterDistanceMM
		ok = errs.CheckRange("MaxCenterDistanceMM", w.maxMM, 0, greatestCenterMM) && ok
	}
	if ok && w.maxMM < w.minMM {
		errs.add("MaxCenterDistanceMM", w.maxMM, ReasonReversedRange,
			fmt.Sprintf("give at least min_center_distance_mm, which is %v", w.minMM))
	}
	return w
}

func (q SearchQuery) resolveTarget(errs *InputErrors, w *centerWindow) {
	for _, end := range []struct {
		field string
		given *float64
	}{{"MinCenterDistanceMM", q.MinCenterDistanceMM}, {"MaxCenterDistanceMM", q.MaxCenterDistanceMM}} {
		if end.given != nil {
			errs.add(end.field, *end.given, ReasonExactlyOne,
				"a window is given either by its ends or by target_center_distance_mm and tolerance_mm; leave one of the two out")
		}
	}
	if q.TargetCenterDistanceMM == nil {
		errs.add("TargetCenterDistanceMM", "not given", ReasonNotGiven,
			"tolerance_mm needs it: give a number above 0 and at most 250000, or leave tolerance_mm out")
	} else if errs.CheckPositive("TargetCenterDistanceMM", *q.TargetCenterDistanceMM, greatestCenterMM) {
		w.targetMM = *q.TargetCenterDistanceMM
	}
	if q.ToleranceMM == nil {
		errs.add("ToleranceMM", "not given", ReasonNotGiven,
			"target_center_distance_mm needs it: give a number from 0 to 250000, such as 1")
	} else if errs.CheckRange("ToleranceMM", *q.ToleranceMM, 0, greatestCenterMM) {
		w.toleranceMM = *q.ToleranceMM
	}
}

// pairRow holds what one section and one difference m of pulley tooth counts
// leave of a window: the integers w of the kernel from least to most, in steps
// of 2, and the center distances of the two. In an empty row most is below
// least.
type pairRow struct {
	least, most     int32
	leastMM, mostMM float64
}

// newPairRow bounds w by the forward equation. Where that comes so near to a
// bound that rounding could matter, the exact center distances decide.
func (p Pitch) newPairRow(window *centerWindow, m int) pairRow {
	first, last := m+2, 2*(maxBeltTeeth-minPulleyTeeth)-m
	least, sure := p.pairBeyond(max(window.minMM, window.targetMM-window.toleranceMM), m)
	if !sure {
		for least > first && !window.below(p.centerMW(m, least-2)) {
			least -= 2
		}
		for least <= last && window.below(p.centerMW(m, least)) {
			least += 2
		}
	}
	next, sure := p.pairBeyond(min(window.maxMM, window.targetMM+window.toleranceMM), m)
	if !sure {
		for next <= last && !window.above(p.centerMW(m, next)) {
			next += 2
		}
		for next > first && window.above(p.centerMW(m, next-2)) {
			next -= 2
		}
	}
	if next <= least {
		return pairRow{least: 1}
	}
	return pairRow{
		least: int32(least), most: int32(next - 2), //nolint:gosec // at most 10000
		leastMM: p.centerMW(m, least), mostMM: p.centerMW(m, next-2),
	}
}

// pairBeyond returns the least w of the domain, of the parity of m, whose
// center distance is above c; 2 more than the greatest of the domain where none
// is. It is sure unless a w comes so near to c that rounding, here or of c,
// could matter.
//
// In pitches the forward equation reads w = 4 (sqrt(c^2 - d^2) + d asin(d/c))
// with d = m/(2 pi). Next to c = d, where it loses digits, w is below m + 2.
func (p Pitch) pairBeyond(c float64, m int) (w int, sure bool) {
	c /= p.MM()
	d := float64(m) / (2 * math.Pi)
	if c <= d {
		return m + 2, true
	}
	return wholeBeyond(4*(math.Sqrt(c*c-d*d)+d*math.Asin(d/c)), m)
}

// wholeBeyond returns the least w above x, where w is m + 2 or more by steps of
// 2, up to 2 more than the greatest of the domain. It is sure unless x is next
// to a whole step: x, below 10^4, may be rounded in its 15th digit.
func wholeBeyond(x float64, m int) (w int, sure bool) {
	const doubt = 1e-9
	most := maxBeltTeeth - minPulleyTeeth - m
	steps := (x - float64(m)) / 2
	whole := 0
	switch {
	case steps > float64(most):
		whole = most
	case steps > 0:
		whole = int(steps)
	}
	fraction := steps - float64(whole)
	return m + 2*whole + 2, fraction > doubt && math.Abs(fraction-1) > doubt
}
