package beltmath

import (
	"cmp"
	"math"
	"slices"
)

// The bounds of a FitQuery, and its default.
const (
	maxToleranceMM       = 10
	maxTemperatureK      = 300
	maxExpansionPerK     = 1e-3
	maxStiffnessN        = 1e9
	defaultCenterTolerMM = 0.05 // makers' light-drive manuals, from memory
)

// FitQuery asks how well a belt will fit its drilled holes.
//
// Every tolerance stands for three standard deviations of a normal
// distribution, independent of the others.
type FitQuery struct {
	// Drive is the drive.
	Drive DriveInput
	// CenterDistanceMM is the center distance as drilled, above 0 and at most
	// 250000.
	CenterDistanceMM float64
	// CenterToleranceMM is how far the holes may be off, both ways, 0 to 10;
	// nil is 0.05.
	CenterToleranceMM *float64
	// BeltLengthToleranceMM is how far the pitch length may be off, both ways,
	// 0 to 10; nil is the table of the section's standard. At most one of it
	// and BeltMeasurement.
	BeltLengthToleranceMM *float64
	// BeltMeasurement is the belt in hand.
	BeltMeasurement *BeltMeasurement
	// DriverPlayMM and DrivenPlayMM are how far an axle can be pulled toward
	// the other, half of its diametral clearances, 0 to 10. The belt takes up
	// between none and all of it.
	DriverPlayMM, DrivenPlayMM float64
	// PulleyOversizeMM is how much larger than nominal the diameter of each
	// pulley may be, one-sided, 0 to 10.
	PulleyOversizeMM float64
	// TemperatureChangeK is how much warmer than when measured the drive runs,
	// -300 to 300. The two expansions are in 1/K, -0.001 to 0.001; pulleys are
	// taken not to grow.
	TemperatureChangeK, PlateExpansionPerK, BeltExpansionPerK float64
	// Limits say what is good: FitLowMM to FitHighMM.
	Limits FitLimits
	// StiffnessN is the force in one span per unit strain, of the belt at its
	// width, above 0 and at most 1e9; nil where unknown.
	StiffnessN *float64
}

// FitRange is a quantity that varies: mean, standard deviation, and its least
// and greatest value with everything at its worst at once.
type FitRange struct{ Mean, Sigma, WorstLow, WorstHigh float64 }

func (r FitRange) times(factor float64) FitRange {
	return FitRange{r.Mean * factor, r.Sigma * factor, r.WorstLow * factor, r.WorstHigh * factor}
}

// FitContributor is what one field of the query does to the deviation.
type FitContributor struct {
	// Name is the field of FitQuery; CenterDistanceMM is what was drilled
	// beyond the exact center distance.
	Name string
	// ShiftMM is how much it shifts the mean deviation.
	ShiftMM float64
	// VarianceShare is its share of the variance, 0 to 1.
	VarianceShare float64
}

// FitLever is what halving one field of the query would bring.
type FitLever struct {
	// Name is the field; of BeltMeasurement its uncertainty is meant.
	Name string
	// ShareGoodIfHalved is the share that would be good, the rest unchanged.
	ShareGoodIfHalved float64
}

// FitAnswer is how well a belt will fit its drilled holes.
type FitAnswer struct {
	// ExactCenterDistanceMM is that of the nominal drive.
	ExactCenterDistanceMM float64
	// DeviationMM is the drilled center distance minus the one that belt and
	// pulleys want: above 0 is tight.
	DeviationMM FitRange
	// HoleSigmaMM is the part of DeviationMM.Sigma that comes from the holes,
	// OtherSigmaMM the rest: Sigma^2 is the sum of their squares. Where drives
	// share a hole the first is not independent from drive to drive.
	HoleSigmaMM, OtherSigmaMM float64
	// ShareLoose, ShareGood and ShareTight are the probabilities of a deviation
	// below, within and above the limits; together 1.
	ShareLoose, ShareGood, ShareTight float64
	// BestAllowanceMM is the drilled minus the exact center distance with which
	// the most are good, BestShareGood that share.
	BestAllowanceMM, BestShareGood float64
	// Contributors have the order of the query's fields, Levers the most good
	// first. Fields that do nothing are in neither.
	Contributors []FitContributor
	Levers       []FitLever
	// StretchPercent is what the deviation does to the belt's length.
	StretchPercent FitRange
	// TensionN is what it adds to the tension of each span at rest; nil without
	// a stiffness.
	TensionN *FitRange
	// FitLowMM and FitHighMM are the limits used.
	FitLowMM, FitHighMM float64
	// Notes tell what deserves a look.
	Notes []Note
}

