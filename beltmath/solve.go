package beltmath

import (
	"fmt"
	"math"
	"sort"
)

// The bounds of the allowance, both ways, and of the neighbors on a side.
const (
	maxAllowanceMM   = 5
	maxNeighborCount = 20
)

// CenterQuery asks for the center distance of a drive.
type CenterQuery struct {
	// Drive is the drive.
	Drive DriveInput
	// AllowanceMM is added to the exact center distance when drilling, -5 to
	// 5: above 0 is tight, below 0 slack.
	AllowanceMM float64
}

// CenterAnswer is the center distance of a drive.
type CenterAnswer struct {
	// Geometry is the drive at its exact center distance.
	Geometry Geometry
	// DrillCenterDistanceMM is exact center distance plus allowance.
	DrillCenterDistanceMM float64
	// Notes tell what deserves a look.
	Notes []Note
}

// SolveCenterDistance finds the center distance at which the belt fits the
// pulleys. Its error is InputErrors or a *NoSolutionError of reason
// BELT_TOO_SHORT, PULLEYS_TOUCH or FLANGES_TOUCH.
func SolveCenterDistance(q CenterQuery) (CenterAnswer, error) {
	var errs InputErrors
	d := q.Drive.resolve(&errs, "Drive.")
	errs.CheckRange("AllowanceMM", q.AllowanceMM, -maxAllowanceMM, maxAllowanceMM)
	if len(errs) > 0 {
		return CenterAnswer{}, errs
	}
	g, err := d.Geometry()
	if err != nil {
		return CenterAnswer{}, under("Drive.", err)
	}
	drill := g.CenterDistanceMM + q.AllowanceMM
	if err := d.checkDrill(q.AllowanceMM, drill); err != nil {
		return CenterAnswer{}, err
	}
	return CenterAnswer{
		Geometry:              g,
		DrillCenterDistanceMM: drill,
		Notes:                 append(g.notes("Drive."), allowanceNotes(q.AllowanceMM)...),
	}, nil
}

// checkDrill refuses an allowance that drills the axles so near that pulleys
// or flanges touch.
func (d Drive) checkDrill(allowanceMM, drillMM float64) error {
	limit, reason := d.leastCenterMM()
	if drillMM > limit {
		return nil
	}
	exact := drillMM - allowanceMM
	nearest := limit - exact + exact*0x1p-48 // beyond the rounding of the sum
	return &NoSolutionError{
		Field: "AllowanceMM", Value: allowanceMM, Reason: reason,
		Msg: fmt.Sprintf("drilled %.4f mm apart the %s; give more than %.4f mm",
			drillMM, whatTouches[reason], nearest),
		Nearest: fmt.Sprint(nearest),
	}
}

// under puts the field of a NoSolutionError under path.
func under(path string, err error) error {
	if e, ok := err.(*NoSolutionError); ok { //nolint:errorlint // made here, never wrapped
		e.Field = path + e.Field
	}
	return err
}

// BeltQuery asks which belts fit two pulleys at a center distance.
type BeltQuery struct {
	// Section and PitchMM: exactly one.
	Section string
	PitchMM *float64
	// Driver gives the power, Driven takes it.
	Driver, Driven Pulley
	// CenterDistanceMM is above 0 and at most 250000.
	CenterDistanceMM float64
	// NeighborCount is how many belts to name on each side, 1 to 20; nil is 1.
	NeighborCount *int
	// StandardLengthsOnly keeps to the section's list of standard lengths.
	StandardLengthsOnly bool
}

// BeltCandidate is a belt near a wanted center distance.
type BeltCandidate struct {
	// Geometry is the drive with this belt.
	Geometry Geometry
	// CenterShiftMM is this belt's center distance minus the wanted one.
	CenterShiftMM float64
	// StandardLength tells whether the length is in the section's list.
	StandardLength bool
}

// BeltAnswer is the belts nearest to a center distance.
type BeltAnswer struct {
	// ExactToothCount and BeltLengthMM are the length that fits exactly.
	ExactToothCount, BeltLengthMM float64
	// Candidates are the belts, least shift first.
	Candidates []BeltCandidate
	// Notes tell what deserves a look.
	Notes []Note
}

