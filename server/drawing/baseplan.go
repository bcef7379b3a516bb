package drawing

import (
	"fmt"
	"math"
	"strconv"

	"github.com/beltspan/beltspan/beltmath/base"
)

// BasePlan draws the side view of a base.
func BasePlan(s *Side) (*Drawing, error) {
	low, high := s.plate()
	const texts = 9 // so many high the plate is at least
	d := New(s.title("Side view"), math.Min(high.XMM-low.XMM, texts*s.Base.PlateHeightMM))
	d.Rect(Pen{Layer: Plate, Weight: Medium}, low, high)
	place := &labels{d: d}
	place.avoidLine(low, at(high.XMM, low.YMM))
	place.avoidLine(at(low.XMM, high.YMM), high)
	d.rowOfWheels(s, place)
	if err := d.rowOfBelts(s, place); err != nil {
		return nil, err
	}
	d.rowOfStandoffs(s, place)
	d.nameIdlers(s, place)
	d.drawHoles(s.holes())
	d.nameWheels(s, place)
	d.rail(s)
	d.ScaleBar()
	d.paragraph(d.Title + ". Seen from outside, first axle on the left, outer plate taken off; a belt of broken lines runs behind the wheels. Nothing is exaggerated, not even drops.")
	d.wrapped(holeRows(s.holes()))
	d.beltRows(s)
	d.footer()
	return d, nil
}

// rowOfWheels draws wheels and pulleys.
func (d *Drawing) rowOfWheels(s *Side, place *labels) {
	for i, a := range s.Layout.Axles {
		radius := s.Base.Axles[i].WheelDiameterMM / 2
		d.Disc(Pen{Layer: Wheels, Weight: Medium}, a.Center, radius)
		d.CenterMark(a.Center, math.Max(a.HoleDiameterMM, 6*d.Scale))
		place.avoid(a.Center, radius)
	}
	for i := range s.Layout.Links {
		g := &s.Layout.Links[i].Geometry
		for _, p := range []struct {
			at     int
			flange *float64
		}{{s.Layout.Links[i].FromAxle, g.Drive.Driver.FlangeDiameterMM}, {s.Layout.Links[i].ToAxle, g.Drive.Driven.FlangeDiameterMM}} {
			if p.flange != nil {
				d.Circle(Pen{Layer: Wheels, Weight: Thin}, s.Layout.Axles[p.at].Center, *p.flange/2)
			}
		}
	}
	floor := s.Layout.FloorYMM
	d.Line(fine, at(d.box.left, floor), at(d.box.right, floor))
	between := (s.Layout.Axles[0].Center.XMM + s.Layout.Axles[1].Center.XMM) / 2
	d.Text(at(between, floor+0.4*d.TextHeight()), Middle, "floor")
}

// rowOfBelts draws the belts as they run, each with its name between its
// spans.
func (d *Drawing) rowOfBelts(s *Side, place *labels) error {
	for i := range s.Layout.Links {
		l := &s.Layout.Links[i]
		q, a, err := s.beltPath(i)
		if err != nil {
			return err
		}
		pen := Pen{Layer: Belt, Weight: Medium}
		if l.Lane == base.LaneInboard {
			pen.Dash = Dashed
		}
		back, tooth := 0.0, 0.0 // the pitch line alone where the belt's heights are not held
		if a.BackMM != nil && a.ToothSideMM != nil {
			back, tooth = *a.BackMM, -*a.ToothSideMM
			d.beltLine(Pen{Layer: Belt, Weight: Thin, Dash: pen.Dash}, &a.Solutions[0], q.Wheels, tooth)
		}
		d.beltLine(pen, &a.Solutions[0], q.Wheels, back)
		for _, span := range a.Solutions[0].Spans {
			place.avoidLine(span.From, span.To)
		}
		if l.Idler != nil {
			d.idler(s, i, place)
			continue // its name stands beside the idler
		}
		from, to := l.Geometry.Driver.Center, l.Geometry.Driven.Center
		middle := at((from.XMM+to.XMM)/2, (from.YMM+to.YMM)/2)
		name := fmt.Sprintf("belt %d, %s", i+1, laneName(l.Lane))
		free := math.Abs(from.XMM-to.XMM) - (s.Base.Axles[l.FromAxle].WheelDiameterMM+s.Base.Axles[l.ToAxle].WheelDiameterMM)/2
		if d.TextWidth(name) > free {
			name = fmt.Sprintf("belt %d", i+1)
		}
		width := d.TextWidth(name)
		d.Text(at(middle.XMM, middle.YMM-d.TextHeight()/2), Middle, name)
		place.avoidBox(at(middle.XMM-width/2, middle.YMM-d.TextHeight()), at(middle.XMM+width/2, middle.YMM+d.TextHeight()))
	}
	return nil
}

