package base

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// The reason words of notes and errors that the fit of a base adds.
const (
	NoteBaseFitModel    = "BASE_FIT_MODEL"
	NoteDefaultHoles    = "DEFAULT_HOLE_TOLERANCE"
	NoteMeasuredOnSides = "MEASURED_ON_ALL_SIDES"
	NoteIdlerFit        = "FIT_WITH_IDLER"
	ReasonTwice         = "GIVEN_TWICE"     // two measurements of one belt
	ReasonRingTooSharp  = "RING_TOO_STRICT" // a ring of belts in which holes vary far more than belts
)

const (
	maxHoleToleranceMM     = 5
	defaultHoleToleranceMM = 0.05 // as AnalyzeFit's of a center distance
)

// LinkMeasurement is the belt in hand for one link.
type LinkMeasurement struct {
	// Link is the index of the link.
	Link int
	// Belt is its measurement.
	Belt beltmath.BeltMeasurement
}

// Fit is what a base is built to: the tolerances of holes, belts and
// pulleys. Every tolerance stands for three standard deviations of a normal
// distribution; see beltmath.FitQuery.
type Fit struct {
	// HoleToleranceMM is how far each axle's hole may be off along the rail,
	// both ways, 0 to 5; nil is 0.05.
	HoleToleranceMM *float64
	// BeltLengthToleranceMM is how far the pitch length of each belt that is
	// not measured may be off, both ways, 0 to 10; nil is the table of the
	// section's standard.
	BeltLengthToleranceMM *float64
	// Measurements are belts in hand, at most one a link. They stand for the
	// link's belts of all sides.
	Measurements []LinkMeasurement
	// DriverPlayMM and DrivenPlayMM are those of every link, PulleyOversizeMM
	// that of every pulley, 0 to 10.
	DriverPlayMM, DrivenPlayMM, PulleyOversizeMM float64
	// TemperatureChangeK is -300 to 300, the two expansions are -0.001 to 0.001
	// in 1/K.
	TemperatureChangeK, PlateExpansionPerK, BeltExpansionPerK float64
}

// FitShares says how likely the belts of a base are good.
type FitShares struct {
	// Links are the belts one by one, in the order of the base.
	Links []LinkFitShares
	// ShareGood is the probability that all belts of all sides are good.
	ShareGood float64
	// FitLowMM and FitHighMM are the limits used.
	FitLowMM, FitHighMM float64
}

// LinkFitShares says how likely one belt is good.
type LinkFitShares struct {
	// Link is its index.
	Link int
	// MeanMM and SigmaMM are of its deviation: above 0 is tight.
	MeanMM, SigmaMM float64
	// ShareLoose, ShareGood and ShareTight are the probabilities of a deviation
	// below, within and above the limits; together 1.
	ShareLoose, ShareGood, ShareTight float64
	// Best is what would make the most good; nil where an idler takes up the belt.
	Best *BestFit
}

// BestFit is what would improve the fit of one belt, the others aside.
type BestFit struct {
	// MoveMM is how much farther apart its axles would have to be for the most to
	// be good, below 0 nearer; ShareGood is the share then.
	MoveMM, ShareGood float64
	// Levers are what halving one field would bring, the most good first, named
	// by their place in LayOutQuery.
	Levers []beltmath.FitLever
}

// checkFit checks what AnalyzeFit does not.
func (q LayOutQuery) checkFit(in *inputs) {
	if q.Fit == nil {
		return
	}
	if h := q.Fit.HoleToleranceMM; h != nil {
		in.number("Fit.HoleToleranceMM", *h, 0, maxHoleToleranceMM)
	}
	in.atMost("Fit.Measurements", len(q.Fit.Measurements), maxLinks)
	seen := map[int]bool{}
	for i, m := range q.Fit.Measurements[:min(len(q.Fit.Measurements), maxLinks)] {
		field := fmt.Sprintf("Fit.Measurements[%d].Link", i)
		switch {
		case m.Link < 0 || m.Link >= len(q.Base.Links):
			in.add(field, m.Link, beltmath.ReasonOutOfRange, fmt.Sprintf("give the index of a link, 0 to %d", len(q.Base.Links)-1))
		case seen[m.Link]:
			in.add(field, m.Link, ReasonTwice, "this link has a measurement already: give one a link")
		}
		seen[m.Link] = true
	}
}

