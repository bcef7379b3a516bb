package beltmath

import (
	"fmt"
	"strings"
)

// The reason words of notes on drives.
const (
	NoteFewMeshedTeeth    = "FEW_MESHED_TEETH"
	NoteBelowMinTeeth     = "BELOW_MIN_TEETH"
	NoteLengthNotListed   = "LENGTH_NOT_LISTED"
	NoteLengthUnverified  = "LENGTH_UNVERIFIED"
	NoteDiameterUncertain = "OUTSIDE_DIAMETER_UNVERIFIED"
	NoteLargeAllowance    = "LARGE_ALLOWANCE"
	NoteFlangeReaches     = "FLANGE_REACHES_PULLEY"
	NoteFlangeSmall       = "FLANGE_BELOW_PULLEY"
	NoteBeyondList        = "BEYOND_STANDARD_LENGTHS"
)

// recommendedMeshedTeeth is the least number of teeth in mesh at which the
// belt carries its full rating. Source: S13, clause on the teeth-in-mesh
// factor.
const recommendedMeshedTeeth = 6

// notes returns what deserves a look in a drive whose input lies under path.
func (d Drive) notes(path string) []Note {
	notes := d.pulleyNotes(path)
	notes = d.meshNote(notes, path)
	if n, ok := d.lengthNote("BeltToothCount"); ok {
		n.Field = path + n.Field
		notes = append(notes, n)
	}
	return append(notes, d.diameterNotes(path)...)
}

// notes returns what deserves a look in a solved drive whose input lies under
// path.
func (g Geometry) notes(path string) []Note {
	return append(g.Drive.notes(path), g.Drive.FlangeNotes(g.CenterDistanceMM, path)...)
}

// FlangeNotes looks at each flange by itself where the axles are centerMM apart:
// one below its pulley holds no belt, and one that reaches the other pulley
// turns into it unless the two are kept apart sideways. Two flanges that touch
// are an error of CheckCenterDistance. The input lies under path.
func (d Drive) FlangeNotes(centerMM float64, path string) []Note {
	var notes []Note
	for _, p := range []struct {
		field       string
		this, other Pulley
	}{{"Driver.FlangeDiameterMM", d.Driver, d.Driven}, {"Driven.FlangeDiameterMM", d.Driven, d.Driver}} {
		if p.this.FlangeDiameterMM == nil {
			continue
		}
		flange := *p.this.FlangeDiameterMM
		switch outer := d.outerDiameterMM(p.this); {
		case flange <= outer:
			notes = append(notes, Note{
				Reason: NoteFlangeSmall, Severity: SeverityCaution, Field: path + p.field,
				Message: fmt.Sprintf("a flange of %.4g mm is not above its pulley of %.4g mm and holds no belt: is it a radius?", flange, outer),
			})
		case (flange+d.outerDiameterMM(p.other))/2 >= centerMM:
			notes = append(notes, Note{
				Reason: NoteFlangeReaches, Severity: SeverityCaution, Field: path + p.field,
				Message: fmt.Sprintf("a flange of %.4g mm reaches the other pulley at %.4g mm: it must pass beside it, and beside its axle", flange, centerMM),
			})
		}
	}
	return notes
}

// allowanceNotes cautions of an allowance beyond what is marginal at all.
func allowanceNotes(mm float64) []Note {
	if mm >= defaultMarginalLowMM && mm <= defaultMarginalHighMM {
		return nil
	}
	side := "tight: it may not go on, and it loads belt and bearings"
	if mm < 0 {
		side = "slack: it may skip teeth"
	}
	return []Note{{
		Reason: NoteLargeAllowance, Severity: SeverityCaution, Field: "AllowanceMM",
		Message: fmt.Sprintf("an allowance of %+g mm leaves the belt %s; beyond %g to %+g mm drives are usually rejected (common practice, no source)",
			mm, side, defaultMarginalLowMM, defaultMarginalHighMM),
	}}
}

// listEndNotes says that a wanted length lies beyond the standard ones, so that
// the nearest of them may be far off.
func (s *Section) listEndNotes(exactTeeth float64) []Note {
	least, most := s.lengths[0].ToothCount, s.lengths[len(s.lengths)-1].ToothCount
	if exactTeeth >= float64(least) && exactTeeth <= float64(most) {
		return nil
	}
	return []Note{{
		Reason: NoteBeyondList, Severity: SeverityCaution, Field: "StandardLengthsOnly",
		Message: fmt.Sprintf("%.1f teeth lie beyond the standard lengths held for %s, %d to %d teeth: look at the shift",
			exactTeeth, s.Designation, least, most),
	}}
}