// idler draws the idler of a belt and the range of its center.
func (d *Drawing) idler(s *Side, link int, place *labels) {
	o := s.Layout.Links[link].Idler
	wheel := &o.Path.Wheels[2]
	d.Disc(Pen{Layer: Wheels, Weight: Medium}, o.Center, wheel.RimRadiusMM)
	if flange := s.Base.Links[link].Idler.FlangeDiameterMM; flange != nil {
		d.Circle(Pen{Layer: Wheels, Weight: Thin}, o.Center, *flange/2)
	}
	d.CenterMark(o.Center, wheel.RimRadiusMM)
	from, to := o.Range[0], o.Range[1]
	d.Line(Pen{Layer: Notes, Dash: Dashed, Weight: Thin}, from, to)
	length, tick := math.Hypot(to.XMM-from.XMM, to.YMM-from.YMM), 0.4*d.TextHeight()
	x, y := -(to.YMM-from.YMM)/length*tick, (to.XMM-from.XMM)/length*tick
	for _, end := range o.Range {
		d.Line(fine, at(end.XMM-x, end.YMM-y), at(end.XMM+x, end.YMM+y))
	}
	place.avoid(o.Center, wheel.PitchRadiusMM)
	place.avoidLine(from, to)
}

// nameIdlers writes which belt runs over each idler.
func (d *Drawing) nameIdlers(s *Side, place *labels) {
	for i := range s.Layout.Links {
		if l := &s.Layout.Links[i]; l.Idler != nil {
			place.put(l.Idler.Center, l.Idler.Path.Wheels[2].PitchRadiusMM, idlerName(i), fmt.Sprintf("belt %d, %s", i+1, laneName(l.Lane)))
		}
	}
}

// rowOfStandoffs draws the standoffs; one that is not clear has a cross.
func (d *Drawing) rowOfStandoffs(s *Side, place *labels) {
	for i, o := range s.Layout.Standoffs {
		radius := s.Base.Standoffs[i].DiameterMM / 2
		d.Circle(Pen{Layer: Standoffs, Weight: Medium}, o.Center, radius)
		d.CenterMark(o.Center, 1.3*radius)
		place.avoid(o.Center, radius)
	}
	for i, o := range s.Layout.Standoffs {
		radius := s.Base.Standoffs[i].DiameterMM / 2
		name := fmt.Sprintf("S%d", i+1)
		if o.Verdict != base.StandoffVerdictClear {
			reach := 1.6 * radius
			pen := Pen{Layer: Standoffs, Weight: Thick}
			d.Line(pen, at(o.Center.XMM-reach, o.Center.YMM-reach), at(o.Center.XMM+reach, o.Center.YMM+reach))
			d.Line(pen, at(o.Center.XMM-reach, o.Center.YMM+reach), at(o.Center.XMM+reach, o.Center.YMM-reach))
			name += map[base.StandoffVerdict]string{base.StandoffVerdictTooClose: " TOO CLOSE", base.StandoffVerdictHits: " HITS"}[o.Verdict]
		}
		place.put(o.Center, radius, name)
	}
}