// addFit works the shares out, with the notes they rest on.
func (p *layoutProblem) addFit(l *Layout) error {
	if p.tolerances == nil {
		return nil
	}
	answers, err := p.analyzeLinks()
	if err != nil {
		return err
	}
	var in inputs
	side := p.shareOfSide(&in, answers, holeStepSigma)
	if len(in.errs) > 0 {
		return in.errs
	}
	l.Fit = &FitShares{
		ShareGood: math.Pow(side, float64(p.sides)),
		FitLowMM:  answers[0].FitLowMM, FitHighMM: answers[0].FitHighMM,
	}
	notes := noteList(l.Notes)
	for i := range answers {
		a := &answers[i]
		l.Fit.Links = append(l.Fit.Links, LinkFitShares{
			i, a.DeviationMM.Mean, a.DeviationMM.Sigma, a.ShareLoose, a.ShareGood, a.ShareTight, p.bestFit(i, a),
		})
		for _, n := range a.Notes {
			if p.links[i].Idler != nil && n.Reason == beltmath.NoteAllowanceFirst {
				continue // no allowance changes what an idler takes up
			}
			n.Field = p.fitField(i, n.Field)
			notes.take(n)
		}
	}
	p.noteFit(&notes)
	l.Notes = notes
	return nil
}

// bestFit is what would improve the fit of a link.
func (p *layoutProblem) bestFit(link int, a *beltmath.FitAnswer) *BestFit {
	if p.links[link].Idler != nil {
		return nil
	}
	best := &BestFit{MoveMM: a.BestAllowanceMM - (p.centerToFit(link) - a.ExactCenterDistanceMM), ShareGood: a.BestShareGood}
	for _, lever := range a.Levers {
		if lever.Name == "BeltMeasurement" {
			lever.Name += ".UncertaintyMM" // which is what FitLever means by it
		}
		lever.Name = p.fitField(link, lever.Name)
		best.Levers = append(best.Levers, lever)
	}
	return best
}

// centerToFit is the center distance that a link's belt is to fit.
func (p *layoutProblem) centerToFit(link int) float64 {
	l := &p.links[link]
	if l.checked != nil {
		return l.checked.centerMM
	}
	return l.geometry.CenterDistanceMM
}

// analyzeLinks takes each link by itself. Of links without a solution it
// reports the first.
func (p *layoutProblem) analyzeLinks() ([]beltmath.FitAnswer, error) {
	answers := make([]beltmath.FitAnswer, len(p.links))
	var in inputs
	var none error
	for i := range p.links {
		var err error
		answers[i], err = p.analyzeLink(i)
		var faults beltmath.InputErrors
		var nowhere *beltmath.NoSolutionError
		switch {
		case errors.As(err, &faults):
			p.addFaults(&in, i, faults)
		case errors.As(err, &nowhere) && none == nil:
			moved := *nowhere
			moved.Field, moved.Nearest = p.fitField(i, nowhere.Field), "" // it is a distance, no position
			none = &moved
		}
		if p.links[i].Idler != nil {
			p.idlerShares(i, &answers[i])
		}
	}
	if len(in.errs) > 0 {
		return nil, in.errs
	}
	return answers, none
}

// addFaults puts the faults of a link where their values came from, each once.
func (p *layoutProblem) addFaults(in *inputs, link int, faults beltmath.InputErrors) {
	for _, e := range faults {
		e.Field = p.fitField(link, e.Field)
		if !slices.ContainsFunc(in.errs, func(held *beltmath.InputError) bool { return held.Field == e.Field }) {
			in.errs = append(in.errs, e)
		}
	}
}

