package beltmath

import "math"

// Pitch is the tooth pitch of a belt in millimeters, held as the sum of two
// parts because the decimal pitch of a section, such as 9.525 mm, is no
// float64. Two Pitch values are equal with == when they are the same number.
// The zero Pitch is no pitch: every length computed from it is NaN.
type Pitch struct {
	hi float64 // 13 leading bits, so that products with 40-bit numbers are exact
	lo float64 // the rest
}

// The domain of a pitch in millimeters, inclusive.
const (
	minPitchMM = 0.5
	maxPitchMM = 100
)

// PitchMM returns the pitch of exactly mm millimeters, 0.5 to 100 inclusive.
// Any other value, NaN included, gives the zero Pitch.
func PitchMM(mm float64) Pitch {
	if !(mm >= minPitchMM && mm <= maxPitchMM) {
		return Pitch{}
	}
	hi := leading13(mm)
	return Pitch{hi: hi, lo: mm - hi}
}

// decimalPitch returns the pitch of exactly that many micrometers, 500 to
// 100000 inclusive, to within 2^-66 of its value. Any other count gives the
// zero Pitch.
func decimalPitch(micrometers int) Pitch {
	if micrometers < 1000*minPitchMM || micrometers > 1000*maxPitchMM {
		return Pitch{}
	}
	um := float64(micrometers)
	hi := leading13(um / 1000)
	return Pitch{hi: hi, lo: (um - float64(hi*1000)) / 1000} // numerator exact
}

// MM returns the pitch in millimeters, rounded to the nearest float64; 0 for
// the zero Pitch.
func (p Pitch) MM() float64 { return p.hi + p.lo }

// leading13 cuts v to its 13 leading bits.
func leading13(v float64) float64 {
	return math.Float64frombits(math.Float64bits(v) &^ (1<<40 - 1))
}

// scale returns (hi + lo) p in millimeters to within 0.502 ulp, for hi and lo
// from centerMW. The first product is exact; the others are below 2^-11 of it,
// so that their rounding does not count.
func (p Pitch) scale(hi, lo float64) float64 {
	return float64(hi*p.hi) + (float64(hi*p.lo) + float64(lo*(p.hi+p.lo)))
}

// BeltPitchLengthMM returns the pitch length of a belt of the given teeth in
// millimeters: pitch times teeth, rounded once.
func (p Pitch) BeltPitchLengthMM(teeth int) float64 {
	n := float64(teeth)
	return float64(p.hi*n) + float64(p.lo*n) // the first product has 26 bits: exact
}
