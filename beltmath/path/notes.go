package path

import (
	"fmt"
	"math"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// The reason words of notes that a path adds.
const (
	NoteBothDirections    = "BOTH_DIRECTIONS"         // the order of the wheels has two paths
	NoteSmallWrap         = "SMALL_WRAP"              // a smooth wheel that the belt hardly touches
	NoteBackWheelSmall    = "BACK_WHEEL_SMALL"        // a wheel on the back below the least diameter held
	NoteBackWheelUnknown  = "BACK_WHEEL_UNKNOWN"      // no least diameter of such a wheel is held
	NoteInsideIdlerSmall  = "INSIDE_IDLER_SMALL"      // a smooth wheel inside that should have teeth
	NoteHeightsUnverified = "BELT_HEIGHTS_UNVERIFIED" // heights of the belt that are not verified
	NoteBeltRubs          = "BELT_RUBS"               // the belt is too thick for a gap
	NoteNoWholeBelt       = "NO_WHOLE_BELT"           // the path takes no whole number of teeth
	NoteBeltDoesNotFit    = "BELT_DOES_NOT_FIT"       // the given belt is not the length of the path
	NotePositionsTouch    = "POSITIONS_TOUCH"         // positions too near to tell apart
)

const (
	info    = beltmath.SeverityInfo
	caution = beltmath.SeverityCaution
)

const (
	// recommendedMeshedTeeth: S13, clause on the teeth-in-mesh factor.
	recommendedMeshedTeeth = 6
	// smallWrapDeg: common practice, no source.
	smallWrapDeg = 10
	// plainIdlerTeeth is the size, as a toothed wheel, from which on an inside
	// idler may be plain: S70.
	plainIdlerTeeth = 40
	// fitMM is what is printed as no difference between belt and path.
	fitMM = 1e-6
)

// leastBackDiameterMM is the least diameter of a smooth wheel on the belt's
// back, S50: steel-cord polyurethane belts, one source. None was found for
// rubber belts with glass cord.
var leastBackDiameterMM = map[string]float64{
	"MXL": 15, "T2.5": 18, "XL": 30, "T5": 30, "AT5": 60, "L": 60, "T10": 60,
	"H": 80, "AT10": 120, "T20": 120, "AT20": 180, "XH": 180,
}

// noteList gathers notes, each reason once a field.
type noteList struct {
	*problem
	notes  []beltmath.Note
	prefix string // which of several solutions a note is about
}

func (n *noteList) add(reason string, severity beltmath.Severity, field, message string) {
	if slices.ContainsFunc(n.notes, func(o beltmath.Note) bool { return o.Reason == reason && o.Field == field }) {
		return
	}
	n.notes = append(n.notes, beltmath.Note{Reason: reason, Severity: severity, Field: field, Message: message})
}

// path notes what deserves a look in one solution.
func (n *noteList) path(l *loop, c *course, s *Solution) {
	for i := range s.Wheels {
		w, g := &n.Wheels[i], &s.Wheels[i]
		if w.Kind == KindToothed {
			if g.MeshedToothCount < recommendedMeshedTeeth {
				n.add(beltmath.NoteFewMeshedTeeth, caution, wheelField(i, ".Center"), fmt.Sprintf(
					"%sonly %d teeth of %s in mesh: below %d the belt carries less and may jump teeth; a wheel that drives nothing may do with less",
					n.prefix, g.MeshedToothCount, l.name(i), recommendedMeshedTeeth))
			}
			continue
		}
		if g.WrapRad < smallWrapDeg*math.Pi/180 {
			n.add(NoteSmallWrap, info, wheelField(i, ".Center"), fmt.Sprintf(
				"%sthe belt touches %s over %.1f degrees only: a little stretch and it lifts off (common practice, no source)",
				n.prefix, l.name(i), g.WrapRad*180/math.Pi))
		}
	}
	n.rubs(l, c)
}

// finish adds what does not depend on a solution.
func (n *noteList) finish() []beltmath.Note {
	backs := false
	for i := range n.Wheels {
		w := &n.Wheels[i]
		switch {
		case w.Kind == KindToothed:
			n.fewTeeth(i, *w.ToothCount)
		case w.Side == SideOutside:
			backs = true
			n.backWheel(i, *w.DiameterMM)
		case 2*n.loop.wheels[i].pitch < plainIdlerTeeth*n.pitchMM/math.Pi*(1-1e-12):
			n.add(NoteInsideIdlerSmall, info, wheelField(i, ".DiameterMM"), fmt.Sprintf(
				"a smooth wheel inside the loop wears the teeth if smaller than a pulley of %d teeth: make it toothed, or larger (handbook, one source)", plainIdlerTeeth))
		}
	}
	if _, held := leastBackDiameterMM[n.Section]; backs && !held {
		n.add(NoteBackWheelUnknown, info, "Wheels", "no least diameter of a wheel on the back of this belt is held: ask the belt's maker")
	}
	if n.heights.unverified {
		n.add(NoteHeightsUnverified, info, "Section",
			"where the belt rides on smooth wheels rests on heights of "+n.Section+" that are not verified: measure the belt, and give belt_height_mm, tooth_height_mm and pitch_line_differential_mm")
	}
	if s := n.section; s != nil && n.PitchLineDifferentialMM == nil && s.PitchLineDifferentialMM.Value != nil && !s.PitchLineDifferentialMM.Verified {
		n.add(beltmath.NoteDiameterUncertain, info, "Section",
			"the check that toothed wheels clear each other and the belt rests on the pitch line differential of "+n.Section+", which is not verified")
	}
	return n.notes
}

func (n *noteList) fewTeeth(i, teeth int) {
	if n.section == nil || n.section.MinToothCount.Value == nil || float64(teeth) >= *n.section.MinToothCount.Value {
		return
	}
	mark := ""
	if !n.section.MinToothCount.Verified {
		mark = " (not verified)"
	}
	n.add(beltmath.NoteBelowMinTeeth, caution, wheelField(i, ".ToothCount"), fmt.Sprintf(
		"%d teeth are below the least recommended %v of %s%s: the belt bends too sharply and wears early",
		teeth, *n.section.MinToothCount.Value, n.Section, mark))
}

func (n *noteList) backWheel(i int, diameterMM float64) {
	if least, held := leastBackDiameterMM[n.Section]; held && diameterMM < least {
		n.add(NoteBackWheelSmall, caution, wheelField(i, ".DiameterMM"), fmt.Sprintf(
			"%v mm are below the least diameter of a wheel on the back of %s, %v mm (steel cord, one source, not verified): bent back so sharply the belt fails early",
			diameterMM, n.Section, least))
	}
}

// fit compares the length with whole belts.
func (n *noteList) fit(s *Solution) {
	if given := n.BeltToothCount; given != nil {
		if over := s.BeltLengthMM - n.pitchMM*float64(*given); math.Abs(over) > fitMM {
			word := "longer"
			if over < 0 {
				word = "shorter"
			}
			n.add(NoteBeltDoesNotFit, caution, "BeltToothCount", fmt.Sprintf(
				"the path is %.3f mm %s than the belt: let a wheel move to take that up", math.Abs(over), word))
		}
		n.listed(*given)
		return
	}
	whole := math.Round(s.ExactToothCount)
	if math.Abs(s.BeltLengthMM-whole*n.pitchMM) > fitMM || whole < minBeltTeeth || whole > maxBeltTeeth {
		n.add(NoteNoWholeBelt, info, "", fmt.Sprintf(
			"no belt has %.4f teeth: give one of whole teeth, %d to %d, and a wheel that may move", s.ExactToothCount, minBeltTeeth, maxBeltTeeth))
		return
	}
	n.listed(int(whole))
}

// listed notes that a belt is in no list; sections without a list say nothing.
func (n *noteList) listed(teeth int) {
	if n.section == nil || n.section.IsStandardLength(teeth) || !n.section.HasBeltLengths() {
		return
	}
	n.add(beltmath.NoteLengthNotListed, info, "BeltToothCount", fmt.Sprintf(
		"%s (%d teeth) is in no list of standard lengths held here: ask whether it can be bought", n.section.BeltDesignation(teeth), teeth))
}

func (n *noteList) touching() {
	n.add(NotePositionsTouch, caution, "Moving", fmt.Sprintf(
		"%sthe belt hardly changes its length here: positions nearer than %v mm to each other are one, and a slightly shorter or longer belt may have none or two",
		n.prefix, ResolutionMM))
}
