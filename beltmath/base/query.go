package base

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// The domain of a search, all ends inclusive.
const (
	minPulleyTeeth  = 6
	maxPulleyTeeth  = 600
	minBeltTeeth    = 7
	maxBeltTeeth    = 5000
	maxSections     = 40
	maxRailMM       = 100000
	maxResolutionMM = 10
	maxScrubLimit   = 3
	maxResultLimit  = 1000
	defaultScrub    = 0.5
	defaultMesh     = 6
	defaultDistinct = 2
	defaultSides    = 2
	defaultGrainMM  = 0.01
	defaultResults  = 20
	maxBeltWidthMM  = 1000
)

// The reason words of InputError and NoSolutionError that this package adds.
const (
	ReasonRepeated     = "REPEATED"      // the same thing named twice
	ReasonWrongLength  = "WRONG_LENGTH"  // a list that does not match the row
	ReasonWheelsTouch  = "WHEELS_TOUCH"  // the wheels do not fit beside each other
	ReasonTooMuchWork  = "TOO_MUCH_WORK" // the search is too wide to finish in bounded time
	ReasonNothingAsked = "EMPTY_SEARCH"  // sections, pulleys or belts are an empty set
)

// Gap is a wish for the rail spacing of two neighboring axles: a target, which
// SearchQuery.ToleranceMM bounds as it does the wheelbase, or a range. The
// zero Gap wishes for nothing.
type Gap struct {
	// TargetMM is the wanted rail spacing, 0 to 100000; not together with a
	// range.
	TargetMM *float64
	// MinMM and MaxMM are the ends of the range, both inside it, 0 to 100000;
	// either may be left out.
	MinMM, MaxMM *float64
}

// SearchQuery asks for the plans of one side of a base: which pulleys and
// belts put the axles where they are wanted.
type SearchQuery struct {
	// Axles is the row from the first axle on, 2 to 16 of them.
	Axles []Axle
	// DrivenAxles are the indexes of the axles on which motors act; empty is
	// the middle axle, of an even row the one before the middle. They decide
	// which axle of a link is its driver, nothing else.
	DrivenAxles []int
	// Sections are the designations of the sections to try, 1 to 40.
	Sections []string
	// Pulley holds the pulley tooth counts to try, each 6 to 600. nil is what
	// is in Stock, and refused without one.
	Pulley *beltmath.ToothCounts
	// Belt holds the belt tooth counts to try, each 7 to 5000. nil is every
	// belt, or with Stock what is in it.
	Belt *beltmath.ToothCounts
	// StandardLengthsOnly keeps to the sections' lists of standard lengths.
	StandardLengthsOnly bool
	// Stock is the parts bin; nil is no limit. A plan then takes all its belts
	// and pulleys from it in one width: SideCount belts and 2 SideCount pulleys
	// a link.
	Stock *beltmath.Stock
	// BeltWidthMM keeps to one width of Stock, above 0 and at most 1000; nil
	// is any one width. It means nothing without Stock.
	BeltWidthMM *float64
	// SideCount is how many equal sides are built, 1 to 100; nil is 2.
	SideCount *int
	// TargetWheelbaseMM is the wanted distance along the rail from the first
	// axle to the last, above 0 and at most 100000.
	TargetWheelbaseMM float64
	// ToleranceMM is how far the wheelbase may lie from the target, both ways
	// and inclusive, 0 to 100000.
	ToleranceMM float64
	// Gaps holds one wish for each pair of neighbors, or nothing.
	Gaps []Gap
	// EqualGaps wants the greatest and the least rail spacing to differ by
	// ResolutionMM at most.
	EqualGaps bool
	// MaxGapDifferenceMM bounds the greatest less the least rail spacing, 0 to
	// 100000; nil is no bound.
	MaxGapDifferenceMM *float64
	// MaxDistinctBelts is how many different belts a plan may use, 1 to 15;
	// nil is 2.
	MaxDistinctBelts *int
	// MaxScrubPercent bounds the scrub of any two wheels, 0 to 3; nil is 0.5.
	MaxScrubPercent *float64
	// MinWheelGapMM is the least distance of any two wheels, disc to disc, 0
	// to 10000; wheels may never touch.
	MinWheelGapMM float64
	// MinMeshedToothCount is the least count of teeth in mesh, 0 to 600; nil
	// is 6.
	MinMeshedToothCount *int
	// ResolutionMM is the distance that drilling can tell apart, 0 to 10; nil
	// is 0.01. Plans are compared by their shift rounded to it; 0 compares
	// exactly.
	ResolutionMM *float64
	// Idler is what may take up the length of belts that are too long, in the
	// links of a plan; nil is none. It is used only where no plan does without.
	Idler *Idler
	// MaxResults bounds the plans returned, 1 to 1000; nil is 20.
	MaxResults *int
}

