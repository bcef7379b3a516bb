package base

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// The reason words of notes on layouts, beside those on plans and drives.
const (
	NoteGuards            = "GUARD_NIP_POINTS"
	NoteAssembly          = "ASSEMBLE_SLACK_TEST_BY_HAND"
	NoteRocks             = "BASE_ROCKS"
	NoteHeightsUnverified = "BELT_HEIGHTS_UNVERIFIED"
	NoteNotDriven         = "WHEEL_NOT_DRIVEN"
	NoteLinkReversed      = "LINK_REVERSED"
	NoteLoadShared        = "LOAD_SHARED"
	NoteNotClear          = "NOT_CLEAR"
	NoteInsideLoop        = "STANDOFF_INSIDE_LOOP"
	NoteNoRoom            = "NO_ROOM_FOR_STANDOFF"
	NoteAxleSize          = "PASSED_AXLE_SIZE"
	NoteNoFlange          = "FLANGES_MISSING"
	NoteHoleNotGiven      = "HOLE_NOT_GIVEN"
	NoteThinEdge          = "HOLE_NEAR_EDGE"
	NoteDrilledSlack      = "DRILLED_SLACK"
	NoteDrilledTight      = "DRILLED_TIGHT"
	NoteNotInStock        = "NOT_IN_STOCK"
	NoteSameHoles         = "SUBSTITUTE_ON_HOLES"
	NoteMoveHoles         = "NO_SUBSTITUTE_ON_HOLES"
	NoteOtherWidth        = "STOCK_OF_OTHER_WIDTH"
	NoteMinimumOpen       = "MINIMUM_NOT_PROVED"
)

// noteList gathers notes, each text once.
type noteList []beltmath.Note

func (n *noteList) add(reason string, severity beltmath.Severity, field, format string, values ...any) {
	n.take(beltmath.Note{Reason: reason, Severity: severity, Field: field, Message: fmt.Sprintf(format, values...)})
}

func (n *noteList) take(note beltmath.Note) {
	if !slices.ContainsFunc(*n, func(held beltmath.Note) bool {
		return held.Reason == note.Reason && held.Message == note.Message
	}) {
		*n = append(*n, note)
	}
}

const (
	info    = beltmath.SeverityInfo
	caution = beltmath.SeverityCaution
)

// guardNote goes with every plan and layout.
var guardNote = beltmath.Note{
	Reason: NoteGuards, Severity: caution,
	Message: "belts and wheels draw fingers in where they run on: guard these places and keep hands, hair and sleeves off turning wheels; local rules and licensed practice come first",
}

// notes returns what deserves a look, what concerns people's hands first.
func (p *layoutProblem) notes(l *Layout) []beltmath.Note {
	var n noteList
	n.take(guardNote)
	n.add(NoteAssembly, caution, "", "belts on fixed centers are under tension: put each on together with its two pulleys, do not pry it over a flange, and turn everything by hand, wheels off the floor, before power")
	p.noteIdlerCautions(&n)
	p.noteLinks(&n)
	p.noteScrub(&n)
	p.noteLoads(&n)
	p.noteRocking(&n)
	p.noteHoles(&n)
	p.noteEdges(&n)
	p.noteClearances(&n, l)
	p.noteZones(&n, l)
	p.noteDrilled(&n, l)
	p.noteIdlers(&n)
	p.noteStock(&n, l)
	for _, plan := range l.CutPlans {
		if plan.Proof == MinimumProofNone {
			n.add(NoteMinimumOpen, info, "Base.Members", "%d bars of %s mm: whether fewer would do is not proved; the bound is %d",
				len(plan.Bars), size(plan.StockLengthMM), plan.BoundBarCount)
		}
	}
	return n
}

