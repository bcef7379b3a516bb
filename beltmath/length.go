package beltmath

import (
	"cmp"
	"slices"
)

// BeltLength is one length of a list of standard lengths.
type BeltLength struct {
	// Designation is what is printed on the belt, such as "890 H5M".
	Designation string
	// ToothCount is the number of belt teeth.
	ToothCount int
	// LengthMM is the pitch length in millimeters, pitch times teeth.
	LengthMM float64
	// Source and Verified tell the origin of the row, as in Value.
	Source   string
	Verified bool
}

// nextLength returns the least standard length of at least the given teeth.
func (s *Section) nextLength(teeth int) (int, bool) {
	for _, b := range s.lengths {
		if b.ToothCount >= teeth {
			return b.ToothCount, true
		}
	}
	return 0, false
}

// BeltLengths returns the standard lengths held for the section, ascending. It
// is empty for AT, S, R and G sections, of which no list was found.
func (s *Section) BeltLengths() []BeltLength { return slices.Clone(s.lengths) }

// HasBeltLengths tells whether BeltLengths holds any.
func (s *Section) HasBeltLengths() bool { return len(s.lengths) > 0 }

// IsStandardLength tells whether a belt of the given tooth count is in
// BeltLengths. It answers for any count, without allocation.
func (s *Section) IsStandardLength(teeth int) bool {
	return teeth >= 0 && teeth < len(s.standard) && s.standard[teeth]
}

func (s *Section) addLengths() {
	for _, run := range lengthTable {
		if run.section != s.Designation {
			continue
		}
		for _, teeth := range run.teeth {
			s.lengths = append(s.lengths, BeltLength{
				Designation: s.BeltDesignation(teeth),
				ToothCount:  teeth,
				LengthMM:    float64(teeth*s.pitchUM) / 1000,
				Source:      run.source,
				Verified:    run.verified,
			})
		}
	}
	if len(s.lengths) == 0 {
		return
	}
	slices.SortFunc(s.lengths, func(a, b BeltLength) int { return cmp.Compare(a.ToothCount, b.ToothCount) })
	s.standard = make([]bool, s.lengths[len(s.lengths)-1].ToothCount+1)
	for _, length := range s.lengths {
		s.standard[length.ToothCount] = true
	}
}
