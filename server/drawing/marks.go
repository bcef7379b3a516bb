package drawing

import (
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

var fine = Pen{Layer: Notes, Weight: Thin}

// CenterMark draws the cross of an axis that reaches a little beyond the rim,
// or keeps within it where the rim is large.
func (d *Drawing) CenterMark(at beltmath.Point, rimMM float64) {
	reach := math.Min(rimMM*0.6, 6*d.Scale)
	d.Line(fine, beltmath.Point{XMM: at.XMM - reach, YMM: at.YMM}, beltmath.Point{XMM: at.XMM + reach, YMM: at.YMM})
	d.Line(fine, beltmath.Point{XMM: at.XMM, YMM: at.YMM - reach}, beltmath.Point{XMM: at.XMM, YMM: at.YMM + reach})
}

// Across draws a dimension of two points along x, its line at the height y.
func (d *Drawing) Across(a, b beltmath.Point, y float64, text string) {
	tick := d.TextHeight() / 2
	for _, p := range [2]beltmath.Point{a, b} {
		d.Line(fine, p, beltmath.Point{XMM: p.XMM, YMM: y - tick})
		d.Line(Pen{Layer: Notes, Weight: Medium},
			beltmath.Point{XMM: p.XMM - tick/2, YMM: y - tick/2}, beltmath.Point{XMM: p.XMM + tick/2, YMM: y + tick/2})
	}
	d.Line(fine, beltmath.Point{XMM: a.XMM, YMM: y}, beltmath.Point{XMM: b.XMM, YMM: y})
	d.Text(beltmath.Point{XMM: (a.XMM + b.XMM) / 2, YMM: y + tick}, Middle, text)
}

// Up draws a dimension of two heights, its line at x and its text right of it.
func (d *Drawing) Up(low, high, x float64, text string) {
	tick := d.TextHeight() / 4
	for _, y := range [2]float64{low, high} {
		d.Line(Pen{Layer: Notes, Weight: Medium}, beltmath.Point{XMM: x - tick, YMM: y - tick}, beltmath.Point{XMM: x + tick, YMM: y + tick})
	}
	d.Line(fine, beltmath.Point{XMM: x, YMM: low}, beltmath.Point{XMM: x, YMM: high})
	d.Text(beltmath.Point{XMM: x + 2*tick, YMM: (low+high)/2 + 2*tick}, Left, text)
}

// Below writes lines of text under everything drawn so far, at its left edge.
func (d *Drawing) Below(lines ...string) {
	rows := make([][]string, len(lines))
	for i, line := range lines {
		rows[i] = []string{line}
	}
	d.Table(rows)
}

// Table writes rows of text in columns under everything drawn so far, at its
// left edge.
func (d *Drawing) Table(rows [][]string) {
	widths := d.columnWidths(rows)
	left, y := d.box.left, d.box.bottom-d.TextHeight()
	for _, row := range rows {
		y -= 1.7 * d.TextHeight()
		x := left
		for i, cell := range row {
			if cell != "" {
				d.Text(beltmath.Point{XMM: x, YMM: y}, Left, cell)
			}
			x += widths[i]
		}
	}
}

func (d *Drawing) columnWidths(rows [][]string) []float64 {
	var widths []float64
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = math.Max(widths[i], d.TextWidth(cell)+1.5*d.TextHeight())
		}
	}
	return widths
}

// ScaleBar draws a bar of 100 mm under everything drawn so far: whoever prints
// the drawing measures it first.
func (d *Drawing) ScaleBar() {
	const length, step = 100.0, 10.0
	height := d.TextHeight()
	x, y := d.box.left, d.box.bottom-3.2*height
	pen := Pen{Layer: Notes, Weight: Medium}
	d.Line(pen, beltmath.Point{XMM: x, YMM: y}, beltmath.Point{XMM: x + length, YMM: y})
	for at := 0.0; at <= length; at += step {
		rise := height / 2
		if math.Mod(at, length/2) == 0 {
			rise = height
		}
		d.Line(pen, beltmath.Point{XMM: x + at, YMM: y}, beltmath.Point{XMM: x + at, YMM: y + rise})
	}
	d.Text(beltmath.Point{XMM: x + length + height, YMM: y}, Left, "100 mm")
}
