package path

import (
	"fmt"
	"math"
)

// rubs notes where the belt, thick as it is, would rub a wheel that it passes,
// or itself between two spans. It says nothing where heights are unknown.
func (n *noteList) rubs(l *loop, c *course) {
	tooth, ok := n.heights.inside()
	back, known := n.heights.outside()
	if !ok || !known {
		return
	}
	for i := range l.n {
		for k := range l.n {
			if gap := c.gapToWheel(l, i, k, tooth, back); gap < 0 {
				n.add(NoteBeltRubs, caution, fmt.Sprintf("Wheels[%d].Center", k), fmt.Sprintf(
					"%sthe belt from wheel %d to %d rubs on wheel %d: %.2f mm are missing", n.prefix, i+1, l.next(i)+1, k+1, -gap))
			}
		}
		for k := range i {
			if k == l.before(i) || i == l.before(k) {
				continue
			}
			if gap := c.gapOfSpans(l, k, i, tooth, back); gap < 0 {
				n.add(NoteBeltRubs, caution, "Wheels", fmt.Sprintf(
					"%sthe belt from wheel %d to %d rubs on itself from wheel %d to %d: %.2f mm are missing",
					n.prefix, k+1, l.next(k)+1, i+1, l.next(i)+1, -gap))
			}
		}
	}
}

// gapToWheel is the clearance between span i and wheel k, which is none of its
// own; above 0 for one of its own.
func (c *course) gapToWheel(l *loop, i, k int, tooth, back float64) float64 {
	if k == i || k == l.next(i) {
		return math.Inf(1)
	}
	w, from := &l.wheels[k], c.leave(l, i)
	x, y := w.x-from.XMM, w.y-from.YMM
	foot := x*c.ux[i] + y*c.uy[i]
	off := c.ux[i]*y - c.uy[i]*x
	return math.Hypot(off, foot-clamp(foot, 0, c.span[i])) - w.rim - c.thickness(off, tooth, back)
}

// thickness is that of the belt on the side of off, which is above 0 to the
// left of the span: the inside of a counter-clockwise loop.
func (c *course) thickness(off, tooth, back float64) float64 {
	if off*c.direction > 0 {
		return tooth
	}
	return back
}

// gapOfSpans is the clearance between two spans that do not cross: that at the
// nearest of their ends.
func (c *course) gapOfSpans(l *loop, i, k int, tooth, back float64) float64 {
	gap := math.Inf(1)
	for _, pair := range [2][2]int{{i, k}, {k, i}} {
		a, b := pair[0], pair[1]
		from := c.leave(l, a)
		for n := range 2 {
			p := c.leave(l, b)
			if n == 1 {
				p = c.meet(l, b)
			}
			x, y := p.XMM-from.XMM, p.YMM-from.YMM
			foot := x*c.ux[a] + y*c.uy[a]
			off := c.ux[a]*y - c.uy[a]*x
			gap = math.Min(gap, math.Hypot(off, foot-clamp(foot, 0, c.span[a]))-2*c.thickness(off, tooth, back))
		}
	}
	return gap
}
