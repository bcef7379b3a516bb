package beltmath

import (
	"fmt"
	"math"
)

// The bounds of a CheckItem.
const (
	maxIDBytes            = 256
	maxBeltWidthMM        = 1000
	maxTorqueNM           = 1e6
	maxHeightDifferenceMM = 10000
)

// CheckItem is a drive on fixed centers to judge.
type CheckItem struct {
	// ID is returned with the result; at most 256 bytes.
	ID string
	// Drive is the drive.
	Drive DriveInput
	// CenterDistanceMM is the stated center distance, above 0 and at most
	// 250000.
	CenterDistanceMM float64
	// BeltWidthMM is above 0 and at most 1000.
	BeltWidthMM *float64
	// TorqueNM is the torque on the driver, 0 to 1000000 newton meters.
	TorqueNM *float64
	// HeightDifferenceMM is that of the two axles, -10000 to 10000; it helps
	// to recognize a rail spacing taken for a center distance.
	HeightDifferenceMM *float64
}

// CheckResult is the judgement of one item.
type CheckResult struct {
	// ID is that of the item.
	ID string
	// Verdict is the judgement.
	Verdict Verdict
	// Solved tells whether there is an exact center distance; the three
	// numbers that follow mean nothing without it.
	Solved bool
	// CenterDistanceMM is the exact center distance.
	CenterDistanceMM float64
	// DeviationMM is the stated minus the exact center distance: above 0 is
	// tight.
	DeviationMM float64
	// StretchPercent is how much the deviation stretches the belt, to first
	// order, in percent of its length.
	StretchPercent float64
	// Notes tell what deserves a look.
	Notes []Note
	// Err is what is wrong with an invalid item: InputErrors, or a
	// *NoSolutionError where its belt does not reach round its pulleys. Its
	// fields are paths inside the item. Nil for any other verdict.
	Err error
}

// CheckSummary counts results by verdict.
type CheckSummary struct {
	Fits, Marginal, Rejected, Invalid int
}

// Add counts one result.
func (s *CheckSummary) Add(v Verdict) {
	switch v {
	case VerdictFits:
		s.Fits++
	case VerdictMarginal:
		s.Marginal++
	case VerdictRejected:
		s.Rejected++
	case VerdictInvalid:
		s.Invalid++
	}
}

// Checker judges drives by one set of limits. It does not change: any number
// of goroutines may use one.
type Checker struct{ rule fitRule }

// NewChecker returns a Checker of the given limits. Its error is InputErrors
// with fields under path.
func NewChecker(limits FitLimits, path string) (*Checker, error) {
	var errs InputErrors
	rule := limits.resolve(&errs, path)
	if len(errs) > 0 {
		return nil, errs
	}
	return &Checker{rule: rule}, nil
}

// OfMesh judges a count of teeth in mesh.
func (c *Checker) OfMesh(meshed int) Verdict { return c.rule.ofMesh(meshed) }

// Check judges one item. Only the item decides: what is wrong with it is in
// the result. The center distance is as exact as CenterMM; the stretch is
// 100 (2 sin theta) deviation / length, theta half of the wrap on the smaller
// pulley, from dL/dC = 2 sin theta.
//
// Pulleys that touch, at the exact or at the stated center distance, are
// rejected with a note. A rejected deviation is tried for the usual slips.
func (c *Checker) Check(item *CheckItem) CheckResult {
	r := CheckResult{ID: item.ID}
	drive, err := item.resolve()
	if err != nil {
		r.Verdict, r.Err = VerdictInvalid, err
		return r
	}
	exact := drive.Pitch.CenterMM(drive.Driver.ToothCount, drive.Driven.ToothCount, drive.BeltToothCount)
	if math.IsNaN(exact) {
		r.Verdict, r.Err = VerdictInvalid, under("Drive.", drive.noCenter(exact))
		return r
	}
	k := checkCase{item: item, drive: drive, rule: c.rule, exact: exact, deviation: item.CenterDistanceMM - exact}
	r.Solved = true
	r.CenterDistanceMM = exact
	r.DeviationMM = k.deviation
	r.StretchPercent = 100 * drive.lengthPerCenter(exact) * k.deviation / drive.Pitch.BeltPitchLengthMM(drive.BeltToothCount)
	r.Verdict = k.judge()
	r.Notes = k.notes
	return r
}

// resolve is the door of an item: paths are joined only for values at fault.
func (item *CheckItem) resolve() (Drive, error) {
	var errs InputErrors
	drive := item.Drive.resolve(&errs, "")
	for _, e := range errs {
		e.Field = "Drive." + e.Field
	}
	errs.CheckPositive("CenterDistanceMM", item.CenterDistanceMM, greatestCenterMM)
	if item.BeltWidthMM != nil {
		errs.CheckPositive("BeltWidthMM", *item.BeltWidthMM, maxBeltWidthMM)
	}
	if item.TorqueNM != nil {
		errs.CheckRange("TorqueNM", *item.TorqueNM, 0, maxTorqueNM)
	}
	if item.HeightDifferenceMM != nil {
		errs.CheckRange("HeightDifferenceMM", *item.HeightDifferenceMM, -maxHeightDifferenceMM, maxHeightDifferenceMM)
	}
	if len(item.ID) > maxIDBytes {
		errs.add("ID", fmt.Sprintf("%d bytes long", len(item.ID)), ReasonOutOfRange,
			fmt.Sprintf("give at most %d bytes", maxIDBytes))
	}
	return drive, errs.Err()
}

// lengthPerCenter returns dL/dC = 2 sin theta at center distance c.
func (d Drive) lengthPerCenter(c float64) float64 {
	if d.Driver.ToothCount == d.Driven.ToothCount {
		return 2
	}
	diff := d.Pitch.MM() * float64(d.Driver.ToothCount-d.Driven.ToothCount) / (2 * math.Pi)
	return 2 * math.Sqrt((c-diff)*(c+diff)) / c
}

// meshedTeeth returns the teeth in mesh on the smaller pulley.
func (d Drive) meshedTeeth() int {
	small := min(d.Driver.ToothCount, d.Driven.ToothCount)
	if d.Driver.ToothCount == d.Driven.ToothCount {
		return small / 2
	}
	wrap := d.driverWrapRad()
	return meshedTeeth(small, min(wrap, 2*math.Pi-wrap))
}

// checkCase is one solved item under judgement.
type checkCase struct {
	item             *CheckItem
	drive            Drive
	rule             fitRule
	exact, deviation float64
	notes            []Note
}

func (k *checkCase) judge() Verdict {
	byDeviation := k.rule.ofDeviation(k.deviation)
	if byDeviation == VerdictRejected {
		k.noteSlip()
	}
	verdict := byDeviation
	if k.noteTouching() {
		verdict = VerdictRejected
	}
	meshed := k.drive.meshedTeeth()
	k.noteMesh(meshed)
	k.notes = append(k.notes, k.drive.pulleyNotes("Drive.")...)
	k.noteWidth()
	k.noteLoad()
	k.noteRatio()
	if n, ok := k.drive.lengthNote(k.beltField()); ok {
		k.notes = append(k.notes, n)
	}
	return max(verdict, k.rule.ofMesh(meshed))
}

// beltField is the field that named the belt.
func (k *checkCase) beltField() string {
	if k.item.Drive.BeltToothCount == nil {
		return "Drive.BeltDesignation"
	}
	return "Drive.BeltToothCount"
}

func (k *checkCase) note(reason string, severity Severity, field, message string) {
	k.notes = append(k.notes, Note{Reason: reason, Severity: severity, Field: field, Message: message})
}
