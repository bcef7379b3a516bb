package base

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// The reason words of notes on plans.
const (
	NoteScrub      = "WHEELS_SCRUB"
	NoteHeightStep = "RAIL_SPACING_NOT_CENTER_DISTANCE"
	NoteBinWidth   = "BIN_WIDTH"
	NoteNoPlan     = "NO_PLAN"
	NoteUnchecked  = "NOT_EXAMINED"
)

// noteScrubPercent is the scrub from which a note says so. Common practice, no
// source.
const noteScrubPercent = 0.5

// noteStepMM is the difference of center distance and rail spacing from which
// a note says so: a third of what still fits by the default limits.
const noteStepMM = 0.05

func (p *problem) planNotes(plan *Plan, c *candidate) []beltmath.Note {
	notes := driveNotes(plan.Links)
	if amount := math.Abs(plan.ScrubPercent); amount >= noteScrubPercent {
		notes = append(notes, beltmath.Note{
			Reason: NoteScrub, Severity: beltmath.SeverityCaution, Field: "Pulley",
			Message: fmt.Sprintf("the wheels do not roll together: %.2f percent scrub wears tires and loads the belts even on a straight line; choose tooth counts in the ratio of the wheels",
				plan.ScrubPercent),
		})
	}
	for i, l := range plan.Links {
		if off := l.CenterDistanceMM - l.RailSpacingMM; off >= noteStepMM {
			notes = append(notes, beltmath.Note{
				Reason: NoteHeightStep, Severity: beltmath.SeverityCaution, Field: fmt.Sprintf("Axles[%d].DropMM", i),
				Message: fmt.Sprintf("axles %d and %d differ in height by %.3f mm: along the rail they are %.3f mm apart, not %.3f; drilled without this the belt would be %.3f mm too tight",
					i+1, i+2, p.heightStep(i), l.RailSpacingMM, l.CenterDistanceMM, math.Hypot(l.CenterDistanceMM, p.heightStep(i))-l.CenterDistanceMM),
			})
		}
	}
	if p.bin != nil {
		notes = append(notes, p.binNote(c))
	}
	if c.idlers != nil {
		notes = append(notes, p.idlerNotes(plan)...)
	}
	return notes
}

// driveNotes returns what deserves a look in the drives, each thing once.
func driveNotes(links []Link) []beltmath.Note {
	var notes []beltmath.Note
	seen := map[string]bool{}
	for _, l := range links {
		answer, err := beltmath.SolveCenterDistance(beltmath.CenterQuery{Drive: beltmath.DriveInput{
			Section: l.Drive.Section.Designation, Driver: l.Drive.Driver, Driven: l.Drive.Driven,
			BeltToothCount: &l.Drive.BeltToothCount,
		}})
		if err != nil {
			continue // cannot happen: the search solved this drive
		}
		for _, n := range append(answer.Notes, lengthNotes(l.Drive)...) {
			switch {
			case strings.HasSuffix(n.Field, "Section"):
				n.Field = "Sections"
			case strings.HasSuffix(n.Field, "BeltToothCount"):
				n.Field = "Belt"
			default:
				n.Field = "Pulley"
			}
			if !seen[n.Reason+n.Message] {
				seen[n.Reason+n.Message] = true
				notes = append(notes, n)
			}
		}
	}
	return notes
}

// lengthNotes says that the list a standard length stands in is not verified.
func lengthNotes(d beltmath.Drive) []beltmath.Note {
	for _, b := range d.Section.BeltLengths() {
		if b.ToothCount == d.BeltToothCount && !b.Verified {
			return []beltmath.Note{{
				Reason: beltmath.NoteLengthUnverified, Severity: beltmath.SeverityInfo, Field: "Section",
				Message: "standard lengths of " + d.Section.Designation + " are not verified (" + b.Source + "): ask the supplier before drilling",
			}}
		}
	}
	return nil
}

// binNote says from which widths of the bin a plan can be built.
func (p *problem) binNote(c *candidate) beltmath.Note {
	shelves, _ := p.shelvesFor(c.section, c.teeth)
	var widths []string
	for _, s := range shelves {
		if holds(s.Belts, countEach(c.belts), p.sides) {
			widths = append(widths, fmt.Sprint(s.WidthMM))
		}
	}
	n := beltmath.Note{
		Reason: NoteBinWidth, Severity: beltmath.SeverityInfo, Field: "Stock",
		Message: fmt.Sprintf("all %d sides can be built from the stock with belts %s mm wide; whether that width carries the load was not checked",
			p.sides, strings.Join(widths, " or ")),
	}
	return n
}

func countEach(values []int) map[int]int {
	counts := map[int]int{}
	for _, v := range values {
		counts[v]++
	}
	return counts
}

// missing says what the bin lacks for a plan of one width, where least is
// lacking.
func (p *problem) missing(c *candidate) string {
	pulleys := map[int]int{}
	for i := range p.gaps {
		pulleys[c.teeth[p.wheel[i]]]++
		pulleys[c.teeth[p.wheel[i+1]]]++
	}
	shelves := p.bin[c.section.Designation]
	if len(shelves) == 0 {
		return "the stock holds nothing of section " + c.section.Designation
	}
	var best []string
	fewest := math.MaxInt
	for _, s := range shelves {
		var parts []string
		total := 0
		for _, part := range []struct {
			name         string
			have, needed map[int]int
		}{{"belt", s.Belts, countEach(c.belts)}, {"pulley", s.Pulleys, pulleys}} {
			teeth := make([]int, 0, len(part.needed))
			for t := range part.needed {
				teeth = append(teeth, t)
			}
			slices.Sort(teeth)
			for _, t := range teeth {
				if lack := part.needed[t]*p.sides - part.have[t]; lack > 0 {
					total += lack
					parts = append(parts, fmt.Sprintf("%d of %s %s %d teeth %v mm", lack, part.name, c.section.Designation, t, s.WidthMM))
				}
			}
		}
		if total < fewest {
			fewest, best = total, parts
		}
	}
	return "the stock lacks " + strings.Join(best, ", ")
}
