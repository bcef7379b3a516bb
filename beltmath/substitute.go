package beltmath

import (
	"math"
	"slices"
)

// The bounds and defaults of a SubstituteQuery.
const (
	maxNeededQuantity     = 1000
	maxRatioChangePercent = 100
	maxSubstitutes        = 1000

	defaultRatioChangePercent = 1
	defaultSubstitutes        = 20
	defaultPulleyReach        = 4 // teeth, both ways
)

// ReasonStockNeedsSection is the reason word of a stock given for a drive that
// names a pitch only.
const ReasonStockNeedsSection = "STOCK_NEEDS_SECTION"

// SubstituteQuery asks what else fits drilled holes.
type SubstituteQuery struct {
	// Drive is the drive as planned, its belt the one to replace.
	Drive DriveInput
	// DrilledCenterDistanceMM is that of the holes, above 0 and at most 250000.
	DrilledCenterDistanceMM float64
	// Limits say what counts as fitting.
	Limits FitLimits
	// Driver and Driven are the tooth counts to try, each 6 to 600; nil is
	// those in Stock, or without it up to 4 teeth from the drive's own, and in
	// both cases the drive's own.
	Driver, Driven *ToothCounts
	// Belt is the belt tooth counts to try, each 7 to 5000; nil is every belt.
	Belt *ToothCounts
	// StandardLengthsOnly keeps to the section's list of standard lengths.
	StandardLengthsOnly bool
	// Stock, if given, must hold the belt and every pulley that differs from
	// the drive's own on the same axle, all of one width.
	Stock *Stock
	// NeededQuantity is how many drives to replace, 1 to 1000; nil is 1.
	NeededQuantity *int
	// MaxRatioChangePercent bounds the change of the speed ratio both ways, 0
	// to 100; nil is 1.
	MaxRatioChangePercent *float64
	// MaxResults is 1 to 1000; nil is 20.
	MaxResults *int
	// BeltWidthMM, above 0 and at most 1000, is the only width taken from
	// Stock; nil is any.
	BeltWidthMM *float64
}

// Substitute is what fits in place of a drive.
type Substitute struct {
	// Drive is the substitute. A pulley that differs from the drive's own has
	// no flange diameter.
	Drive Drive
	// CenterDistanceMM is its exact center distance, DeviationMM the drilled
	// minus the exact one.
	CenterDistanceMM, DeviationMM float64
	// Verdict judges it on the holes as they are.
	Verdict Verdict
	// SameHoles tells whether the verdict is fits or marginal.
	SameHoles bool
	// HoleMoveMM is how far one hole must move for an exact fit, above 0 is
	// apart; 0 with SameHoles.
	HoleMoveMM float64
	// RatioChangePercent is the change of driven over driver teeth.
	RatioChangePercent float64
	// StandardLength tells whether the belt is in the section's list.
	StandardLength bool
}

// SubstituteAnswer is what fits in place of a drive.
type SubstituteAnswer struct {
	// Substitutes are in order; see SearchSubstitutes.
	Substitutes []Substitute
	// Notes tell what deserves a look, and where nothing serves the holes as they
	// are, why: NoteNoSubstitute, or NoteShortStock where the stock holds what
	// would, but too few.
	Notes []Note
}

// SearchSubstitutes finds what fits in place of a drive on drilled holes: of
// all belts and pulleys that may be tried, the drive itself left out, those
// whose pulleys do not touch, whose teeth in mesh are not rejected and whose
// ratio is near enough. The best MaxResults of them are returned, in this
// order: those that serve the holes as they are; least move of the hole,
// rounded to 0.01 mm; both pulleys kept; least change of ratio; fewest belt,
// driver, driven teeth. The answer is complete: TestSubstitutesBruteForce
// compares it with a search of every combination.
//
// Its error is InputErrors.
func SearchSubstitutes(q SubstituteQuery) (SubstituteAnswer, error) {
	var errs InputErrors
	s := q.resolve(&errs)
	if len(errs) > 0 {
		return SubstituteAnswer{}, errs
	}
	var found []candidate
	for _, pass := range s.passes {
		found = append(found, s.run(pass)...)
	}
	slices.SortFunc(found, compareCandidates)
	found = slices.CompactFunc(found, func(a, b candidate) bool { return compareCandidates(a, b) == 0 })
	found = found[:min(len(found), s.most)]
	a := SubstituteAnswer{Substitutes: make([]Substitute, len(found))}
	for i, c := range found {
		a.Substitutes[i] = s.substitute(c)
	}
	a.Notes = s.notes(a.Substitutes)
	return a, nil
}

