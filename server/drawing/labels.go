package drawing

import (
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// labels finds room for texts beside what they name.
type labels struct {
	d      *Drawing
	taken  []box
	bounds *box // nil for anywhere
}

// avoid keeps labels off a circle.
func (l *labels) avoid(center beltmath.Point, radius float64) {
	b := emptyBox()
	b.hold(center, radius)
	l.taken = append(l.taken, b)
}

// avoidBox keeps labels off a rectangle.
func (l *labels) avoidBox(a, b beltmath.Point) {
	o := emptyBox()
	o.hold(a, 0)
	o.hold(b, 0)
	l.taken = append(l.taken, o)
}

// avoidLine keeps labels off a line.
func (l *labels) avoidLine(a, b beltmath.Point) {
	const pieces = 32
	side := 0.3 * l.d.TextHeight()
	for i := range pieces {
		from, to := float64(i)/pieces, float64(i+1)/pieces
		o := emptyBox()
		o.hold(at(a.XMM+(b.XMM-a.XMM)*from, a.YMM+(b.YMM-a.YMM)*from), side)
		o.hold(at(a.XMM+(b.XMM-a.XMM)*to, a.YMM+(b.YMM-a.YMM)*to), side)
		l.taken = append(l.taken, o)
	}
}

// put writes lines beside a circle: as near as there is room, with a thin line
// to it from farther away.
func (l *labels) put(center beltmath.Point, radius float64, lines ...string) {
	height, width := 0.0, 0.0
	for _, line := range lines {
		height += l.pitch()
		width = math.Max(width, l.d.TextWidth(line))
	}
	const farthest = 40
	gap := 0.4 * l.d.TextHeight()
	for step := range farthest {
		far := radius + gap + float64(step)*l.d.TextHeight()
		for _, way := range [...]struct{ x, y float64 }{{1, 0}, {-1, 0}, {1, 1}, {-1, 1}, {1, -1}, {-1, -1}, {0, 1}, {0, -1}} {
			x := center.XMM + way.x*(far+width/2)
			y := center.YMM + way.y*(far+height/2)
			room := box{x - width/2, y - height/2, x + width/2, y + height/2}
			if l.free(room) || step == farthest-1 {
				l.write(room, center, radius, step > 1, lines)
				return
			}
		}
	}
}

// pitch is the distance of two lines of a label.
func (l *labels) pitch() float64 { return 1.45 * l.d.TextHeight() }

func (l *labels) free(room box) bool {
	if b := l.bounds; b != nil && (room.left < b.left || room.right > b.right || room.bottom < b.bottom || room.top > b.top) {
		return false
	}
	for _, t := range l.taken {
		if t.meets(room) {
			return false
		}
	}
	return true
}

func (l *labels) write(room box, center beltmath.Point, radius float64, leader bool, lines []string) {
	l.taken = append(l.taken, room)
	anchor, x := Left, room.left
	switch {
	case room.right <= center.XMM:
		anchor, x = Right, room.right
	case room.left < center.XMM:
		anchor, x = Middle, (room.left+room.right)/2
	}
	for i, line := range lines {
		l.d.Text(at(x, room.top-float64(i+1)*l.pitch()+0.3*l.d.TextHeight()), anchor, line)
	}
	if !leader {
		return
	}
	to := at(math.Max(room.left, math.Min(center.XMM, room.right)), math.Max(room.bottom, math.Min(center.YMM, room.top)))
	angle := math.Atan2(to.YMM-center.YMM, to.XMM-center.XMM)
	l.d.Line(fine, polar(center, radius, angle), to)
}
