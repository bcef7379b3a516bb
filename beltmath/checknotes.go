package beltmath

import (
	"fmt"
	"math"
	"strconv"
)

// The reason words of notes on checked drives, beside ReasonPulleysTouch,
// ReasonFlangesTouch and the words of other drives.
const (
	NoteRatioNearOne    = "RATIO_NEAR_ONE"
	NoteWiderThanPulley = "WIDER_THAN_PITCH_DIAMETER"
	NoteBeyondRating    = "BEYOND_RATING"
	NoteRepeatedID      = "REPEATED_ID"
	ratioNearOnePercent = 3 // common practice, no source
)

// noteTouching notes pulleys or flanges that touch where the drive is stated
// or where its belt wants it, and reports whether they do.
func (k *checkCase) noteTouching() bool {
	limit, reason := k.drive.leastCenterMM()
	where, field, at := "stated", "CenterDistanceMM", k.item.CenterDistanceMM
	if k.exact <= limit {
		where, field, at = "exact", k.beltField(), k.exact
	}
	if at > limit {
		return false
	}
	what := "pulleys"
	if reason == ReasonFlangesTouch {
		what = "flanges"
	}
	message := "at the " + where + " center distance of " + mm(at) + " mm the " + what + " overlap: more than " + mm(limit) + " mm is needed"
	if reason == ReasonPulleysTouch && !k.drive.diametersVerified() {
		message += "; that limit rests on outside diameters that are not verified"
	}
	k.note(reason, SeverityCaution, field, message)
	return true
}

// diametersVerified tells whether the outside diameters are verified values.
func (d Drive) diametersVerified() bool {
	if d.Section == nil {
		return false
	}
	_, verified, ok := d.Section.OutsideDiameterMM(d.Driver.ToothCount)
	return ok && verified
}

func (k *checkCase) noteMesh(meshed int) {
	if meshed >= max(recommendedMeshedTeeth, k.rule.marginalMeshed) {
		return
	}
	field := "Drive.Driver.ToothCount"
	if k.drive.Driven.ToothCount < k.drive.Driver.ToothCount {
		field = "Drive.Driven.ToothCount"
	}
	if meshed < recommendedMeshedTeeth {
		k.notes = append(k.notes, fewMeshedTeeth(field, meshed))
		return
	}
	k.note(NoteFewMeshedTeeth, SeverityInfo, field,
		fmt.Sprintf("%d teeth in mesh, fewer than the %d asked for", meshed, k.rule.marginalMeshed))
}

func (k *checkCase) noteWidth() {
	if k.item.BeltWidthMM == nil {
		return
	}
	if n, ok := k.drive.widthNote(*k.item.BeltWidthMM); ok {
		k.notes = append(k.notes, n)
	}
}

// widthNote warns of a belt wider than the smaller pulley's pitch diameter.
// Source: IP-24, from memory.
func (d Drive) widthNote(widthMM float64) (Note, bool) {
	diameter := d.Pitch.PitchDiameterMM(min(d.Driver.ToothCount, d.Driven.ToothCount))
	if widthMM <= diameter {
		return Note{}, false
	}
	return Note{
		NoteWiderThanPulley, SeverityCaution,
		"a belt " + mm(widthMM) + " mm wide is wider than the smaller pulley's pitch diameter of " + mm(diameter) +
			" mm: it runs off or wears at one edge; use a narrower belt or larger pulleys (rule of IP-24, from memory)",
		"BeltWidthMM",
	}, true
}

// noteLoad warns of a stated torque beyond the published rating of a belt of
// the stated width.
func (k *checkCase) noteLoad() {
	if k.item.BeltWidthMM == nil || k.item.TorqueNM == nil {
		return
	}
	allowed, ok := k.drive.Section.ratedTensionN(*k.item.BeltWidthMM)
	if !ok {
		return
	}
	tension := k.drive.effectiveTensionN(*k.item.TorqueNM)
	if tension <= allowed {
		return
	}
	k.note(NoteBeyondRating, SeverityCaution, "TorqueNM",
		newtons(tension)+" N on a "+mm(*k.item.BeltWidthMM)+" mm belt rated at "+newtons(allowed)+" N"+
			unverifiedMark(k.drive.Section.Rating.WorkingTensionN)+
			", before any service factor: use a wider belt, larger pulleys or less torque; the rating grows with width to the power 1.14, known for trapezoidal inch belts only")
}

// noteRatio warns of pulleys that are nearly but not quite alike.
func (k *checkCase) noteRatio() {
	driver, driven := k.drive.Driver.ToothCount, k.drive.Driven.ToothCount
	apart := max(driver-driven, driven-driver)
	if apart == 0 || 100*apart > ratioNearOnePercent*driver {
		return
	}
	k.note(NoteRatioNearOne, SeverityCaution, "Drive.Driven.ToothCount",
		fmt.Sprintf("%d to %d teeth is a ratio near 1 but not 1: %.1f %% scrub if both axles drive wheels of one size",
			driver, driven, 100*float64(apart)/float64(driver)))
}

// mm writes millimeters for people, to a thousandth.
func mm(v float64) string {
	v = math.Round(v*1000) / 1000
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func newtons(v float64) string { return strconv.FormatFloat(v, 'f', 0, 64) }
