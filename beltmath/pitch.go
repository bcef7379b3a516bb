package beltmath

import "math"

// Pitch is the tooth pitch of a belt in millimeters, held as the sum of two
// parts because the decimal pitch of a section, such as 9.525 mm, is no
// float64. Two Pitch values are equal with == when they are the same number.
// The zero Pitch is no pitch: every length computed from it is NaN.
type Pitch struct {
	hi float64 // 26 leading bits, so that products with 27-bit numbers are exact
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
	hi := leading26(mm)
	return Pitch{hi: hi, lo: mm - hi}
}

// decimalPitch returns the pitch of exactly that many micrometers, 500 to
// 100000 inclusive, to within 2^-79 of its value. Any other count gives the
// zero Pitch.
func decimalPitch(micrometers int) Pitch {
	if micrometers < 1000*minPitchMM || micrometers > 1000*maxPitchMM {
		return Pitch{}
	}
	um := float64(micrometers)
	hi := leading26(um / 1000)
	return Pitch{hi: hi, lo: (um - float64(hi*1000)) / 1000} // numerator exact
}

// MM returns the pitch in millimeters, rounded to the nearest float64; 0 for
// the zero Pitch.
func (p Pitch) MM() float64 { return p.hi + p.lo }

// leading26 cuts v to its 26 leading bits.
func leading26(v float64) float64 {
	return math.Float64frombits(math.Float64bits(v) &^ (1<<27 - 1))
}

// scale returns (hi + lo) p in millimeters, correctly rounded but for 1e-3 ulp,
// where hi is positive and below 2^12 and lo is at most 2^-14 of it.
func (p Pitch) scale(hi, lo float64) float64 {
	const shift = 3 << 37 // adding it leaves a multiple of 2^-14
	head := (hi + shift) - shift
	tail := (hi - head) + lo
	rest := float64(head*p.lo) + float64(tail*(p.hi+p.lo))
	return float64(head*p.hi) + rest // the product has 52 bits: exact
}

// BeltPitchLengthMM returns the pitch length of a belt of the given teeth in
// millimeters: pitch times teeth, rounded once.
func (p Pitch) BeltPitchLengthMM(teeth int) float64 {
	n := float64(teeth)
	return float64(p.hi*n) + float64(p.lo*n) // the first product has 39 bits: exact
}