// noteLinks tells of each drive what beltmath does, and of its belt and
// flanges.
func (p *layoutProblem) noteLinks(n *noteList) {
	for i := range p.links {
		l := &p.links[i]
		for _, note := range l.notes {
			if l.Idler == nil || note.Reason != beltmath.NoteFlangeReaches { // that is told of where the axles are
				n.take(note)
			}
		}
		for _, note := range p.checkResult(i).Notes {
			note.Field = p.noteField(i, note.Field)
			n.take(note)
		}
		d := l.geometry.Drive
		if d.Section != nil {
			for _, note := range lengthNotes(d) {
				note.Field = fmt.Sprintf("Base.Links[%d].Drive.Section", i)
				n.take(note)
			}
			p.noteHeights(n, d.Section)
		}
		p.noteFlanges(n, i)
		if step := math.Abs(p.positions[l.FromAxle].YMM - p.positions[l.ToAxle].YMM); l.checked == nil && (l.Idler == nil || len(p.AxlePositions) == 0) {
			c := l.centerMM()
			if off := c - along(c, step); off >= noteStepMM {
				n.add(NoteHeightStep, caution, fmt.Sprintf("Base.Axles[%d].DropMM", l.ToAxle),
					"axles %d and %d differ in height by %.3f mm: along the rail they are %.3f mm apart, not %.3f; drilled without this the belt would be %.3f mm too tight",
					min(l.FromAxle, l.ToAxle)+1, max(l.FromAxle, l.ToAxle)+1, step, c-off, c, math.Hypot(c, step)-c)
			}
		}
	}
}

// noteField puts a field of a CheckItem where its value came from.
func (p *layoutProblem) noteField(link int, field string) string {
	switch {
	case field == "BeltWidthMM":
		return "Base.BeltWidthMM"
	case field == "TorqueNM" && p.SideSlipForceN != nil:
		return "Base.SideSlipForceN"
	case field == "TorqueNM":
		return "Base.AxleTorqueNM"
	case strings.HasPrefix(field, "Drive."):
		return fmt.Sprintf("Base.Links[%d].%s", link, field)
	case field == "":
		return ""
	}
	return "Base.AxlePositions" // the distance and the height difference
}

func (p *layoutProblem) noteHeights(n *noteList, s *beltmath.Section) {
	for _, h := range []struct {
		name  string
		given *float64
		held  beltmath.Value
	}{
		{"belt height", p.BeltHeightMM, s.BeltHeightMM},
		{"tooth height", p.ToothHeightMM, s.ToothHeightMM},
		{"pitch line differential", p.PitchLineDifferentialMM, s.PitchLineDifferentialMM},
	} {
		if h.given == nil && !h.held.Verified {
			n.add(NoteHeightsUnverified, info, "Base.Links",
				"clearances to %s belts rest on an unverified %s (%s): measure the belt where room is short", s.Designation, h.name, h.held.Source)
		}
	}
}

// noteFlanges applies the rules for flanges: one pulley flanged at least, both
// from a center distance of 8 small pulleys.
//
// Source: IP-24, from memory; the second also S54, S55.
func (p *layoutProblem) noteFlanges(n *noteList, i int) {
	g := p.links[i].geometry
	driver, driven := g.Drive.Driver.FlangeDiameterMM != nil, g.Drive.Driven.FlangeDiameterMM != nil
	field := fmt.Sprintf("Base.Links[%d].Drive.Driver.FlangeDiameterMM", i)
	switch {
	case !driver && !driven:
		n.add(NoteNoFlange, caution, field,
			"no pulley of belt %d has a flange, so nothing keeps the belt on: flange one pulley on both sides, or each on opposite sides, and give the diameter (rule of IP-24, from memory)", i+1)
	case driver != driven && p.links[i].centerMM() > 8*min(g.Driver.PitchDiameterMM, g.Driven.PitchDiameterMM):
		n.add(NoteNoFlange, info, field,
			"the axles of belt %d are more than 8 small pulleys apart: flange both pulleys (rule of IP-24, from memory)", i+1)
	}
}

func (p *layoutProblem) noteScrub(n *noteList) {
	for start := range p.Axles {
		if p.axlesReached(start, -1, -1)[0] != start {
			continue
		}
		speeds, _ := p.speedsFrom(start)
		if scrub, a, b := p.worstScrub(speeds); math.Abs(scrub) >= noteScrubPercent {
			n.add(NoteScrub, caution, "Base.Links",
				"wheels %d and %d do not roll together: %.2f percent scrub wears tires and loads the belts even on a straight line; choose tooth counts in the ratio of the wheels", a+1, b+1, scrub)
		}
	}
}

