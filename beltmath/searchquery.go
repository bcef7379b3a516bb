package beltmath

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// The bounds of a search.
const (
	maxSearchSections  = 40
	minSpeedRatio      = 0.01
	maxSpeedRatio      = 100
	defaultMeshedTeeth = 6
)

// The stable reason words of InputErrors that only a search has.
const (
	ReasonNotGiven       = "NOT_GIVEN"        // a value that another one, given, needs
	ReasonReversedRange  = "REVERSED_RANGE"   // a range that ends before it starts
	ReasonTooManyResults = "TOO_MANY_RESULTS" // more results than the limit
)

// SpacingOrder is an order of spacings. All are total: ties are settled by
// section designation (as text, byte by byte), driver, driven and belt.
type SpacingOrder int

// The orders. The zero SpacingOrder is OrderCenterDistance.
const (
	OrderCenterDistance SpacingOrder = iota + 1 // least center distance first
	OrderTargetShift                            // least distance from the target first
	OrderBeltToothCount                         // fewest belt teeth first
)

// SearchQuery asks for the spacings that meet every condition given. Limits
// are inclusive and hold for the numbers as they are returned: a spacing
// belongs to the answer if its CenterDistanceMM, TargetShiftMM and SpeedRatio,
// rounded as they are, lie within them.
type SearchQuery struct {
	// Sections are designations, at most 40; repeats do not matter. Exactly
	// one of Sections and PitchMM.
	Sections []string
	// PitchMM is the tooth pitch of any other belt, 0.5 to 100.
	PitchMM *float64
	// Driver and Driven are the pulley tooth counts, each 6 to 600.
	Driver, Driven *ToothCounts
	// Belt is the belt tooth counts, each 7 to 5000; nil is every belt.
	Belt *ToothCounts
	// MinCenterDistanceMM and MaxCenterDistanceMM are 0 to 250000; not
	// together with a target.
	MinCenterDistanceMM, MaxCenterDistanceMM *float64
	// TargetCenterDistanceMM is above 0 and at most 250000; it needs
	// ToleranceMM, 0 to 250000, how far a spacing may lie from it both ways.
	TargetCenterDistanceMM, ToleranceMM *float64
	// MinSpeedRatio and MaxSpeedRatio bound driven over driver teeth, 0.01 to
	// 100.
	MinSpeedRatio, MaxSpeedRatio *float64
	// EqualPulleys keeps to pulleys of the same count.
	EqualPulleys bool
	// MinMeshedToothCount bounds the teeth in mesh on the smaller pulley, 0 to
	// 600; nil is 6.
	MinMeshedToothCount *int
	// StandardLengthsOnly keeps to the sections' lists of standard lengths.
	StandardLengthsOnly bool
	// OrderBy is the order of pages.
	OrderBy SpacingOrder
}

// Resolve checks the query. Its error holds every value at fault, as
// InputErrors. Whether the answer is too long, Count tells.
func (q SearchQuery) Resolve() (*Search, error) {
	var errs InputErrors
	return q.resolve(&errs), errs.Err()
}

// ResolveBounded is Resolve for callers that hold the answer: it also refuses
// a query of every belt at every center distance.
func (q SearchQuery) ResolveBounded() (*Search, error) {
	var errs InputErrors
	s := q.resolve(&errs)
	if q.Belt == nil && !q.StandardLengthsOnly && q.MinCenterDistanceMM == nil &&
		q.MaxCenterDistanceMM == nil && q.TargetCenterDistanceMM == nil {
		errs.add("Belt", "not given", ReasonNotGiven, fmt.Sprintf(
			"give belt tooth counts from %d to %d, a window of center distances or standard_lengths_only", minBeltTeeth, maxBeltTeeth))
	}
	return s, errs.Err()
}

