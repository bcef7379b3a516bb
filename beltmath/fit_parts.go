package beltmath

import (
	"fmt"
	"math"
)

// The parts a deviation is the sum of, in the order of FitQuery's fields.
const (
	partDrilled = iota
	partHoles
	partBelt
	partDriverPlay
	partDrivenPlay
	partOversize
	partTemperature
	partCount
)

var partNames = [partCount]string{
	"CenterDistanceMM", "CenterToleranceMM", "BeltLengthToleranceMM", "DriverPlayMM", "DrivenPlayMM",
	"PulleyOversizeMM", "TemperatureChangeK",
}

// fitPart is one of them in millimeters, or their sum.
type fitPart struct{ shift, variance, low, high float64 }

// sigmas is how many standard deviations a tolerance stands for.
const sigmas = 3

// bothWays is a part that lies within reach of 0.
func bothWays(reach float64) fitPart {
	return fitPart{variance: reach * reach / (sigmas * sigmas), low: -reach, high: reach}
}

// oneWay is a part that lies between 0 and end, which may be below 0.
func oneWay(end float64) fitPart {
	return fitPart{
		shift: end / 2, variance: end * end / (4 * sigmas * sigmas), low: min(0, end), high: max(0, end),
	}
}

// certain is a part that does not vary.
func certain(shift float64) fitPart { return fitPart{shift: shift, low: shift, high: shift} }

func (p fitPart) plus(o fitPart) fitPart {
	return fitPart{p.shift + o.shift, p.variance + o.variance, p.low + o.low, p.high + o.high}
}

// fitCase is a checked FitQuery.
type fitCase struct {
	drive Drive
	rule  fitRule
	exact float64 // center distance of the nominal drive
	sine  float64 // of half of the small pulley's wrap
	parts [partCount]fitPart

	lengthStep       LengthTolerance // the section's, where its table reaches the belt
	measured         bool            // the belt was measured
	measuredExcessMM float64         // and is longer than its nominal length by this
}

func (f *fitCase) total() fitPart {
	var sum fitPart
	for _, p := range f.parts {
		sum = sum.plus(p)
	}
	return sum
}

func (f *fitCase) partName(part int) string {
	if part == partBelt && f.measured {
		return "BeltMeasurement"
	}
	return partNames[part]
}

// resolve is the door of the query: it fills all else in.
func (f *fitCase) resolve(q *FitQuery) error {
	var errs InputErrors
	f.measured = q.BeltMeasurement != nil
	f.drive = q.Drive.resolve(&errs, "Drive.")
	errs.CheckPositive("CenterDistanceMM", q.CenterDistanceMM, greatestCenterMM)
	q.checkTolerances(&errs)
	f.rule = q.Limits.resolve(&errs, "Limits.")
	if q.StiffnessN != nil {
		errs.CheckPositive("StiffnessN", *q.StiffnessN, maxStiffnessN)
	}
	tolerance := f.beltTolerance(q, &errs)
	if len(errs) > 0 {
		return errs
	}
	var err error
	if f.exact, err = f.drive.Center(); err != nil {
		return under("Drive.", err)
	}
	if err := f.drive.checkClear("CenterDistanceMM", q.CenterDistanceMM); err != nil {
		return err
	}
	f.sine = f.drive.lengthPerCenter(f.exact) / 2
	if f.parts[partBelt] = bothWays(tolerance / (2 * f.sine)); f.measured {
		f.parts[partBelt] = f.measuredBelt(q.BeltMeasurement, &errs)
	}
	if len(errs) > 0 {
		return errs
	}
	f.addParts(q)
	return nil
}

func (q *FitQuery) checkTolerances(errs *InputErrors) {
	check := func(field string, value *float64) {
		if value != nil {
			errs.CheckRange(field, *value, 0, maxToleranceMM)
		}
	}
	check("CenterToleranceMM", q.CenterToleranceMM)
	check("BeltLengthToleranceMM", q.BeltLengthToleranceMM)
	if m := q.BeltMeasurement; m != nil {
		m.check(errs)
	}
	check("DriverPlayMM", &q.DriverPlayMM)
	check("DrivenPlayMM", &q.DrivenPlayMM)
	check("PulleyOversizeMM", &q.PulleyOversizeMM)
	errs.CheckRange("TemperatureChangeK", q.TemperatureChangeK, -maxTemperatureK, maxTemperatureK)
	errs.CheckRange("PlateExpansionPerK", q.PlateExpansionPerK, -maxExpansionPerK, maxExpansionPerK)
	errs.CheckRange("BeltExpansionPerK", q.BeltExpansionPerK, -maxExpansionPerK, maxExpansionPerK)
}

// beltTolerance returns the tolerance on the belt's length: the one given, or
// that of the section's table.
func (f *fitCase) beltTolerance(q *FitQuery, errs *InputErrors) float64 {
	switch {
	case q.BeltLengthToleranceMM != nil && q.BeltMeasurement != nil:
		errs.add("BeltLengthToleranceMM", *q.BeltLengthToleranceMM, ReasonExactlyOne,
			"give at most one of belt_length_tolerance_mm and belt_measurement")
	case q.BeltLengthToleranceMM != nil:
		return *q.BeltLengthToleranceMM
	case f.drive.Pitch == (Pitch{}) || f.drive.BeltToothCount < minBeltTeeth || f.drive.BeltToothCount > maxBeltTeeth:
		return 0 // at fault already
	}
	length := f.drive.Pitch.BeltPitchLengthMM(f.drive.BeltToothCount)
	var ok bool
	if f.lengthStep, ok = f.drive.Section.lengthStep(length); ok {
		return *f.lengthStep.ToleranceMM.Value
	}
	if q.BeltMeasurement == nil {
		errs.add("BeltLengthToleranceMM", "not given", ReasonNoTolerance,
			fmt.Sprintf("no length tolerance is held for this belt of %.6g mm; give belt_length_tolerance_mm or belt_measurement", length))
	}
	return 0
}

// addParts fills in all parts but the belt's length.
func (f *fitCase) addParts(q *FitQuery) {
	tolerance := defaultCenterTolerMM
	if q.CenterToleranceMM != nil {
		tolerance = *q.CenterToleranceMM
	}
	f.parts[partDrilled] = certain(q.CenterDistanceMM - f.exact)
	f.parts[partHoles] = bothWays(tolerance)
	f.parts[partDriverPlay] = oneWay(-q.DriverPlayMM)
	f.parts[partDrivenPlay] = oneWay(-q.DrivenPlayMM)
	wrap := f.drive.driverWrapRad() / 2
	f.parts[partOversize] = oneWay(q.PulleyOversizeMM * wrap / (2 * f.sine)).
		plus(oneWay(q.PulleyOversizeMM * (math.Pi - wrap) / (2 * f.sine)))
	length := f.drive.Pitch.BeltPitchLengthMM(f.drive.BeltToothCount) + f.measuredExcessMM
	f.parts[partTemperature] = certain(q.TemperatureChangeK *
		(q.PlateExpansionPerK*q.CenterDistanceMM - q.BeltExpansionPerK*length/(2*f.sine)))
}
