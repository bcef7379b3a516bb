package beltmath

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fitDrive is a drive with given counts of teeth.
func fitDrive(section string, driver, driven, belt int) DriveInput {
	return DriveInput{Section: section, Driver: Pulley{ToothCount: driver}, Driven: Pulley{ToothCount: driven}, BeltToothCount: &belt}
}

// fullFit has every contributor.
func fullFit() FitQuery {
	return FitQuery{
		Drive: fitDrive("H5M", 36, 45, 178), CenterDistanceMM: 343.72,
		CenterToleranceMM: new(0.05), BeltLengthToleranceMM: new(0.66),
		DriverPlayMM: 0.04, DrivenPlayMM: 0.02, PulleyOversizeMM: 0.1,
		TemperatureChangeK: 20, PlateExpansionPerK: 23e-6,
		StiffnessN: new(330000.0),
	}
}

func analyze(t *testing.T, q FitQuery) FitAnswer {
	t.Helper()
	a, err := AnalyzeFit(q)
	require.NoError(t, err)
	return a
}

// TestFitByHand compares with 40-digit arithmetic of the same model: mean and
// variance summed by hand with the derivatives of the open-belt length, shares
// from the normal distribution function.
func TestFitByHand(t *testing.T) {
	a := analyze(t, fullFit())
	const digits = 1e-12 // 15 digits were computed of values near 1
	assert.InDelta(t, 343.6753718625495, a.ExactCenterDistanceMM, 1e-12)
	assert.InDelta(t, 0.251296213429198, a.DeviationMM.Mean, digits)
	assert.InDelta(t, 0.113055270669605, a.DeviationMM.Sigma, digits)
	assert.InDelta(t, 0.05/3, a.HoleSigmaMM, digits)
	assert.InDelta(t, a.DeviationMM.Sigma, math.Hypot(a.HoleSigmaMM, a.OtherSigmaMM), digits)
	assert.InDelta(t, 0.0038490195551994895, a.ShareLoose, digits)
	assert.InDelta(t, 0.18128045422028806, a.ShareGood, digits)
	assert.InDelta(t, 0.81487052622451245, a.ShareTight, digits)
	assert.InDelta(t, -0.156575522295223, a.BestAllowanceMM, digits)
	assert.InDelta(t, 0.623586108998836, a.BestShareGood, digits)
	assert.InDelta(t, 0.0564587957786211, a.StretchPercent.Mean, digits)
	require.NotNil(t, a.TensionN)
	assert.InDelta(t, 186.314026069449, a.TensionN.Mean, 1e-9)

	shares := map[string]float64{}
	for _, c := range a.Contributors {
		shares[c.Name] = c.VarianceShare
	}
	assert.InDeltaMapValues(t, map[string]float64{
		"CenterDistanceMM": 0, "CenterToleranceMM": 0.0217328093932, "BeltLengthToleranceMM": 0.947092479201,
		"DriverPlayMM": 0.00347724950291, "DrivenPlayMM": 0.000869312375728, "PulleyOversizeMM": 0.0268281495274,
		"TemperatureChangeK": 0,
	}, shares, 1e-11) // 12 digits were computed

	levers := map[string]float64{}
	for _, l := range a.Levers {
		levers[l.Name] = l.ShareGoodIfHalved
	}
	assert.InDelta(t, 0.047983387388867785, levers["BeltLengthToleranceMM"], digits)
	assert.InDelta(t, 0.28012411035483332, levers["PulleyOversizeMM"], digits)
}

// TestFitExtremes compares the worst cases with hand-worked ones.
func TestFitExtremes(t *testing.T) {
	tests := []struct {
		name      string
		query     FitQuery
		low, high float64
		within    float64
	}{
		// Equal pulleys are linear in all but nothing: 0.03 -+ 0.05 -+ 0.66/2,
		// play -0.04, oversize 0.1 pi/2.
		{"equal", FitQuery{
			Drive: fitDrive("H5M", 36, 36, 174), CenterDistanceMM: 345.03, CenterToleranceMM: new(0.05),
			BeltLengthToleranceMM: new(0.66), DriverPlayMM: 0.04, PulleyOversizeMM: 0.1,
		}, 0.03 - 0.05 - 0.33 - 0.04, 0.03 + 0.05 + 0.33 + 0.05*math.Pi, 1e-12},
		// The exact equations in 40 digits; second-order terms are left out of
		// the answer, at most 1e-5 here.
		{"unequal", FitQuery{
			Drive: fitDrive("H5M", 36, 45, 178), CenterDistanceMM: 343.72, CenterToleranceMM: new(0.05),
			BeltLengthToleranceMM: new(0.66), DriverPlayMM: 0.04, DrivenPlayMM: 0.02, PulleyOversizeMM: 0.1,
		}, -0.395443473074, 0.58181371897, 1e-5},
		// Near touching, where the equations bend the most.
		{"ratio 8.6", FitQuery{
			Drive: fitDrive("T5", 14, 120, 144), CenterDistanceMM: 172, CenterToleranceMM: new(0.05),
			BeltLengthToleranceMM: new(0.48), PulleyOversizeMM: 0.15,
		}, 0.400144662292, 1.32260873166, 2e-3},
	}
	for _, tt := range tests {
		a := analyze(t, tt.query)
		assert.InDelta(t, tt.low, a.DeviationMM.WorstLow, tt.within, tt.name)
		assert.InDelta(t, tt.high, a.DeviationMM.WorstHigh, tt.within, tt.name)
	}
}