// substituteSearch is a SubstituteQuery with every value settled.
type substituteSearch struct {
	drive              Drive
	drilled            float64
	rule               fitRule
	needed, most       int
	ratioChangePercent float64
	passes             []substitutePass
	limited            bool      // there is a stock
	shelves            []Shelf   // of the stock, by width
	counts             partSet   // to try from the shelves
	widthsMM           []float64 // of the passes, where there is a stock
}

// partSet is the tooth counts to try.
type partSet struct{ drivers, drivens, belts []int }

// substitutePass is the parts to combine with each other.
type substitutePass struct {
	drivers, drivens []int
	belts            []int       // ascending
	pulleys          map[int]int // on the shelf
	limited          bool        // other pulleys must be on the shelf
}

func (q SubstituteQuery) resolve(errs *InputErrors) substituteSearch {
	s := substituteSearch{drive: q.Drive.resolve(errs, "Drive."), drilled: q.DrilledCenterDistanceMM}
	errs.CheckPositive("DrilledCenterDistanceMM", q.DrilledCenterDistanceMM, greatestCenterMM)
	s.rule = q.Limits.resolve(errs, "Limits.")
	s.needed = errs.optionalCount("NeededQuantity", q.NeededQuantity, 1, 1, maxNeededQuantity)
	s.most = errs.optionalCount("MaxResults", q.MaxResults, defaultSubstitutes, 1, maxSubstitutes)
	s.ratioChangePercent = defaultRatioChangePercent
	if q.MaxRatioChangePercent != nil {
		s.ratioChangePercent = *q.MaxRatioChangePercent
		errs.CheckRange("MaxRatioChangePercent", s.ratioChangePercent, 0, maxRatioChangePercent)
	}
	drivers := q.Driver.Resolve(errs, "Driver", minPulleyTeeth, maxPulleyTeeth)
	drivens := q.Driven.Resolve(errs, "Driven", minPulleyTeeth, maxPulleyTeeth)
	belts := q.Belt.Resolve(errs, "Belt", minBeltTeeth, maxBeltTeeth)
	if q.Belt == nil {
		belts = countsFrom(minBeltTeeth, maxBeltTeeth)
	}
	if q.StandardLengthsOnly {
		errs.checkListed(s.drive.Profile)
		belts = slices.DeleteFunc(belts, func(teeth int) bool {
			return s.drive.Section == nil || !s.drive.Section.IsStandardLength(teeth)
		})
	}
	if s.shelves, s.limited = q.shelves(errs, s.drive.Section); s.limited {
		s.counts = partSet{drivers, drivens, belts}.orAll()
		s.addShelves(s.shelves, s.counts)
		return s
	}
	s.passes = []substitutePass{{
		drivers: countsNear(drivers, s.drive.Driver.ToothCount),
		drivens: countsNear(drivens, s.drive.Driven.ToothCount),
		belts:   belts,
	}}
	return s
}

// shelves returns the stock by width, and whether there is one.
func (q SubstituteQuery) shelves(errs *InputErrors, section *Section) (list []Shelf, limited bool) {
	if q.BeltWidthMM != nil {
		errs.CheckPositive("BeltWidthMM", *q.BeltWidthMM, maxBeltWidthMM)
	}
	if q.Stock == nil {
		return nil, false
	}
	if q.Drive.PitchMM != nil {
		errs.add("Stock", "given", ReasonStockNeedsSection, "the rows of a stock name sections; give drive.section, or leave stock out")
	}
	list = q.Stock.Shelves(errs, "Stock.", section)
	if q.BeltWidthMM != nil {
		list = slices.DeleteFunc(list, func(one Shelf) bool { return one.WidthMM != *q.BeltWidthMM })
	}
	return list, true
}

