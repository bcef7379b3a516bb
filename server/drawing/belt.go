package drawing

import (
	"math"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// beltSides is how far a belt reaches from its pitch line; nil where unknown.
type beltSides struct{ tooth, back *float64 }

// belt draws a belt: its back thick, its pitch line, and the line of its tooth
// tips; the pitch line alone where the thickness is unknown.
func (d *Drawing) belt(s *path.Solution, wheels []path.Wheel, sides beltSides) {
	if sides.back == nil || sides.tooth == nil {
		d.beltLine(Pen{Layer: Belt, Weight: Thick}, s, wheels, 0)
		return
	}
	d.beltLine(Pen{Layer: Belt, Weight: Thin, Dash: Chain}, s, wheels, 0)
	d.beltLine(Pen{Layer: Belt, Weight: Thick}, s, wheels, *sides.back)
	d.beltLine(Pen{Layer: Belt, Weight: Thin}, s, wheels, -*sides.tooth)
}

// beltLine draws the line that lies outward of the pitch line by the given
// distance, everywhere.
func (d *Drawing) beltLine(pen Pen, s *path.Solution, wheels []path.Wheel, outward float64) {
	for _, span := range s.Spans {
		length := span.LengthMM
		if length == 0 {
			continue
		}
		// Outward is to the right of a belt that runs counter-clockwise.
		x, y := (span.To.YMM-span.From.YMM)/length*outward, -(span.To.XMM-span.From.XMM)/length*outward
		if !s.CounterClockwise {
			x, y = -x, -y
		}
		d.Line(pen, beltmath.Point{XMM: span.From.XMM + x, YMM: span.From.YMM + y}, beltmath.Point{XMM: span.To.XMM + x, YMM: span.To.YMM + y})
	}
	for i, w := range s.Wheels {
		radius := w.PitchRadiusMM + outward
		if wheels[i].Side == path.SideOutside {
			radius = w.PitchRadiusMM - outward
		}
		if w.WrapRad == 0 || radius <= 0 {
			continue
		}
		from := math.Atan2(w.WrapFrom.YMM-w.Center.YMM, w.WrapFrom.XMM-w.Center.XMM)
		d.Arc(pen, w.Center, radius, from, from+w.WrapRad)
	}
}

// wheel draws a wheel with its name: in it, or where it is small beside it,
// away from the given point and beyond all that reaches outerMM far.
func (d *Drawing) wheel(w *path.WheelGeometry, name string, away beltmath.Point, outerMM float64) {
	d.Disc(Pen{Layer: Wheels, Weight: Medium}, w.Center, w.RimRadiusMM)
	d.CenterMark(w.Center, w.RimRadiusMM)
	height, width := d.TextHeight(), d.TextWidth(name)
	gap := height * 0.5
	if w.RimRadiusMM > math.Hypot(gap+width, gap+height) {
		d.Text(beltmath.Point{XMM: w.Center.XMM + gap, YMM: w.Center.YMM + gap}, Left, name)
		return
	}
	x, y := w.Center.XMM-away.XMM, w.Center.YMM-away.YMM
	far := math.Hypot(x, y)
	if far == 0 {
		x, far = 1, 1
	}
	x, y = x/far, y/far
	reach := math.Max(w.PitchRadiusMM, outerMM) + height + math.Abs(x)*width/2 + math.Abs(y)*height/2
	d.Text(beltmath.Point{XMM: w.Center.XMM + x*reach, YMM: w.Center.YMM + y*reach - height/2}, Middle, name)
}

// middle is the mean of the wheels' centers.
func middle(wheels []path.WheelGeometry) beltmath.Point {
	var m beltmath.Point
	for _, w := range wheels {
		m.XMM += w.Center.XMM / float64(len(wheels))
		m.YMM += w.Center.YMM / float64(len(wheels))
	}
	return m
}

// sizeOf is the longer side of the rectangle round the wheels.
func sizeOf(wheels []path.WheelGeometry) float64 {
	b := emptyBox()
	for _, w := range wheels {
		b.hold(w.Center, w.PitchRadiusMM)
	}
	return math.Max(b.right-b.left, b.top-b.bottom)
}
