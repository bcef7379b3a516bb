package path

import (
	"fmt"
	"math"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// The domain, all ends inclusive but for the lengths above 0. Teeth and pitch
// are those of the two-pulley drive.
const (
	minPulleyTeeth  = 6
	maxPulleyTeeth  = 600
	minBeltTeeth    = 7
	maxBeltTeeth    = 5000
	minPitchMM      = 0.5
	maxPitchMM      = 100
	maxDiameterMM   = 20000
	maxCoordinateMM = 250000
	maxHeightMM     = 100
	maxAngleDeg     = 720
)

// inputs gathers what is wrong with a query.
type inputs struct{ errs beltmath.InputErrors }

func (in *inputs) add(field string, value any, reason, msg string) {
	in.errs = append(in.errs, &beltmath.InputError{Field: field, Value: value, Reason: reason, Msg: msg})
}

// number reports whether value lies in least to most.
func (in *inputs) number(field string, value, least, most float64) bool {
	return in.errs.CheckRange(field, value, least, most)
}

// positive reports whether value lies above 0 and at most at most.
func (in *inputs) positive(field string, value, most float64) bool {
	return in.errs.CheckPositive(field, value, most)
}

// point reports whether a point is given, both coordinates within the domain.
func (in *inputs) point(field string, at *beltmath.Point) bool {
	if at == nil {
		in.add(field, "not given", ReasonMissing, "give the point")
		return false
	}
	if math.Abs(at.XMM) <= maxCoordinateMM && math.Abs(at.YMM) <= maxCoordinateMM {
		return true
	}
	reason := beltmath.ReasonOutOfRange
	if sum := at.XMM + at.YMM; math.IsNaN(sum) || math.IsInf(sum, 0) {
		reason = beltmath.ReasonNotFinite
	}
	in.add(field, pointText(*at), reason, fmt.Sprintf("give coordinates from %d to %d", -maxCoordinateMM, maxCoordinateMM))
	return false
}

func pointText(at beltmath.Point) string { return fmt.Sprintf("(%v, %v)", at.XMM, at.YMM) }

// problem is a query whose values are all allowed, made ready.
type problem struct {
	Query
	section *beltmath.Section
	pitchMM float64
	heights heights
	loop    loop
	way     way // set where a wheel moves
}

// heights are those of the belt, nil where neither given nor held.
type heights struct {
	belt, tooth, differential *float64
	unverified                bool // one of them is held but not verified
}

// inside is how far the pitch line lies from the tooth tips.
func (h *heights) inside() (float64, bool) {
	if h.tooth == nil || h.differential == nil {
		return 0, false
	}
	return *h.tooth + *h.differential, true
}

// outside is how far the pitch line lies from the belt's back.
func (h *heights) outside() (float64, bool) {
	inside, ok := h.inside()
	if h.belt == nil || !ok {
		return 0, false
	}
	return *h.belt - inside, true
}

func (q Query) resolve() (*problem, error) {
	p := &problem{Query: q}
	var in inputs
	p.resolveBelt(&in)
	in.wheels(q)
	if q.Moving != nil {
		p.resolveMoving(&in)
	}
	if len(in.errs) == 0 {
		p.resolveHeights(&in)
	}
	if len(in.errs) > 0 {
		return nil, in.errs
	}
	p.loop.n = len(q.Wheels)
	for i := range q.Wheels {
		p.loop.wheels[i] = p.circle(&q.Wheels[i])
		if q.Wheels[i].Name != "" && p.loop.names == nil {
			p.loop.names = make([]string, len(q.Wheels))
		}
		if p.loop.names != nil {
			p.loop.names[i] = q.Wheels[i].Name
		}
	}
	return p, nil
}

func (p *problem) resolveBelt(in *inputs) {
	switch {
	case p.Section != "" && p.PitchMM != nil:
		in.add("Section", p.Section, beltmath.ReasonExactlyOne, "give exactly one of section and pitch_mm")
	case p.Section != "":
		section, err := beltmath.FindSection(p.Section)
		if err != nil {
			in.take(err)
			return
		}
		p.section, p.pitchMM = section, section.Pitch.MM()
	case p.PitchMM == nil:
		in.add("Section", "not given", beltmath.ReasonExactlyOne, "give section, such as H5M, or pitch_mm, 0.5 to 100")
	case in.number("PitchMM", *p.PitchMM, minPitchMM, maxPitchMM):
		p.pitchMM = *p.PitchMM
	}
	if p.BeltToothCount != nil && (*p.BeltToothCount < minBeltTeeth || *p.BeltToothCount > maxBeltTeeth) {
		in.add("BeltToothCount", *p.BeltToothCount, beltmath.ReasonOutOfRange,
			fmt.Sprintf("give a whole number from %d to %d", minBeltTeeth, maxBeltTeeth))
	}
	for _, h := range p.givenHeights() {
		if h.value != nil {
			in.number(h.field, *h.value, 0, maxHeightMM)
		}
	}
}

// take takes an InputError of beltmath over.
func (in *inputs) take(err error) {
	if one, ok := err.(*beltmath.InputError); ok { //nolint:errorlint // FindSection makes it, never wrapped
		in.errs = append(in.errs, one)
	}
}

func (in *inputs) wheels(q Query) {
	if n := len(q.Wheels); n < minWheels || n > maxWheels {
		in.add("Wheels", fmt.Sprintf("a list of %d", n), beltmath.ReasonOutOfRange,
			fmt.Sprintf("give %d to %d wheels, each time that the belt meets one", minWheels, maxWheels))
		return
	}
	for i := range q.Wheels {
		moves := q.Moving != nil && q.Moving.WheelIndex == i
		if !q.Wheels[i].isFine(moves) { // spares the field's name, mostly
			in.wheel(wheelField(i, ""), &q.Wheels[i], moves)
		}
	}
}

// wheelField is the path of a wheel's field.
func wheelField(i int, name string) string { return fmt.Sprintf("Wheels[%d]%s", i, name) }

// Faults tells what is wrong with a wheel whose center is not read; fields lie
// under the given one.
func (w *Wheel) Faults(field string) beltmath.InputErrors {
	var in inputs
	in.wheel(field, w, true)
	return in.errs
}

// isFine tells whether wheel has nothing to say.
func (w *Wheel) isFine(moves bool) bool {
	var in inputs
	in.wheel("", w, moves)
	return len(in.errs) == 0
}

func (in *inputs) wheel(field string, w *Wheel, moves bool) {
	if w.Side != SideInside && w.Side != SideOutside {
		in.add(field+".Side", "not given", ReasonMissing, "give the side: inside the loop or outside, on the belt's back")
	}
	switch w.Kind {
	case KindToothed:
		in.toothed(field, w)
	case KindSmooth:
		if w.ToothCount != nil {
			in.add(field+".ToothCount", *w.ToothCount, beltmath.ReasonExactlyOne, "a smooth wheel has no teeth: give diameter_mm")
		}
		if w.DiameterMM == nil {
			in.add(field+".DiameterMM", "not given", ReasonMissing, "a smooth wheel needs diameter_mm, that of its rim")
		} else {
			in.positive(field+".DiameterMM", *w.DiameterMM, maxDiameterMM)
		}
	default:
		in.add(field+".Kind", "not given", ReasonMissing, "give the kind: toothed or smooth")
	}
	switch {
	case moves:
	case w.Center == nil:
		in.add(field+".Center", "not given", ReasonMissing, "give the center; only the wheel that moves may do without")
	default:
		in.point(field+".Center", w.Center)
	}
}

func (in *inputs) toothed(field string, w *Wheel) {
	if w.DiameterMM != nil {
		in.add(field+".DiameterMM", *w.DiameterMM, beltmath.ReasonExactlyOne, "the size of a toothed wheel follows from its teeth: give tooth_count")
	}
	switch {
	case w.ToothCount == nil:
		in.add(field+".ToothCount", "not given", ReasonMissing, "a toothed wheel needs tooth_count")
	case *w.ToothCount < minPulleyTeeth || *w.ToothCount > maxPulleyTeeth:
		in.add(field+".ToothCount", *w.ToothCount, beltmath.ReasonOutOfRange,
			fmt.Sprintf("give a whole number from %d to %d", minPulleyTeeth, maxPulleyTeeth))
	}
	if w.Side == SideOutside {
		in.add(field+".Side", "outside", ReasonToothedOutside,
			"the back of the belt has no teeth to turn a toothed wheel: stand it inside the loop or make it smooth; belts with teeth on both sides are not modeled")
	}
}

func (p *problem) resolveMoving(in *inputs) {
	m := p.Moving
	if m.WheelIndex < 0 || m.WheelIndex >= len(p.Wheels) {
		in.add("Moving.WheelIndex", m.WheelIndex, beltmath.ReasonOutOfRange,
			fmt.Sprintf("give the index of one of the %d wheels, counted from 0", len(p.Wheels)))
	}
	if p.BeltToothCount == nil {
		in.add("BeltToothCount", "not given", ReasonMissing, "positions are looked for with a given belt: give belt_tooth_count, 7 to 5000")
	}
	if (m.Segment == nil) == (m.Arc == nil) {
		in.add("Moving.Segment", given(m.Segment != nil), beltmath.ReasonExactlyOne, "give exactly one of segment and arc")
		return
	}
	if m.Segment != nil {
		p.way = in.segment(*m.Segment)
	} else {
		p.way = in.arc(*m.Arc)
	}
}

func given(is bool) string {
	if is {
		return "given"
	}
	return "not given"
}

func (in *inputs) segment(s Segment) way {
	from := in.point("Moving.Segment.From", s.From)
	if !in.point("Moving.Segment.To", s.To) || !from {
		return way{}
	}
	w := newSegment(s)
	if w.length == 0 {
		in.add("Moving.Segment.To", pointText(*s.To), beltmath.ReasonOutOfRange, "give an end other than from")
	}
	return w
}

func (in *inputs) arc(a Arc) way {
	ok := in.point("Moving.Arc.Center", a.Center)
	ok = in.positive("Moving.Arc.RadiusMM", a.RadiusMM, maxCoordinateMM) && ok
	ok = in.number("Moving.Arc.FromDeg", a.FromDeg, -maxAngleDeg, maxAngleDeg) && ok
	ok = in.number("Moving.Arc.ToDeg", a.ToDeg, -maxAngleDeg, maxAngleDeg) && ok
	if ok && (a.ToDeg == a.FromDeg || math.Abs(a.ToDeg-a.FromDeg) > 360) {
		in.add("Moving.Arc.ToDeg", a.ToDeg, beltmath.ReasonOutOfRange, "give an angle other than from_deg and at most 360 degrees from it")
	}
	if !ok {
		return way{}
	}
	return newArc(a)
}

type givenHeight struct {
	field, wire string
	value       *float64
}

func (p *problem) givenHeights() [3]givenHeight {
	return [3]givenHeight{
		{"BeltHeightMM", "belt_height_mm", p.BeltHeightMM},
		{"ToothHeightMM", "tooth_height_mm", p.ToothHeightMM},
		{"PitchLineDifferentialMM", "pitch_line_differential_mm", p.PitchLineDifferentialMM},
	}
}

// resolveHeights takes the heights given, or else those held, and asks for
// those that a smooth wheel needs.
func (p *problem) resolveHeights(in *inputs) {
	var held [3]beltmath.Value
	if s := p.section; s != nil {
		held = [3]beltmath.Value{s.BeltHeightMM, s.ToothHeightMM, s.PitchLineDifferentialMM}
	}
	var values [3]*float64
	needed := p.neededHeights()
	var missing []string
	field := ""
	for i, h := range p.givenHeights() {
		values[i] = h.value
		if h.value == nil {
			values[i] = held[i].Value
			p.heights.unverified = p.heights.unverified || needed[i] && held[i].Value != nil && !held[i].Verified
		}
		if needed[i] && values[i] == nil {
			missing = append(missing, h.wire)
			if field == "" {
				field = h.field
			}
		}
	}
	p.heights.belt, p.heights.tooth, p.heights.differential = values[0], values[1], values[2]
	if len(missing) > 0 {
		in.add(field, "not given", ReasonHeightsUnknown,
			"no heights of this belt are held, and its smooth wheels need them: give "+strings.Join(missing, ", ")+" as measured or from the maker's sheet")
		return
	}
	if back, ok := p.heights.outside(); ok && needed[0] && back < 0 {
		in.add("BeltHeightMM", *p.heights.belt, beltmath.ReasonOutOfRange, fmt.Sprintf(
			"give at least tooth height and pitch line differential together, which is %v", *p.heights.belt-back))
	}
}

// neededHeights tells which of the heights the smooth wheels need.
func (p *problem) neededHeights() (needed [3]bool) {
	for i := range p.Wheels {
		if w := &p.Wheels[i]; w.Kind == KindSmooth {
			needed[0] = needed[0] || w.Side == SideOutside
			needed[1], needed[2] = true, true
		}
	}
	return needed
}

// circle is a wheel with its radii; all that it needs is known.
func (p *problem) circle(w *Wheel) circle {
	c := circle{inside: w.Side == SideInside}
	if w.Center != nil {
		c.x, c.y = w.Center.XMM, w.Center.YMM
	}
	if w.Kind == KindToothed {
		c.pitch = p.pitchMM * float64(*w.ToothCount) / fullTurn
		c.rim = c.pitch
		if a := p.heights.differential; a != nil {
			c.rim = math.Max(0, c.pitch-*a)
		}
		return c
	}
	c.rim = *w.DiameterMM / 2
	beyond, _ := p.heights.inside()
	if !c.inside {
		beyond, _ = p.heights.outside()
	}
	c.pitch = c.rim + beyond
	return c
}
