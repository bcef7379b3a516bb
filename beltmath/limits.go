package beltmath

import "fmt"

// FitLimits says what counts as fitting. The deviation is the stated center
// distance minus the exact one: above 0 is tight. All ends are inclusive; nil
// stands for the default. The defaults are common practice, no source.
type FitLimits struct {
	// FitLowMM and FitHighMM bound the deviation that fits, each -10 to 10
	// millimeters; -0.05 and 0.15 where nil.
	FitLowMM, FitHighMM *float64
	// MarginalLowMM, at most FitLowMM, and MarginalHighMM, at least FitHighMM,
	// bound the deviation that is marginal, each -10 to 10 millimeters; -0.15
	// and 0.30 where nil. A fit bound given beyond that default moves the
	// default out to itself.
	MarginalLowMM, MarginalHighMM *float64
	// MarginalMeshedToothCount, 0 to 600: fewer teeth in mesh are marginal; 6
	// where nil.
	MarginalMeshedToothCount *int
	// RejectedMeshedToothCount, 0 to MarginalMeshedToothCount: fewer teeth in
	// mesh are rejected; 4 where nil, or MarginalMeshedToothCount if that is
	// less.
	RejectedMeshedToothCount *int
}

// The defaults of FitLimits: common practice, no source.
const (
	defaultFitLowMM       = -0.05
	defaultFitHighMM      = 0.15
	defaultMarginalLowMM  = -0.15
	defaultMarginalHighMM = 0.30
	defaultMarginalMeshed = 6
	defaultRejectedMeshed = 4
)

const maxDeviationLimitMM = 10

// limitSlackMM keeps the ends of the limits inclusive for decimal distances,
// which are no float64: 344.95 - 345 is -0.0500000000000114. It covers the
// rounding of any center distance up to 250 m and is far below any measure.
const limitSlackMM = 1e-9

// fitRule is FitLimits with every value settled.
type fitRule struct {
	fitLow, fitHigh, marginalLow, marginalHigh float64
	marginalMeshed, rejectedMeshed             int
}

// resolve puts the fields at fault under path, which it joins only where there
// are some.
func (l FitLimits) resolve(errs *InputErrors, path string) fitRule {
	before := len(*errs)
	r := l.settle(errs)
	for _, e := range (*errs)[before:] {
		e.Field = path + e.Field
	}
	return r
}

func (l FitLimits) settle(errs *InputErrors) fitRule {
	bound := func(name string, given *float64, otherwise float64) float64 {
		if given == nil {
			return otherwise
		}
		errs.CheckRange(name, *given, -maxDeviationLimitMM, maxDeviationLimitMM)
		return *given
	}
	var r fitRule
	r.fitLow = bound("FitLowMM", l.FitLowMM, defaultFitLowMM)
	r.fitHigh = bound("FitHighMM", l.FitHighMM, defaultFitHighMM)
	r.marginalLow = bound("MarginalLowMM", l.MarginalLowMM, min(defaultMarginalLowMM, r.fitLow))
	r.marginalHigh = bound("MarginalHighMM", l.MarginalHighMM, max(defaultMarginalHighMM, r.fitHigh))
	errs.checkOrder("FitLowMM", r.fitLow, "fit_high_mm", r.fitHigh)
	errs.checkOrder("MarginalLowMM", r.marginalLow, "fit_low_mm", r.fitLow)
	errs.checkOrder("FitHighMM", r.fitHigh, "marginal_high_mm", r.marginalHigh)

	r.marginalMeshed = defaultMarginalMeshed
	if l.MarginalMeshedToothCount != nil {
		r.marginalMeshed = *l.MarginalMeshedToothCount
		errs.checkCount("MarginalMeshedToothCount", r.marginalMeshed, 0, maxPulleyTeeth)
	}
	r.rejectedMeshed = min(defaultRejectedMeshed, r.marginalMeshed)
	if l.RejectedMeshedToothCount != nil {
		r.rejectedMeshed = *l.RejectedMeshedToothCount
		errs.checkCount("RejectedMeshedToothCount", r.rejectedMeshed, 0, max(0, min(r.marginalMeshed, maxPulleyTeeth)))
	}
	return r
}

// checkOrder wants low to be at most high, which people know as highName.
func (e *InputErrors) checkOrder(lowField string, low float64, highName string, high float64) {
	if low > high {
		e.add(lowField, low, ReasonOutOfRange, fmt.Sprintf("give at most %v, the value of %s", high, highName))
	}
}

// Verdict is the judgement of a drive.
type Verdict int

// The verdicts.
const (
	VerdictFits     Verdict = iota + 1 // the belt fits its holes
	VerdictMarginal                    // a little slack or tight, or few teeth in mesh
	VerdictRejected                    // slack, too tight, or it cannot be put on
	VerdictInvalid                     // input at fault, or no such drive exists
)

// ofDeviation judges the deviation alone.
func (r fitRule) ofDeviation(mm float64) Verdict {
	switch {
	case mm >= r.fitLow-limitSlackMM && mm <= r.fitHigh+limitSlackMM:
		return VerdictFits
	case mm >= r.marginalLow-limitSlackMM && mm <= r.marginalHigh+limitSlackMM:
		return VerdictMarginal
	}
	return VerdictRejected
}

// ofMesh judges the teeth in mesh alone.
func (r fitRule) ofMesh(teeth int) Verdict {
	switch {
	case teeth < r.rejectedMeshed:
		return VerdictRejected
	case teeth < r.marginalMeshed:
		return VerdictMarginal
	}
	return VerdictFits
}

// of judges deviation and teeth in mesh: the worse counts.
func (r fitRule) of(deviationMM float64, meshed int) Verdict {
	return max(r.ofDeviation(deviationMM), r.ofMesh(meshed))
}