// AnalyzeFit tells how likely the belt of a drilled drive is too loose, good or
// too tight. Its error is InputErrors, among them reason NO_TOLERANCE_HELD, or
// the *NoSolutionError of SolveCenterDistance.
//
// The deviation is worked out to first order around the exact center distance
// of the nominal drive, with dC/dL = 1/(2 sin theta) and, per millimeter of
// diameter, dC/dd = -theta/(2 sin theta) on the small and -(pi - theta)/(2 sin
// theta) on the large pulley, theta half of the small pulley's wrap; a measured
// belt is worked out exactly. Tolerances of 1 mm are within 0.01 mm of the
// exact equations where the center distance is at least the large pulley's
// pitch diameter and 50 mm, as TestFitFirstOrder shows.
//
// Source: derivatives of the open-belt length. One-sided tolerances are taken
// by mean and spread: play lies between 0 and P (mean P/2, sigma P/6), so does
// oversize. That the whole arc of contact carries an oversize is assumed.
func AnalyzeFit(q FitQuery) (FitAnswer, error) {
	var f fitCase
	if err := f.resolve(&q); err != nil {
		return FitAnswer{}, err
	}
	total := f.total()
	a := FitAnswer{
		ExactCenterDistanceMM: f.exact,
		DeviationMM:           FitRange{total.shift, math.Sqrt(total.variance), total.low, total.high},
		HoleSigmaMM:           math.Sqrt(f.parts[partHoles].variance),
		OtherSigmaMM:          math.Sqrt(max(0, total.variance-f.parts[partHoles].variance)),
		FitLowMM:              f.rule.fitLow,
		FitHighMM:             f.rule.fitHigh,
	}
	a.ShareLoose, a.ShareGood, a.ShareTight = NormalShares(total.shift, a.DeviationMM.Sigma, f.rule.fitLow, f.rule.fitHigh)
	middle := (f.rule.fitLow + f.rule.fitHigh) / 2
	growth := 1 + q.PlateExpansionPerK*q.TemperatureChangeK // warmth acts on what is drilled
	a.BestAllowanceMM = q.CenterDistanceMM - f.exact + (middle-total.shift)/growth
	_, a.BestShareGood, _ = NormalShares(middle, a.DeviationMM.Sigma, f.rule.fitLow, f.rule.fitHigh)
	a.Contributors = f.contributors(total)
	a.Levers = f.levers(total)
	strain := 2 * f.sine / f.drive.Pitch.BeltPitchLengthMM(f.drive.BeltToothCount)
	a.StretchPercent = a.DeviationMM.times(100 * strain)
	if q.StiffnessN != nil {
		tension := a.DeviationMM.times(strain * *q.StiffnessN)
		a.TensionN = &tension
	}
	a.Notes = f.notes(&q, &a)
	return a, nil
}

// NormalShares returns the probabilities that a normal value of the given mean
// and standard deviation, sigma at least 0, lies below low, from low to high,
// and above high; low is at most high. With a sigma of 0 the ends are inclusive
// to within 1e-9.
func NormalShares(mean, sigma, low, high float64) (below, within, above float64) {
	if sigma == 0 {
		switch {
		case mean < low-limitSlackMM:
			return 1, 0, 0
		case mean > high+limitSlackMM:
			return 0, 0, 1
		}
		return 0, 1, 0
	}
	unit := sigma * math.Sqrt2
	a, b := (low-mean)/unit, (high-mean)/unit
	switch { // from the nearer tail, so that a small share keeps its digits
	case a > 0:
		within = (math.Erfc(a) - math.Erfc(b)) / 2
	case b < 0:
		within = (math.Erfc(-b) - math.Erfc(-a)) / 2
	default:
		within = (math.Erf(b) - math.Erf(a)) / 2
	}
	return math.Erfc(-a) / 2, within, math.Erfc(b) / 2
}

func (f *fitCase) contributors(total fitPart) []FitContributor {
	out := make([]FitContributor, 0, partCount)
	for i, p := range f.parts {
		if p == (fitPart{}) {
			continue
		}
		c := FitContributor{Name: f.partName(i), ShiftMM: p.shift}
		if total.variance > 0 {
			c.VarianceShare = p.variance / total.variance
		}
		out = append(out, c)
	}
	return out
}

func (f *fitCase) levers(total fitPart) []FitLever {
	out := make([]FitLever, 0, partCount)
	for i, p := range f.parts {
		shift := p.shift / 2
		switch i {
		case partDrilled:
			continue
		case partBelt:
			shift = 0 // a measured length stays what it is
		}
		if shift == 0 && p.variance == 0 {
			continue
		}
		sigma := math.Sqrt(max(0, total.variance-0.75*p.variance))
		_, good, _ := NormalShares(total.shift-shift, sigma, f.rule.fitLow, f.rule.fitHigh)
		out = append(out, FitLever{Name: f.partName(i), ShareGoodIfHalved: good})
	}
	slices.SortStableFunc(out, func(a, b FitLever) int { return cmp.Compare(b.ShareGoodIfHalved, a.ShareGoodIfHalved) })
	return out
}
