package path

import (
	"cmp"
	"math"
	"slices"
)

// ResolutionMM is the least distance of two positions that are told apart.
const ResolutionMM = 1e-3

const (
	// finestMM is half of the shortest part of a way that is looked at; it is
	// 1e-9 of longer belts and ways, whose length is less exact.
	finestMM = 5e-7
	// touchMM is how near the length must come to that of the belt where it
	// does not pass it.
	touchMM = 1e-9
	// endMM is how far beyond its ends a way is looked at, for positions that
	// rounding puts there.
	endMM = 1e-9
	// mostCells bounds the work: enough for any way along which the length
	// changes, some dozen milliseconds.
	mostCells = 50000
)

// place is a position at which the belt fits.
type place struct {
	at       float64 // along the way
	excess   float64 // length of the path less that of the belt
	slope    float64 // of the length along the way
	course   course
	touching bool // the length does not, or hardly, pass that of the belt
}

// seeker looks for the places of one direction.
type seeker struct {
	loop   loop
	way    *way
	moving int
	wanted float64
	noise  float64 // bound of the rounding of a length
	finest float64 // half of the shortest part of the way that is looked at
	course course  // scratch
	cells  int
	places []place
	open   []place // parts of the way on which nothing could be decided
	flaw   *flaw   // why a place that has the right length is no path
}

func (p *problem) seeker(direction float64) *seeker {
	s := &seeker{loop: p.loop, way: &p.way, moving: p.Moving.WheelIndex, wanted: p.pitchMM * float64(*p.BeltToothCount)}
	s.course.direction = direction
	scale := s.wanted
	for i := range s.loop.n {
		w := &s.loop.wheels[i]
		scale = math.Max(scale, math.Max(math.Abs(w.x), math.Abs(w.y)))
		scale += fullTurn * w.pitch
	}
	scale = math.Max(scale, p.way.length)
	s.noise = 1e-15 * float64(4+s.loop.n) * scale
	s.finest = math.Max(finestMM, 1e-9*scale)
	return s
}

// put winds the belt with the moving wheel s millimeters along.
func (s *seeker) put(at float64) {
	point, _, _ := s.way.point(at)
	w := &s.loop.wheels[s.moving]
	w.x, w.y = point.XMM, point.YMM
	s.loop.wind(s.course.direction, &s.course)
}

// slope is the derivative of the length along the way: the gradient is the
// difference of the directions in which the belt comes and goes.
func (s *seeker) slope(at float64) float64 {
	_, vx, vy := s.way.point(at)
	in := s.loop.before(s.moving)
	return (s.course.ux[in]-s.course.ux[s.moving])*vx + (s.course.uy[in]-s.course.uy[s.moving])*vy
}

// cell is a part of the way: its middle, half its length, and what is known
// of all of it.
type cell struct {
	mid, half float64
	course    course
	slope     float64
	whole     bool    // both spans exist throughout
	swing     float64 // bound of the change of slope; where whole
	steepest  float64 // bound of |slope|
	// turns of the arcs that may pass 0 or a full turn inside
	doubt [3]int
	many  int
}

// search decides about the cell from a to b; sure tells that the end b belongs
// to it.
func (s *seeker) search(a, b float64) {
	s.cells++
	if s.cells > mostCells {
		return
	}
	c := cell{mid: a + (b-a)/2, half: (b - a) / 2}
	s.put(c.mid)
	if s.apart(c.half) {
		return
	}
	c.course = s.course
	verdict := s.bound(&c)
	if verdict == excluded {
		return
	}
	var lifts [8]lift
	n := 0
	if verdict == bounded {
		var split bool
		if n, split = s.lifts(&c, &lifts); split {
			verdict = undecided
		}
	}
	if verdict == undecided {
		if c.half > s.finest {
			s.search(a, c.mid)
			s.search(c.mid, b)
			return
		}
		s.leaveOpen(&c)
		return
	}
	for _, l := range lifts[:n] {
		s.cross(&c, l, a, b)
	}
}

