package drawing

import (
	"fmt"
	"math"
	"slices"
)

// BaseDrillTemplate draws the plate with its holes in its true size. What is
// written under it keeps to columns, so that pages of the given paper cut
// through no text.
func BaseDrillTemplate(s *Side, paper Paper) *Drawing {
	const trueSize = 280 // texts as large as on a page in the hand
	low, high := s.plate()
	d := New(s.title("Drill template"), trueSize)
	d.Rect(Pen{Layer: Plate, Weight: Medium}, low, high)
	holes := s.holes()
	d.drawHoles(holes)
	place := &labels{d: d, bounds: &box{low.XMM, low.YMM, high.XMM, high.YMM}}
	d.datum(s, place)
	for i := range holes {
		radius := math.Max(holes[i].diameterMM/2, 1)
		reach := radius + 4
		d.Line(fine, at(holes[i].center.XMM-reach, holes[i].center.YMM), at(holes[i].center.XMM+reach, holes[i].center.YMM))
		d.Line(fine, at(holes[i].center.XMM, holes[i].center.YMM-reach), at(holes[i].center.XMM, holes[i].center.YMM+reach))
		place.avoid(holes[i].center, reach)
	}
	for i := range holes {
		h := &holes[i]
		size := "dia " + h.diameter()
		if h.diameterMM == 0 {
			size = "dia not given"
		}
		place.put(h.center, math.Max(h.diameterMM/2, 1)+4, h.name+", "+size, mm(h.fromEnd)+" / "+mm(h.fromEdge))
	}
	d.running(holes, low.XMM, high.YMM)
	d.Across(low, at(high.XMM, low.YMM), low.YMM-2.5*d.TextHeight(), "length of plate "+mm(high.XMM-low.XMM))
	plates := s.plates()
	d.columns(
		paper.WidthMM-2*paperMarginMM,
		func(c *Drawing) {
			c.ScaleBar()
			c.paragraph(fmt.Sprintf("%s. True size, in millimeters: measure the bar before you drill. Beside each hole: from the end / from the lower edge. "+
				"%d plates %s x %s x %s, all drilled alike; turn a plate over for the other side of the vehicle, with this side up.",
				d.Title, plates.Quantity, short(plates.LengthMM), short(s.Base.PlateHeightMM), short(s.Base.PlateThicknessMM)))
		},
		func(c *Drawing) { c.wrapped(drillRows(holes)) },
		func(c *Drawing) {
			c.paragraph("Clamp the plate, wear eye protection, no gloves at the drill press. " + care)
		},
	)
	return d
}

// drillRows are the holes by what they are drilled from.
func drillRows(holes []hole) [][]string {
	rows := holeRows(holes)
	for i := range rows {
		rows[i] = rows[i][:4]
	}
	return rows
}

// columns writes blocks under everything drawn so far, side by side in columns
// of the given width as far as the drawing reaches.
func (d *Drawing) columns(widthMM float64, blocks ...func(*Drawing)) {
	reach := d.box
	count := int(math.Max(1, math.Round((reach.right-reach.left)/widthMM)))
	bottoms := slices.Repeat([]float64{reach.bottom}, count)
	for i, write := range blocks {
		left := reach.left + float64(i%count)*widthMM
		right := math.Min(left+widthMM, math.Max(reach.right, reach.left+widthMM)) - 6*d.TextHeight()
		if i%count > 0 {
			left += bleedMM + d.TextHeight() // beyond what the page before shows
		}
		c := &Drawing{Scale: d.Scale, box: box{left, bottoms[i%count], right, reach.top}}
		write(c)
		bottoms[i%count] = c.box.bottom
		d.shapes = append(d.shapes, c.shapes...)
		d.box.join(c.box)
	}
}

// datum draws the height of the plate, which side is up, and the corner that
// everything is measured from.
func (d *Drawing) datum(s *Side, place *labels) {
	low, high := s.plate()
	height := d.TextHeight()
	x := low.XMM + 3*height
	d.Up(low.YMM, high.YMM, x, mm(high.YMM-low.YMM))
	place.avoidBox(at(x-height, low.YMM), at(x+height, high.YMM))
	middle := (low.YMM + high.YMM) / 2
	place.avoidBox(at(x, middle-height), at(x+height+d.TextWidth(mm(high.YMM-low.YMM)), middle+2*height))

	corner := Pen{Layer: Notes, Weight: Medium}
	d.Circle(corner, low, 1.2*height)
	d.Text(at(low.XMM+2*height, low.YMM-1.6*height), Left, "measure from this corner; first axle at this end")
	for _, x := range []float64{low.XMM + 4*height, high.XMM - 4*height - d.TextWidth("THIS SIDE UP")} {
		top := high.YMM - 0.8*height
		d.Text(at(x, top-1.2*height), Left, "THIS SIDE UP")
		arrow := x - 0.8*height
		d.Line(corner, at(arrow, top-1.4*height), at(arrow, top))
		d.Line(corner, at(arrow-0.4*height, top-0.5*height), at(arrow, top))
		d.Line(corner, at(arrow+0.4*height, top-0.5*height), at(arrow, top))
		place.avoidBox(at(arrow-height, top-1.6*height), at(x+d.TextWidth("THIS SIDE UP"), high.YMM))
	}
}

// running draws the distances of the holes from the end of the plate above it,
// in as many lines as they need.
func (d *Drawing) running(holes []hole, left, top float64) {
	height := d.TextHeight()
	byX := slices.Clone(holes)
	slices.SortFunc(byX, func(a, b hole) int {
		switch {
		case a.fromEnd < b.fromEnd:
			return -1
		case a.fromEnd > b.fromEnd:
			return 1
		}
		return 0
	})
	var ends []float64 // of the texts in each line so far
	last := math.Inf(-1)
	for _, h := range byX {
		if h.fromEnd-last < 5e-4 {
			continue
		}
		last = h.fromEnd
		text := mm(h.fromEnd)
		x := left + h.fromEnd
		from, to := x-d.TextWidth(text)/2-height/2, x+d.TextWidth(text)/2+height/2
		level := 0
		for level < len(ends) && ends[level] > from {
			level++
		}
		if level == len(ends) {
			ends = append(ends, 0)
		}
		ends[level] = to
		y := top + 1.2*height + float64(level)*1.6*height
		d.Line(fine, at(x, top), at(x, y-0.3*height))
		d.Text(at(x, y), Middle, text)
	}
}
