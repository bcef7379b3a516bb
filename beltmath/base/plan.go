package base

import (
	"fmt"
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// Link is a belt between two axles.
type Link struct {
	// FromAxle has the driver pulley and ToAxle the driven one, from the motor
	// outward.
	FromAxle, ToAxle int
	// Drive is the pulleys and the belt.
	Drive beltmath.Drive
	// CenterDistanceMM is the true distance of the axles, exact as
	// beltmath.Pitch.CenterMM is.
	CenterDistanceMM float64
	// RailSpacingMM is what it leaves along the rail.
	RailSpacingMM float64
	// Idler is where the idler stands that takes up what the belt is too long;
	// nil where the belt fits without. With one, CenterDistanceMM and
	// RailSpacingMM are those wished for.
	Idler *IdlerPlace
}

// Plan is one way to build a side.
type Plan struct {
	// Links are the belts, from the first axle on.
	Links []Link
	// AxlePositions are the axles in the frame of the package.
	AxlePositions []beltmath.Point
	// WheelbaseMM is the rail distance from the first axle to the last.
	WheelbaseMM float64
	// WheelbaseShiftMM is the wheelbase minus the target.
	WheelbaseShiftMM float64
	// ScrubPercent is the scrub of greatest amount of any two wheels.
	ScrubPercent float64
	// GapDifferenceMM is the greatest minus the least rail spacing.
	GapDifferenceMM float64
	// DistinctBeltCount is how many different belts the links use.
	DistinctBeltCount int
	// MirroredToo tells that the belts in reverse order are a plan as well,
	// which is not listed: the row reads the same from both ends.
	MirroredToo bool
	// Notes tell what deserves a look.
	Notes []beltmath.Note
}

// SearchAnswer is the plans found.
type SearchAnswer struct {
	// Plans are the best plans, best first; those with idlers where there is no
	// other, by the same order but that fewer idlers come before less scrub:
	// least amount of the wheelbase shift in units of the resolution, rounded;
	// then least scrub, gap
	// difference, distinct belts, sum of belt teeth; then by the belt teeth
	// from left to right, the section's designation and the pulley teeth from
	// left to right.
	Plans []Plan
	// SearchedCount is how many combinations the answer covers: every choice
	// of a section, of pulley counts within the scrub limit and of one belt a
	// gap with at most the allowed number of distinct belts, a mirror image
	// counted for itself. It stops at the greatest int64.
	SearchedCount int64
	// Truncated tells that more plans meet the conditions than are returned.
	Truncated bool
	// Exclusions says, where no plan was found, what each condition keeps out.
	Exclusions []Exclusion
	// Notes tell what deserves a look.
	Notes []beltmath.Note
}

// SearchBases finds the plans of a side that meet all conditions of q, best
// first. Its answer is exact: the same as if every combination had been
// tried. Its error is InputErrors or a *beltmath.NoSolutionError of reason
// WHEELS_TOUCH; an *beltmath.InputError of reason TOO_MUCH_WORK means that the
// search was given up after a fixed number of steps, about two seconds.
//
// Where nothing meets the conditions that is no error: the answer has no plan
// then and says why.
func SearchBases(q SearchQuery) (SearchAnswer, error) {
	p, err := q.resolve()
	if err != nil {
		return SearchAnswer{}, err
	}
	p.work = maxWork
	e, err := p.search(p.results + 1)
	if err != nil {
		return SearchAnswer{}, q.tooMuchWork(p)
	}
	found := e.best.plans(p.results+1, p.symmetric)
	a := SearchAnswer{SearchedCount: e.searched, Truncated: len(found) > p.results}
	for _, c := range found[:min(p.results, len(found))] {
		a.Plans = append(a.Plans, p.plan(c))
	}
	if len(a.Plans) == 0 && p.idler != nil {
		p.withIdlers(&a)
	}
	if len(a.Plans) == 0 {
		p.explain(&a)
		return a, nil
	}
	a.Notes = append(a.Notes, guardNote)
	return a, nil
}

func (q SearchQuery) tooMuchWork(p *problem) error {
	advice := "narrow pulley or belt"
	if p.distinct > defaultDistinct {
		advice += fmt.Sprintf(", lower max_distinct_belts below %d", p.distinct)
	}
	if !p.standard {
		advice += ", keep to standard_lengths_only"
	}
	field, value := "Belt", fmt.Sprintf("a set of %d", len(p.belts))
	if p.distinct > defaultDistinct {
		field, value = "MaxDistinctBelts", fmt.Sprint(p.distinct)
	}
	return &beltmath.InputError{
		Field: field, Value: value, Reason: ReasonTooMuchWork,
		Msg: "the search is too wide to be finished in bounded time; " + advice + ", or ask section by section",
	}
}

// plan works a candidate out.
func (p *problem) plan(c *candidate) Plan {
	plan := Plan{
		DistinctBeltCount: c.distinct, ScrubPercent: p.greatestScrub(c.teeth),
		MirroredToo: p.symmetric && !palindrome(c.belts) && (c.idlers == nil || p.idler.share() == defaultIdlerShare),
	}
	x, least, most := 0.0, math.Inf(1), 0.0
	plan.AxlePositions = append(plan.AxlePositions, beltmath.Point{YMM: p.heights[0]})
	for i, belt := range c.belts {
		link := p.link(c, i, belt)
		plan.Links = append(plan.Links, link)
		least, most = min(least, link.RailSpacingMM), max(most, link.RailSpacingMM)
		x += link.RailSpacingMM
		plan.AxlePositions = append(plan.AxlePositions, beltmath.Point{XMM: x, YMM: p.heights[i+1]})
		if c.idlers != nil && c.idlers[i] {
			plan.Links[i].Idler = p.placeInPlan(&plan.Links[i], plan.AxlePositions)
		}
	}
	plan.WheelbaseMM = x
	plan.WheelbaseShiftMM = x - p.target
	plan.GapDifferenceMM = most - least
	plan.Notes = p.planNotes(&plan, c)
	return plan
}

func (p *problem) greatestScrub(teeth []int) float64 {
	scrub := 0.0
	for i := range teeth {
		scrub = p.worstScrub(teeth[:i+1], scrub)
	}
	return scrub
}

func (p *problem) link(c *candidate, gap, belt int) Link {
	from, to := outward(gap, p.driven)
	drive := beltmath.Drive{
		Profile:        beltmath.Profile{Section: c.section, Pitch: c.section.Pitch},
		Driver:         beltmath.Pulley{ToothCount: c.teeth[p.wheel[from]]},
		Driven:         beltmath.Pulley{ToothCount: c.teeth[p.wheel[to]]},
		BeltToothCount: belt,
	}
	if c.idlers != nil && c.idlers[gap] {
		return Link{
			FromAxle: from, ToAxle: to, Drive: drive, CenterDistanceMM: math.Hypot(c.wanted[gap], p.heightStep(gap)), RailSpacingMM: c.wanted[gap],
		}
	}
	center := drive.Pitch.CenterMM(drive.Driver.ToothCount, drive.Driven.ToothCount, belt)
	return Link{
		FromAxle: from, ToAxle: to, Drive: drive, CenterDistanceMM: center,
		RailSpacingMM: along(center, p.heightStep(gap)),
	}
}
