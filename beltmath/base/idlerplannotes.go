package base

import (
	"math"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// The reason words of notes on plans with idlers.
const (
	NotePlanIdler   = "PLAN_USES_IDLER"
	NoteNoIdlerPlan = "NO_PLAN_WITH_IDLER" // idlers do not help either
)

// answerNotes tell what became of the search for plans with idlers.
func (s *idlerSearch) answerNotes(found, done bool) []beltmath.Note {
	var notes []beltmath.Note
	if found {
		notes = append(notes, beltmath.Note{
			Reason: NotePlanIdler, Severity: beltmath.SeverityInfo, Field: "Idler",
			Message: "no plan without idlers meets all conditions; in these the axles stand at the wished gaps, and each belt that is too long is the smallest that its idler takes up; what the idlers clear a layout tells",
		})
	}
	if !found && done && len(s.unheld) < len(s.sections) {
		text := "at the wished gaps no belt is too long by what the idler takes up in its range: widen from_mm to to_mm, or let the gaps differ"
		if s.reached {
			text = "belts for the wished gaps are found, with idlers or without, but such plans miss other conditions: distinct belts, wheels' clearance, teeth in mesh or the wheelbase"
		}
		notes = append(notes, noIdlerPlan(text))
	}
	if !done {
		notes = append(notes, beltmath.Note{
			Reason: NoteUnchecked, Severity: beltmath.SeverityInfo, Field: "Idler",
			Message: "plans with idlers were not examined for all sections and pulleys, because they are too many: narrow sections, pulley or belt",
		})
	}
	if len(s.unheld) > 0 {
		notes = append(notes, beltmath.Note{
			Reason: ReasonHeightsUnknown, Severity: beltmath.SeverityInfo, Field: "Sections",
			Message: "no idler was tried with " + strings.Join(s.unheld, ", ") + ", because no heights of these belts are held: take a toothed idler",
		})
	}
	return notes
}

// noIdlerPlan tells why idlers do not help.
func noIdlerPlan(why string) beltmath.Note {
	return beltmath.Note{
		Reason: NoteNoIdlerPlan, Severity: beltmath.SeverityInfo, Field: "Idler",
		Message: "with idlers there is no plan either: " + why,
	}
}

// idlerNotes tell of the idlers of a plan.
func (p *problem) idlerNotes(plan *Plan) []beltmath.Note {
	var n noteList
	p.idler.cautions(&n, "Idler")
	for i, l := range plan.Links {
		if l.Idler == nil {
			continue
		}
		n.add(NotePlanIdler, info, "Idler",
			"belt %d wants a center distance of %.3f mm without its idler and has %.3f: the idler on its %s span stands %.3f mm %s the line of centers and could take up a belt %.3f mm longer or %.3f mm shorter still",
			i+1, l.Drive.Pitch.CenterMM(l.Drive.Driver.ToothCount, l.Drive.Driven.ToothCount, l.Drive.BeltToothCount), l.CenterDistanceMM,
			l.Idler.span(), math.Abs(l.Idler.OffsetMM), sideOfLine(l.Idler.OffsetMM), l.Idler.LongerBeltMM, l.Idler.ShorterBeltMM)
		for _, note := range l.Idler.notes {
			switch {
			case note.Reason == beltmath.NoteLengthNotListed:
				continue // told of the drive already
			case strings.HasPrefix(note.Field, "Wheels[2]."):
				note.Field = idlerField("", "Idler", note.Field)
			case strings.HasPrefix(note.Field, "Wheels["):
				note.Field = "Pulley"
			case note.Field == "Section":
				note.Field = "Sections"
			default:
				note.Field = "Idler"
			}
			n.take(note)
		}
	}
	if p.bin != nil {
		n.add(NotePlanIdler, info, "Stock", "idlers are not taken from the stock")
	}
	return n
}
