package drawing

import (
	"fmt"
	"math"
	"strconv"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// toScale stands under every drawing.
const toScale = "All lengths in millimeters, drawn to scale. On a print, measure the bar before you use it."

// Path draws one of the solutions of a path, and where a wheel moves its way
// and the other places that it may take.
func Path(q path.Query, a path.Answer, index int) *Drawing {
	s := &a.Solutions[index]
	d := New(pathTitle(q, s), sizeOf(s.Wheels))
	away := middle(s.Wheels)
	for i := range s.Wheels {
		outer := s.Wheels[i].PitchRadiusMM
		if a.BackMM != nil {
			outer += *a.BackMM
		}
		d.wheel(&s.Wheels[i], strconv.Itoa(i+1), away, outer)
	}
	d.belt(s, q.Wheels, beltSides{a.ToothSideMM, a.BackMM})
	if q.Moving != nil {
		d.way(q.Moving)
		for i := range a.Solutions {
			if w := &a.Solutions[i].Wheels[q.Moving.WheelIndex]; i != index {
				d.Circle(Pen{Layer: Wheels, Dash: Dashed, Weight: Thin}, w.Center, w.RimRadiusMM)
			}
		}
	}
	d.ScaleBar()
	lines := []string{d.Title}
	if q.Moving != nil {
		lines = append(lines, fmt.Sprintf("Solution %d of %d: wheel %d stands %.3f along its way",
			index+1, len(a.Solutions), q.Moving.WheelIndex+1, *s.PositionMM))
	}
	d.Below(lines...)
	d.Table(pathRows(q, s))
	d.Below(toScale)
	return d
}

func pathTitle(q path.Query, s *path.Solution) string {
	return fmt.Sprintf("%s: path of %.4f teeth, %.3f mm, round %d wheels", profileName(q.Section, q.PitchMM), s.ExactToothCount, s.BeltLengthMM, len(s.Wheels))
}

// profileName names a section, or a pitch.
func profileName(section string, pitchMM *float64) string {
	if section != "" || pitchMM == nil {
		return "Belt " + section
	}
	return "Belt of " + number(*pitchMM) + " mm pitch"
}

func pathRows(q path.Query, s *path.Solution) [][]string {
	rows := [][]string{{"Wheel", "Rim", "Side", "Center x", "y", "Wrap, degrees", "Teeth in mesh"}}
	for i, g := range s.Wheels {
		w := &q.Wheels[i]
		rim, side, mesh := fmt.Sprintf("%.3f diameter", 2*g.RimRadiusMM), "inside", ""
		if w.Kind == path.KindToothed {
			rim, mesh = fmt.Sprintf("%d teeth", *w.ToothCount), strconv.Itoa(g.MeshedToothCount)
		}
		if w.Side == path.SideOutside {
			side = "on the back"
		}
		name := strconv.Itoa(i + 1)
		if q.Moving != nil && q.Moving.WheelIndex == i {
			name += ", moves"
		}
		rows = append(rows, []string{
			name, rim, side, fmt.Sprintf("%.3f", g.Center.XMM), fmt.Sprintf("%.3f", g.Center.YMM),
			fmt.Sprintf("%.2f", g.WrapRad*180/math.Pi), mesh,
		})
	}
	return rows
}

// way draws the line that an axis can take.
func (d *Drawing) way(m *path.Moving) {
	pen := Pen{Layer: Notes, Dash: Dashed, Weight: Medium}
	if s := m.Segment; s != nil {
		d.Line(pen, *s.From, *s.To)
		d.stops(*s.From, *s.To)
		return
	}
	arc := m.Arc
	from, to := arc.FromDeg*math.Pi/180, arc.ToDeg*math.Pi/180
	if math.Abs(arc.ToDeg-arc.FromDeg) == 360 {
		d.Circle(pen, *arc.Center, arc.RadiusMM)
		start := polar(*arc.Center, arc.RadiusMM, from)
		d.stops(start, start)
		return
	}
	d.Arc(pen, *arc.Center, arc.RadiusMM, math.Min(from, to), math.Max(from, to))
	d.stops(polar(*arc.Center, arc.RadiusMM, from), polar(*arc.Center, arc.RadiusMM, to))
}

// stops marks the ends of a way.
func (d *Drawing) stops(from, to beltmath.Point) {
	pen := Pen{Layer: Notes, Weight: Medium}
	height := d.TextHeight()
	d.Circle(pen, from, 0.25*height)
	d.Circle(pen, to, 0.25*height)
	if from.XMM > to.XMM {
		d.Text(beltmath.Point{XMM: from.XMM + 0.7*height, YMM: from.YMM - height/2}, Left, "start")
	} else {
		d.Text(beltmath.Point{XMM: from.XMM - 0.7*height, YMM: from.YMM - height/2}, Right, "start")
	}
}
