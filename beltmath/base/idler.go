package base

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// The domain of an idler, both ends inclusive.
const (
	minIdlerShare     = 0.01
	maxIdlerShare     = 0.99
	defaultIdlerShare = 0.5
	maxIdlerOffsetMM  = 10000
)

// Idler is a wheel that takes up what the belt of a link is too long for the
// distance of its axles. It stands still on a bolt across the cavity, in the
// lane of its belt.
type Idler struct {
	// Kind, ToothCount, DiameterMM and Side are those of path.Wheel: toothed
	// ones stand inside, smooth ones inside or on the belt's back.
	Kind       path.Kind
	ToothCount *int
	DiameterMM *float64
	Side       path.Side
	// Position is where along the line of centers it stands: the share of it
	// that lies on the side of the axle of lower index, 0.01 to 0.99; nil is
	// 0.5.
	Position *float64
	// FromMM and ToMM are the range of the distance of its center from the line
	// of centers, at right angles to it, up positive; -10000 to 10000, FromMM
	// below ToMM.
	FromMM, ToMM float64
	// WidthMM is its width, at least that of the belt; nil is that of the
	// pulleys. It does not bear on a search.
	WidthMM *float64
	// FlangeDiameterMM is that of its flanges, above 0 and at most 10000; nil
	// is none. It does not bear on a search.
	FlangeDiameterMM *float64
	// HoleDiameterMM and BoltDiameterMM are those of the hole in the plates and
	// of its bolt, 0 to 1000; 0 is not given. They do not bear on a search.
	HoleDiameterMM, BoltDiameterMM float64
}

func (d *Idler) wheel(name string) path.Wheel {
	return path.Wheel{Kind: d.Kind, ToothCount: d.ToothCount, DiameterMM: d.DiameterMM, Side: d.Side, Name: name}
}

// share is where along the line of centers it stands.
func (d *Idler) share() float64 {
	if d.Position == nil {
		return defaultIdlerShare
	}
	return *d.Position
}

// idler checks an idler under the given field name.
func (in *inputs) idler(field string, d *Idler) {
	wheel := d.wheel("")
	in.errs = append(in.errs, wheel.Faults(field)...)
	in.measure(field+".Position", d.Position, 0, minIdlerShare, maxIdlerShare)
	from := in.number(field+".FromMM", d.FromMM, -maxIdlerOffsetMM, maxIdlerOffsetMM)
	if in.number(field+".ToMM", d.ToMM, -maxIdlerOffsetMM, maxIdlerOffsetMM) && from && d.ToMM <= d.FromMM {
		in.add(field+".ToMM", d.ToMM, beltmath.ReasonReversedRange, fmt.Sprintf("give more than from_mm, which is %v", d.FromMM))
	}
	if d.WidthMM != nil {
		in.positive(field+".WidthMM", *d.WidthMM, maxPulleyWidthMM)
	}
	if d.FlangeDiameterMM != nil {
		in.positive(field+".FlangeDiameterMM", *d.FlangeDiameterMM, maxWheelMM)
	}
	in.number(field+".HoleDiameterMM", d.HoleDiameterMM, 0, maxHoleMM)
	in.number(field+".BoltDiameterMM", d.BoltDiameterMM, 0, maxHoleMM)
}

