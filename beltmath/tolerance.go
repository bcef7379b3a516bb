package beltmath

import "slices"

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
	for _, step := range s.tolerances {
		if lengthMM > step.OverMM && lengthMM <= step.UpToMM {
			return step.ToleranceMM, true
		}
	}
	return Value{}, false
}
