package path

import "math"

// marginParts is in how many parts of the way a path is looked for; marginMM is
// how near the place is found where it ends.
const (
	marginParts = 256
	marginMM    = 1e-9
)

// Margin is how far a moving wheel can go on along its way, one way.
type Margin struct {
	// TravelMM is how far, at least 0.
	TravelMM float64
	// LengthMM is by how much the path is longer there than where the wheel
	// stands, below 0 where it is shorter.
	LengthMM float64
}

// Margins tells how far the moving wheel of q can go on from one of its
// solutions: back toward the start of its way, and ahead toward its end. It
// ends where the way does, where there is no path any more, or where the length
// turns round. Both of the latter are looked for in 256 parts of the way: what
// lies within one of them is not seen.
//
// Its error is beltmath.InputErrors, if q has no solution.
func Margins(q Query, s *Solution) (back, ahead Margin, err error) {
	p, err := q.resolve()
	if err != nil || q.Moving == nil || s.PositionMM == nil || s.LengthPerMM == nil {
		return Margin{}, Margin{}, err
	}
	direction := -1.0
	if s.CounterClockwise {
		direction = 1
	}
	m := marginSeeker{problem: p, from: *s.PositionMM, start: s.BeltLengthMM, direction: direction}
	return m.seek(0, -*s.LengthPerMM), m.seek(p.way.length, *s.LengthPerMM), nil
}

// marginSeeker walks from a solution.
type marginSeeker struct {
	*problem
	from, start, direction float64
	course                 course
}

// seek walks to the given place of the way; the length rises or falls as the
// sign of slope says.
func (m *marginSeeker) seek(to, slope float64) Margin {
	good := Margin{}
	whole := math.Abs(to - m.from)
	way := math.Copysign(1, to-m.from)
	step := m.way.length / marginParts
	for reached := false; !reached; {
		next := good.TravelMM + step
		if reached = next >= whole; reached {
			next = whole
		}
		length, ok := m.length(m.from + way*next)
		if ok = ok && rises(length-m.start-good.LengthMM, slope); ok {
			good = Margin{next, length - m.start}
			continue
		}
		for bad := next; bad-good.TravelMM > marginMM; {
			middle := (good.TravelMM + bad) / 2
			length, ok := m.length(m.from + way*middle)
			if ok && rises(length-m.start-good.LengthMM, slope) {
				good = Margin{middle, length - m.start}
			} else {
				bad = middle
			}
		}
		return good
	}
	return good
}

// rises tells whether a change has the sign of slope, or is none within the
// rounding of a length.
func rises(change, slope float64) bool {
	const rounding = 1e-10
	return change*math.Copysign(1, slope) >= -rounding
}

// length is that of the path with the moving wheel at a place of its way.
func (m *marginSeeker) length(at float64) (float64, bool) {
	m.moveTo(at)
	if m.loop.overlap() != nil {
		return 0, false
	}
	m.loop.wind(m.direction, &m.course)
	return m.course.length, m.loop.check(&m.course) == nil
}
