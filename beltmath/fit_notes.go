package beltmath

import (
	"fmt"
	"math"
)

// The reason words of notes on fits, beside those on drives.
const (
	NoteFitModel            = "FIT_MODEL"
	NoteAllowanceFirst      = "ALLOWANCE_FIRST"
	NoteMeasuringForce      = "MEASURING_FORCE"
	NoteToleranceFromTable  = "TOLERANCE_FROM_TABLE"
	NoteToleranceUnverified = "TOLERANCE_UNVERIFIED"
	NoteDefaultTolerance    = "DEFAULT_CENTER_TOLERANCE"
	NoteDefaultLimits       = "DEFAULT_LIMITS"
	NoteNominalPulleys      = "NOMINAL_PULLEYS"
	NotePulleysNotWarmed    = "PULLEYS_NOT_WARMED"
	NoteBeyondTolerance     = "MEASURED_BEYOND_TOLERANCE"
)

// notes returns what the numbers rest on, after the notes on the drive.
func (f *fitCase) notes(q *FitQuery, a *FitAnswer) []Note {
	notes := make([]Note, 0, 8)
	notes = append(notes, f.drive.notes("Drive.")...)
	if len(a.Levers) > 0 && a.BestShareGood > a.Levers[0].ShareGoodIfHalved {
		notes = append(notes, Note{
			NoteAllowanceFirst, SeverityInfo,
			"drilling at the best allowance gains more than halving any one tolerance does",
			"CenterDistanceMM",
		})
	}
	if n, ok := f.lengthNote(q); ok {
		notes = append(notes, n)
	}
	if q.CenterToleranceMM == nil {
		notes = append(notes, Note{
			NoteDefaultTolerance, SeverityInfo,
			"the holes are taken as drilled to 0.05 mm, which machined plates reach (makers' light-drive manuals, from memory) and laser-cut sheet does not, about 0.1 mm (common practice, no source)",
			"CenterToleranceMM",
		})
	}
	if q.PulleyOversizeMM == 0 {
		notes = append(notes, f.nominalPulleys())
	}
	if n, ok := f.warmthNote(q); ok {
		notes = append(notes, n)
	}
	if l := q.Limits; l.FitLowMM == nil || l.FitHighMM == nil {
		notes = append(notes, Note{
			NoteDefaultLimits, SeverityInfo,
			"what counts as good, a deviation of -0.05 to 0.15 mm where not given, is common practice without a printed source",
			"Limits",
		})
	}
	return append(notes,
		Note{
			NoteFitModel, SeverityInfo,
			"shares take everything that varies as independent and normal, each tolerance as 3 sigma; play lies between 0 and its value and oversize too, so each shifts the mean by half of itself",
			"",
		},
		Note{
			NoteMeasuringForce, SeverityInfo,
			"center distance and belt length are defined under a measuring force, so a deviation of 0 is not a tension of 0",
			"",
		})
}

// lengthNote tells where the belt's length comes from.
func (f *fitCase) lengthNote(q *FitQuery) (Note, bool) {
	step := f.lengthStep
	switch {
	case f.measured:
		if step.ToleranceMM.Value == nil || f.measuredExcessMM >= -*step.ToleranceMM.Value && f.measuredExcessMM <= *step.ToleranceMM.Value {
			return Note{}, false
		}
		return Note{
			NoteBeyondTolerance, SeverityCaution,
			fmt.Sprintf("the measured belt is %+.3f mm off its nominal length, beyond the %g mm of %s%s: measure again, seat the teeth first",
				f.measuredExcessMM, *step.ToleranceMM.Value, step.Standard, unverifiedMark(step.ToleranceMM)),
			"BeltMeasurement.CenterDistanceMM",
		}, true
	case q.BeltLengthToleranceMM != nil:
		return Note{}, false
	}
	n := Note{
		NoteToleranceFromTable, SeverityInfo,
		"",
		"BeltLengthToleranceMM",
	}
	trust := ""
	if !step.ToleranceMM.Verified {
		n.Reason, n.Severity = NoteToleranceUnverified, SeverityCaution
		trust = ", which is not verified (" + seen(step.ToleranceMM) + "): ask the belt's maker, or measure the belt"
	}
	n.Message = "the belt's length is taken as within " + mm(*step.ToleranceMM.Value) + " mm, from the table of " + step.Standard + trust
	return n, true
}

func (f *fitCase) nominalPulleys() Note {
	d := f.drive
	return Note{
		NoteNominalPulleys, SeverityInfo,
		"the pulleys are taken at their nominal diameters; published tolerances let the larger one here be up to " +
			mm(outsideToleranceMM(max(d.outerDiameterMM(d.Driver), d.outerDiameterMM(d.Driven)))) +
			" mm larger, which tightens the belt: give pulley_oversize_mm",
		"PulleyOversizeMM",
	}
}

// warmthNote says what pulleys that grow would add, to first order as for
// oversize.
func (f *fitCase) warmthNote(q *FitQuery) (Note, bool) {
	growth := q.PlateExpansionPerK * q.TemperatureChangeK
	if growth == 0 {
		return Note{}, false
	}
	d := f.drive
	wrap := d.driverWrapRad() / 2
	arcs := wrap*d.Pitch.PitchDiameterMM(d.Driver.ToothCount) + (math.Pi-wrap)*d.Pitch.PitchDiameterMM(d.Driven.ToothCount)
	return Note{
		NotePulleysNotWarmed, SeverityInfo,
		"the pulleys are taken not to grow with warmth; pulleys of the plates' material would add about " +
			mm(growth*arcs/(2*f.sine)) + " mm to the deviation",
		"TemperatureChangeK",
	}, true
}
