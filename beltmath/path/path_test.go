package path

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

func at(x, y float64) *beltmath.Point { return &beltmath.Point{XMM: x, YMM: y} }

func toothed(teeth int, x, y float64) Wheel {
	return Wheel{Kind: KindToothed, ToothCount: &teeth, Side: SideInside, Center: at(x, y)}
}

func smooth(diameterMM, x, y float64) Wheel {
	return Wheel{Kind: KindSmooth, DiameterMM: &diameterMM, Side: SideInside, Center: at(x, y)}
}

func back(diameterMM, x, y float64) Wheel {
	w := smooth(diameterMM, x, y)
	w.Side = SideOutside
	return w
}

// flat is a query of a belt without thickness, whose wheels carry it on their
// rims.
func flat(wheels ...Wheel) Query {
	return Query{
		PitchMM: new(5.0), Wheels: wheels,
		BeltHeightMM: new(0.0), ToothHeightMM: new(0.0), PitchLineDifferentialMM: new(0.0),
	}
}

func solveOne(t *testing.T, q Query) Solution {
	t.Helper()
	a, err := Solve(q)
	require.NoError(t, err)
	require.Len(t, a.Solutions, 1)
	return a.Solutions[0]
}

func reasons(notes []beltmath.Note) []string {
	var all []string
	for _, n := range notes {
		all = append(all, n.Reason)
	}
	return all
}

// TestTwoWheelsMatchKernel compares lengths and positions of random drives with
// the center distance of the two-pulley kernel, in random places and turned by
// a random angle. The design promises 1e-9 mm for belts of everyday size; the
// coordinates of long ones are known to less, 1e-15 of their size.
func TestTwoWheelsMatchKernel(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	sections := beltmath.Sections()
	solved := 0
	for solved < 3000 {
		s := sections[r.IntN(len(sections))]
		driver, driven, belt := 6+r.IntN(120), 6+r.IntN(120), 10+r.IntN(400)
		d := beltmath.Drive{
			Profile: beltmath.Profile{Section: s, Pitch: s.Pitch},
			Driver:  beltmath.Pulley{ToothCount: driver}, Driven: beltmath.Pulley{ToothCount: driven}, BeltToothCount: belt,
		}
		g, err := d.Geometry()
		if err != nil {
			continue
		}
		solved++
		name := fmt.Sprintf("%s %d/%d/%d", s.Designation, driver, driven, belt)
		c := g.CenterDistanceMM
		sin, cos := math.Sincos(r.Float64() * fullTurn)
		x, y := r.Float64()*100-50, r.Float64()*100-50
		tolerance := 1e-9
		if c > 1000 {
			tolerance = 1e-12 * c
		}
		q := Query{Section: s.Designation, Wheels: []Wheel{toothed(driver, x, y), toothed(driven, x+c*cos, y+c*sin)}}
		length := solveOne(t, q)
		assert.InDelta(t, g.BeltLengthMM, length.BeltLengthMM, tolerance, name)
		assert.InDelta(t, belt, length.ExactToothCount, tolerance, name)
		assert.InDelta(t, g.Driver.WrapRad, length.Wheels[0].WrapRad, 1e-9, name)
		assert.Equal(t, g.Driven.MeshedToothCount, length.Wheels[1].MeshedToothCount, name)
		assert.InDelta(t, g.SpanLengthMM, length.Spans[0].LengthMM, 1e-9, name)

		q.BeltToothCount = &belt
		q.Moving = &Moving{WheelIndex: 1, Segment: &Segment{
			From: at(x, y), To: at(x+2*c*cos, y+2*c*sin),
		}}
		position := solveOne(t, q)
		assert.InDelta(t, c, *position.PositionMM, tolerance, name)
		assert.InDelta(t, 1/g.Sensitivity.PerBeltLength, *position.LengthPerMM, 1e-9, name)
	}
}