// TestNormalShares compares with the normal distribution function in 40 digits.
func TestNormalShares(t *testing.T) {
	tests := []struct {
		mean, sigma          float64
		below, within, above float64
	}{
		{0.05, 0.1, 0.15865525393145705, 0.6826894921370859, 0.15865525393145705},
		{0, 0.11, 0.3247181418633773, 0.58894083742724849, 0.086341020709374206},
		{1, 0.1, 4.3190063178092303e-26, 9.4795347790132552e-18, 1},
		{-2, 0.2, 1, 9.2231172168516087e-23, 2.9630808780943586e-27},
	}
	for _, tt := range tests {
		below, within, above := NormalShares(tt.mean, tt.sigma, -0.05, 0.15)
		// Relative: 0.05 and 0.15 are no float64, which a tail amplifies.
		assert.InEpsilon(t, tt.below, below, 1e-13)
		assert.InEpsilon(t, tt.within, within, 1e-13)
		assert.InEpsilon(t, tt.above, above, 1e-13)
		assert.InDelta(t, 1, below+within+above, 1e-15)
	}
	for mean, want := range map[float64][3]float64{
		-0.06: {1, 0, 0}, -0.05: {0, 1, 0}, 0: {0, 1, 0}, 0.15: {0, 1, 0}, 0.16: {0, 0, 1},
	} {
		below, within, above := NormalShares(mean, 0, -0.05, 0.15)
		assert.Equal(t, want, [3]float64{below, within, above}, "%v", mean)
	}
	drilled := 344.95 // minus 345 it is a little below -0.05
	_, within, _ := NormalShares(drilled-345, 0, -0.05, 0.15)
	assert.Equal(t, 1.0, within)
}

// TestFitMeasured: the length of a measured belt is worked out exactly. The
// wanted center distances are the length equation in 40 digits.
func TestFitMeasured(t *testing.T) {
	tests := []struct {
		name               string
		driver, driven     int
		measured, wantedMM float64
		sigma              float64 // of 0.02 mm uncertainty
	}{
		{"equal pulleys", 36, 36, 355.12, 343.795397918654975, 0.02 / 3 / 0.99978283710053},
		{"far from the drive's", 20, 60, 343.45, 343.601464369351002, 0.00663941473329324},
		{"the drive's own", 36, 45, 343.70, 343.70, 0.02 / 3},
	}
	for _, tt := range tests {
		q := fullFit()
		q.BeltLengthToleranceMM, q.CenterToleranceMM = nil, new(0.0)
		q.DriverPlayMM, q.DrivenPlayMM, q.PulleyOversizeMM, q.TemperatureChangeK = 0, 0, 0, 0
		q.BeltMeasurement = &BeltMeasurement{
			Driver: Pulley{ToothCount: tt.driver}, Driven: Pulley{ToothCount: tt.driven},
			CenterDistanceMM: tt.measured, UncertaintyMM: 0.02,
		}
		a := analyze(t, q)
		assert.InDelta(t, 343.72-tt.wantedMM, a.DeviationMM.Mean, 1e-11, tt.name) // some units of the last place of 344
		assert.InDelta(t, tt.sigma, a.DeviationMM.Sigma, 1e-8, tt.name)
		assert.Equal(t, []string{"CenterDistanceMM", "BeltMeasurement"}, contributorNames(a), tt.name)
		require.Len(t, a.Levers, 1)
		better := q
		better.BeltMeasurement = new(*q.BeltMeasurement)
		better.BeltMeasurement.UncertaintyMM = 0.01
		assert.InDelta(t, analyze(t, better).ShareGood, a.Levers[0].ShareGoodIfHalved, 1e-12, "a lever halves the uncertainty, not the length")
	}
}