func (p *layoutProblem) noteLoads(n *noteList) {
	for axle := range p.Axles {
		if len(p.motorsIn(p.axlesReached(axle, -1, -1))) == 0 {
			n.add(NoteNotDriven, caution, "Base.Links",
				"wheel %d is driven by no motor: it only rolls along; add a belt to it, or name its axle in driven_axles", axle+1)
		}
	}
	for i := range p.links {
		l := &p.links[i]
		if l.load.reversed {
			n.add(NoteLinkReversed, info, fmt.Sprintf("Base.Links[%d].FromAxle", i),
				"axle %d is the one nearer to the motor: belt %d is reckoned as driving axle %d; swap from_axle and to_axle, and driver and driven", l.ToAxle+1, i+1, l.FromAxle+1)
		}
		if l.load.shared {
			n.add(NoteLoadShared, caution, fmt.Sprintf("Base.Links[%d]", i),
				"belt %d shares its load with other belts or motors in unknown parts: it is reckoned with all of it, and small differences in length set them against each other", i+1)
		}
	}
}

// noteRocking tells of wheels that stand above the floor. The angle is that of
// the line under both wheels, from the lowest wheel to the first that touches
// on each side; exact for equal wheels.
func (p *layoutProblem) noteRocking(n *noteList) {
	floor := p.floor()
	above := func(i int) float64 { return p.positions[i].YMM - p.Axles[i].WheelDiameterMM/2 - floor }
	var low []int
	for i := range p.Axles {
		if above(i) <= gapSlackMM {
			low = append(low, i)
		}
	}
	var texts []string
	first, last := low[0], low[len(low)-1]
	tilt := func(pivot, from, to int) {
		least, wheel := math.Inf(1), -1
		for i := from; i < to; i++ {
			if angle := math.Atan(above(i) / math.Abs(p.positions[i].XMM-p.positions[pivot].XMM)); angle < least {
				least, wheel = angle, i
			}
		}
		if wheel >= 0 {
			texts = append(texts, fmt.Sprintf("%.2f degrees onto wheel %d", least*180/math.Pi, wheel+1))
		}
	}
	tilt(first, 0, first)
	tilt(last, last+1, len(p.Axles))
	if len(texts) > 0 {
		n.add(NoteRocks, info, "Base.Axles",
			"the floor is taken at the lowest wheel; the base tilts about %s, which is not reckoned with in gaps to the floor", strings.Join(texts, " or "))
	}
}

func (p *layoutProblem) noteClearances(n *noteList, l *Layout) {
	for _, c := range l.Clearances {
		if !c.Clear {
			n.add(NoteNotClear, caution, p.clearanceField(c), "%s and %s: gap %.3f mm where %s", c.Between[0], c.Between[1], c.GapMM, wanted(c))
		}
		if c.Kind == ClearanceKindBeltAxle && strings.HasPrefix(c.Between[1], "axle ") {
			n.add(NoteAxleSize, caution, "Base.Axles",
				"%s passes %s, of which the bolt or bearing hole is reckoned with, as far as given, but no spacer round it: use no spacer thicker than the gap allows", c.Between[0], c.Between[1])
		}
	}
	for i, s := range l.Standoffs {
		if s.InsideLoop {
			n.add(NoteInsideLoop, info, fmt.Sprintf("Base.Standoffs[%d].Center", i),
				"standoff %d stands inside a belt: it goes in after the belt or with it, and a new belt means taking it out", i+1)
		}
	}
}

func wanted(c Clearance) string {
	if c.RequiredMM == 0 {
		return "more than 0 is needed"
	}
	return fmt.Sprintf("%s is wanted", size(c.RequiredMM))
}

// clearanceField names what to change for a clearance.
func (p *layoutProblem) clearanceField(c Clearance) string {
	for i := range p.Standoffs {
		if slices.Contains(c.Between[:], standoffName(i)) {
			return fmt.Sprintf("Base.Standoffs[%d].Center", i)
		}
	}
	return "Base.Links"
}

func (p *layoutProblem) noteZones(n *noteList, l *Layout) {
	seen := map[float64]bool{}
	inside := false
	for _, z := range l.StandoffZones {
		seen[z.YMM] = true
		inside = inside || z.InsideLoop
	}
	for i, y := range p.lines {
		if !seen[y] {
			n.add(NoteNoRoom, info, fmt.Sprintf("StandoffLinesMM[%d]", i), "no room for a standoff on the line y = %s", size(y))
		}
	}
	if inside {
		n.add(NoteInsideLoop, info, "StandoffLinesMM", "standoffs in a zone inside a belt go in after the belt or with it, and a new belt means taking them out")
	}
}

