package beltmath

import (
	"fmt"
	"strconv"
)

// The reason words of notes on ratings, beside those on drives and
// NoteBeyondRating, NoteWiderThanPulley and NoteMeasuringForce.
const (
	NoteRatingUnverified = "RATING_UNVERIFIED"
	NoteWidthExponent    = "WIDTH_EXPONENT_BORROWED"
	NoteMassNotHeld      = "MASS_NOT_HELD"
	NoteNoCapacity       = "NO_CAPACITY"
	NoteTensionRatio     = "TENSION_RATIO_UNVERIFIED"
	NoteShockAndStall    = "SHOCK_AND_STALL"
	NoteShaftLoad        = "SHAFT_AND_BEARING_LOAD"
	NoteGuards           = "GUARDS_AND_LICENSED_PRACTICE"
	NoteFixedCenters     = "TENSION_SET_BY_HOLES"
	NoteOffExact         = "OFF_EXACT_CENTER_DISTANCE"
)

// rateNotes are those on every rating.
var rateNotes = [...]Note{
	{
		NoteTensionRatio, SeverityInfo,
		"the static tension keeps the tight span at 8 times the slack one at the design pull, a ratio of makers' manuals (from memory, not verified); the maker's own value comes first",
		"",
	},
	{
		NoteFixedCenters, SeverityInfo,
		"on fixed centers the holes set the tension, and a deviation of 0 is not a tension of 0: analyze its fit, and measure the built drive",
		"CenterDistanceMM",
	},
	{
		NoteShockAndStall, SeverityCaution,
		"a motor's stall torque or a shock can pull several times the torque given: a belt that is slack or has few teeth in mesh skips teeth then, and one that is not breaks; rate for the greatest torque that can occur",
		"TorqueNM",
	},
	{
		NoteShaftLoad, SeverityCaution,
		"shafts and bearings carry the shaft load all the time, and a tight belt more than that: check them against it",
		"",
	},
	{
		NoteGuards, SeverityCaution,
		"guard what turns and cut the power before reaching in; local codes and licensed practice come before these numbers",
		"",
	},
}

// notes returns what deserves a look: first that the numbers do not hold, then
// that the belt is overloaded.
func (r *rateCase) notes(q *RateQuery, a *RateAnswer) []Note {
	notes := make([]Note, 0, 9)
	if n, ok := r.offExactNote(q.CenterDistanceMM); ok {
		notes = append(notes, n)
	}
	if n, ok := r.loadNote(a); ok {
		notes = append(notes, n)
	}
	notes = append(notes, r.drive.notes("Drive.")...)
	if n, ok := r.drive.widthNote(q.BeltWidthMM); ok {
		notes = append(notes, n)
	}
	if r.tensionSource != nil && !r.tensionSource.Verified || r.massSource != nil && !r.massSource.Verified {
		notes = append(notes, r.ratingNote())
	}
	if a.WidthFactor != 1 && !r.drive.isTrapezoidalInch() {
		notes = append(notes, Note{
			NoteWidthExponent, SeverityInfo,
			"the width exponent 1.14 is that of the trapezoidal inch belts (ISO 5295, from memory) and borrowed here",
			"BeltWidthMM",
		})
	}
	if r.mass == 0 {
		notes = append(notes, r.massNote())
	}
	return append(notes, rateNotes[:]...)
}

// isTrapezoidalInch tells whether the belt is of the family the width exponent
// was found for.
func (p Profile) isTrapezoidalInch() bool { return p.Section != nil && p.Section.System == inch.name }

func (r *rateCase) loadNote(a *RateAnswer) (Note, bool) {
	switch {
	case a.Utilization == nil:
		return Note{
			NoteNoCapacity, SeverityCaution,
			"nothing is left of the rating: too few teeth in mesh, or so fast that the belt's own mass takes all; use larger pulleys or a lower speed",
			"Drive",
		}, true
	case *a.Utilization <= 1:
		return Note{}, false
	}
	return Note{
		NoteBeyondRating, SeverityCaution,
		fmt.Sprintf("overloaded: %.0f N of pull times a service factor of %g on a belt that may carry %.0f N; use a wider belt, larger pulleys or less torque",
			a.EffectiveTensionN, r.serviceFactor, a.AllowableTensionN),
		"BeltWidthMM",
	}, true
}

// offExactNote warns of a center distance at which the belt would be rejected
// by the default limits.
func (r *rateCase) offExactNote(centerMM float64) (Note, bool) {
	d := r.drive
	deviation := centerMM - d.Pitch.CenterMM(d.Driver.ToothCount, d.Driven.ToothCount, d.BeltToothCount)
	if deviation >= defaultMarginalLowMM-limitSlackMM && deviation <= defaultMarginalHighMM+limitSlackMM {
		return Note{}, false
	}
	return Note{
		NoteOffExact, SeverityCaution,
		fmt.Sprintf("the center distance is %+.3f mm off the exact one: this belt would be slack or far too tight there, and these numbers do not hold", deviation),
		"CenterDistanceMM",
	}, true
}

func (r *rateCase) ratingNote() Note {
	what := "working tension and mass of " + r.drive.Section.Designation + " are"
	source := r.tensionSource
	switch {
	case r.massSource == nil:
		what = "the working tension of " + r.drive.Section.Designation + " is"
	case r.tensionSource == nil:
		what = "the mass of " + r.drive.Section.Designation + " is"
		source = r.massSource
	}
	return Note{
		NoteRatingUnverified, SeverityCaution,
		what + " not verified (" + seen(*source) + "): ask the belt's maker before relying on it",
		"Drive.Section",
	}
}

func (r *rateCase) massNote() Note {
	return Note{
		NoteMassNotHeld, SeverityInfo,
		"no mass of this belt is held, so its centrifugal tension is left out, " +
			strconv.FormatFloat(0.1*r.speed*r.speed, 'g', 2, 64) +
			" N for each 0.1 kg/m at this speed, and there is no span frequency: give the maker's mass_kg_per_m",
		"MassKgPerM",
	}
}
