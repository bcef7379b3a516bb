package beltmath

import "math"

//go:generate go run kernel_gen.go

// The domain of the kernel, inclusive.
const (
	minPulleyTeeth = 6
	maxPulleyTeeth = 600
	minBeltTeeth   = 7
	maxBeltTeeth   = 5000
)

// kernelPiece is the polynomial for f/4 around one center of x = e/w; u is the
// distance from that center. Constant and slope are each held in two parts:
//
//	f/4 = c0 + c1 u + (a[0] + a[1] u + ... + a[8] u^8)
//
// c0 is a multiple of 2^-41 and c1 a multiple of 2^-27.
type kernelPiece struct {
	c0, c1 float64
	a      [9]float64
}

// centerMW returns the center distance in pitches as the unevaluated sum
// hi + lo, where m is the difference of the pulley tooth counts, w is twice
// the belt tooth count less both pulley tooth counts, and w - m is at least 2.
// Both must come from counts within the domain; for others it returns NaN or a
// number without meaning, never a panic.
//
// With x = (w-m)/w the center distance is w f(x)/4, f taken from the piece
// around the center xc nearest to x. The distance u = x - xc has the exact
// numerator n = (w-m) - xc w (an integer times a power of two), hence
//
//	C/p = (w c0 + n c1) + w (a[0] + a[1] u + ...)
//
// Both products in the first bracket and their sum are multiples of 2^-41
// below 2^12, so hi is exact however the compiler contracts it. lo is at most
// 2^-14 of hi; its error is below 1e-3 ulp of the sum. No product that is
// rounded may be fused with a sum, hence float64 around each.
//
// Source: [ISO 5296] involute form of the length equation; the polynomials are
// made by kernel_gen.go.
func centerMW(m, w int) (hi, lo float64) {
	fw := float64(w)
	e := float64(w - m)
	inv := 1 / fw
	bits := math.Float64bits(e*inv) + 1<<46 // round to six leading bits
	i := bits>>47 - firstPiece
	if i >= uint64(len(kernelTable)) {
		return math.NaN(), 0
	}
	k := &kernelTable[i]
	xc := math.Float64frombits(bits &^ (1<<47 - 1))
	n := e - float64(xc*fw)
	hi = float64(fw*k.c0) + float64(n*k.c1)
	u := n * inv
	u2 := u * u
	a01 := k.a[0] + float64(u*k.a[1])
	a23 := k.a[2] + float64(u*k.a[3])
	a45 := k.a[4] + float64(u*k.a[5])
	a67 := k.a[6] + float64(u*k.a[7])
	a678 := a67 + float64(u2*k.a[8])
	a4to8 := a45 + float64(u2*a678)
	a03 := a01 + float64(u2*a23)
	lo = fw * (a03 + float64(float64(u2*u2)*a4to8))
	return hi, lo
}
