package base

import (
	"math"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

func distance(a, b beltmath.Point) float64 { return math.Hypot(b.XMM-a.XMM, b.YMM-a.YMM) }

// disc is a wheel, a pulley, a standoff or a bolt seen along its axis.
type disc struct {
	center beltmath.Point
	radius float64
}

// gap returns the free distance of two discs, below 0 where they overlap.
func (d disc) gap(other disc) float64 {
	return distance(d.center, other.center) - d.radius - other.radius
}

// distance returns how far a point lies outside the disc, below 0 inside.
func (d disc) distance(at beltmath.Point) float64 { return distance(d.center, at) - d.radius }

// band is a straight span: its pitch line from start along the unit vector
// (dx, dy), thickened to the left by left and to the right by right.
type band struct {
	start          beltmath.Point
	dx, dy, length float64
	left, right    float64
}

func newBand(start, end beltmath.Point, left, right float64) band {
	length := distance(start, end)
	return band{start: start, dx: (end.XMM - start.XMM) / length, dy: (end.YMM - start.YMM) / length, length: length, left: left, right: right}
}

// local returns a point in the frame of the band: along it and to its left.
func (b band) local(at beltmath.Point) (along, left float64) {
	x, y := at.XMM-b.start.XMM, at.YMM-b.start.YMM
	return x*b.dx + y*b.dy, y*b.dx - x*b.dy
}

// distance returns how far a point lies outside the band, below 0 inside.
func (b band) distance(at beltmath.Point) float64 {
	u, v := b.local(at)
	du := max(-u, u-b.length)
	dv := max(-b.right-v, v-b.left)
	if du <= 0 || dv <= 0 {
		return max(du, dv)
	}
	return math.Hypot(du, dv)
}

// beltLoop is a belt in place, without its width.
type beltLoop struct {
	pulleys [2]disc // to the flange or the back of the belt, on FromAxle and ToAxle
	idler   *disc   // to the flange or the outer side of the belt; nil without one
	arcs    []disc  // to the outer side of the belt
	spans   []band
	tangent []beltmath.Point // in order round the loop
}

// loopOf places a belt.
func (p *layoutProblem) loopOf(l *layoutLink) beltLoop {
	g := p.geometryInPlace(l)
	loop := beltLoop{arcs: make([]disc, 2), tangent: []beltmath.Point{
		g.Driver.UpperTangent, g.Driven.UpperTangent, g.Driven.LowerTangent, g.Driver.LowerTangent,
	}}
	for i, pulley := range []struct {
		at     beltmath.PulleyGeometry
		flange *float64
	}{{g.Driver, g.Drive.Driver.FlangeDiameterMM}, {g.Driven, g.Drive.Driven.FlangeDiameterMM}} {
		loop.arcs[i] = disc{pulley.at.Center, pulley.at.PitchDiameterMM/2 + l.back}
		loop.pulleys[i] = loop.arcs[i]
		if pulley.flange != nil {
			loop.pulleys[i].radius = max(loop.pulleys[i].radius, *pulley.flange/2)
		}
	}
	if l.place != nil {
		loop.withIdler(l)
		return loop
	}
	// Both spans run from driver to driven: where that is to the right, the
	// outside of the upper one is on its left.
	out, in := l.back, l.tooth
	if g.Driven.Center.XMM < g.Driver.Center.XMM {
		out, in = in, out
	}
	loop.spans = []band{
		newBand(loop.tangent[0], loop.tangent[1], out, in),
		newBand(loop.tangent[3], loop.tangent[2], in, out),
	}
	return loop
}

// withIdler runs the belt over its idler.
func (loop *beltLoop) withIdler(l *layoutLink) {
	s := &l.place.Path
	left, right := l.tooth, l.back
	if !s.CounterClockwise {
		left, right = right, left
	}
	loop.tangent = nil
	for _, span := range s.Spans {
		loop.tangent = append(loop.tangent, span.From, span.To)
		if span.LengthMM > gapSlackMM {
			loop.spans = append(loop.spans, newBand(span.From, span.To, left, right))
		}
	}
	on := disc{l.place.Center, s.Wheels[2].PitchRadiusMM + l.back}
	if l.Idler.Side == path.SideOutside {
		on.radius = s.Wheels[2].PitchRadiusMM + l.tooth
	}
	loop.arcs = append(loop.arcs, on)
	if flange := l.Idler.FlangeDiameterMM; flange != nil {
		on.radius = max(on.radius, *flange/2)
	}
	loop.idler = &on
}

// geometryInPlace returns the geometry of a link with its points where the
// axles are. On drilled axles the spans are drawn taut.
func (p *layoutProblem) geometryInPlace(l *layoutLink) beltmath.Geometry {
	g := l.geometry
	from, to := p.positions[l.FromAxle], p.positions[l.ToAxle]
	c := distance(from, to)
	ux, uy := (to.XMM-from.XMM)/c, (to.YMM-from.YMM)/c
	nx, ny := -uy, ux
	if ux < 0 { // up stays up
		nx, ny = uy, -ux
	}
	r1, r2 := g.Driver.PitchDiameterMM/2, g.Driven.PitchDiameterMM/2
	cos := (r1 - r2) / c
	sin := math.Sqrt(max(0, (1-cos)*(1+cos)))
	put := func(pulley *beltmath.PulleyGeometry, center beltmath.Point, r float64) {
		pulley.Center = center
		pulley.UpperTangent = beltmath.Point{XMM: center.XMM + r*(cos*ux+sin*nx), YMM: center.YMM + r*(cos*uy+sin*ny)}
		pulley.LowerTangent = beltmath.Point{XMM: center.XMM + r*(cos*ux-sin*nx), YMM: center.YMM + r*(cos*uy-sin*ny)}
	}
	put(&g.Driver, from, r1)
	put(&g.Driven, to, r2)
	return g
}

// distance returns how far a point lies from the belt, below 0 inside it.
func (loop beltLoop) distance(at beltmath.Point) float64 {
	d := math.Inf(1)
	for i := range loop.spans {
		d = min(d, loop.spans[i].distance(at))
	}
	for i := range loop.arcs {
		d = min(d, loop.arcs[i].distance(at))
	}
	return d
}

// encloses tells whether the belt runs round a point that lies on no pulley:
// it does where the point is inside the polygon of its tangent points, since
// what lies between that and the belt is covered by pulleys.
func (loop beltLoop) encloses(at beltmath.Point) bool {
	inside := false
	for i, a := range loop.tangent {
		b := loop.tangent[(i+1)%len(loop.tangent)]
		if (a.YMM > at.YMM) != (b.YMM > at.YMM) &&
			at.XMM < a.XMM+(at.YMM-a.YMM)/(b.YMM-a.YMM)*(b.XMM-a.XMM) {
			inside = !inside
		}
	}
	return inside
}

// stretch is an interval of x, empty where to is not above from.
type stretch struct{ from, to float64 }

func (s stretch) empty() bool { return !(s.from < s.to) }

// join returns the least stretch that holds both.
func (s stretch) join(other stretch) stretch {
	switch {
	case s.empty():
		return other
	case other.empty():
		return s
	}
	return stretch{min(s.from, other.from), max(s.to, other.to)}
}

// within returns where the line of height y runs nearer than reach to the disc.
func (d disc) within(y, reach float64) stretch {
	r := d.radius + reach
	h := y - d.center.YMM
	if math.Abs(h) >= r {
		return stretch{}
	}
	half := math.Sqrt((r - h) * (r + h))
	return stretch{d.center.XMM - half, d.center.XMM + half}
}

// within returns where the line of height y runs nearer than reach to the band.
// That shape is convex, so this is one stretch: what the band made longer, the
// band made wider and the discs round its corners cut out together.
func (b band) within(y, reach float64) stretch {
	s := b.clip(y, -reach, b.length+reach, -b.right, b.left)
	s = s.join(b.clip(y, 0, b.length, -b.right-reach, b.left+reach))
	for _, u := range []float64{0, b.length} {
		for _, v := range []float64{-b.right, b.left} {
			corner := beltmath.Point{XMM: b.start.XMM + u*b.dx - v*b.dy, YMM: b.start.YMM + u*b.dy + v*b.dx}
			s = s.join(disc{center: corner}.within(y, reach))
		}
	}
	return s
}

// clip returns where the line of height y runs inside the rectangle of the
// band's frame.
func (b band) clip(y, uLow, uHigh, vLow, vHigh float64) stretch {
	s := stretch{math.Inf(-1), math.Inf(1)}
	h := y - b.start.YMM
	// u = x dx + h dy and v = h dx - x dy, x counted from the start.
	for _, side := range []struct{ slope, constant, low, high float64 }{
		{b.dx, h * b.dy, uLow, uHigh}, {-b.dy, h * b.dx, vLow, vHigh},
	} {
		if side.slope == 0 {
			if side.constant <= side.low || side.constant >= side.high {
				return stretch{}
			}
			continue
		}
		one, two := (side.low-side.constant)/side.slope, (side.high-side.constant)/side.slope
		s.from, s.to = max(s.from, min(one, two)), min(s.to, max(one, two))
	}
	if s.empty() {
		return stretch{}
	}
	return stretch{b.start.XMM + s.from, b.start.XMM + s.to}
}