// orAll has every pulley where none were named.
func (p partSet) orAll() partSet {
	if p.drivers == nil {
		p.drivers = countsFrom(minPulleyTeeth, maxPulleyTeeth)
	}
	if p.drivens == nil {
		p.drivens = countsFrom(minPulleyTeeth, maxPulleyTeeth)
	}
	return p
}

// addShelves makes a pass of each width of which there are belts enough. On
// each axle it tries the drive's own pulley and those on the shelf; a set of
// counts that was given limits both.
func (s *substituteSearch) addShelves(list []Shelf, counts partSet) {
	for _, one := range list {
		held := func(counts []int, own int, on map[int]int) []int {
			return slices.DeleteFunc(slices.Clone(counts), func(teeth int) bool { return teeth != own && on[teeth] < s.needed })
		}
		pass := substitutePass{
			drivers: held(counts.drivers, s.drive.Driver.ToothCount, one.Pulleys),
			drivens: held(counts.drivens, s.drive.Driven.ToothCount, one.Pulleys),
			belts:   held(counts.belts, 0, one.Belts),
			pulleys: one.Pulleys,
			limited: true,
		}
		if len(pass.belts) > 0 {
			s.passes = append(s.passes, pass)
			s.widthsMM = append(s.widthsMM, one.WidthMM)
		}
	}
}

// countsNear returns the given counts, or those near own.
func countsNear(given []int, own int) []int {
	if given != nil {
		return given
	}
	return countsFrom(max(minPulleyTeeth, own-defaultPulleyReach), min(maxPulleyTeeth, own+defaultPulleyReach))
}

func countsFrom(low, high int) []int {
	var list []int
	for n := low; n <= high; n++ {
		list = append(list, n)
	}
	return list
}

// optionalCount returns the given count, checked, or the default.
func (e *InputErrors) optionalCount(field string, given *int, otherwise, least, most int) int {
	if given == nil {
		return otherwise
	}
	e.checkCount(field, *given, least, most)
	return *given
}

// available tells whether the pulleys that differ from the drive's own on the
// same axle are on the shelf for all drives.
func (s *substituteSearch) available(pass substitutePass, driver, driven int) bool {
	if !pass.limited {
		return true
	}
	newDriver, newDriven := driver != s.drive.Driver.ToothCount, driven != s.drive.Driven.ToothCount
	if newDriver && newDriven && driver == driven {
		return pass.pulleys[driver] >= 2*s.needed
	}
	return (!newDriver || pass.pulleys[driver] >= s.needed) && (!newDriven || pass.pulleys[driven] >= s.needed)
}

// substitute fills a candidate in.
func (s *substituteSearch) substitute(c candidate) Substitute {
	d := s.with(c.driver, c.driven, c.belt)
	out := Substitute{
		Drive: d, CenterDistanceMM: c.center, DeviationMM: s.drilled - c.center,
		SameHoles: c.sameHoles, RatioChangePercent: c.ratioChange,
		StandardLength: d.Section != nil && d.Section.IsStandardLength(c.belt),
	}
	out.Verdict = s.rule.of(out.DeviationMM, d.meshedTeeth())
	if !c.sameHoles {
		out.HoleMoveMM = c.center - s.drilled
		out.Verdict = VerdictRejected
	}
	return out
}

// with returns the drive with other counts. Of another pulley the flange is
// not known.
func (s *substituteSearch) with(driver, driven, belt int) Drive {
	d := s.drive
	if driver != d.Driver.ToothCount {
		d.Driver = Pulley{ToothCount: driver}
	}
	if driven != d.Driven.ToothCount {
		d.Driven = Pulley{ToothCount: driven}
	}
	d.BeltToothCount = belt
	return d
}

// ratioChangePercentOf returns the change of driven over driver teeth, from
// whole numbers, so that equal ratios give equal changes.
func (s *substituteSearch) ratioChangePercentOf(driver, driven int) float64 {
	oldDriver, oldDriven := s.drive.Driver.ToothCount, s.drive.Driven.ToothCount
	return float64(100*(driven*oldDriver-driver*oldDriven)) / float64(driver*oldDriven)
}

// hundredths rounds a length to whole hundredths of a millimeter, finer than
// anybody drills.
func hundredths(mm float64) float64 { return math.Round(100 * math.Abs(mm)) }