func contributorNames(a FitAnswer) []string {
	var names []string
	for _, c := range a.Contributors {
		names = append(names, c.Name)
	}
	return names
}

// TestFitDefaults: the section's table, its flag in a note; 0.05 mm of holes.
func TestFitDefaults(t *testing.T) {
	tests := []struct {
		drive     DriveInput
		tolerance float64 // of the length, from testdata/tables/length_tolerances.csv
		note      string
		severity  Severity
	}{
		{fitDrive("H5M", 36, 36, 174), 0.66, NoteToleranceUnverified, SeverityCaution},
		{fitDrive("T5", 32, 32, 122), 0.42, NoteToleranceUnverified, SeverityCaution},
		{fitDrive("XL", 10, 10, 50), 0.406, NoteToleranceFromTable, SeverityInfo}, // 254 mm: seen in two sources
		{fitDrive("XL", 10, 10, 51), 0.457, NoteToleranceUnverified, SeverityCaution},
	}
	for _, tt := range tests {
		d, err := tt.drive.Resolve()
		require.NoError(t, err)
		center, err := d.Center()
		require.NoError(t, err)
		a := analyze(t, FitQuery{Drive: tt.drive, CenterDistanceMM: center})
		assert.InDelta(t, 0.05+tt.tolerance/2, a.DeviationMM.WorstHigh, 1e-12)
		found := false
		for _, n := range a.Notes {
			if n.Field == "BeltLengthToleranceMM" {
				found = true
				assert.Equal(t, tt.note, n.Reason)
				assert.Equal(t, tt.severity, n.Severity)
				assert.Contains(t, n.Message, fmt.Sprint(tt.tolerance))
			}
		}
		assert.True(t, found)
		for _, reason := range []string{NoteDefaultTolerance, NoteDefaultLimits, NoteNominalPulleys, NoteFitModel, NoteMeasuringForce} {
			assert.Contains(t, reasons(a.Notes), reason)
		}
	}
}

func reasons(notes []Note) []string {
	var out []string
	for _, n := range notes {
		out = append(out, n.Reason)
	}
	return out
}

func TestFitNotesOfGivenValues(t *testing.T) {
	q := fullFit()
	q.Limits = FitLimits{FitLowMM: new(-0.1), FitHighMM: new(0.2)}
	got := reasons(analyze(t, q).Notes)
	for _, reason := range []string{NoteDefaultTolerance, NoteDefaultLimits, NoteNominalPulleys, NoteToleranceUnverified} {
		assert.NotContains(t, got, reason)
	}
	assert.Contains(t, got, NotePulleysNotWarmed)

	q.BeltLengthToleranceMM = nil
	q.BeltMeasurement = &BeltMeasurement{Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, CenterDistanceMM: 355.32}
	assert.NotContains(t, reasons(analyze(t, q).Notes), NoteBeyondTolerance, "0.64 of 0.66 mm")
	q.BeltMeasurement.CenterDistanceMM = 355.34
	assert.Contains(t, reasons(analyze(t, q).Notes), NoteBeyondTolerance, "0.68 of 0.66 mm")
}

// TestAllowanceFirst: where the mean is off, less spread does not help.
func TestAllowanceFirst(t *testing.T) {
	q := fullFit()
	a := analyze(t, q)
	assert.Contains(t, reasons(a.Notes), NoteAllowanceFirst)
	q.CenterDistanceMM = a.ExactCenterDistanceMM + a.BestAllowanceMM
	assert.NotContains(t, reasons(analyze(t, q).Notes), NoteAllowanceFirst)
}

// TestOutsideTolerance: 0.002 in to 1 in, 0.003 to 2, 0.004 to 4, 0.005 to 7,
// 0.006 to 12, 0.007 to 20, 0.008 above (S14), within the rounding to 0.01 mm.
func TestOutsideTolerance(t *testing.T) {
	thousandths := 2.0
	for _, upTo := range []float64{1, 2, 4, 7, 12, 20, 100} {
		assert.InDelta(t, thousandths*0.0254, outsideToleranceMM(upTo*25.4), 0.0051, "%v in", upTo)
		thousandths++
	}
}