// TestThreeDiscs is the printed puzzle G19: three discs of 2 ft in diameter at
// distances of 6, 9 and 13 ft take a belt of 28 + 2 pi ft.
//
// Source: S38, a puzzle page on a belt round three pulleys, solution of 2017.
func TestThreeDiscs(t *testing.T) {
	const foot = 304.8
	// The triangle with sides 6 (1-2), 9 (2-3) and 13 (3-1).
	x := (13.0*13 + 6*6 - 9*9) / (2 * 13)
	y := math.Sqrt(6*6 - x*x)
	s := solveOne(t, flat(smooth(2*foot, 0, 0), smooth(2*foot, x*foot, y*foot), smooth(2*foot, 13*foot, 0)))
	assert.InDelta(t, 34.283185307, s.BeltLengthMM/foot, 5e-10) // half of the last digit printed
	assert.InDelta(t, 28+2*math.Pi, s.BeltLengthMM/foot, 1e-13)
	assert.False(t, s.CounterClockwise)
}

// polygon is a wheel as a regular polygon: the corners on its pitch circle, or
// the sides.
func polygon(w circle, corners int, outside bool) []beltmath.Point {
	r := w.pitch
	if outside {
		r /= math.Cos(math.Pi / float64(corners))
	}
	points := make([]beltmath.Point, corners)
	for i := range points {
		sin, cos := math.Sincos(fullTurn * float64(i) / float64(corners))
		points[i] = beltmath.Point{XMM: w.x + r*cos, YMM: w.y + r*sin}
	}
	return points
}

