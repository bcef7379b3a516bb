package beltmath

import (
	"math"
	"slices"
)

// LengthTolerance is one step of a standard's table of length tolerances.
type LengthTolerance struct {
	// Standard names the document the step belongs to.
	Standard string
	// OverMM and UpToMM bound the pitch lengths of the step, in millimeters;
	// UpToMM is inside it, OverMM is not.
	OverMM, UpToMM float64
	// ToleranceMM is the allowed deviation of the pitch length, plus and minus,
	// in millimeters. Half of it acts on the center distance of equal pulleys.
	ToleranceMM Value
}

// LengthTolerances returns the steps that hold for the section, ascending:
// IP-24 for the inch sections (ISO 5296 for XXL, which IP-24 does not have),
// ISO 13050 for G, H, R and S, DIN 7721-1 for T and AT.
func (s *Section) LengthTolerances() []LengthTolerance { return slices.Clone(s.tolerances) }

// LengthTolerance returns the plus and minus tolerance, in millimeters, on the
// pitch length of a belt of lengthMM millimeters, and whether the section's
// table reaches that length.
func (s *Section) LengthTolerance(lengthMM float64) (Value, bool) {
	step, ok := s.lengthStep(lengthMM)
	return step.ToleranceMM, ok
}

// lengthStep returns the step that holds for a belt, and whether there is one;
// none without a section.
func (s *Section) lengthStep(lengthMM float64) (LengthTolerance, bool) {
	if s == nil {
		return LengthTolerance{}, false
	}
	for _, step := range s.tolerances {
		if lengthMM > step.OverMM && lengthMM <= step.UpToMM {
			return step, true
		}
	}
	return LengthTolerance{}, false
}

// outsideTolerance is one step of the published tolerance of pulleys: an
// outside diameter of up to upToMM may be larger than nominal by valueMM, and
// never smaller.
type outsideTolerance struct{ upToMM, valueMM float64 }

// outsideTolerances are printed in inches, 0.002 to 0.008, and as these
// roundings to millimeters. Sources: S14, S43, S45, S49, which agree.
var outsideTolerances = []outsideTolerance{
	{25.4, 0.05},
	{50.8, 0.08},
	{101.6, 0.10},
	{177.8, 0.13},
	{304.8, 0.15},
	{508, 0.18},
	{math.Inf(1), 0.20},
}

// outsideToleranceMM returns the step's value for an outside diameter.
func outsideToleranceMM(diameterMM float64) float64 {
	for _, step := range outsideTolerances {
		if diameterMM <= step.upToMM {
			return step.valueMM
		}
	}
	return math.NaN()
}
