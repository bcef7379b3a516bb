package beltmath

import "math"

func CenterPitches(driver, driven, belt int) float64 {
	m, w, ok := reduce(driver, driven, belt)
	if !ok {
		return math.NaN()
	}
	hi, lo := centerMW(m, w)
	return hi + lo
}

func (p Pitch) CenterMM(driver, driven, belt int) float64 {
	m, w, ok := reduce(driver, driven, belt)
	if !ok || p.hi == 0 {
		return math.NaN()
	}
	hi, lo := centerMW(m, w)
	return p.scale(hi, lo)
}

func reduce(driver, driven, belt int) (m, w int, ok bool) {
	m = driver - driven
	sign := m >> 63
	m = (m ^ sign) - sign
	w = 2*belt - driver - driven
	// Negative as soon as one term is: one branch, whatever the counts.
	out := (driver - minPulleyTeeth) | (maxPulleyTeeth - driver) |
		(driven - minPulleyTeeth) | (maxPulleyTeeth - driven) |
		(belt - minBeltTeeth) | (maxBeltTeeth - belt) | (w - m - 2)
	return m, w, out >= 0
}

// CentersMM batch.
func (p Pitch) CentersMM(dst []float64, driver, driven, belt []int32) int {
	n := min(len(dst), len(driver), len(driven), len(belt))
	for i := range n {
		dst[i] = p.CenterMM(int(driver[i]), int(driven[i]), int(belt[i]))
	}
	return n
}
