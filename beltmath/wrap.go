package beltmath

import "math"

// smallWrapRad returns the half wrap angle t of the small pulley in radians,
// cos t = D/C, for the integers m and w of the kernel; exactly pi/2 for equal
// pulleys. The large pulley wraps pi - t on either side.
//
// The arc cosine loses half of the digits where t is small, so this takes the
// arc tangent of span over D, with C - D formed from both parts of each: the
// error is below 4 ulp, as TestSmallWrapRad shows.
func smallWrapRad(m, w int) float64 {
	hi, lo := centerMW(m, w)
	d := dd{hi: float64(m)}.mul(inverseTwoPi)
	gap := (hi - d.hi) + (lo - d.lo)
	return math.Atan2(math.Sqrt(gap*(hi+d.hi+lo)), d.hi)
}

// meshedTeeth returns the number of whole teeth within the wrap angle of a
// pulley, floor(teeth wrap / 2 pi); wrapRad is 2 t or 2 pi - 2 t with t from
// smallWrapRad.
//
// Rounding cannot change the count. Equal pulleys have teeth/2 exactly: pi as
// float64 is half of 2 pi as float64. For others the exact quotient is never
// whole, since tan t = pi (rational) has no solution with t/pi rational, and
// over the whole domain it stays 1.1e-9 away from whole numbers, while its error
// is below 1e-12 (TestMeshedTeethNearestWhole).
//
// Source: plain rule of the trade; [ISO 5295] prints one with asin(x) ~ x, from
// which this can differ by one tooth at large ratios.
func meshedTeeth(teeth int, wrapRad float64) int {
	return int(math.Floor(float64(teeth) * (wrapRad / (2 * math.Pi))))
}
