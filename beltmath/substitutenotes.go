package beltmath

import (
	"fmt"
	"strings"
)

// The reason words of notes on substitutes, beside those on drives.
const (
	NoteNoSubstitute    = "NO_SUBSTITUTE"
	NoteSeveralWidths   = "SEVERAL_WIDTHS"
	NoteFlangesNotKnown = "FLANGES_NOT_KNOWN"
)

func (s *substituteSearch) notes(found []Substitute) []Note {
	notes := s.drive.diameterNotes("Drive.")
	if len(found) == 0 {
		notes = append(notes, Note{
			Reason: NoteNoSubstitute, Severity: SeverityInfo,
			Message: "nothing fits within these conditions: allow more pulleys or belts, a greater max_ratio_change_percent, or other stock",
		})
	}
	if len(s.widthsMM) > 1 {
		texts := make([]string, len(s.widthsMM))
		for i, w := range s.widthsMM {
			texts[i] = mm(w)
		}
		notes = append(notes, Note{
			Reason: NoteSeveralWidths, Severity: SeverityCaution, Field: "BeltWidthMM",
			Message: fmt.Sprintf("belts of %s mm width were tried: a narrower belt carries less, so give belt_width_mm", strings.Join(texts, ", ")),
		})
	}
	return s.noteParts(notes, found)
}

// noteParts tells once what holds for single substitutes.
func (s *substituteSearch) noteParts(notes []Note, found []Substitute) []Note {
	flanged := s.drive.Driver.FlangeDiameterMM != nil || s.drive.Driven.FlangeDiameterMM != nil
	unverified := false
	for _, one := range found {
		d := one.Drive
		if flanged && (d.Driver != s.drive.Driver || d.Driven != s.drive.Driven) {
			flanged = false
			notes = append(notes, Note{
				Reason: NoteFlangesNotKnown, Severity: SeverityCaution, Field: "Drive.Driver.FlangeDiameterMM",
				Message: "flanges of other pulleys are not known and not reckoned with: check that they clear each other",
			})
		}
		if n, ok := d.listNote(); ok && one.StandardLength && !unverified {
			unverified = true
			n.Field = "Drive.Section"
			notes = append(notes, n)
		}
	}
	return notes
}
