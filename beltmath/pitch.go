package beltmath

import "math"

// Pitch is a tooth pitch in millimeters, held in two parts so that an exact
// decimal such as 2.032 loses nothing.
type Pitch struct{ hi, lo float64 }

// decimalPitch returns the pitch of a whole number of micrometers.
func decimalPitch(micrometers int) Pitch {
	exact := float64(micrometers)
	hi := exact / 1000
	return Pitch{hi: hi, lo: math.FMA(-hi, 1000, exact) / 1000}
}

// MM returns the double nearest to the pitch, in millimeters.
func (p Pitch) MM() float64 { return p.hi }