type verdict int

const (
	excluded verdict = iota
	undecided
	bounded
)

// apart tells whether the moving wheel overlaps another one in all of a cell.
func (s *seeker) apart(half float64) bool {
	for j := range s.loop.n {
		if j != s.moving && s.loop.distance(s.moving, j)+half < s.loop.wheels[s.moving].rim+s.loop.wheels[j].rim {
			return true
		}
	}
	return false
}

// bound looks at the two spans of the moving wheel. When its center moves by h,
// a span of length l turns by h/l at most, and l is at least that of centers
// h nearer. Where a span may be missing in a part of the cell, nothing is
// known of directions; the length, continued as wind does, changes at the rate
// offset/distance at most for each span.
func (s *seeker) bound(c *cell) verdict {
	in, h := s.loop.before(s.moving), c.half
	c.whole = true
	var swings [2]float64
	for n, k := range [2]int{in, s.moving} {
		j := s.loop.next(k)
		d := s.loop.distance(k, j)
		offset := math.Abs(s.loop.turn(c.course.direction, j)*s.loop.wheels[j].pitch - s.loop.turn(c.course.direction, k)*s.loop.wheels[k].pitch)
		switch {
		case d+h < offset:
			return excluded
		case d-h > offset:
			swings[n] = h / math.Sqrt((d-h-offset)*(d-h+offset))
			c.steepest++
		case d-h <= offset/2:
			return undecided
		default:
			c.whole = false
			c.steepest += offset / (d - h)
			swings[n] = math.Pi
		}
	}
	c.swing = swings[0] + swings[1] + 2*s.way.bend(h)
	c.slope = s.slope(c.mid)
	out := s.loop.next(s.moving)
	if in == out {
		s.doubtful(c, in, swings[0]+swings[1])
	} else {
		s.doubtful(c, in, swings[0])
		s.doubtful(c, out, swings[1])
	}
	s.doubtful(c, s.moving, swings[0]+swings[1])
	return bounded
}

// doubtful notes a wheel whose wrap may pass 0 or a full turn inside the cell.
func (s *seeker) doubtful(c *cell, i int, swing float64) {
	if w := c.course.wrap[i]; w <= swing+flatRad || w >= fullTurn-swing-flatRad {
		c.doubt[c.many] = i
		c.many++
	}
}

// lift is one way to count whole turns of the doubtful wraps, so that the wraps
// and with them the length are continuous throughout the cell.
type lift struct {
	turns  [maxWheels]int8
	excess float64 // at the middle
}

// lifts lists the lifts with which the belt goes round once and may have the
// wanted length somewhere in the cell. split tells that the cell must be
// divided, because for one of them the length need not pass the wanted one
// once at most.
func (s *seeker) lifts(c *cell, out *[8]lift) (n int, split bool) {
	noise := s.noise
	for choice := range 1 << c.many {
		l := lift{excess: c.course.length - s.wanted}
		turns := c.course.turns
		for bit := range c.many {
			if choice>>bit&1 == 0 {
				continue
			}
			i := c.doubt[bit]
			k := 1
			if c.course.wrap[i] > math.Pi {
				k = -1
			}
			l.turns[i] = int8(k)
			l.excess += fullTurn * float64(k) * s.loop.wheels[i].pitch
			if s.loop.wheels[i].inside {
				turns += k
			} else {
				turns -= k
			}
		}
		reach := c.steepest * c.half
		if c.whole {
			reach = math.Min(reach, (math.Abs(c.slope)+c.swing)*c.half)
		}
		if turns != 1 || math.Abs(l.excess) > reach+noise {
			continue
		}
		if !c.whole || math.Abs(c.slope) <= c.swing+1e-14 {
			return 0, true
		}
		out[n] = l
		n++
	}
	return n, false
}

