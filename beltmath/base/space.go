package base

import (
	"math"
	"slices"
	"sort"

	"github.com/beltspan/beltspan/beltmath"
)

// rail is a length along the rail in units of 2^-32 mm, 2.3e-10 mm. Sums of
// whole numbers do not depend on the order of their terms, so equal plans
// compare equal whatever way they were found. The longest sum, 15 times
// 250 m, is below 2^54.
type rail int64

const railUnit = 1 << 32

// boundless is above every sum.
const boundless rail = 1 << 60

func toRail(mm float64) rail {
	if mm > maxRailMM*maxAxles*4 {
		return boundless
	}
	return rail(math.Round(mm * railUnit))
}

func (r rail) mm() float64 { return float64(r) / railUnit }

// class is gaps that any belt treats alike: of the same wheels, height step
// and wish. Which of them a belt serves changes nothing but the order of the
// belts from left to right.
type class struct {
	gaps        []int
	wheels      [2]int // indexes into row.diameters
	step        float64
	least, most float64 // allowed rail spacings
	touch       float64 // center distance at which the wheels touch
	clear       float64 // least center distance that leaves the wheel gap
}

// classes sorts the gaps into classes; apart keeps each gap for itself.
func (p *problem) classes(apart bool) []class {
	var classes []class
	for i, g := range p.gaps {
		c := class{
			gaps: []int{i}, wheels: [2]int{p.wheel[i], p.wheel[i+1]},
			step: p.heightStep(i), touch: p.wheelsTouchMM(i, i+1), clear: p.wheelsTouchMM(i, i+1) + p.wheelGap,
		}
		slices.Sort(c.wheels[:])
		c.least, c.most = g.window(p.gapTolerance)
		same := slices.IndexFunc(classes, func(o class) bool {
			return o.wheels == c.wheels && o.step == c.step && o.least == c.least && o.most == c.most
		})
		if apart || same < 0 {
			classes = append(classes, c)
			continue
		}
		classes[same].gaps = append(classes[same].gaps, i)
	}
	return classes
}

// teethSets calls visit with every choice of one pulley count for each wheel
// diameter whose scrub is within the limit, and with its greatest scrub. It
// counts its steps and stops when visit says so.
func (p *problem) teethSets(pulleys []int, step func() bool, visit func(teeth []int, scrub float64) bool) bool {
	teeth := make([]int, len(p.diameters))
	var choose func(i int, scrub float64) bool
	choose = func(i int, scrub float64) bool {
		if i == len(teeth) {
			return visit(teeth, scrub)
		}
		for _, teeth[i] = range pulleys {
			if !step() {
				return false
			}
			worst := p.worstScrub(teeth[:i+1], scrub)
			if math.Abs(worst) <= p.scrub && !choose(i+1, worst) {
				return false
			}
		}
		return true
	}
	return choose(0, 0)
}

// worstScrub returns the scrub of greatest amount of the last wheel against
// the others, or so far if that is more.
func (p *problem) worstScrub(teeth []int, soFar float64) float64 {
	last := len(teeth) - 1
	for i := range last {
		scrub := p.scrubOf(i, last, teeth)
		if math.Abs(scrub) > math.Abs(soFar) {
			soFar = scrub
		}
	}
	return soFar
}

func (p *problem) scrubOf(a, b int, teeth []int) float64 {
	if p.diameters[a] < p.diameters[b] {
		a, b = b, a
	}
	return ScrubPercent(teeth[a], teeth[b], p.diameters[a], p.diameters[b])
}

// beltCounts returns the belts to try of a section.
func (p *problem) beltCounts(section *beltmath.Section) []int {
	var counts []int
	shelves := p.bin[section.Designation]
	for _, teeth := range p.belts {
		if p.standard && !section.IsStandardLength(teeth) {
			continue
		}
		if p.bin == nil || slices.ContainsFunc(shelves, func(s beltmath.Shelf) bool { return s.Belts[teeth] >= p.sides }) {
			counts = append(counts, teeth)
		}
	}
	return counts
}

// shelvesFor returns the shelves that hold the pulleys of all sides; nil
// without a bin. ok is false where there is a bin and no such shelf.
func (p *problem) shelvesFor(section *beltmath.Section, teeth []int) (shelves []beltmath.Shelf, ok bool) {
	if p.bin == nil {
		return nil, true
	}
	needed := map[int]int{}
	for i := range p.gaps {
		needed[teeth[p.wheel[i]]]++
		needed[teeth[p.wheel[i+1]]]++
	}
	for _, s := range p.bin[section.Designation] {
		if holds(s.Pulleys, needed, p.sides) {
			shelves = append(shelves, s)
		}
	}
	return shelves, len(shelves) > 0
}

// spacings holds, for one class, the rail spacing with each belt of a list;
// only those from lo to hi, hi outside, meet all conditions. It rises with the
// belt.
type spacings struct {
	lo, hi int
	along  []rail
}

// fill finds which of the belts serve class c with the given drive; every
// condition is one on the least or the greatest belt.
func (s *spacings) fill(p *problem, c *class, profile beltmath.Profile, teeth []int, belts []int, most rail) {
	driver, driven := teeth[c.wheels[0]], teeth[c.wheels[1]]
	drive := beltmath.Drive{
		Profile: profile, Driver: beltmath.Pulley{ToothCount: driver}, Driven: beltmath.Pulley{ToothCount: driven},
	}
	first := sort.Search(len(belts), func(i int) bool {
		center := profile.Pitch.CenterMM(driver, driven, belts[i])
		return center > c.touch && center >= c.clear && center > c.step && along(center, c.step) >= c.least // false for NaN
	})
	s.lo = first + sort.Search(len(belts)-first, func(i int) bool {
		drive.BeltToothCount = belts[first+i]
		g, err := drive.Geometry()
		return err == nil && g.MeshedToothCount() >= p.mesh
	})
	if cap(s.along) < len(belts) {
		s.along = make([]rail, len(belts))
	}
	s.along = s.along[:len(belts)]
	for s.hi = s.lo; s.hi < len(belts); s.hi++ {
		mm := along(profile.Pitch.CenterMM(driver, driven, belts[s.hi]), c.step)
		s.along[s.hi] = toRail(mm)
		if mm > c.most || s.along[s.hi] > most {
			return
		}
	}
}

// mostAlong bounds a rail spacing by the wheelbase alone.
func (p *problem) mostAlong() rail { return min(toRail(p.target+p.tolerance), boundless) }

// wheelsClear reports whether all wheels that are no neighbors keep the wheel
// gap when the gaps have the given spacings.
func (p *problem) wheelsClear(gaps []rail) bool {
	for a := range p.axles {
		var distance rail
		for b := a + 1; b < len(p.axles); b++ {
			distance += gaps[b-1]
			if b == a+1 {
				continue
			}
			apart, touch := math.Hypot(distance.mm(), p.heights[b]-p.heights[a]), p.wheelsTouchMM(a, b)
			if apart <= touch || apart < touch+p.wheelGap {
				return false
			}
		}
	}
	return true
}