// noteDrilled says how belts fit drilled axles, what serves instead and what to
// move.
func (p *layoutProblem) noteDrilled(n *noteList, l *Layout) {
	for i := range l.Links {
		d := l.Links[i].Drilled
		if d == nil || p.links[i].Idler != nil {
			continue
		}
		field := fmt.Sprintf("Base.Links[%d].Drive.BeltToothCount", i)
		if math.Abs(d.DeviationMM) > gapSlackMM && d.Verdict != beltmath.VerdictFits {
			reason, word := NoteDrilledTight, "tight"
			if d.DeviationMM < 0 {
				reason, word = NoteDrilledSlack, "slack"
			}
			n.add(reason, caution, field, "belt %d is %.3f mm too %s on these holes%s; a new hole beside an old one needs sound metal between them, so think of a slot, a bushing or new plates",
				i+1, math.Abs(d.DeviationMM), word, d.moveText())
		}
		p.noteSubstitutes(n, field, i, d)
	}
}

// moveText says which axle to move and how far.
func (d *DrilledLink) moveText() string {
	if !d.MoveAlone {
		return moveText(d.MoveAxle, d.MoveMM)
	}
	return fmt.Sprintf(": move axle %d alone, %.3f mm %s along the rail, and both its belts fit", d.MoveAxle+1, math.Abs(*d.MoveMM), wayText(*d.MoveMM))
}

func wayText(mm float64) string {
	if mm < 0 {
		return "back"
	}
	return "forward"
}

// moveText says which axle to move and how far.
func moveText(axle int, mm *float64) string {
	if mm == nil {
		return ""
	}
	return fmt.Sprintf(": for an exact fit move axle %d, and all beyond it, %.3f mm %s along the rail", axle+1, math.Abs(*mm), wayText(*mm))
}

func (p *layoutProblem) noteSubstitutes(n *noteList, field string, i int, d *DrilledLink) {
	if len(d.Substitutes) == 0 {
		return
	}
	var serve, near []string
	var move *LinkSubstitute
	for k := range d.Substitutes {
		s := &d.Substitutes[k]
		lacking := s.lacking()
		switch {
		case s.SameHoles && lacking == "":
			serve = append(serve, s.text())
		case s.SameHoles:
			near = append(near, s.text()+" ("+lacking+")")
		case move == nil:
			move = s
		}
	}
	if len(serve) > 0 {
		n.add(NoteSameHoles, info, field, "on the holes of belt %d also fits %s", i+1, strings.Join(serve[:min(len(serve), 3)], ", or "))
		return
	}
	text := fmt.Sprintf("nothing at hand serves in place of belt %d on its holes", i+1)
	if len(near) > 0 {
		text += "; these would, if they were there: " + strings.Join(near, ", ")
	}
	if move != nil {
		text += fmt.Sprintf("; the smallest move is %.3f mm of center distance: %s%s", move.HoleMoveMM, move.text(), moveText(move.MoveAxle, &move.MoveMM))
	}
	n.add(NoteMoveHoles, caution, field, "%s", text)
}

func (p *layoutProblem) noteStock(n *noteList, l *Layout) {
	if p.stock == nil {
		return
	}
	for _, part := range l.Parts {
		if part.Quantity > 0 && (part.Kind == PartKindBelt || part.Kind == PartKindPulley) {
			n.add(NoteNotInStock, info, "Stock", "the stock lacks %d of %d: %s", part.Quantity, part.NeededQuantity, part.Designation)
		}
	}
	belts, _ := p.needBeside(-1)
	for i, item := range p.stock.Belts {
		if item.WidthMM != p.BeltWidthMM && item.Quantity > 0 && belts[item.Section][item.ToothCount] > 0 {
			n.add(NoteOtherWidth, caution, fmt.Sprintf("Stock.Belts[%d].WidthMM", i),
				"the stock holds %d belts %s of %d teeth that are %s mm wide, not %s: they are not counted, since width decides what a belt carries",
				item.Quantity, item.Section, item.ToothCount, size(item.WidthMM), size(p.BeltWidthMM))
		}
	}
}
