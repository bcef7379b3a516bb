package web

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// The size of a ruler in its own units, which are about pixels.
const (
	rulerWidth  = 960.0
	rulerMargin = 46.0
	rulerBody   = 54.0 // height of the ruler itself
	labelHeight = 18.0
	labelLetter = 7.9 // width of a letter of a label, as bold as it gets
	labelRows   = 14
	markGap     = 1.5 // marks nearer than this are one
)

// ruler shows where spacings land: marks over the graduation of a ruler, with
// labels where there is room.
type ruler struct {
	view      *view
	low, high float64 // mm
	target    *float64
	sections  bool // whether labels name the section
	marks     []*rulerMark
	right     float64 // room for the labels of the last marks
}

// rulerMark is one place where spacings land.
type rulerMark struct {
	at       float64 // in units of the picture
	row      int     // of the label, counted from the ruler; below 0 without
	text     string
	more     int // further spacings in the same place
	standard bool
	first    int // its row in the table
}

func newRuler(v *view, q *pb.SearchSpacingsRequest, spacings []*pb.Spacing) *ruler {
	r := &ruler{view: v, target: q.TargetCenterDistanceMm, sections: len(q.GetSections()) > 1}
	r.low, r.high = window(q, spacings)
	if !(r.high > r.low) {
		return r
	}
	r.right = float64(len("174 on 36/36 +10")) * labelLetter
	if r.sections {
		r.right += float64(len("S4.5M ")) * labelLetter
	}
	for i, s := range spacings {
		r.add(i, s)
	}
	r.label()
	return r
}

// window is the stretch that the ruler covers: what was asked for, else what
// was found.
func window(q *pb.SearchSpacingsRequest, spacings []*pb.Spacing) (low, high float64) {
	if len(spacings) == 0 {
		return 0, 0
	}
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range spacings {
		low, high = min(low, s.GetCenterDistanceMm()), max(high, s.GetCenterDistanceMm())
	}
	room := max((high-low)*0.04, 0.05)
	low, high = low-room, high+room
	switch {
	case q.TargetCenterDistanceMm != nil:
		reach := max(q.GetTargetCenterDistanceMm()-low, high-q.GetTargetCenterDistanceMm())
		return q.GetTargetCenterDistanceMm() - reach, q.GetTargetCenterDistanceMm() + reach
	case q.MinCenterDistanceMm != nil && q.MaxCenterDistanceMm != nil && len(spacings) == 1:
		return q.GetMinCenterDistanceMm(), q.GetMaxCenterDistanceMm()
	}
	return low, high
}

// place is where a center distance lies in the picture.
func (r *ruler) place(mm float64) float64 {
	return rulerMargin + (mm-r.low)/(r.high-r.low)*(rulerWidth-rulerMargin-r.right)
}

func (r *ruler) add(i int, s *pb.Spacing) {
	at := r.place(s.GetCenterDistanceMm())
	for _, m := range r.marks {
		if math.Abs(m.at-at) < markGap {
			m.more++
			m.standard = m.standard || s.GetStandardLength()
			return
		}
	}
	text := fmt.Sprintf("%d on %d/%d", s.GetBeltToothCount(), s.GetDriverToothCount(), s.GetDrivenToothCount())
	if r.sections {
		text = s.GetSection() + " " + text
	}
	r.marks = append(r.marks, &rulerMark{at: at, text: text, standard: s.GetStandardLength(), first: i + 1, row: -1})
}

// label finds a row for every label, from right to left: a label hangs to the
// right of its mark like a flag, so no mark crosses one that was placed before.
func (r *ruler) label() {
	slices.SortFunc(r.marks, func(a, b *rulerMark) int { return cmp.Compare(b.at, a.at) })
	var starts []float64 // of the leftmost label of each row
	for _, m := range r.marks {
		if m.more > 0 {
			m.text += fmt.Sprintf(" +%d", m.more)
		}
		end := m.at + 6 + float64(len(m.text))*labelLetter
		m.row = slices.IndexFunc(starts, func(start float64) bool { return end < start })
		if m.row < 0 && len(starts) < labelRows {
			m.row = len(starts)
			starts = append(starts, 0)
		}
		if m.row >= 0 {
			starts[m.row] = m.at
			// Lower rows are closed to what lies further left than this pole.
			for row := range m.row {
				starts[row] = min(starts[row], m.at)
			}
		}
	}
}

