package beltmath

import "math"

// widthExponent is the power of the belt width with which ratings grow.
//
// Source: ISO 5295, GB/T 11362, from memory, for trapezoidal inch belts;
// borrowed for all others.
const widthExponent = 1.14

// effectiveTensionN returns the pull in the belt, tight span less slack span,
// that a torque on the driver makes: torque over pitch radius, in newtons.
func (d Drive) effectiveTensionN(torqueNM float64) float64 {
	return 2000 * torqueNM / d.Pitch.PitchDiameterMM(d.Driver.ToothCount)
}

// ratedTensionN returns the published working tension of a belt of the given
// width in newtons, Ta (b/b0)^1.14, without service factor, and whether a
// rating is held.
//
// Source: ISO 5295, GB/T 11362, from memory (form); the rating's own sources.
func (s *Section) ratedTensionN(widthMM float64) (float64, bool) {
	if s == nil || s.Rating.WorkingTensionN.Value == nil || s.Rating.BaseWidthMM.Value == nil {
		return 0, false
	}
	return *s.Rating.WorkingTensionN.Value * math.Pow(widthMM / *s.Rating.BaseWidthMM.Value, widthExponent), true
}