// SolveBelt finds the belts on each side of the length that fits two pulleys
// at the given center distance, and the one that fits exactly if there is one.
// Its error is InputErrors or a *NoSolutionError.
func SolveBelt(q BeltQuery) (BeltAnswer, error) {
	var errs InputErrors
	d := Drive{Profile: resolveProfile(&errs, "", q.Section, q.PitchMM), Driver: q.Driver, Driven: q.Driven}
	q.Driver.check(&errs, "Driver.")
	q.Driven.check(&errs, "Driven.")
	errs.CheckPositive("CenterDistanceMM", q.CenterDistanceMM, greatestCenterMM)
	neighbors := errs.neighborCount(q.NeighborCount)
	if q.StandardLengthsOnly {
		errs.checkListed(d.Profile)
	}
	if len(errs) > 0 {
		return BeltAnswer{}, errs
	}
	if err := d.checkClear("CenterDistanceMM", q.CenterDistanceMM); err != nil {
		return BeltAnswer{}, err
	}
	a := BeltAnswer{
		ExactToothCount: d.Pitch.BeltTeeth(d.Driver.ToothCount, d.Driven.ToothCount, q.CenterDistanceMM),
		BeltLengthMM:    d.Pitch.BeltLengthMM(d.Driver.ToothCount, d.Driven.ToothCount, q.CenterDistanceMM),
	}
	outside := math.Floor(a.ExactToothCount) > maxBeltTeeth || math.Ceil(a.ExactToothCount) < minBeltTeeth
	if outside && !q.StandardLengthsOnly {
		return BeltAnswer{}, d.noBelt(q, a.ExactToothCount)
	}
	for _, teeth := range d.beltsNear(a.ExactToothCount, q.CenterDistanceMM, neighbors, q.StandardLengthsOnly) {
		d.BeltToothCount = teeth
		g, err := d.Geometry()
		if err != nil {
			continue // the shorter neighbors may pull the pulleys together
		}
		a.Candidates = append(a.Candidates, BeltCandidate{
			Geometry: g, CenterShiftMM: g.CenterDistanceMM - q.CenterDistanceMM,
			StandardLength: d.Section != nil && d.Section.IsStandardLength(teeth),
		})
	}
	if len(a.Candidates) == 0 {
		return BeltAnswer{}, d.noBelt(q, a.ExactToothCount)
	}
	sort.SliceStable(a.Candidates, func(i, j int) bool {
		return math.Abs(a.Candidates[i].CenterShiftMM) < math.Abs(a.Candidates[j].CenterShiftMM)
	})
	a.Notes = a.notes()
	if q.StandardLengthsOnly {
		a.Notes = append(a.Notes, d.Section.listEndNotes(a.ExactToothCount)...)
	}
	return a, nil
}

// beltsNear returns the tooth counts of n belts on each side of exact,
// ascending, and between them the belt whose center distance is c to the bit.
func (d Drive) beltsNear(exact, c float64, n int, standardOnly bool) []int {
	var counts []int
	if standardOnly {
		for _, b := range d.Section.BeltLengths() {
			counts = append(counts, b.ToothCount)
		}
	} else {
		first := max(minBeltTeeth, int(min(exact, maxBeltTeeth))-n-1)
		for teeth := first; teeth <= min(maxBeltTeeth, first+2*n+4); teeth++ {
			counts = append(counts, teeth)
		}
	}
	return neighborsOf(counts, exact, n, func(teeth int) bool {
		return d.Pitch.CenterMM(d.Driver.ToothCount, d.Driven.ToothCount, teeth) == c
	})
}

// neighborsOf keeps of the ascending counts the n on each side of exact and
// the one that fits. A count fits where it answers the asked center distance
// to the bit: exact itself may be one unit in the last place off a whole
// number then.
func neighborsOf(counts []int, exact float64, n int, fits func(int) bool) []int {
	whole := int(math.Round(min(exact, maxBeltTeeth+1)))
	isWhole := fits(whole)
	above := sort.Search(len(counts), func(i int) bool {
		if isWhole {
			return counts[i] >= whole
		}
		return float64(counts[i]) > exact
	})
	end := above + n
	if isWhole && above < len(counts) && counts[above] == whole {
		end++
	}
	return counts[max(0, above-n):min(len(counts), end)]
}

func (d Drive) noBelt(q BeltQuery, exact float64) error {
	e := &NoSolutionError{
		Field: "CenterDistanceMM", Value: q.CenterDistanceMM, Reason: ReasonNoBelt,
		Msg: fmt.Sprintf("the belt would need %.3f teeth and no belt of %d to %d teeth comes near", exact, minBeltTeeth, maxBeltTeeth),
	}
	smallest, ok := d.smallestBelt()
	if q.StandardLengthsOnly {
		e.Msg = fmt.Sprintf("the belt would need %.3f teeth, and the standard lengths do not clear the pulleys; allow other lengths", exact)
		smallest, ok = d.Section.nextLength(smallest)
	}
	switch {
	case ok && (exact < float64(smallest) || q.StandardLengthsOnly):
		e.Nearest = fmt.Sprint(d.Pitch.CenterMM(d.Driver.ToothCount, d.Driven.ToothCount, smallest))
	case ok:
		e.Nearest = fmt.Sprint(d.Pitch.CenterMM(d.Driver.ToothCount, d.Driven.ToothCount, maxBeltTeeth))
	}
	if e.Nearest != "" {
		e.Msg += "; the nearest center distance with a belt is " + e.Nearest + " mm"
	}
	return e
}

// neighborCount returns the asked number of neighbors, 1 where not given.
func (e *InputErrors) neighborCount(given *int) int {
	if given == nil {
		return 1
	}
	e.checkCount("NeighborCount", *given, 1, maxNeighborCount)
	return *given
}

func (e *InputErrors) checkListed(p Profile) {
	if p.Section != nil && len(p.Section.BeltLengths()) == 0 {
		e.add("StandardLengthsOnly", true, ReasonNoStandardLengths,
			"no standard lengths are held for "+p.Section.Designation+"; leave it off")
	}
	if p.Section == nil {
		e.add("StandardLengthsOnly", true, ReasonNoStandardLengths,
			"standard lengths are listed by section; give section or leave it off")
	}
}
