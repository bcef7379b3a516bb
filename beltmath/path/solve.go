package path

import (
	"fmt"

	"github.com/beltspan/beltspan/beltmath"
)

// Solve finds the path of the belt and its length, or, where a wheel moves,
// every position of that wheel at which the given belt fits.
//
// The wheels may be listed in either direction round. Where both directions
// give a path, which needs a wheel on the back between the others, the
// counter-clockwise one is answered, with a note; positions are looked for in
// both. Lengths are within some units in the last place of coordinates and
// length.
//
// Positions are found by subdivision of the way. A part of it is put aside only
// where a bound on the length proves that the belt cannot fit, and a position
// is taken only where the length, rising or falling throughout a part, passes
// that of the belt. What is left are parts of 1e-6 mm where the length touches
// that of the belt or a span has no length: those count as a position if the
// length there is within 1e-9 mm of the belt's. Positions nearer to each other
// than ResolutionMM are answered as one, with a note; the ends of the way are
// part of it.
//
// Its error is beltmath.InputErrors or a *beltmath.NoSolutionError.
func Solve(q Query) (Answer, error) {
	p, err := q.resolve()
	if err != nil {
		return Answer{}, err
	}
	if q.Moving != nil {
		return p.solvePositions()
	}
	return p.solveLength()
}

// directions are the ways round that are looked at: the order of two wheels
// has none.
func (p *problem) directions() []float64 {
	if p.loop.n == 2 {
		return []float64{1}
	}
	return []float64{1, -1}
}

func (p *problem) solveLength() (Answer, error) {
	if f := p.loop.overlap(); f != nil {
		return Answer{}, p.impossible(f)
	}
	var c, other course
	var first *flaw
	found := 0
	for _, direction := range p.directions() {
		p.loop.wind(direction, &other)
		f := p.loop.check(&other)
		switch {
		case f != nil && (first == nil || first.reason == ReasonNotWound):
			first = f
		case f == nil && found == 0:
			c = other
			found++
		case f == nil:
			found++
		}
	}
	if found == 0 {
		return Answer{}, p.impossible(first)
	}
	a := p.answer()
	a.Solutions = []Solution{p.loop.solution(&c, p.pitchMM, p.Wheels)}
	n := noteList{problem: p}
	if found > 1 {
		n.add(NoteBothDirections, info, "Wheels", fmt.Sprintf(
			"the order of the wheels can be read in both directions; this is the counter-clockwise path, the other takes %.3f mm", other.length))
	}
	n.path(&p.loop, &c, &a.Solutions[0])
	n.fit(&a.Solutions[0])
	a.Notes = n.finish()
	return a, nil
}

// answer is an answer with what is known of the belt.
func (p *problem) answer() Answer {
	var a Answer
	if tooth, ok := p.heights.inside(); ok {
		a.ToothSideMM = &tooth
	}
	if back, ok := p.heights.outside(); ok && back >= 0 {
		a.BackMM = &back
	}
	return a
}

// impossible words why wheels that all stay have no path.
func (p *problem) impossible(f *flaw) error {
	e := &beltmath.NoSolutionError{Field: "Wheels", Value: fmt.Sprintf("a list of %d", p.loop.n), Reason: f.reason, Msg: f.text(&p.loop)}
	if f.reason == ReasonWheelsOverlap || f.reason == ReasonWheelInTheWay || f.reason == ReasonNotReached {
		e.Field = fmt.Sprintf("Wheels[%d].Center", f.second)
		w := &p.loop.wheels[f.second]
		e.Value = pointText(beltmath.Point{XMM: w.x, YMM: w.y})
	}
	return e
}