func TestFitRefusals(t *testing.T) {
	nan := math.NaN()
	bad := FitQuery{
		Drive: fitDrive("H6M", 0, 36, 174), CenterDistanceMM: nan, CenterToleranceMM: new(-0.01),
		BeltLengthToleranceMM: new(11.0), DriverPlayMM: -1, DrivenPlayMM: math.Inf(1), PulleyOversizeMM: 10.5,
		TemperatureChangeK: 301, PlateExpansionPerK: 0.0011, BeltExpansionPerK: -0.0011,
		Limits:          FitLimits{FitLowMM: new(0.2), FitHighMM: new(0.1)},
		StiffnessN:      new(0.0),
		BeltMeasurement: &BeltMeasurement{Driver: Pulley{ToothCount: 5}, CenterDistanceMM: 0, UncertaintyMM: -1},
	}
	_, err := AnalyzeFit(bad)
	var errs InputErrors
	require.ErrorAs(t, err, &errs)
	var fields []string
	for _, e := range errs {
		fields = append(fields, e.Field)
	}
	assert.Equal(t, strings.Fields(`Drive.Section Drive.Driver.ToothCount CenterDistanceMM CenterToleranceMM BeltLengthToleranceMM
		BeltMeasurement.Driver.ToothCount BeltMeasurement.Driven.ToothCount BeltMeasurement.CenterDistanceMM BeltMeasurement.UncertaintyMM
		DriverPlayMM DrivenPlayMM PulleyOversizeMM TemperatureChangeK PlateExpansionPerK BeltExpansionPerK
		Limits.FitLowMM StiffnessN BeltLengthToleranceMM`), fields)

	good := FitQuery{Drive: fitDrive("H5M", 36, 45, 178), CenterDistanceMM: 343.7}
	tests := []struct {
		name          string
		change        func(*FitQuery)
		field, reason string
	}{
		{"no table for a bare pitch", func(q *FitQuery) { q.Drive.Section, q.Drive.PitchMM = "", new(5.5) }, "BeltLengthToleranceMM", ReasonNoTolerance},
		{"a belt longer than the table", func(q *FitQuery) { q.Drive.BeltToothCount = new(1000) }, "BeltLengthToleranceMM", ReasonNoTolerance},
		{"measured on pulleys too large", func(q *FitQuery) {
			q.BeltMeasurement = &BeltMeasurement{Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 178}, CenterDistanceMM: 343}
		}, "BeltMeasurement.Driven.ToothCount", ReasonOutOfRange},
		{"measured another belt", func(q *FitQuery) {
			q.BeltMeasurement = &BeltMeasurement{Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 45}, CenterDistanceMM: 341}
		}, "BeltMeasurement.CenterDistanceMM", ReasonOutOfRange},
		{"measured where pulleys overlap", func(q *FitQuery) {
			q.BeltMeasurement = &BeltMeasurement{Driver: Pulley{ToothCount: 10}, Driven: Pulley{ToothCount: 100}, CenterDistanceMM: 1}
		}, "BeltMeasurement.CenterDistanceMM", ReasonOutOfRange},
	}
	for _, tt := range tests {
		q := good
		tt.change(&q)
		_, err := AnalyzeFit(q)
		var one *InputError
		require.ErrorAs(t, err, &one, tt.name)
		assert.Equal(t, tt.field, one.Field, tt.name)
		assert.Equal(t, tt.reason, one.Reason, tt.name)
	}

	var none *NoSolutionError
	short := good
	short.Drive.BeltToothCount = new(40)
	_, err = AnalyzeFit(short)
	require.ErrorAs(t, err, &none)
	assert.Equal(t, "Drive.BeltToothCount", none.Field)
	overlapping := good
	overlapping.CenterDistanceMM = 50
	_, err = AnalyzeFit(overlapping)
	require.ErrorAs(t, err, &none)
	assert.Equal(t, ReasonPulleysTouch, none.Reason)
	assert.Equal(t, "CenterDistanceMM", none.Field)
}

func ExampleAnalyzeFit() {
	a, err := AnalyzeFit(FitQuery{
		Drive:            DriveInput{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltDesignation: "870 H5M"},
		CenterDistanceMM: 345,
		BeltMeasurement:  &BeltMeasurement{Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, CenterDistanceMM: 345.1, UncertaintyMM: 0.02},
	})
	fmt.Printf("%.3f %.3f %.3f, best allowance %.3f mm: %.3f\n", a.ShareLoose, a.ShareGood, a.ShareTight, a.BestAllowanceMM, a.BestShareGood)
	fmt.Println(err, a.Levers[0].Name)
	// Output:
	// 0.997 0.003 0.000, best allowance 0.150 mm: 1.000
	// <nil> BeltMeasurement
}