// IdlerPlace is where an idler stands so that its belt is taut.
type IdlerPlace struct {
	// Center is its axis in the frame of the package.
	Center beltmath.Point
	// OffsetMM is its distance from the line of centers, up positive.
	OffsetMM float64
	// PositionCount is how many positions in the range fit the belt. This one
	// is the nearest to the line of centers, of two as near the upper one.
	PositionCount int
	// LongerTravelMM is how far it can go on toward the end of its range at
	// which it takes up a longer belt, LongerBeltMM by how much longer than now
	// that belt is. Both end sooner where the path does.
	LongerTravelMM, LongerBeltMM float64
	// ShorterTravelMM and ShorterBeltMM are the same toward the other end, for
	// a shorter belt.
	ShorterTravelMM, ShorterBeltMM float64
	// Path is the belt as it runs: driver pulley, driven pulley, idler. Its
	// PositionMM counts from the FromMM of the idler.
	Path path.Solution
	// Wheels are those of Path.
	Wheels []path.Wheel
	// Range is where its center may be: from FromMM to ToMM.
	Range [2]beltmath.Point
	// ToothSideMM and BackMM are how far the belt reaches from its pitch line;
	// nil where its heights are unknown.
	ToothSideMM, BackMM *float64

	notes []beltmath.Note // of the path, fields as in its query
}

// idlerSeat is two axles with a drive between which an idler is to stand.
type idlerSeat struct {
	*Idler
	drive          beltmath.Drive
	driver, driven beltmath.Point
	names          [3]string // of driver pulley, driven pulley and idler
	// Heights of the belt in place of the section's.
	beltHeight, toothHeight, differential *float64
}

// axes returns the axle of lower index, which is the left one, and the unit
// vector from there to the other one.
func (s *idlerSeat) axes() (left beltmath.Point, ux, uy, center float64) {
	left, right := s.driver, s.driven
	if right.XMM < left.XMM {
		left, right = right, left
	}
	center = distance(left, right)
	return left, (right.XMM - left.XMM) / center, (right.YMM - left.YMM) / center, center
}

// at is where the idler's center is at an offset.
func (s *idlerSeat) at(offset float64) beltmath.Point {
	left, ux, uy, center := s.axes()
	along := s.share() * center
	return beltmath.Point{XMM: left.XMM + along*ux - offset*uy, YMM: left.YMM + along*uy + offset*ux}
}

// query asks for the positions in a range of offsets.
func (s *idlerSeat) query(from, to float64) path.Query {
	q := path.OfDrive(s.drive, 0)
	q.BeltHeightMM, q.ToothHeightMM, q.PitchLineDifferentialMM = s.beltHeight, s.toothHeight, s.differential
	q.Wheels[0].Center, q.Wheels[1].Center = &s.driver, &s.driven
	q.Wheels = append(q.Wheels, s.wheel(""))
	for i := range q.Wheels {
		q.Wheels[i].Name = s.names[i]
	}
	q.BeltToothCount = &s.drive.BeltToothCount
	start, end := s.at(from), s.at(to)
	q.Moving = &path.Moving{WheelIndex: 2, Segment: &path.Segment{From: &start, To: &end}}
	return q
}

// nearest returns the index of the position that is taken and its offset: the
// nearest to the line of centers, of two as near the upper one.
func nearestPosition(solutions []path.Solution, from float64) (index int, offset float64) {
	index = -1
	for i := range solutions {
		here := from + *solutions[i].PositionMM
		if index < 0 || math.Abs(here) < math.Abs(offset)+path.ResolutionMM && (here > offset || math.Abs(here) < math.Abs(offset)-path.ResolutionMM) {
			index, offset = i, here
		}
	}
	return index, offset
}

// solve finds the place of the idler. Its error is that of path.Solve.
func (s *idlerSeat) solve() (*IdlerPlace, error) {
	q := s.query(s.FromMM, s.ToMM)
	a, err := path.Solve(q)
	if err != nil {
		return nil, err
	}
	index, offset := nearestPosition(a.Solutions, s.FromMM)
	place := &IdlerPlace{
		OffsetMM: offset, PositionCount: len(a.Solutions), Path: a.Solutions[index],
		Wheels: q.Wheels, Range: [2]beltmath.Point{*q.Moving.Segment.From, *q.Moving.Segment.To}, ToothSideMM: a.ToothSideMM, BackMM: a.BackMM, notes: a.Notes,
	}
	place.Center = place.Path.Wheels[2].Center
	if len(a.Solutions) > 1 {
		place.notes = s.notesNear(offset)
	}
	back, ahead, err := path.Margins(q, &place.Path)
	if err != nil {
		return nil, err
	}
	if *place.Path.LengthPerMM < 0 {
		back, ahead = ahead, back
	}
	place.LongerTravelMM, place.LongerBeltMM = ahead.TravelMM, max(0, ahead.LengthMM)
	place.ShorterTravelMM, place.ShorterBeltMM = back.TravelMM, max(0, -back.LengthMM)
	return place, nil
}

