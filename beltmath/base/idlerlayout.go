package base

import (
	"fmt"
	"math"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// The reason words of notes on idlers, beside those of paths.
const (
	NoteIdlerSets    = "BELT_SET_BY_IDLER"
	NoteIdlerNip     = "IDLER_NIP_POINTS"
	NoteIdlerTight   = "IDLER_ON_TIGHT_SPAN"
	NoteIdlerBends   = "IDLER_BENDS_BELT_BACK"
	NoteIdlerBolt    = "IDLER_BOLT_SIZE"
	NoteIdlerMisses  = "IDLER_OUT_OF_RANGE"
	NoteIdlerTravels = "IDLER_POSITIONS"
)

// idlerLayout is the idler of a link in place; nil where it has none.
func (p *layoutProblem) idlerLayout(i int) *IdlerLayout {
	l := &p.links[i]
	if l.place == nil {
		return nil
	}
	out := &IdlerLayout{
		IdlerPlace:       *l.place,
		CenterDistanceMM: distance(p.positions[l.FromAxle], p.positions[l.ToAxle]),
		HoleDiameterMM:   l.Idler.HoleDiameterMM,
	}
	out.FromEndMM, out.FromEdgeMM = p.running(l.place.Center)
	from, to := p.idlerEnds(i)
	out.Stack.Parts = withSpacers([]StackPart{{Part: PartKindIdler, Link: &i, StartMM: from, EndMM: to}}, p.CavityWidthMM)
	return out
}

// idlerEnds returns the ends of an idler on z: it stands in the middle of its
// lane.
func (p *layoutProblem) idlerEnds(i int) (from, to float64) {
	width := p.PulleyWidthMM
	if given := p.links[i].Idler.WidthMM; given != nil {
		width = *given
	}
	middle := p.laneMiddle(p.lanes[i])
	return middle - width/2, middle + width/2
}

// drilledIdler judges a link with an idler on drilled axles; nil where nothing
// is drilled.
func (p *layoutProblem) drilledIdler(i int) *DrilledLink {
	if len(p.AxlePositions) == 0 {
		return nil
	}
	l := &p.links[i]
	out := &DrilledLink{CenterDistanceMM: distance(p.positions[l.FromAxle], p.positions[l.ToAxle]), Verdict: beltmath.VerdictRejected}
	out.DeviationMM = out.CenterDistanceMM - l.geometry.CenterDistanceMM
	out.MoveAxle = max(l.FromAxle, l.ToAxle)
	if l.place != nil {
		out.Verdict = p.checker.OfMesh(min(l.place.Path.Wheels[0].MeshedToothCount, l.place.Path.Wheels[1].MeshedToothCount))
	}
	return out
}

// idlerShares puts what an idler takes up in place of the limits: in belt
// length, of which a millimeter of center distance makes 2 at most.
func (p *layoutProblem) idlerShares(i int, a *beltmath.FitAnswer) {
	l := &p.links[i]
	switch {
	case l.place != nil:
		a.ShareLoose, a.ShareGood, a.ShareTight = beltmath.NormalShares(
			a.DeviationMM.Mean, a.DeviationMM.Sigma, -l.place.LongerBeltMM/2, l.place.ShorterBeltMM/2)
	case l.miss.loose:
		a.ShareLoose, a.ShareGood, a.ShareTight = 1, 0, 0
	default:
		a.ShareLoose, a.ShareGood, a.ShareTight = 0, 0, 1
	}
}

// idlerGaps returns the gaps of an idler to the nearest wheel, belt and pulley.
// Where it stands beside a part on z, only its bolt passes that; a bolt that is
// not given counts as large as the idler.
func (p *layoutProblem) idlerGaps(i int) []Clearance {
	l := &p.links[i]
	from, to := p.idlerEnds(i)
	body := *l.loop.idler
	beside := func(middle, width float64) disc {
		if bolt := l.Idler.BoltDiameterMM; bolt > 0 && (middle+width/2 <= from || middle-width/2 >= to) {
			return disc{body.center, bolt / 2}
		}
		return body
	}
	wheel, belt, pulley := nearest{gap: math.Inf(1)}, nearest{gap: math.Inf(1)}, nearest{gap: math.Inf(1)}
	for axle := range p.Axles {
		wheel.offer(p.wheel(axle).gap(beside(p.wheelMidZ, p.Axles[axle].WheelWidthMM)), wheelName(axle))
	}
	for k := range p.links {
		other := &p.links[k]
		for _, axle := range []int{other.FromAxle, other.ToAxle} {
			here := beside(p.laneMiddle(p.lanes[k]), p.PulleyWidthMM)
			if k == i {
				here = p.idlerAlone(i)
			}
			pulley.offer(here.gap(other.pulleyOn(axle)), pulleyName(k, axle))
		}
		switch {
		case k == i:
			belt.offer(p.ownSpanGap(i), beltName(i))
			continue
		case other.loop.idler != nil:
			otherFrom, otherTo := p.idlerEnds(k)
			pulley.offer(beside((otherFrom+otherTo)/2, otherTo-otherFrom).gap(*other.loop.idler), idlerName(k))
		}
		here := beside(p.laneMiddle(p.lanes[k]), p.BeltWidthMM)
		belt.offer(other.loop.distance(here.center)-here.radius, beltName(k))
	}
	required := p.StandoffClearanceMM
	return []Clearance{
		clearance(ClearanceKindIdlerWheel, idlerName(i), wheel.name, wheel.gap, required),
		clearance(ClearanceKindIdlerBelt, idlerName(i), belt.name, belt.gap, required),
		clearance(ClearanceKindIdlerPulley, idlerName(i), pulley.name, pulley.gap, required),
	}
}

// idlerAlone is an idler without the belt on it: its rim or flange.
func (p *layoutProblem) idlerAlone(i int) disc {
	l := &p.links[i]
	d := disc{l.place.Center, l.place.Path.Wheels[2].RimRadiusMM}
	if flange := l.Idler.FlangeDiameterMM; flange != nil {
		d.radius = max(d.radius, *flange/2)
	}
	return d
}

// ownSpanGap is the gap of an idler to the span that leads past it from pulley
// to pulley. Toward that span the belt lies on an idler outside, and not on one
// inside.
func (p *layoutProblem) ownSpanGap(i int) float64 {
	l := &p.links[i]
	span := l.place.Path.Spans[0] // from driver to driven pulley
	left, right := l.tooth, l.back
	if !l.place.Path.CounterClockwise {
		left, right = right, left
	}
	d := p.idlerAlone(i)
	if l.Idler.Side == path.SideOutside {
		d = *l.loop.idler
	}
	return newBand(span.From, span.To, left, right).distance(d.center) - d.radius
}

func (p *layoutProblem) idlerDesignation(l *layoutLink) string {
	d := l.Idler
	width := p.PulleyWidthMM
	if d.WidthMM != nil {
		width = *d.WidthMM
	}
	var text string
	if d.Kind == path.KindToothed {
		text = p.pulleyDesignation(l, *d.ToothCount)
	} else {
		text = fmt.Sprintf("smooth, %s mm diameter", size(*d.DiameterMM))
	}
	text += fmt.Sprintf(", %s mm wide", size(width))
	if d.BoltDiameterMM > 0 {
		text += fmt.Sprintf(", on a bolt of %s mm", size(d.BoltDiameterMM))
	}
	return text
}

// noteIdlerCautions tells of each idler what concerns hands.
func (p *layoutProblem) noteIdlerCautions(n *noteList) {
	for i := range p.links {
		if d := p.links[i].Idler; d != nil {
			d.cautions(n, fmt.Sprintf("Base.Links[%d].Idler", i))
		}
	}
}

// noteIdlers tells how each idler sets its belt.
func (p *layoutProblem) noteIdlers(n *noteList) {
	for i := range p.links {
		l := &p.links[i]
		if l.Idler == nil {
			continue
		}
		field := fmt.Sprintf("Base.Links[%d].Idler", i)
		if l.Idler.BoltDiameterMM == 0 {
			n.add(NoteIdlerBolt, info, field+".BoltDiameterMM",
				"no bolt of the %s is given: in the gaps it counts as large as the idler all across the cavity; give bolt_diameter_mm", idlerName(i))
		} else {
			n.add(NoteIdlerBolt, info, field+".BoltDiameterMM",
				"beside its lane the %s is reckoned with its bolt, but no spacer round it: use no spacer thicker than the gaps allow", idlerName(i))
		}
		for _, note := range l.geometry.Drive.FlangeNotes(distance(p.positions[l.FromAxle], p.positions[l.ToAxle]), fmt.Sprintf("Base.Links[%d].Drive.", i)) {
			if note.Reason == beltmath.NoteFlangeReaches {
				n.take(note)
			}
		}
		p.noteIdlerPlace(n, i, field)
	}
}

// cautions are those that go with every idler.
func (d *Idler) cautions(n *noteList, field string) {
	n.add(NoteIdlerNip, caution, field,
		"an idler draws fingers in on both sides: guard it too; set it with the power off and hold its bolt fast before the belt runs")
	n.add(NoteIdlerTight, caution, field,
		"a vehicle drives both ways and brakes, so the span on the idler is the tight one at times: its bolt must hold against the pull of the belt and not move, and a spring will not do")
	if d.Side == path.SideOutside {
		n.add(NoteIdlerBends, caution, field,
			"an idler on the back bends the belt against its run: keep it large, and expect the belt to last less long than without one (common practice, no source)")
	}
}

func (p *layoutProblem) noteIdlerPlace(n *noteList, i int, field string) {
	l := &p.links[i]
	if l.place == nil {
		n.add(NoteIdlerMisses, caution, l.miss.none.Field, "%s on these holes: %s", idlerName(i), l.miss.none.Msg)
		return
	}
	n.add(NoteIdlerSets, info, field,
		"belt %d is set by its idler on the %s span, %.3f mm %s the line of centers; it can go on by %.3f mm for a belt up to %.3f mm longer, and back by %.3f mm for one up to %.3f mm shorter",
		i+1, l.place.span(), math.Abs(l.place.OffsetMM), sideOfLine(l.place.OffsetMM), l.place.LongerTravelMM, l.place.LongerBeltMM, l.place.ShorterTravelMM, l.place.ShorterBeltMM)
	if l.place.PositionCount > 1 {
		n.add(NoteIdlerTravels, info, field,
			"the %s fits in %d positions of its range: this is the nearest to the line of centers, of two as near the upper one; narrow from_mm to to_mm for another", idlerName(i), l.place.PositionCount)
	}
	for _, note := range l.place.notes {
		fromDrive := strings.HasPrefix(note.Field, "Wheels[0]") || strings.HasPrefix(note.Field, "Wheels[1]")
		if note.Reason == beltmath.NoteLengthNotListed || fromDrive && note.Reason == beltmath.NoteBelowMinTeeth {
			continue // told of the drive already
		}
		note.Field = idlerField(fmt.Sprintf("Base.Links[%d].Drive", i), field, note.Field)
		n.take(note)
	}
}

// span names the span of the belt on which an idler stands.
func (p *IdlerPlace) span() string {
	if wheels := p.Path.Wheels; p.Path.CounterClockwise == (wheels[0].Center.XMM < wheels[1].Center.XMM) {
		return "upper"
	}
	return "lower"
}

func sideOfLine(offset float64) string {
	if offset < 0 {
		return "below"
	}
	return "above"
}
