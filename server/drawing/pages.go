package drawing

import (
	"bytes"
	"fmt"
)

// Paper is a size of paper in millimeters, lying.
type Paper struct{ WidthMM, HeightMM float64 }

// The papers that drawings are printed on. Letter is 11 x 8.5 inches.
var (
	A4     = Paper{297, 210}
	Letter = Paper{279.4, 215.9}
)

// paperMarginMM is what stays free round the drawing on each page: printers
// leave out less.
const paperMarginMM = 10

// bleedMM is how far a page shows its neighbors to the left and right and above
// beyond the cut, so that a hole on a seam is whole on one of them.
const bleedMM = 5

// page is the part of a drawing that goes on one paper.
type page struct {
	box
	row, column int
}

// Pages writes the drawing in its true size on as many pages as it takes, as an
// HTML document that prints one on each paper. Parts without a line are left
// out; the paper lies or stands, whichever takes fewer.
func (d *Drawing) Pages(paper Paper) []byte {
	pages, columns := d.tile(paper)
	upright := Paper{paper.HeightMM, paper.WidthMM}
	if other, count := d.tile(upright); len(other) < len(pages) {
		paper, pages, columns = upright, other, count
	}
	var out bytes.Buffer
	width, height := number(paper.WidthMM), number(paper.HeightMM)
	fmt.Fprintf(&out, `<!DOCTYPE html>
<html lang="en">
<meta charset="utf-8">
<title>%s</title>
<style>
@page { size: %smm %smm; margin: 0 }
body { margin: 0 }
.page { display: block; break-after: page; break-inside: avoid }
@media screen { .page { margin: 4mm; outline: 1px solid #888 } }
</style>
<svg width="0" height="0" style="position: absolute"><defs><g id="sheet">
`, escaped(d.Title), width, height)
	d.writeLayers(&out)
	out.WriteString("</g></defs></svg>\n")
	for i := range pages {
		d.writePage(&out, paper, pages, i, columns)
	}
	out.WriteString("</html>\n")
	return out.Bytes()
}

// tile cuts the drawing into pages, and leaves out empty ones.
func (d *Drawing) tile(paper Paper) (pages []page, columns int) {
	width, height := paper.WidthMM-2*paperMarginMM, paper.HeightMM-2*paperMarginMM
	var across, down []stretch
	for i := range d.shapes {
		if s := &d.shapes[i]; s.kind == circleShape && s.pen.Layer == Holes {
			across = append(across, stretch{s.a.XMM - s.radius, s.a.XMM + s.radius})
			down = append(down, stretch{-s.a.YMM - s.radius, -s.a.YMM + s.radius})
		}
	}
	lefts := cuts(stretch{d.box.left, d.box.right}, width, bleedMM, across)
	tops := cuts(stretch{-d.box.top, -d.box.bottom}, height, 0, down)
	for row, top := range tops {
		for column, left := range lefts {
			window := box{left: left, top: -top, right: left + width, bottom: -top - height}
			if column+1 < len(lefts) {
				window.right = lefts[column+1]
			}
			if row+1 < len(tops) {
				window.bottom = -tops[row+1]
			}
			if d.drawsIn(window) {
				pages = append(pages, page{window, row, column})
			}
		}
	}
	return pages, len(lefts)
}

// stretch is a part of an axis.
type stretch struct{ from, to float64 }

// cuts returns where the pages along an axis begin. A page has the given room,
// and shows afterMM beyond its end and bleedMM before its start. It is cut
// short where a hole would be whole neither on it nor on the next one.
func cuts(all stretch, room, afterMM float64, holes []stretch) []float64 {
	const slack = 1e-6
	starts := []float64{all.from}
	for {
		start := starts[len(starts)-1]
		if all.to <= start+room+slack {
			return starts
		}
		end := start + room
		for moved := true; moved; {
			moved = false
			for _, h := range holes {
				if early := h.from + bleedMM; h.to > end+afterMM && h.from < end-bleedMM && early > start+room/2 {
					end, moved = early, true
				}
			}
		}
		starts = append(starts, end)
	}
}

// drawsIn tells whether a shape may lie in a window.
func (d *Drawing) drawsIn(window box) bool {
	for i := range d.shapes {
		s := &d.shapes[i]
		around := emptyBox()
		switch s.kind {
		case textShape:
			around = d.textBox(s.a, s.anchor, s.text)
		case lineShape, rectShape:
			around.hold(s.a, 1e-3)
			around.hold(s.b, 1e-3)
		default:
			around.hold(s.a, s.radius)
		}
		if window.meets(around) {
			return true
		}
	}
	return false
}

func (d *Drawing) writePage(out *bytes.Buffer, paper Paper, pages []page, i, columns int) {
	p := pages[i]
	w, h := p.right-p.left, p.top-p.bottom
	fmt.Fprintf(out, `<svg class="page" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img" aria-label="page %d of %d">`+"\n",
		number(paper.WidthMM), number(paper.HeightMM), number(paper.WidthMM), number(paper.HeightMM), i+1, len(pages))
	fmt.Fprintf(out, `<svg x="%d" y="%d" width="%s" height="%s" viewBox="%s %s %s %s"><use href="#sheet"/></svg>`+"\n",
		paperMarginMM-bleedMM, paperMarginMM-bleedMM, number(w+2*bleedMM), number(h+bleedMM),
		number(p.left-bleedMM), number(-p.top-bleedMM), number(w+2*bleedMM), number(h+bleedMM))
	fmt.Fprintf(out, `<rect x="%d" y="%d" width="%s" height="%s" fill="none" stroke="#1b1b1b" stroke-width="0.1" stroke-dasharray="2 2"/>`+"\n",
		paperMarginMM, paperMarginMM, number(w), number(h))
	const barTick = 2
	base := paper.HeightMM - 4
	fmt.Fprintf(out, `<path d="M%[1]d %[2]sv-%[4]dv%[4]dh50v-%[4]dv%[4]dh50v-%[4]dv%[4]d" fill="none" stroke="#1b1b1b" stroke-width="0.25" data-mm="%[3]d"/>`+"\n",
		paperMarginMM, number(base), 100, barTick)
	text := fmt.Sprintf("100 mm, measure it. Page %d of %d", i+1, len(pages))
	if len(pages) > 1 {
		text += fmt.Sprintf(", row %d, column %d of %d", p.row+1, p.column+1, columns)
		text += ". Cut a page along its broken line and lay it on its neighbor's."
	}
	fmt.Fprintf(out, `<text x="%d" y="%s" font-family="sans-serif" font-size="3" fill="#1b1b1b">%s</text>`+"\n", paperMarginMM+103, number(base), escaped(text))
	out.WriteString("</svg>\n")
}