// hull is the perimeter of the convex hull of points, by Andrew's monotone
// chain.
func hull(points []beltmath.Point) float64 {
	points = slices.Clone(points)
	slices.SortFunc(points, func(a, b beltmath.Point) int {
		switch {
		case a.XMM < b.XMM || a.XMM == b.XMM && a.YMM < b.YMM:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	half := func() []beltmath.Point {
		var chain []beltmath.Point
		for _, p := range points {
			for len(chain) > 1 && side(chain[len(chain)-2], chain[len(chain)-1], p) <= 0 {
				chain = chain[:len(chain)-1]
			}
			chain = append(chain, p)
		}
		return chain
	}
	lower := half()
	slices.Reverse(points)
	upper := half()
	around := append(lower, upper[1:]...)
	length := 0.0
	for i := 1; i < len(around); i++ {
		length += math.Hypot(around[i].XMM-around[i-1].XMM, around[i].YMM-around[i-1].YMM)
	}
	return length
}

// TestInsidePathsAreHulls holds all-inside paths between the perimeters of the
// convex hulls of polygons in and round the wheels: a geometry that knows no
// tangents and no angles.
func TestInsidePathsAreHulls(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 2))
	const corners = 4096
	for range 150 {
		q := convexQuery(r)
		p, err := q.resolve()
		require.NoError(t, err)
		a, err := Solve(q)
		require.NoError(t, err, "%+v", p.loop)
		var inner, outer []beltmath.Point
		for i := range p.loop.n {
			inner = append(inner, polygon(p.loop.wheels[i], corners, false)...)
			outer = append(outer, polygon(p.loop.wheels[i], corners, true)...)
		}
		low, high := hull(inner), hull(outer)
		got := a.Solutions[0].BeltLengthMM
		assert.Less(t, high-low, 1e-5*got)
		assert.Less(t, low, got)
		assert.Greater(t, high, got)
	}
}

// convexQuery puts 2 to 12 wheels round a ring, so that each sticks out.
func convexQuery(r *rand.Rand) Query {
	n := 2 + r.IntN(maxWheels-1)
	ring := 400 + 200*r.Float64()
	wheels := make([]Wheel, n)
	turn := fullTurn * r.Float64()
	for i := range wheels {
		sin, cos := math.Sincos(turn + fullTurn*(float64(i)+0.3*r.Float64())/float64(n))
		if r.IntN(2) == 0 {
			wheels[i] = toothed(10+r.IntN(20), ring*cos, ring*sin)
		} else {
			wheels[i] = smooth(10+20*r.Float64(), ring*cos, ring*sin)
		}
	}
	if r.IntN(2) == 0 {
		slices.Reverse(wheels)
	}
	return Query{Section: "H5M", Wheels: wheels}
}

// tautPolygons is the length of the belt round polygons in place of wheels.
// Every span leads from a corner to a corner such that both polygons lie on the
// sides that the belt leaves them on; between two spans it follows the corners.
func tautPolygons(l *loop, direction float64, corners int, outside bool) float64 {
	shapes := make([][]beltmath.Point, l.n)
	for i := range shapes {
		shapes[i] = polygon(l.wheels[i], corners, outside)
	}
	// supports tells whether shape k lies on its side of the line from a to b.
	supports := func(k int, a, b beltmath.Point) bool {
		for _, p := range shapes[k] {
			if side(a, b, p)*l.turn(direction, k) < -1e-9 {
				return false
			}
		}
		return true
	}
	// extreme is the corner of shape k farthest to the belt's side, seen along d.
	extreme := func(k int, dx, dy float64) int {
		best, at := math.Inf(1), 0
		for i, p := range shapes[k] {
			if v := (dx*p.YMM - dy*p.XMM) * l.turn(direction, k); v < best {
				best, at = v, i
			}
		}
		return at
	}
	from, to := make([]int, l.n), make([]int, l.n)
	length := 0.0
	for i := range l.n {
		j := l.next(i)
		a, b := 0, 0
		for range 100 { // each step turns the line until both shapes support it
			dx, dy := shapes[j][b].XMM-shapes[i][a].XMM, shapes[j][b].YMM-shapes[i][a].YMM
			a, b = extreme(i, dx, dy), extreme(j, dx, dy)
			if supports(i, shapes[i][a], shapes[j][b]) && supports(j, shapes[i][a], shapes[j][b]) {
				break
			}
		}
		from[i], to[j] = a, b
		length += math.Hypot(shapes[j][b].XMM-shapes[i][a].XMM, shapes[j][b].YMM-shapes[i][a].YMM)
	}
	for i := range l.n {
		step := 1
		if l.turn(direction, i) < 0 {
			step = corners - 1
		}
		for k := to[i]; k != from[i]; k = (k + step) % corners {
			p, q := shapes[i][k], shapes[i][(k+step)%corners]
			length += math.Hypot(q.XMM-p.XMM, q.YMM-p.YMM)
		}
	}
	return length
}

// waveQuery puts wheels on the back of the belt between wheels round a ring, so
// that each presses the belt inward.
func waveQuery(r *rand.Rand) Query {
	n := 2 + r.IntN(5)
	ring := 300 + 200*r.Float64()
	var wheels []Wheel
	turn := fullTurn * r.Float64()
	step := fullTurn / float64(n)
	for i := range n {
		sin, cos := math.Sincos(turn + step*float64(i))
		wheels = append(wheels, toothed(20+r.IntN(20), ring*cos, ring*sin))
		if r.IntN(3) == 0 {
			continue
		}
		sin, cos = math.Sincos(turn + step*(float64(i)+0.4+0.2*r.Float64()))
		diameter := 20 + 30*r.Float64()
		// The straight belt passes at ring cos(step/2) and a pulley's radius.
		out := ring*math.Cos(step/2) + 30 + diameter/2 - r.Float64()*25 - 10
		if n == 2 {
			out = 60 + r.Float64()*20
		}
		wheels = append(wheels, back(diameter, out*cos, out*sin))
	}
	if r.IntN(2) == 0 {
		slices.Reverse(wheels)
	}
	return Query{Section: "H5M", Wheels: wheels}
}

// TestPathsAreTautPolygons holds paths with wheels on the back between the
// lengths of taut belts round polygons in and round the wheels. Larger
// obstacles make a taut belt longer.
func TestPathsAreTautPolygons(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 3))
	compared, backs := 0, 0
	for compared < 100 {
		q := waveQuery(r)
		a, err := Solve(q)
		if err != nil {
			continue
		}
		s := a.Solutions[0]
		p, err := q.resolve()
		require.NoError(t, err)
		direction := -1.0
		if s.CounterClockwise {
			direction = 1
		}
		const corners = 2048
		low, high := tautPolygons(&p.loop, direction, corners, false), tautPolygons(&p.loop, direction, corners, true)
		assert.Less(t, high-low, 1e-5*s.BeltLengthMM)
		assert.Less(t, low, s.BeltLengthMM)
		assert.Greater(t, high, s.BeltLengthMM)
		compared++
		for _, w := range q.Wheels {
			if w.Side == SideOutside {
				backs++
			}
		}
	}
	assert.Greater(t, backs, 100)
}