func (q SearchQuery) resolve(errs *InputErrors) *Search {
	s := &Search{
		driver:       q.Driver.resolve(errs, "Driver", minPulleyTeeth, maxPulleyTeeth),
		driven:       q.Driven.resolve(errs, "Driven", minPulleyTeeth, maxPulleyTeeth),
		window:       q.resolveWindow(errs),
		hasTarget:    q.TargetCenterDistanceMM != nil,
		equalPulleys: q.EqualPulleys,
		minMeshed:    q.resolveMesh(errs),
		order:        q.resolveOrder(errs),
	}
	s.minRatio, s.maxRatio = q.resolveRatio(errs)
	belts := allBelts()
	if q.Belt != nil {
		belts = q.Belt.resolve(errs, "Belt", minBeltTeeth, maxBeltTeeth)
	}
	profiles := q.resolveSections(errs)
	if len(*errs) > 0 {
		return nil
	}
	for _, teeth := range s.driven {
		s.isDriven[teeth] = true
	}
	s.meshStretch = meshStretches(s.minMeshed)
	ranks := beltRanks(belts)
	for i, p := range profiles {
		s.sections = append(s.sections, newSearchSection(p, i, belts, ranks, q.StandardLengthsOnly))
	}
	return s
}

func (q SearchQuery) resolveSections(errs *InputErrors) []Profile {
	switch {
	case len(q.Sections) > 0 && q.PitchMM != nil:
		errs.add("Sections", q.Sections[0], ReasonExactlyOne, "give exactly one of sections and pitch_mm")
	case len(q.Sections) > maxSearchSections:
		errs.add("Sections", fmt.Sprintf("a list of %d", len(q.Sections)), ReasonOutOfRange,
			fmt.Sprintf("give at most %d sections", maxSearchSections))
	case len(q.Sections) > 0:
		return q.findSections(errs)
	case q.PitchMM == nil:
		errs.add("Sections", "not given", ReasonExactlyOne, "give sections, such as H5M, or pitch_mm, 0.5 to 100")
	default:
		if q.StandardLengthsOnly {
			errs.checkListed(Profile{})
		}
		return []Profile{resolveProfile(errs, "", "", q.PitchMM)}
	}
	return nil
}

// findSections looks the sections up, each once, by rising designation.
func (q SearchQuery) findSections(errs *InputErrors) []Profile {
	var profiles []Profile
	for i, designation := range q.Sections {
		s, err := FindSection(designation)
		if one, ok := err.(*InputError); ok { //nolint:errorlint // made there, never wrapped
			errs.add(fmt.Sprintf("Sections[%d]", i), one.Value, one.Reason, one.Msg)
			continue
		}
		p := Profile{Section: s, Pitch: s.Pitch}
		if slices.Contains(profiles, p) {
			continue
		}
		if q.StandardLengthsOnly {
			errs.checkListed(p)
		}
		profiles = append(profiles, p)
	}
	slices.SortFunc(profiles, func(a, b Profile) int { return cmp.Compare(a.Section.Designation, b.Section.Designation) })
	return profiles
}

func (q SearchQuery) resolveOrder(errs *InputErrors) SpacingOrder {
	switch {
	case q.OrderBy == 0:
		return OrderCenterDistance
	case q.OrderBy < 0 || q.OrderBy > OrderBeltToothCount:
		errs.add("OrderBy", int(q.OrderBy), ReasonOutOfRange,
			"give SPACING_ORDER_CENTER_DISTANCE, SPACING_ORDER_TARGET_SHIFT or SPACING_ORDER_BELT_TOOTH_COUNT")
	case q.OrderBy == OrderTargetShift && q.TargetCenterDistanceMM == nil:
		errs.add("OrderBy", "SPACING_ORDER_TARGET_SHIFT", ReasonNotGiven,
			"this order needs target_center_distance_mm and tolerance_mm; give them or take another order")
	}
	return q.OrderBy
}

func (q SearchQuery) resolveRatio(errs *InputErrors) (least, most float64) {
	least, most = 0, math.Inf(1)
	ok := true
	if q.MinSpeedRatio != nil {
		least = *q.MinSpeedRatio
		ok = errs.CheckRange("MinSpeedRatio", least, minSpeedRatio, maxSpeedRatio)
	}
	if q.MaxSpeedRatio != nil {
		most = *q.MaxSpeedRatio
		ok = errs.CheckRange("MaxSpeedRatio", most, minSpeedRatio, maxSpeedRatio) && ok
	}
	if ok && most < least {
		errs.add("MaxSpeedRatio", most, ReasonReversedRange, fmt.Sprintf("give at least min_speed_ratio, which is %v", least))
	}
	return least, most
}

func (q SearchQuery) resolveMesh(errs *InputErrors) int {
	if q.MinMeshedToothCount == nil {
		return defaultMeshedTeeth
	}
	errs.checkCount("MinMeshedToothCount", *q.MinMeshedToothCount, 0, maxPulleyTeeth)
	return *q.MinMeshedToothCount
}