// problem is a SearchQuery whose values are all allowed, made ready. The
// second half holds what the question of a missing plan relaxes.
type problem struct {
	row
	driven   []int
	sections []*beltmath.Section // by designation
	pulleys  []int               // ascending; nil is what is in the bin
	belts    []int               // ascending
	sides    int
	target   float64
	grain    float64
	results  int
	work     int // steps allowed

	tolerance    float64 // of the wheelbase; infinite is no bound
	gapTolerance float64
	gaps         []Gap // one a link
	equal        bool
	spread       *float64
	distinct     int
	standard     bool
	bin          bin // nil is no limit
	scrub        float64
	wheelGap     float64
	mesh         int
	idler        *Idler
}

func (q SearchQuery) resolve() (*problem, error) {
	var in inputs
	p := &problem{
		target: q.TargetWheelbaseMM, tolerance: q.ToleranceMM, gapTolerance: q.ToleranceMM, equal: q.EqualGaps, spread: q.MaxGapDifferenceMM,
		standard: q.StandardLengthsOnly, wheelGap: q.MinWheelGapMM,
	}
	in.axles(q.Axles)
	p.driven = in.driven(q.DrivenAxles, len(q.Axles))
	in.positive("TargetWheelbaseMM", q.TargetWheelbaseMM, maxRailMM)
	in.number("ToleranceMM", q.ToleranceMM, 0, maxRailMM)
	if q.MaxGapDifferenceMM != nil {
		in.number("MaxGapDifferenceMM", *q.MaxGapDifferenceMM, 0, maxRailMM)
	}
	if q.BeltWidthMM != nil {
		in.positive("BeltWidthMM", *q.BeltWidthMM, maxBeltWidthMM)
	}
	in.number("MinWheelGapMM", q.MinWheelGapMM, 0, maxWheelMM)
	p.sides = in.count("SideCount", q.SideCount, defaultSides, 1, maxSideCount)
	p.distinct = in.count("MaxDistinctBelts", q.MaxDistinctBelts, defaultDistinct, 1, maxAxles-1)
	p.scrub = in.measure("MaxScrubPercent", q.MaxScrubPercent, defaultScrub, 0, maxScrubLimit)
	p.mesh = in.count("MinMeshedToothCount", q.MinMeshedToothCount, defaultMesh, 0, maxPulleyTeeth)
	p.grain = in.measure("ResolutionMM", q.ResolutionMM, defaultGrainMM, 0, maxResolutionMM)
	p.results = in.count("MaxResults", q.MaxResults, defaultResults, 1, maxResultLimit)
	p.gaps = in.gaps(q.Gaps, len(q.Axles))
	p.sections = in.sections(q.Sections, q.StandardLengthsOnly)
	p.bin = in.bin(q, p.sections)
	in.pulleys(p, q)
	in.belts(p, q)
	if q.Idler != nil {
		in.idler("Idler", q.Idler)
		p.idler = q.Idler
	}
	if len(in.errs) > 0 {
		return nil, in.errs
	}
	p.row = newRow(q.Axles, p.gaps)
	return p, p.roomForWheels()
}