func (p *layoutProblem) holeTolerance() float64 {
	if h := p.tolerances.HoleToleranceMM; h != nil {
		return *h
	}
	return defaultHoleToleranceMM
}

// slope is how much a link's center distance grows where one of its axles moves
// outward along the rail.
func (p *layoutProblem) slope(link int) float64 {
	a, b := p.positions[p.links[link].FromAxle], p.positions[p.links[link].ToAxle]
	return math.Abs(a.XMM-b.XMM) / distance(a, b)
}

// analyzeLink takes a link by itself, its two holes together as a tolerance on
// the center distance.
func (p *layoutProblem) analyzeLink(i int) (beltmath.FitAnswer, error) {
	l, f := &p.links[i], p.tolerances
	q := beltmath.FitQuery{
		Drive: l.Drive, CenterDistanceMM: p.centerToFit(i),
		CenterToleranceMM:     new(math.Sqrt2 * p.slope(i) * p.holeTolerance()),
		BeltLengthToleranceMM: f.BeltLengthToleranceMM,
		DriverPlayMM:          f.DriverPlayMM, DrivenPlayMM: f.DrivenPlayMM, PulleyOversizeMM: f.PulleyOversizeMM,
		TemperatureChangeK: f.TemperatureChangeK, PlateExpansionPerK: f.PlateExpansionPerK, BeltExpansionPerK: f.BeltExpansionPerK,
		Limits: p.limits,
	}
	if m := p.measurementOf(i); m >= 0 {
		q.BeltLengthToleranceMM, q.BeltMeasurement = nil, &f.Measurements[m].Belt
	}
	return beltmath.AnalyzeFit(q)
}

// measurementOf returns the index of a link's measurement, or -1.
func (p *layoutProblem) measurementOf(link int) int {
	return slices.IndexFunc(p.tolerances.Measurements, func(m LinkMeasurement) bool { return m.Link == link })
}

// fitField puts a field of a FitQuery where its value came from.
func (p *layoutProblem) fitField(link int, field string) string {
	rest, measured := strings.CutPrefix(field, "BeltMeasurement")
	switch {
	case field == "":
		return ""
	case measured:
		return fmt.Sprintf("Fit.Measurements[%d].Belt%s", p.measurementOf(link), rest)
	case strings.HasPrefix(field, "Drive."):
		return fmt.Sprintf("Base.Links[%d].%s", link, field)
	case field == "CenterDistanceMM":
		return "Base.AxlePositions"
	case field == "CenterToleranceMM":
		return "Fit.HoleToleranceMM"
	case strings.HasPrefix(field, "Limits"):
		return field
	}
	return "Fit." + field
}

func (p *layoutProblem) noteFit(n *noteList) {
	if p.tolerances.HoleToleranceMM == nil {
		n.add(NoteDefaultHoles, info, "Fit.HoleToleranceMM",
			"each hole is taken as within %g mm along the rail, which machined plates reach (makers' light-drive manuals, from memory) and laser-cut sheet does not, about 0.1 mm (common practice, no source)", defaultHoleToleranceMM)
	}
	if len(p.tolerances.Measurements) > 0 && p.sides > 1 {
		n.add(NoteMeasuredOnSides, caution, "Fit.Measurements",
			"the belts of all %d sides are taken to be as the measured ones: measure those of the other sides too", p.sides)
	}
	for i := range p.links {
		if p.links[i].Idler != nil {
			n.add(NoteIdlerFit, info, fmt.Sprintf("Base.Links[%d].Idler", i),
				"belt %d counts as good where its idler can take up within its range what holes, belt and pulleys are off; each millimeter of center distance is reckoned as 2 mm of belt, the most it can be, and the holes it shares with other belts as independent", i+1)
		}
	}
	n.add(NoteBaseFitModel, info, "Fit",
		"belts on one axle share its hole, which makes one looser where it makes the other tighter; all else is taken as independent from belt to belt, even play on a shared axle, and sides from each other")
}
