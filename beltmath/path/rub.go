package path

import (
	"fmt"
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// rubs notes where the belt, thick as it is, would rub a wheel that it passes,
// or itself. It says nothing where heights are unknown.
func (n *noteList) rubs(l *loop, c *course) {
	tooth, ok := n.heights.inside()
	back, known := n.heights.outside()
	if !ok || !known {
		return
	}
	b := thickBelt{tooth: tooth, back: back}
	l.outline(c, &b.outline)
	for i := range l.n {
		for k := range l.n {
			if gap := b.gapToWheel(i, k); gap < 0 {
				n.add(NoteBeltRubs, caution, wheelField(k, ".Center"), fmt.Sprintf(
					"%sthe belt from %s rubs at %s: %.2f mm are missing", n.prefix, l.fromTo(i), l.name(k), -gap))
			}
		}
		for k := range i {
			if gap := b.gapOfSpans(k, i); gap < 0 {
				n.add(NoteBeltRubs, caution, "Wheels", fmt.Sprintf(
					"%sthe belt from %s rubs on itself from %s: %.2f mm are missing",
					n.prefix, l.fromTo(k), l.fromTo(i), -gap))
			}
		}
	}
}

// thickBelt is a belt that reaches to both sides of its pitch line.
type thickBelt struct {
	outline
	tooth, back float64
}

// radius is how far wheel k reaches in a direction, with the belt on it.
func (b *thickBelt) radius(k int, x, y float64) float64 {
	w := &b.wheels[k]
	switch {
	case !b.holds(k, x, y):
		return w.rim
	case w.inside:
		return w.pitch + b.back
	}
	return w.pitch + b.tooth
}

// gapToWheel is the clearance between wheel k and the span that leads from
// wheel i, or the belt on wheel i; infinite for a wheel of their own.
func (b *thickBelt) gapToWheel(i, k int) float64 {
	gap := math.Inf(1)
	if k == i {
		return gap
	}
	a, w := &b.wheels[i], &b.wheels[k]
	if x, y := w.x-a.x, w.y-a.y; b.holds(i, x, y) {
		gap = math.Hypot(x, y) - b.radius(i, x, y) - b.radius(k, -x, -y)
	}
	if k == b.next(i) {
		return gap
	}
	x, y := w.x-b.from[i].XMM, w.y-b.from[i].YMM
	foot := x*b.ux[i] + y*b.uy[i]
	off := b.ux[i]*y - b.uy[i]*x
	near := clamp(foot, 0, b.span[i])
	reach := b.radius(k, near*b.ux[i]-x, near*b.uy[i]-y)
	if near == foot || reach == w.rim { // at an end the belt goes on round a wheel
		gap = math.Min(gap, math.Hypot(off, foot-near)-reach-b.thickness(off))
	}
	return gap
}

// thickness is that of the belt on the side of off, which is above 0 to the
// left of the span: the inside of a counter-clockwise loop.
func (b *thickBelt) thickness(off float64) float64 {
	if off*b.direction > 0 {
		return b.tooth
	}
	return b.back
}

// gapOfSpans is the clearance between two spans that do not cross: that at the
// nearest of their ends; infinite for neighbors.
func (b *thickBelt) gapOfSpans(i, k int) float64 {
	gap := math.Inf(1)
	if k == b.next(i) || i == b.next(k) {
		return gap
	}
	for _, pair := range [2][2]int{{i, k}, {k, i}} {
		s, other := pair[0], pair[1]
		for _, p := range [2]beltmath.Point{b.from[other], b.to[other]} {
			x, y := p.XMM-b.from[s].XMM, p.YMM-b.from[s].YMM
			foot := x*b.ux[s] + y*b.uy[s]
			off := b.ux[s]*y - b.uy[s]*x
			gap = math.Min(gap, math.Hypot(off, foot-clamp(foot, 0, b.span[s]))-2*b.thickness(off))
		}
	}
	return gap
}
