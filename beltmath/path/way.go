package path

import (
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// way is the line that a moving wheel's axis can take, measured in millimeters
// from its start.
type way struct {
	length float64
	// Of a segment: start and unit direction. Of an arc: center, start angle
	// and signed radius, above 0 counter-clockwise.
	at            beltmath.Point
	ux, uy        float64
	angle, radius float64
	isArc, closed bool
}

func newSegment(s Segment) way {
	dx, dy := s.To.XMM-s.From.XMM, s.To.YMM-s.From.YMM
	length := math.Hypot(dx, dy)
	return way{length: length, at: *s.From, ux: dx / length, uy: dy / length}
}

func newArc(a Arc) way {
	sweep := (a.ToDeg - a.FromDeg) * (math.Pi / 180)
	return way{
		length: a.RadiusMM * math.Abs(sweep), at: *a.Center, angle: a.FromDeg * (math.Pi / 180),
		radius: math.Copysign(a.RadiusMM, sweep), isArc: true, closed: math.Abs(a.ToDeg-a.FromDeg) == 360,
	}
}

// point is the place s millimeters along, and the direction of the way there.
func (w *way) point(s float64) (at beltmath.Point, vx, vy float64) {
	if !w.isArc {
		return beltmath.Point{XMM: w.at.XMM + s*w.ux, YMM: w.at.YMM + s*w.uy}, w.ux, w.uy
	}
	sin, cos := math.Sincos(w.angle + s/w.radius)
	r := math.Abs(w.radius)
	turn := math.Copysign(1, w.radius)
	return beltmath.Point{XMM: w.at.XMM + r*cos, YMM: w.at.YMM + r*sin}, -turn * sin, turn * cos
}

// bend is by how much the direction of the way turns in h millimeters, in
// radians.
func (w *way) bend(h float64) float64 {
	if !w.isArc {
		return 0
	}
	return h / math.Abs(w.radius)
}
