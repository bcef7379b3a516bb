package path

import (
	"fmt"
	"math"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// The reason words of NoSolutionError that a path adds.
const (
	ReasonWheelsOverlap  = "WHEELS_OVERLAP"       // two wheels in one place
	ReasonNoTangent      = "NO_TANGENT"           // no straight span leads from one wheel to the next
	ReasonNotWound       = "NOT_WOUND"            // the belt does not go round the wheels in this order
	ReasonNotReached     = "WHEEL_NOT_REACHED"    // a wheel that the belt would pass without touching
	ReasonSpansCross     = "SPANS_CROSS"          // the belt crosses itself
	ReasonWheelInTheWay  = "WHEEL_IN_THE_WAY"     // the belt would run through a wheel
	ReasonNoPosition     = "NO_POSITION_FITS"     // no place along the way fits the belt
	ReasonEveryPosition  = "EVERY_POSITION"       // the belt fits along a whole part of the way
	ReasonToothedOutside = "TOOTHED_OUTSIDE"      // a toothed wheel on the belt's back
	ReasonMissing        = "MISSING"              // a value that is needed
	ReasonHeightsUnknown = "BELT_HEIGHTS_UNKNOWN" // no heights of the belt are held
)

// flaw is why a course is no path; wheels count from 0 and are told from 1.
type flaw struct {
	reason string
	first  int // a wheel, or the wheel from which a span leads
	second int
	at     float64 // where along its way the moving wheel was
}

func (f *flaw) text(l *loop) string {
	switch f.reason {
	case ReasonWheelsOverlap:
		pair := fmt.Sprintf("wheels %d and %d", f.first+1, f.second+1)
		if l.names != nil {
			pair = l.name(f.first) + " and " + l.name(f.second)
		}
		return fmt.Sprintf("%s overlap: their centers are %.3f mm apart and must be more than %.3f mm",
			pair, l.distance(f.first, f.second), l.wheels[f.first].rim+l.wheels[f.second].rim)
	case ReasonNoTangent:
		return "no straight span leads from " + l.fromTo(f.first) +
			": they are too close for the belt to pass; move them apart"
	case ReasonNotReached:
		return fmt.Sprintf("the belt would pass %s without touching it; move it toward the belt, change its side or its place in the order, or leave it out", l.name(f.second))
	case ReasonSpansCross:
		return "the belt crosses itself between its parts " + strings.TrimPrefix(l.fromTo(f.first), "wheel ") +
			" and " + strings.TrimPrefix(l.fromTo(f.second), "wheel ") + "; check the order of the wheels and their sides"
	case ReasonWheelInTheWay:
		return fmt.Sprintf("%s stands in the way of the belt from %s; move it, or change the order of the wheels or its side",
			l.name(f.second), l.fromTo(f.first))
	}
	return "the belt does not go once round the wheels in this order and on these sides; check both"
}

func (l *loop) distance(i, j int) float64 {
	return math.Hypot(l.wheels[j].x-l.wheels[i].x, l.wheels[j].y-l.wheels[i].y)
}

// overlap finds two wheels that are in one place.
func (l *loop) overlap() *flaw {
	for i := range l.n {
		for j := range i {
			if !(l.distance(i, j) > l.wheels[i].rim+l.wheels[j].rim) {
				return &flaw{reason: ReasonWheelsOverlap, first: j, second: i}
			}
		}
	}
	return nil
}

// outline is a course with the points that its checks need.
type outline struct {
	*loop
	*course
	from, to   [maxWheels]beltmath.Point // ends of the spans
	arcX, arcY [maxWheels]float64        // from each center to the start of its arc, counter-clockwise
}

// check tells what keeps a course from being a path: one closed line that goes
// round once, meets itself nowhere and runs through no wheel. The line is
// smooth, so it consists of spans and arcs only and every pair of them is
// looked at. The thickness of the belt is not.
func (l *loop) check(c *course) *flaw {
	if c.missing >= 0 {
		return &flaw{reason: ReasonNoTangent, first: c.missing, second: l.next(c.missing)}
	}
	if c.turns != 1 {
		return c.unreached(l, &flaw{reason: ReasonNotWound})
	}
	var o outline
	l.outline(c, &o)
	for i := range l.n {
		for j := range i {
			if o.spansCross(j, i) || o.arcsCross(j, i) {
				return c.unreached(l, &flaw{reason: ReasonSpansCross, first: j, second: i})
			}
		}
	}
	for i := range l.n {
		for k := range l.n {
			if f := o.meetsWheel(i, k); f != nil {
				return f
			}
		}
	}
	return nil
}

// outline fills o, which stays with the caller and out of the heap.
func (l *loop) outline(c *course, o *outline) {
	o.loop, o.course = l, c
	for i := range l.n {
		o.from[i], o.to[i] = c.leave(l, i), c.meet(l, i)
		start, _ := c.arc(l, i)
		o.arcX[i], o.arcY[i] = start.XMM-l.wheels[i].x, start.YMM-l.wheels[i].y
	}
}

// unreached names the wheel behind a flaw where there is one that the belt
// would have to go round nearly whole, because it stands off the straight line
// to the next one: from 300 degrees on.
func (c *course) unreached(l *loop, f *flaw) *flaw {
	const nearlyWhole = fullTurn * 5 / 6
	widest := 0
	for i := range l.n {
		if c.wrap[i] > c.wrap[widest] {
			widest = i
		}
	}
	if c.wrap[widest] < nearlyWhole {
		return f
	}
	return &flaw{reason: ReasonNotReached, first: l.before(widest), second: widest}
}

// side is the cross product that tells on which side of a to b the point c is.
func side(a, b, c beltmath.Point) float64 {
	return (b.XMM-a.XMM)*(c.YMM-a.YMM) - (b.YMM-a.YMM)*(c.XMM-a.XMM)
}

// spansCross tells whether two spans cross. Ends of neighbors on a wheel with
// next to no wrap fall together, which is no crossing: the rounding of the
// cross products is granted.
func (o *outline) spansCross(i, j int) bool {
	grant := flatRad * o.span[i] * o.span[j]
	apart := func(v, w float64) bool { return v > grant && w < -grant || v < -grant && w > grant }
	return apart(side(o.from[i], o.to[i], o.from[j]), side(o.from[i], o.to[i], o.to[j])) &&
		apart(side(o.from[j], o.to[j], o.from[i]), side(o.from[j], o.to[j], o.to[i]))
}

// holds tells whether the direction (x, y) from the center of wheel i lies
// within its arc of contact.
func (o *outline) holds(i int, x, y float64) bool {
	angle := math.Atan2(o.arcX[i]*y-o.arcY[i]*x, o.arcX[i]*x+o.arcY[i]*y)
	if angle < 0 {
		angle += fullTurn
	}
	return angle > flatRad && angle < o.wrap[i]-flatRad
}

// arcsCross tells whether the arcs of two wheels cross.
func (o *outline) arcsCross(i, j int) bool {
	a, b := &o.wheels[i], &o.wheels[j]
	x, y := b.x-a.x, b.y-a.y
	square := x*x + y*y
	if sum, difference := a.pitch+b.pitch, a.pitch-b.pitch; square >= sum*sum || square <= difference*difference {
		return false
	}
	d := math.Sqrt(square)
	x, y = x/d, y/d
	along := (d + (a.pitch-b.pitch)*(a.pitch+b.pitch)/d) / 2
	across := math.Sqrt(math.Max(0, (a.pitch-along)*(a.pitch+along)))
	for _, h := range [2]float64{across, -across} {
		px, py := along*x-h*y, along*y+h*x
		if o.holds(i, px, py) && o.holds(j, px-d*x, py-d*y) {
			return true
		}
	}
	return false
}

// meetsWheel tells what the arc on wheel i, or the span that leads from it,
// does to wheel k, which neither of them belongs to.
func (o *outline) meetsWheel(i, k int) *flaw {
	if k == i {
		return nil
	}
	a, w := &o.wheels[i], &o.wheels[k]
	x, y := w.x-a.x, w.y-a.y
	if d := math.Sqrt(x*x + y*y); math.Abs(d-a.pitch) < w.rim && o.holds(i, x, y) {
		return &flaw{reason: ReasonWheelInTheWay, first: i, second: k}
	}
	if k == o.next(i) {
		return nil
	}
	x, y = w.x-o.from[i].XMM, w.y-o.from[i].YMM
	foot := x*o.ux[i] + y*o.uy[i]
	off := o.ux[i]*y - o.uy[i]*x
	past := foot - clamp(foot, 0, o.span[i])
	if off*off+past*past < w.rim*w.rim {
		return &flaw{reason: ReasonWheelInTheWay, first: i, second: k}
	}
	if math.Abs(off) >= w.pitch {
		return nil
	}
	half := math.Sqrt((w.pitch - off) * (w.pitch + off))
	for _, at := range [2]float64{foot - half, foot + half} {
		if at > 0 && at < o.span[i] && o.holds(k, at*o.ux[i]-x, at*o.uy[i]-y) {
			return &flaw{reason: ReasonSpansCross, first: i, second: k}
		}
	}
	return nil
}

func clamp(v, low, high float64) float64 { return math.Max(low, math.Min(high, v)) }