func (in *inputs) pulleys(p *problem, q SearchQuery) {
	switch {
	case q.Pulley != nil:
		p.pulleys = q.Pulley.Resolve(&in.errs, "Pulley", minPulleyTeeth, maxPulleyTeeth)
	case q.Stock == nil:
		in.add("Pulley", "not given", beltmath.ReasonNotGiven, fmt.Sprintf(
			"give values or min and max, each from %d to %d, or a stock to take pulleys from", minPulleyTeeth, maxPulleyTeeth))
	default:
		p.pulleys = p.bin.pulleyCounts()
		if len(p.pulleys) == 0 {
			in.add("Stock.Pulleys", "without a pulley", ReasonNothingAsked,
				"put pulleys in it in some quantity, or give pulley")
		}
	}
}

func (in *inputs) belts(p *problem, q SearchQuery) {
	if q.Belt != nil {
		p.belts = q.Belt.Resolve(&in.errs, "Belt", minBeltTeeth, maxBeltTeeth)
		return
	}
	for teeth := minBeltTeeth; teeth <= maxBeltTeeth; teeth++ {
		p.belts = append(p.belts, teeth)
	}
}

func (in *inputs) sections(designations []string, standard bool) []*beltmath.Section {
	if len(designations) == 0 || len(designations) > maxSections {
		in.add("Sections", fmt.Sprintf("a list of %d", len(designations)), beltmath.ReasonOutOfRange,
			fmt.Sprintf("give 1 to %d section designations, such as H5M", maxSections))
		return nil
	}
	var sections []*beltmath.Section
	listed := false
	for i, designation := range designations {
		section, ok := in.section(fmt.Sprintf("Sections[%d]", i), designation)
		if !ok {
			continue
		}
		sections = append(sections, section)
		listed = listed || len(section.BeltLengths()) > 0
	}
	if standard && !listed && len(sections) == len(designations) {
		in.add("StandardLengthsOnly", true, beltmath.ReasonNoStandardLengths,
			"no standard lengths are held for any of the sections; leave it off")
	}
	slices.SortFunc(sections, func(a, b *beltmath.Section) int { return cmp.Compare(a.Designation, b.Designation) })
	return slices.Compact(sections)
}

func (in *inputs) section(field, designation string) (*beltmath.Section, bool) {
	section, err := beltmath.FindSection(designation)
	if e, ok := err.(*beltmath.InputError); ok { //nolint:errorlint // FindSection never wraps
		in.add(field, e.Value, e.Reason, e.Msg)
		return nil, false
	}
	return section, true
}

// gaps checks the wishes and returns one for each pair of neighbors.
func (in *inputs) gaps(gaps []Gap, axleCount int) []Gap {
	links := max(0, axleCount-1)
	if len(gaps) == 0 {
		return make([]Gap, min(links, maxAxles))
	}
	if len(gaps) != links {
		in.add("Gaps", fmt.Sprintf("a list of %d", len(gaps)), ReasonWrongLength, fmt.Sprintf(
			"give one gap for each pair of neighbors, %d for %d axles, or none", links, axleCount))
		return nil
	}
	for i, g := range gaps {
		path := fmt.Sprintf("Gaps[%d].", i)
		if g.TargetMM != nil && (g.MinMM != nil || g.MaxMM != nil) {
			in.add(path+"TargetMM", *g.TargetMM, beltmath.ReasonExactlyOne, "give either target_mm or min_mm and max_mm")
		}
		in.measure(path+"TargetMM", g.TargetMM, 0, 0, maxRailMM)
		least := in.measure(path+"MinMM", g.MinMM, 0, 0, maxRailMM)
		most := in.measure(path+"MaxMM", g.MaxMM, maxRailMM, 0, maxRailMM)
		if most < least {
			in.add(path+"MaxMM", most, beltmath.ReasonReversedRange, fmt.Sprintf("give at least min_mm, which is %v", least))
		}
	}
	return gaps
}
