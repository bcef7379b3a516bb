package beltmath

import (
	"errors"
	"slices"
)

// ErrStopped tells that a search ended early because its caller asked it to.
var ErrStopped = errors.New("stopped by the caller")

// Spacing is one valid spacing, kept small because there are millions of them.
// Search.Detail tells the rest.
type Spacing struct {
	// CenterDistanceMM is the exact center distance, as of Pitch.CenterMM.
	CenterDistanceMM float64
	// counts holds, from high to low 16 bits each, the index of the section in
	// the search and the teeth of driver, driven and belt, so that its order
	// settles ties and adding 1 gives the next belt.
	counts uint64
}

// SectionIndex returns the place of the section among those of the search,
// which are held once each and by rising designation.
func (s Spacing) SectionIndex() int { return int(s.counts >> 48) }

// DriverToothCount returns the teeth on the driver.
func (s Spacing) DriverToothCount() int { return int(uint16(s.counts >> 32)) }

// DrivenToothCount returns the teeth on the driven pulley.
func (s Spacing) DrivenToothCount() int { return int(uint16(s.counts >> 16)) }

// BeltToothCount returns the teeth on the belt.
func (s Spacing) BeltToothCount() int { return int(uint16(s.counts)) }

// SpacingDetail is one valid spacing with what follows from it.
type SpacingDetail struct {
	// Section is the designation, empty for a search by pitch.
	Section string
	// DriverToothCount, DrivenToothCount and BeltToothCount are the drive.
	DriverToothCount, DrivenToothCount, BeltToothCount int
	// CenterDistanceMM is the exact center distance.
	CenterDistanceMM float64
	// TargetShiftMM is center distance minus target; nil without a target.
	TargetShiftMM *float64
	// SpeedRatio is driven teeth over driver teeth.
	SpeedRatio float64
	// MeshedToothCount is the teeth in mesh on the smaller pulley.
	MeshedToothCount int
	// StandardLength tells whether the belt is in the section's list.
	StandardLength bool
}

// Search is a checked query, ready to run any number of times, also at once.
type Search struct {
	sections       []searchSection
	driver, driven []uint16 // ascending
	isDriven       [maxPulleyTeeth + 1]bool
	window         centerWindow
	hasTarget      bool
	minRatio       float64
	maxRatio       float64
	equalPulleys   bool
	minMeshed      int
	// meshStretch is, by teeth of the smaller pulley, the quotient w/m from
	// which on enough of them are in mesh.
	meshStretch [maxPulleyTeeth + 1]float64
	order       SpacingOrder
}

// searchSection is what a search needs of one section.
type searchSection struct {
	Profile
	index uint16
	belts []uint16 // ascending
	// rank holds for each belt tooth count how many belts are smaller.
	rank []uint16
	// halfOuterMM is half of the diameter that must stay clear, by tooth count.
	halfOuterMM [maxPulleyTeeth + 1]float64
}

func newSearchSection(p Profile, index int, belts, ranks []uint16, standardOnly bool) searchSection {
	sec := searchSection{Profile: p, index: uint16(index), belts: belts, rank: ranks} //nolint:gosec // below 40
	if standardOnly {
		sec.belts = slices.DeleteFunc(slices.Clone(belts), func(b uint16) bool { return !p.Section.IsStandardLength(int(b)) })
		sec.rank = beltRanks(sec.belts)
	}
	for z := minPulleyTeeth; z <= maxPulleyTeeth; z++ {
		sec.halfOuterMM[z] = p.outerDiameterMM(Pulley{ToothCount: z}) / 2
	}
	return sec
}

// beltRanks returns for each belt tooth count, up to one beyond the domain,
// how many of the ascending belts are smaller.
func beltRanks(belts []uint16) []uint16 {
	ranks := make([]uint16, maxBeltTeeth+2)
	i := 0
	for teeth := range ranks {
		for i < len(belts) && int(belts[i]) < teeth {
			i++
		}
		ranks[teeth] = uint16(i) //nolint:gosec // at most 5000
	}
	return ranks
}

func allBelts() []uint16 {
	belts := make([]uint16, 0, maxBeltTeeth-minBeltTeeth+1)
	for teeth := uint16(minBeltTeeth); teeth <= maxBeltTeeth; teeth++ {
		belts = append(belts, teeth)
	}
	return belts
}