// notesNear returns the notes of the one position at an offset.
func (s *idlerSeat) notesNear(offset float64) []beltmath.Note {
	const near = 100 * path.ResolutionMM
	a, err := path.Solve(s.query(offset-near, offset+near))
	if err != nil {
		return nil // cannot happen: the position was found
	}
	return a.Notes
}

// idlerMiss says why an idler has no place.
type idlerMiss struct {
	none *beltmath.NoSolutionError
	// loose tells that the belt is too long for the range, not too short.
	loose bool
}

// miss looks beyond the range for what would do.
func (s *idlerSeat) miss(none *beltmath.NoSolutionError) idlerMiss {
	m := *none
	if strings.HasPrefix(m.Field, "Moving") {
		m.Value = s.FromMM
	}
	_, _, _, center := s.axes()
	loose := s.drive.Pitch.CenterMM(s.drive.Driver.ToothCount, s.drive.Driven.ToothCount, s.drive.BeltToothCount) > center
	const mostMM = 4 * maxIdlerOffsetMM
	reach := min(mostMM, s.drive.Pitch.MM()*float64(s.drive.BeltToothCount)/2)
	a, err := path.Solve(s.query(-reach, reach))
	if err != nil {
		return idlerMiss{none: &m, loose: loose}
	}
	// Of several the one that takes the least widening of the range.
	best, least := 0.0, math.Inf(1)
	for i := range a.Solutions {
		at := *a.Solutions[i].PositionMM - reach
		if off := max(s.FromMM-at, at-s.ToMM); off < least {
			best, least = at, off
			loose = (at > s.ToMM) == (*a.Solutions[i].LengthPerMM > 0)
		}
	}
	m.Msg = strings.TrimSuffix(m.Msg, "; move the way or change a wheel")
	m.Msg += fmt.Sprintf("; for this belt let from_mm to to_mm hold %.3f mm", best)
	return idlerMiss{none: &m, loose: loose}
}

// idlerField puts a field of a path's query where its value came from.
func idlerField(drive, idler, field string) string {
	switch {
	case strings.HasPrefix(field, "Wheels[0]"):
		return drive + ".Driver"
	case strings.HasPrefix(field, "Wheels[1]"):
		return drive + ".Driven"
	case field == "Wheels[2].Center", strings.HasPrefix(field, "Moving"):
		return idler + ".FromMM"
	case strings.HasPrefix(field, "Wheels[2]"):
		return idler + strings.TrimPrefix(field, "Wheels[2]")
	case field == "Section", field == "PitchMM", field == "BeltToothCount":
		return drive + "." + field
	}
	return idler
}

