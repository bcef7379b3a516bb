package beltmath

import "math"

func smallWrapRad(m, w int) float64 {
	if m == 0 {
		return math.Pi / 2
	}
	hi, lo := centerMW(m, w)
	c := hi + lo
	d := float64(m) / (2 * math.Pi)
	return math.Atan2(math.Sqrt((c-d)*(c+d)), d)
}

func meshedTeeth(teeth int, wrapRad float64) int {
	if wrapRad == math.Pi {
		return teeth / 2
	}
	return int(float64(teeth) * wrapRad / (2 * math.Pi))
}
