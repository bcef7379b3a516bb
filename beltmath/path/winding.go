package path

import (
	"fmt"
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

const (
	minWheels = 2
	maxWheels = 12

	fullTurn = 2 * math.Pi

	// flatRad is the rounding granted to a wrap: one this little below 0 is 0.
	flatRad = 1e-9
)

// circle is a wheel as the belt meets it.
type circle struct {
	x, y   float64
	pitch  float64 // radius of the pitch line
	rim    float64 // radius of the wheel itself
	inside bool
}

// loop is the wheels in belt order.
type loop struct {
	n      int
	wheels [maxWheels]circle
	names  []string // of the wheels, for people; nil where none was given
}

// name is what people call a wheel.
func (l *loop) name(i int) string {
	if i < len(l.names) && l.names[i] != "" {
		return l.names[i]
	}
	return fmt.Sprintf("wheel %d", i+1)
}

// fromTo names the wheels between which a span runs.
func (l *loop) fromTo(i int) string {
	if l.names == nil {
		return fmt.Sprintf("wheel %d to %d", i+1, l.next(i)+1)
	}
	return l.name(i) + " to " + l.name(l.next(i))
}

func (l *loop) next(i int) int {
	if i+1 == l.n {
		return 0
	}
	return i + 1
}

func (l *loop) before(i int) int {
	if i == 0 {
		return l.n - 1
	}
	return i - 1
}

// turn is the direction in which the belt turns round wheel i: +1 is
// counter-clockwise.
func (l *loop) turn(direction float64, i int) float64 {
	if l.wheels[i].inside {
		return direction
	}
	return -direction
}

// course is the pitch line of a loop for one direction of its order. Span i
// leads from wheel i to the next.
type course struct {
	direction float64
	ux, uy    [maxWheels]float64 // unit vectors along the spans
	span      [maxWheels]float64 // their lengths
	wrap      [maxWheels]float64 // arcs of contact, 0 to 2 pi
	missing   int                // the first span for which there is no tangent, or -1
	turns     int                // times the belt goes round, counted along direction: 1 for a loop
	length    float64
}

// wind computes the course of the belt. Wheels i and j with turns s have their
// common tangent in the direction u whose left normal n keeps
//
//	n (cj - ci) = sj rj - si ri
//
// with the centers at n s r from it. Where one circle holds the other, or two
// of different sides overlap, there is none; the course is continued with a
// span of no length then, so that the length stays continuous, and the span is
// marked as missing.
//
// Errors are some units in the last place of the coordinates and the length.
func (l *loop) wind(direction float64, c *course) {
	c.direction, c.missing, c.length = direction, -1, 0
	for i := range l.n {
		j := l.next(i)
		a, b := &l.wheels[i], &l.wheels[j]
		dx, dy := b.x-a.x, b.y-a.y
		offset := l.turn(direction, j)*b.pitch - l.turn(direction, i)*a.pitch
		d := math.Sqrt(dx*dx + dy*dy)
		square := (d - offset) * (d + offset)
		if !(square > 0) {
			if c.missing < 0 && square < 0 || d == 0 {
				c.missing = i
			}
			square, offset = 0, math.Copysign(d, offset)
		}
		along := math.Sqrt(square)
		c.span[i] = along
		scale := 1 / (d * d)
		if d == 0 {
			scale = 0
		}
		c.ux[i] = (dx*along + dy*offset) * scale
		c.uy[i] = (dy*along - dx*offset) * scale
		c.length += along
	}
	total := 0.0
	for i := range l.n {
		in := l.before(i)
		s := l.turn(direction, i)
		w := s * math.Atan2(c.ux[in]*c.uy[i]-c.uy[in]*c.ux[i], c.ux[in]*c.ux[i]+c.uy[in]*c.uy[i])
		if w < 0 {
			w += fullTurn
			if w > fullTurn-flatRad {
				w = 0
			}
		}
		c.wrap[i] = w
		c.length += l.wheels[i].pitch * w
		total += s * w
	}
	c.turns = int(math.Round(total * direction / fullTurn))
}

// leave is the point where span i leaves wheel i.
func (c *course) leave(l *loop, i int) beltmath.Point { return c.touch(l, i, i) }

// meet is the point where span i meets the next wheel.
func (c *course) meet(l *loop, i int) beltmath.Point { return c.touch(l, l.next(i), i) }

// touch is the point of wheel i on span k.
func (c *course) touch(l *loop, i, k int) beltmath.Point {
	w := &l.wheels[i]
	r := l.turn(c.direction, i) * w.pitch
	return beltmath.Point{XMM: w.x + r*c.uy[k], YMM: w.y - r*c.ux[k]}
}

// arc is the ends of the arc of contact on wheel i, counter-clockwise.
func (c *course) arc(l *loop, i int) (from, to beltmath.Point) {
	in, out := c.meet(l, l.before(i)), c.leave(l, i)
	if l.turn(c.direction, i) > 0 {
		return in, out
	}
	return out, in
}

// solution writes the course out.
func (l *loop) solution(c *course, pitchMM float64, wheels []Wheel) Solution {
	s := Solution{
		Wheels: make([]WheelGeometry, l.n), Spans: make([]Span, l.n),
		BeltLengthMM: c.length, ExactToothCount: c.length / pitchMM, CounterClockwise: c.direction > 0,
	}
	for i := range l.n {
		w := &l.wheels[i]
		g := &s.Wheels[i]
		g.Center = beltmath.Point{XMM: w.x, YMM: w.y}
		g.PitchRadiusMM, g.RimRadiusMM = w.pitch, w.rim
		g.WrapRad, g.ContactLengthMM = c.wrap[i], w.pitch*c.wrap[i]
		if wheels[i].Kind == KindToothed {
			g.MeshedToothCount = meshedTeeth(*wheels[i].ToothCount, c.wrap[i])
		}
		g.WrapFrom, g.WrapTo = c.arc(l, i)
		s.Spans[i] = Span{From: c.leave(l, i), To: c.meet(l, i), LengthMM: c.span[i]}
	}
	return s
}

// meshedTeeth is the number of whole teeth within a wrap. A wrap carries some
// rounding, which must not cost the last tooth of half a turn: 1e-9 teeth are
// granted.
func meshedTeeth(teeth int, wrapRad float64) int {
	return int(math.Floor(float64(teeth)*(wrapRad/fullTurn) + 1e-9))
}