// nameWheels writes the number and the diameter of each wheel above its
// pulley, or above the wheel where it is small.
func (d *Drawing) nameWheels(s *Side, place *labels) {
	for i, a := range s.Layout.Axles {
		wheel := s.Base.Axles[i].WheelDiameterMM
		inner := a.HoleDiameterMM / 2
		for k := range s.Layout.Links {
			if l := &s.Layout.Links[k]; l.FromAxle == i || l.ToAxle == i {
				inner = math.Max(inner, beltReach(l, i))
			}
		}
		lines := []string{fmt.Sprintf("axle %d", i+1), "dia " + short(wheel)}
		y := a.Center.YMM + inner + 0.6*d.TextHeight() + place.pitch()
		if inner+0.6*d.TextHeight()+2*place.pitch() > 0.95*wheel/2 {
			y = a.Center.YMM + wheel/2 + 0.5*d.TextHeight() + place.pitch()
		}
		for k, line := range lines {
			d.Text(at(a.Center.XMM, y-float64(k)*place.pitch()), Middle, line)
		}
	}
}

// beltReach is the radius of what a link puts on an axle: flange or belt.
func beltReach(l *base.LinkLayout, axle int) float64 {
	p, wheel := l.Geometry.Driver, l.Geometry.Drive.Driver
	if axle == l.ToAxle {
		p, wheel = l.Geometry.Driven, l.Geometry.Drive.Driven
	}
	reach := p.PitchDiameterMM/2 + l.Geometry.Drive.Pitch.MM()/2 // thicker than any back
	if wheel.FlangeDiameterMM != nil {
		reach = math.Max(reach, *wheel.FlangeDiameterMM/2)
	}
	return reach
}

// rail draws the dimensions along the rail.
func (d *Drawing) rail(s *Side) {
	axles := s.Layout.Axles
	step := 3 * d.TextHeight()
	y := d.box.bottom - 0.8*step
	for i := 1; i < len(axles); i++ {
		d.Across(axles[i-1].Center, axles[i].Center, y, mm(axles[i].Center.XMM-axles[i-1].Center.XMM))
	}
	if len(axles) > 2 {
		y -= step
		d.Across(axles[0].Center, axles[len(axles)-1].Center, y, "wheelbase "+mm(s.Layout.WheelbaseMM))
	}
	low, high := s.plate()
	d.Across(low, at(high.XMM, low.YMM), y-step, fmt.Sprintf("plate %s x %s x %s", short(high.XMM-low.XMM), short(s.Base.PlateHeightMM), short(s.Base.PlateThicknessMM)))
}

func (d *Drawing) beltRows(s *Side) {
	rows := [][]string{{"Belt", "Axles, driver first", "Size", "Pulley teeth", "Center distance", "Along the rail", "Lane"}}
	for i := range s.Layout.Links {
		l := &s.Layout.Links[i]
		drive := l.Geometry.Drive
		rows = append(rows, []string{
			strconv.Itoa(i + 1), fmt.Sprintf("%d to %d", l.FromAxle+1, l.ToAxle+1), beltName(drive),
			fmt.Sprintf("%d, %d", drive.Driver.ToothCount, drive.Driven.ToothCount),
			mm(s.centerDistance(i)), mm(l.RailSpacingMM), laneName(l.Lane),
		})
	}
	d.Table(rows)
	d.idlerRows(s)
}

// idlerRows tells how the idlers are set.
func (d *Drawing) idlerRows(s *Side) {
	rows := [][]string{{"Idler of belt", "Rim", "Off the line of centers", "Longer belt it takes up", "Shorter"}}
	for i := range s.Layout.Links {
		o := s.Layout.Links[i].Idler
		if o == nil {
			continue
		}
		rim := fmt.Sprintf("%s diameter", short(2*o.Path.Wheels[2].RimRadiusMM))
		if teeth := s.Base.Links[i].Idler.ToothCount; teeth != nil {
			rim = fmt.Sprintf("%d teeth", *teeth)
		}
		rows = append(rows, []string{strconv.Itoa(i + 1), rim, mm(o.OffsetMM), mm(o.LongerBeltMM), mm(o.ShorterBeltMM)})
	}
	if len(rows) > 1 {
		d.Table(rows)
	}
}