func (d Drive) meshNote(notes []Note, path string) []Note {
	meshed := d.meshedTeeth()
	if meshed >= recommendedMeshedTeeth {
		return notes
	}
	field := path + "Driver.ToothCount"
	if d.Driven.ToothCount < d.Driver.ToothCount {
		field = path + "Driven.ToothCount"
	}
	return append(notes, fewMeshedTeeth(field, meshed))
}

func fewMeshedTeeth(field string, meshed int) Note {
	return Note{
		Reason: NoteFewMeshedTeeth, Severity: SeverityCaution, Field: field,
		Message: fmt.Sprintf("only %d teeth in mesh: below %d the belt carries less and may jump teeth; use more pulley teeth, a longer belt or a ratio nearer to 1",
			meshed, recommendedMeshedTeeth),
	}
}

func (d Drive) pulleyNotes(path string) []Note {
	if d.Section == nil || d.Section.MinToothCount.Value == nil {
		return nil
	}
	var notes []Note
	least := int(*d.Section.MinToothCount.Value)
	for _, p := range []struct {
		field string
		teeth int
	}{{"Driver.ToothCount", d.Driver.ToothCount}, {"Driven.ToothCount", d.Driven.ToothCount}} {
		if p.teeth >= least {
			continue
		}
		notes = append(notes, Note{
			Reason: NoteBelowMinTeeth, Severity: SeverityCaution, Field: path + p.field,
			Message: fmt.Sprintf("%d teeth are below the least recommended %d of %s%s: the belt bends too sharply and wears early",
				p.teeth, least, d.Section.Designation, unverifiedMark(d.Section.MinToothCount)),
		})
	}
	return notes
}

// seen says how an unverified value came here.
func seen(v Value) string {
	switch {
	case strings.HasSuffix(v.Source, fromMemory):
		return "from memory"
	case strings.HasSuffix(v.Source, sourcesDisagree):
		return "sources disagree"
	}
	return "seen in one source"
}

func unverifiedMark(v Value) string {
	if v.Verified {
		return ""
	}
	return " (not verified)"
}

// lengthNote says that a belt is in no list; sections without a list say
// nothing.
func (d Drive) lengthNote(field string) (Note, bool) {
	if d.Section == nil || len(d.Section.lengths) == 0 || d.Section.IsStandardLength(d.BeltToothCount) {
		return Note{}, false
	}
	return Note{
		Reason: NoteLengthNotListed, Severity: SeverityInfo, Field: field,
		Message: fmt.Sprintf("%s (%d teeth) is in no list of standard lengths held here: ask whether it can be bought",
			d.Section.BeltDesignation(d.BeltToothCount), d.BeltToothCount),
	}, true
}

func (d Drive) diameterNotes(path string) []Note {
	if d.Section == nil {
		return nil
	}
	if _, verified, ok := d.Section.OutsideDiameterMM(d.Driver.ToothCount); !ok || verified {
		return nil
	}
	return []Note{{
		Reason: NoteDiameterUncertain, Severity: SeverityInfo, Field: path + "Section",
		Message: "outside diameters and the check that pulleys clear each other rest on the pitch line differential of " +
			d.Section.Designation + ", which is not verified; the center distance does not",
	}}
}

// notes returns what deserves a look in the best belt of an answer.
func (a BeltAnswer) notes() []Note {
	d := a.Candidates[0].Geometry.Drive
	notes := d.pulleyNotes("")
	notes = d.meshNote(notes, "")
	notes = append(notes, a.Candidates[0].Geometry.Drive.FlangeNotes(a.Candidates[0].Geometry.CenterDistanceMM, "")...)
	for _, c := range a.Candidates {
		if n, ok := c.Geometry.Drive.listNote(); ok && c.StandardLength {
			notes = append(notes, n)
			break
		}
	}
	return append(notes, d.diameterNotes("")...)
}

// listNote says that the list a standard length stands in is not verified.
func (d Drive) listNote() (Note, bool) {
	if d.Section == nil {
		return Note{}, false
	}
	for _, b := range d.Section.lengths {
		if b.ToothCount == d.BeltToothCount && !b.Verified {
			return Note{
				Reason: NoteLengthUnverified, Severity: SeverityInfo, Field: "Section",
				Message: "standard lengths of " + d.Section.Designation + " are not verified: ask the supplier before drilling",
			}, true
		}
	}
	return Note{}, false
}

// notes returns what deserves a look in the best pulley of an answer.
func (a PulleyAnswer) notes() []Note {
	notes := a.Candidates[0].Geometry.notes("")
	for i := range notes {
		if strings.HasPrefix(notes[i].Field, "Driven.") {
			notes[i].Field = "" // the request names no driven pulley
		}
	}
	return notes
}