// checkIdler checks the idler of a link and where its center distance comes
// from.
func (p *layoutProblem) checkIdler(in *inputs, i int) {
	path := fmt.Sprintf("Links[%d].", i)
	l := &p.Links[i]
	drilled := len(p.AxlePositions) > 0
	switch {
	case l.CenterDistanceMM != nil && l.Idler == nil:
		in.add(path+"CenterDistanceMM", *l.CenterDistanceMM, beltmath.ReasonExactlyOne,
			"a belt without an idler sets the center distance itself: leave it out, or give the link an idler")
	case l.CenterDistanceMM != nil && drilled:
		in.add(path+"CenterDistanceMM", *l.CenterDistanceMM, beltmath.ReasonExactlyOne,
			"axle_positions tell how far the axles are apart: give one of the two")
	case l.CenterDistanceMM != nil:
		in.positive(path+"CenterDistanceMM", *l.CenterDistanceMM, maxRailMM)
	case l.Idler != nil && !drilled:
		in.add(path+"CenterDistanceMM", "not given", beltmath.ReasonExactlyOne,
			"a belt with an idler does not set the center distance: give it, or axle_positions where the plates are drilled")
	}
	if l.Idler == nil {
		return
	}
	in.idler(path+"Idler", l.Idler)
	if w := l.Idler.WidthMM; w != nil && *w > 0 {
		switch most := p.PulleyWidthMM + 2*p.PulleyGapMM; {
		case *w < p.BeltWidthMM:
			in.add(path+"Idler.WidthMM", *w, beltmath.ReasonOutOfRange,
				fmt.Sprintf("an idler is at least as wide as its belt: give at least belt_width_mm, which is %v", p.BeltWidthMM))
		case *w > most:
			in.add(path+"Idler.WidthMM", *w, ReasonCavityNarrow,
				fmt.Sprintf("in the middle of its lane it would reach into the plate: give at most pulley_width_mm and twice pulley_gap_mm, which is %v", most))
		}
	}
}

// centerMM is the distance of the axles that a link wants.
func (l *layoutLink) centerMM() float64 {
	if l.CenterDistanceMM != nil {
		return *l.CenterDistanceMM
	}
	return l.geometry.CenterDistanceMM
}

// seat is where the idler of a link is to stand.
func (p *layoutProblem) seat(i int) *idlerSeat {
	l := &p.links[i]
	return &idlerSeat{
		Idler: l.Idler, drive: l.geometry.Drive, driver: p.positions[l.FromAxle], driven: p.positions[l.ToAxle],
		names:      [3]string{pulleyName(i, l.FromAxle), pulleyName(i, l.ToAxle), idlerName(i)},
		beltHeight: p.BeltHeightMM, toothHeight: p.ToothHeightMM, differential: p.PitchLineDifferentialMM,
	}
}

// setIdlers finds the places of all idlers. On drilled axles one without a
// place is judged; else it is an error.
func (p *layoutProblem) setIdlers() error {
	for i := range p.links {
		l := &p.links[i]
		if l.Idler == nil {
			continue
		}
		if err := p.apart(i); err != nil {
			return err
		}
		seat := p.seat(i)
		place, err := seat.solve()
		drive, idler := fmt.Sprintf("Base.Links[%d].Drive", i), fmt.Sprintf("Base.Links[%d].Idler", i)
		var faults beltmath.InputErrors
		var none *beltmath.NoSolutionError
		switch {
		case errors.As(err, &faults):
			for _, e := range faults {
				e.Field = idlerField(drive, idler, e.Field)
			}
			return faults
		case errors.As(err, &none):
			miss := seat.miss(none)
			miss.none.Field = idlerField(drive, idler, none.Field)
			if len(p.AxlePositions) == 0 {
				return miss.none
			}
			l.miss = &miss
		case err != nil:
			return err
		default:
			l.place = place
		}
	}
	return nil
}

// apart refuses pulleys or flanges that touch at the distance given.
func (p *layoutProblem) apart(i int) error {
	l := &p.links[i]
	err := l.geometry.Drive.CheckCenterDistance(distance(p.positions[l.FromAxle], p.positions[l.ToAxle]))
	if none := (*beltmath.NoSolutionError)(nil); errors.As(err, &none) {
		none.Field, none.Nearest = fmt.Sprintf("Base.Links[%d].CenterDistanceMM", i), ""
		if len(p.AxlePositions) > 0 {
			none.Field = fmt.Sprintf("Base.AxlePositions[%d]", l.ToAxle)
		}
		none.Msg = fmt.Sprintf("of belt %d %s of center distance", i+1, none.Msg)
	}
	return err
}