// draw returns the picture; nothing where there is nothing to show.
func (r *ruler) draw() template.HTML {
	if len(r.marks) == 0 {
		return ""
	}
	used := 0
	for _, m := range r.marks {
		used = max(used, m.row+1)
	}
	top := float64(used)*labelHeight + 34 // of the ruler
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="ruler" viewBox="0 0 %.0f %.0f" role="group" aria-label="Ruler of center distances; the table below has the same">`, rulerWidth, top+rulerBody+8)
	fmt.Fprintf(&b, `<rect class="body" x="1" y="%.1f" width="%.1f" height="%.1f" rx="4"/>`, top, rulerWidth-2, rulerBody)
	r.graduate(&b, top)
	if r.target != nil {
		x := r.place(*r.target)
		fmt.Fprintf(&b, `<path class="target" d="M%.1f %.1fV8"/><text class="target" x="%.1f" y="14" text-anchor="start">target</text>`, x, top+rulerBody, x+5)
	}
	for _, m := range r.marks {
		r.drawMark(&b, m, top)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String()) //nolint:gosec // numbers and section designations that the service accepted
}

func (r *ruler) drawMark(b *strings.Builder, m *rulerMark, top float64) {
	class := "other"
	if m.standard {
		class = "standard"
	}
	if m.row < 0 {
		fmt.Fprintf(b, `<path class="mark %s" d="M%.1f %.1fv-12"/>`, class, m.at, top)
		return
	}
	y := top - 14 - float64(m.row)*labelHeight
	fmt.Fprintf(b, `<path class="mark %s" d="M%.1f %.1fV%.1f"/>`, class, m.at, top, y-9)
	fmt.Fprintf(b, `<a href="#s%d"><text class="%s" x="%.1f" y="%.1f" >%s</text></a>`,
		m.first, class, m.at+4, y, template.HTMLEscapeString(m.text))
}

// graduate draws the ruler's own marks, about a dozen with numbers.
func (r *ruler) graduate(b *strings.Builder, top float64) {
	unit := r.view.Unit
	inUnit := func(mm float64) float64 { return beltmath.InUnit(mm, unit) }
	scale := 1 / inUnit(1) // millimeters a unit
	step := graduation(inUnit(r.high-r.low)/10, unit)
	const fine = 5
	decimals := 0
	for s := step; decimals < 6 && math.Abs(s-math.Round(s)) > 1e-9; s *= 10 {
		decimals++
	}
	first := math.Ceil(inUnit(r.low) / step * fine)
	for i := first; ; i++ {
		x := r.place(i * step / fine * scale)
		if x > rulerWidth-12 {
			break
		}
		if math.Mod(i, fine) != 0 {
			fmt.Fprintf(b, `<path class="tick" d="M%.1f %.1fv8"/>`, x, top)
			continue
		}
		fmt.Fprintf(b, `<path class="tick" d="M%.1f %.1fv16"/><text x="%.1f" y="%.1f" text-anchor="middle">%.*f</text>`,
			x, top, x, top+34, decimals, i*step/fine)
	}
	fmt.Fprintf(b, `<text class="unit" x="%.1f" y="%.1f" text-anchor="end">%s</text>`, rulerWidth-8, top+rulerBody-6, unit)
}

// graduation is the least round step that is not below a wanted one: 1, 2 or 5
// and their tenfolds, below an inch halves.
func graduation(wanted float64, unit beltmath.Unit) float64 {
	if unit == beltmath.Inch && wanted <= 1 {
		step := 1.0
		for step/2 >= wanted && step > 1.0/4096 {
			step /= 2
		}
		return step
	}
	power := math.Pow(10, math.Floor(math.Log10(wanted)))
	for _, factor := range []float64{1, 2, 5} {
		if factor*power >= wanted {
			return factor * power
		}
	}
	return 10 * power
}
