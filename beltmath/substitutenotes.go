package beltmath

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// The reason words of notes on substitutes, beside those on drives.
const (
	NoteNoSubstitute    = "NO_SUBSTITUTE"
	NoteShortStock      = "STOCK_SHORT" // what fits the holes is on the shelf, but too few of it
	NoteSeveralWidths   = "SEVERAL_WIDTHS"
	NoteFlangesNotKnown = "FLANGES_NOT_KNOWN"
)

func (s *substituteSearch) notes(found []Substitute) []Note {
	notes := s.drive.diameterNotes("Drive.")
	if len(found) == 0 || !found[0].SameHoles {
		notes = append(notes, s.noneNote(len(found)))
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

// noneNote says why nothing serves the holes as they are, of which others were
// found.
func (s *substituteSearch) noneNote(others int) Note {
	if message, ok := s.shortage(); ok {
		return Note{Reason: NoteShortStock, Severity: SeverityInfo, Field: "NeededQuantity", Message: message}
	}
	message := "nothing fits the holes as they are: "
	if others > 0 {
		message += "move one of them, or "
	}
	message += "allow more pulleys or belts, or a greater max_ratio_change_percent"
	if s.limited {
		message += ", or look for parts beyond this stock"
	}
	return Note{Reason: NoteNoSubstitute, Severity: SeverityInfo, Message: message}
}

// shortage says what would serve the holes as they are if there were enough of
// what the shelves hold: the best of it, in the order of SearchSubstitutes.
func (s *substituteSearch) shortage() (string, bool) {
	plenty := *s
	plenty.most, plenty.passes, plenty.widthsMM = 1, nil, nil
	plenty.addShelves(inPlenty(s.shelves), s.counts)
	var nearest *candidate
	var from Shelf
	for i, pass := range plenty.passes {
		for _, c := range plenty.run(pass) {
			if c.sameHoles && (nearest == nil || compareCandidates(c, *nearest) < 0) {
				nearest, from = &c, s.shelves[slices.IndexFunc(s.shelves, func(one Shelf) bool { return one.WidthMM == plenty.widthsMM[i] })]
			}
		}
	}
	if nearest == nil {
		return "", false
	}
	return fmt.Sprintf("a belt of %d teeth, %s mm wide, on pulleys of %d and %d teeth fits the holes as they are, but the stock has %s: get more, or replace fewer drives",
		nearest.belt, mm(from.WidthMM), nearest.driver, nearest.driven, strings.Join(s.shortParts(from, nearest), " and ")), true
}

// inPlenty are shelves that hold enough of all they hold any of.
func inPlenty(list []Shelf) []Shelf {
	enough := func(held map[int]int) map[int]int {
		out := make(map[int]int)
		for teeth, quantity := range held {
			if quantity > 0 {
				out[teeth] = 2 * maxNeededQuantity
			}
		}
		return out
	}
	out := make([]Shelf, len(list))
	for i, one := range list {
		out[i] = Shelf{one.WidthMM, enough(one.Belts), enough(one.Pulleys)}
	}
	return out
}

// shortParts are the parts of a candidate of which a shelf has too few.
func (s *substituteSearch) shortParts(from Shelf, c *candidate) []string {
	var texts []string
	short := func(held, needed int, what string) {
		if held < needed {
			texts = append(texts, fmt.Sprintf("%d of %d %s", held, needed, what))
		}
	}
	short(from.Belts[c.belt], s.needed, "belts needed")
	pulleys := map[int]int{}
	if c.driver != s.drive.Driver.ToothCount {
		pulleys[c.driver] += s.needed
	}
	if c.driven != s.drive.Driven.ToothCount {
		pulleys[c.driven] += s.needed
	}
	for _, teeth := range slices.Sorted(maps.Keys(pulleys)) {
		short(from.Pulleys[teeth], pulleys[teeth], fmt.Sprintf("pulleys of %d teeth needed", teeth))
	}
	return texts
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
