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

// The kernel works on two integers: m, the difference of the pulley tooth
// counts, and w, twice the belt tooth count less both pulley tooth counts. With
// p the pitch, D the difference of the pitch radii and t the half wrap angle of
// the small pulley, the length equation in its involute form is
//
//	tan t - t = pi (w - m)/(2 m),   C = D / cos t = p m / (2 pi cos t)
//
// so that C/p = w f(x)/4 with x = (w - m)/w alone; f(1) = 1 (equal pulleys),
// f(0) = 2/pi. The table holds f/4 as polynomials on pieces of x, 32 an octave,
// down to the smallest x of the domain, 2/596.
//
// Source: exact method of [ISO 5295]; the wording of the standard was not seen,
// both forms are derived from the length of an open belt and compared in the
// tests.

// kernelPiece is f/4 around one center xc, in powers of u = x - xc:
//
//	f/4 = c0 + c1 u + (a[0] + a[1] u + ... + a[8] u^8)
//
// c0 is a multiple of 2^-28 and c1 of 2^-14; a[0] and a[1] are what they leave.
type kernelPiece struct {
	c0, c1 float64
	a      [9]float64
}

// spot is a pair (m, w) seen from the nearest center of the table.
type spot struct {
	piece uint64  // index in kernelTable, beyond it if w - m is not positive
	w     float64 // w itself
	n     float64 // (w - m) - xc w, exact: an integer times a power of two
	u     float64 // x - xc, where x was rounded once
}

// locate finds the piece by the six leading bits of x, rounded: they are its
// center.
func locate(m, w int) spot {
	fw := float64(w)
	e := float64(w - m)
	x := e / fw
	bits := math.Float64bits(x) + 1<<46
	xc := math.Float64frombits(bits &^ (1<<47 - 1))
	return spot{piece: bits>>47 - firstPiece, w: fw, n: e - float64(xc*fw), u: x - xc}
}

// The center distance in pitches is the sum of two parts:
//
//	C/p = (w c0 + n c1) + (w a[0] + n (a[1] + a[2] u + ...))
//
// head returns the first. Its products and their sum are multiples of 2^-28
// below 2^12, 40 bits: nothing is rounded, however a compiler contracts it.
func (k *kernelPiece) head(s spot) float64 {
	return float64(s.w*k.c0) + float64(s.n*k.c1)
}

// tail returns the second, given the powers from a[3] on. It stays below
// 2^-14 of the first (summed over the table), so its own rounding and that of
// u are below 2e-3 ulp of the sum. Here a fused sum would change bits: each
// product stands in float64().
func (k *kernelPiece) tail(s spot, upper float64) float64 {
	slope := k.a[1] + float64(s.u*k.a[2])
	return float64(s.w*k.a[0]) + float64(s.n*(slope+upper))
}

// upper returns a[3] u^2 + ... + a[8] u^7.
func (k *kernelPiece) upper(u float64) float64 {
	u2 := float64(u * u)
	a34 := k.a[3] + float64(u*k.a[4])
	a56 := k.a[5] + float64(u*k.a[6])
	a78 := k.a[7] + float64(u*k.a[8])
	return float64(u2*a34) + float64(float64(u2*u2)*(a56+float64(u2*a78)))
}

// centerMW returns the center distance in pitches as the unevaluated sum
// hi + lo, good to 2e-3 ulp of hi; hi has 40 bits at most and |lo| is below
// 2^-14 of hi. For equal pulleys they are w/4 and 0 exactly. m and w must come
// from tooth counts within the domain and w - m be at least 2; for others the
// result is NaN or has no meaning.
func centerMW(m, w int) (hi, lo float64) {
	s := locate(m, w)
	if s.piece >= uint64(len(kernelTable)) {
		return math.NaN(), 0
	}
	k := &kernelTable[s.piece]
	return k.head(s), k.tail(s, k.upper(s.u))
}