// excess is the length less the wanted one at a place of the cell, its wraps
// counted as at the middle.
func (s *seeker) excess(c *cell, l *lift, at float64) float64 {
	s.put(at)
	excess := s.course.length - s.wanted
	for _, i := range [3]int{s.loop.before(s.moving), s.moving, s.loop.next(s.moving)} {
		middle := c.course.wrap[i] + fullTurn*float64(l.turns[i])
		excess += fullTurn * math.Round((middle-s.course.wrap[i])/fullTurn) * s.loop.wheels[i].pitch
		if s.loop.n == 2 && i == s.moving {
			break // the wheel before is the one after
		}
	}
	return excess
}

// cross takes the place where the length, monotone in the cell, passes the
// wanted one. A zero at the start counts, one at the end is the next cell's.
func (s *seeker) cross(c *cell, l lift, a, b float64) {
	low, high := s.excess(c, &l, a), s.excess(c, &l, b)
	if low != 0 && (high == 0 || (low < 0) == (high < 0)) {
		return
	}
	for low != 0 {
		mid := a + (b-a)/2
		if mid <= a || mid >= b {
			break
		}
		if f := s.excess(c, &l, mid); f == 0 || (f < 0) != (low < 0) {
			b = mid
		} else {
			a, low = mid, f
		}
	}
	if low == 0 {
		b = a
	}
	s.take(b, false)
}

// leaveOpen takes down the middle of a cell too short to divide further, where
// the length comes near enough to the wanted one.
func (s *seeker) leaveOpen(c *cell) {
	excess := c.course.length - s.wanted
	if c.course.turns != 1 || c.course.missing >= 0 || math.Abs(excess) > touchMM+s.noise {
		return
	}
	if n := len(s.open); n > 0 && c.mid-s.open[n-1].at <= s.resolution() {
		if math.Abs(excess) < math.Abs(s.open[n-1].excess) {
			s.open[n-1] = place{at: c.mid, excess: excess}
		}
		return
	}
	s.open = append(s.open, place{at: c.mid, excess: excess})
}

// take adds a place if the course there is a path, and else keeps the reason.
func (s *seeker) take(at float64, touching bool) {
	at = clamp(at, 0, s.way.length)
	s.put(at)
	f := s.loop.overlap()
	if f == nil {
		f = s.loop.check(&s.course)
	}
	if f != nil {
		if s.flaw == nil || s.flaw.reason == ReasonNotWound {
			f.at = at
			s.flaw = f
		}
		return
	}
	s.places = append(s.places, place{
		at: at, excess: s.course.length - s.wanted, slope: s.slope(at), course: s.course, touching: touching,
	})
}

// resolution is the least distance of two places that are told apart.
func (s *seeker) resolution() float64 { return math.Max(ResolutionMM, 4*s.finest) }

// run looks for every place, sorted along the way. It reports whether the work
// came to an end.
func (s *seeker) run() bool {
	beyond := endMM + 4e-16*s.way.length
	if s.way.closed {
		beyond = 0
	}
	s.search(-beyond, s.way.length+beyond)
	if s.cells > mostCells {
		return false
	}
	for _, o := range s.open {
		s.take(o.at, true)
	}
	slices.SortFunc(s.places, func(a, b place) int { return cmp.Compare(a.at, b.at) })
	s.merge()
	return true
}

// merge makes one of the places that are too near to each other.
func (s *seeker) merge() {
	var merged []place
	for _, p := range s.places {
		n := len(merged)
		if n == 0 || p.at-merged[n-1].at > s.resolution() {
			merged = append(merged, p)
			continue
		}
		if math.Abs(p.excess) < math.Abs(merged[n-1].excess) {
			merged[n-1] = p
		}
		merged[n-1].touching = true
	}
	if n := len(merged); s.way.closed && n > 1 && merged[0].at+s.way.length-merged[n-1].at <= s.resolution() {
		merged = merged[:n-1] // the start of a full circle is its end
	}
	s.places = merged
}
