package base

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"
	"sort"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// The steps that a search for plans with idlers may take, and those that it
// counts for the look whether one belt fits.
const (
	maxWorkIdlers = 60_000_000
	stepsOfFit    = 3_000
)

// idlerSearch finds plans in which idlers take up what belts are too long. The
// axles stand at the wished gaps; a link whose gap no plain belt gives takes the
// smallest belt that its idler can take up. So each section, set of pulleys and
// shelf has two plans at most: one in which plain belts may miss their gaps by
// the tolerance, and, where that does not meet all conditions, one in which they
// may by the resolution.
type idlerSearch struct {
	*problem
	wanted   []float64
	apart    []class
	left     int // steps
	best     []*candidate
	memo     map[idlerCase]*IdlerPlace // of the section at hand; nil is none
	unheld   []string                  // sections of which no heights are held
	reached  bool                      // each gap has had a belt once
	section  *beltmath.Section
	belts    []int
	teeth    []int
	scrub    float64
	shelf    *beltmath.Shelf
	quantity map[int]int // belts left on the shelf
}

// idlerCase is what decides where an idler stands.
type idlerCase struct {
	left, right, belt int // teeth
	wanted, step      float64
}

// withIdlers adds the plans with idlers to an answer without a plan.
func (p *problem) withIdlers(a *SearchAnswer) {
	wanted, ok := p.wantedGaps()
	if !ok {
		a.Notes = append(a.Notes, noIdlerPlan("the wished gaps do not make up the wheelbase, and with idlers the axles stand at the wished gaps"))
		return
	}
	s := &idlerSearch{problem: p, wanted: wanted, apart: p.classes(true), left: maxWorkIdlers}
	done := true
	for _, s.section = range p.sections {
		s.belts, s.memo = p.beltCounts(s.section), map[idlerCase]*IdlerPlace{}
		done = p.teethSets(p.pulleys, func() bool { return s.spend(1) }, s.teethSet) && done
	}
	a.Truncated = len(s.best) > p.results
	for _, c := range s.best[:min(p.results, len(s.best))] {
		a.Plans = append(a.Plans, p.plan(c))
	}
	a.Notes = append(a.Notes, s.answerNotes(len(a.Plans) > 0, done)...)
}

// spend takes steps and tells whether they were left.
func (s *idlerSearch) spend(steps int) bool {
	s.left -= steps
	return s.left >= 0
}

// wantedGaps returns the rail spacings that axles have where idlers set the
// belts: those wished for, and of what they leave of the wheelbase equal parts,
// each as near to that as its range allows. ok is false where that does not
// meet the wishes.
func (p *problem) wantedGaps() (wanted []float64, ok bool) {
	wanted = make([]float64, len(p.gaps))
	rest, free := p.target, 0
	for i, g := range p.gaps {
		if g.TargetMM == nil {
			free++
			continue
		}
		wanted[i] = *g.TargetMM
		rest -= wanted[i]
	}
	if free == 0 {
		return wanted, math.Abs(rest) <= p.tolerance+gapSlackMM
	}
	bounded := func(share float64, g Gap) float64 {
		least, most := g.window(0)
		return min(max(share, least), most)
	}
	sum := func(share float64) float64 {
		total := 0.0
		for _, g := range p.gaps {
			if g.TargetMM == nil {
				total += bounded(share, g)
			}
		}
		return total
	}
	low, high := 0.0, float64(maxRailMM)
	if rest <= 0 || sum(low) > rest || sum(high) < rest {
		return nil, false
	}
	for range 200 {
		middle := (low + high) / 2
		if sum(middle) < rest {
			low = middle
		} else {
			high = middle
		}
	}
	// The part of the gaps that no range binds, exactly.
	equal := 0
	for _, g := range p.gaps {
		if g.TargetMM != nil {
			continue
		}
		if share := bounded(high, g); share == high {
			equal++
		} else {
			rest -= share
		}
	}
	for i, g := range p.gaps {
		if g.TargetMM == nil {
			wanted[i] = bounded(high, g)
			if wanted[i] == high && equal > 0 {
				wanted[i] = rest / float64(equal)
			}
		}
	}
	return wanted, true
}

// teethSet looks for the plans of one section and set of pulleys.
func (s *idlerSearch) teethSet(teeth []int, scrub float64) bool {
	s.teeth, s.scrub = slices.Clone(teeth), math.Abs(scrub)
	shelves, ok := s.shelvesFor(s.section, teeth)
	if !ok {
		return true
	}
	if s.bin == nil {
		shelves = []beltmath.Shelf{{Belts: map[int]int{}}}
	}
	for i := range shelves {
		s.shelf = &shelves[i]
		for _, off := range []float64{s.gapTolerance, s.grain} {
			c := s.candidate(off)
			if s.left < 0 {
				return false
			}
			if c != nil {
				s.add(c)
				break
			}
		}
	}
	return true
}

// candidate is the plan in which plain belts miss their gaps by off at most;
// nil where it does not meet all conditions, or where no idler is needed.
func (s *idlerSearch) candidate(off float64) *candidate {
	s.spend(200 * len(s.gaps)) // for the look at plain belts
	c := &candidate{
		scrub: s.scrub, section: s.section, teeth: s.teeth, wanted: s.wanted,
		belts: make([]int, len(s.gaps)), idlers: make([]bool, len(s.gaps)),
	}
	s.quantity = maps.Clone(s.shelf.Belts)
	rails, used := make([]rail, len(s.gaps)), map[int]bool{}
	var sum rail
	least, most := boundless, rail(0)
	for i := range s.gaps {
		belt, spacing := s.plainBelt(i, off)
		if belt == 0 {
			belt, spacing = s.idlerBelt(i), s.wanted[i]
			c.idlers[i] = true
			c.idlerCount++
		}
		if belt == 0 {
			return nil
		}
		s.quantity[belt] -= s.sides
		c.belts[i], used[belt] = belt, true
		c.beltTeeth += belt
		rails[i] = toRail(spacing)
		sum += rails[i]
		least, most = min(least, rails[i]), max(most, rails[i])
	}
	s.reached = true
	shift := sum - toRail(s.target)
	rounding := rail(len(rails)) // the wishes add up to the target but for that
	c.key, c.spread, c.distinct = s.key(shift), most-least, len(used)
	switch {
	case c.idlerCount == 0, c.distinct > s.distinct, max(shift, -shift) > toRail(s.tolerance)+rounding,
		s.equal && c.spread > toRail(s.grain), s.spread != nil && c.spread > toRail(*s.spread), !s.wheelsClear(rails):
		return nil
	}
	return c
}

// held tells whether a belt is there for all sides.
func (s *idlerSearch) held(belt int) bool {
	return s.bin == nil || s.quantity[belt] >= s.sides
}

// plainBelt returns the belt that comes nearest to the wished gap, the shorter
// of two, and what it leaves; 0 where none comes within off.
func (s *idlerSearch) plainBelt(i int, off float64) (belt int, spacing float64) {
	c := s.apart[i]
	c.least, c.most = max(c.least, s.wanted[i]-off), min(c.most, s.wanted[i]+off)
	profile := beltmath.Profile{Section: s.section, Pitch: s.section.Pitch}
	var has spacings
	has.fill(s.problem, &c, profile, s.teeth, s.belts, boundless)
	for k := has.lo; k < has.hi; k++ {
		here := along(profile.Pitch.CenterMM(s.teeth[c.wheels[0]], s.teeth[c.wheels[1]], s.belts[k]), c.step)
		miss := math.Abs(here - s.wanted[i])
		if s.held(s.belts[k]) && (belt == 0 || miss < math.Abs(spacing-s.wanted[i])) {
			belt, spacing = s.belts[k], here
		}
	}
	return belt, spacing
}

// idlerBelt returns the smallest belt that an idler can take up at the wished
// gap; 0 where there is none.
func (s *idlerSearch) idlerBelt(i int) int {
	step := s.heights[i+1] - s.heights[i]
	left, right := s.teeth[s.wheel[i]], s.teeth[s.wheel[i+1]]
	center := math.Hypot(s.wanted[i], step)
	if touch := s.wheelsTouchMM(i, i+1); center <= touch || center < touch+s.wheelGap {
		return 0
	}
	length := func(belt int) float64 { return s.section.Pitch.MM() * float64(belt) }
	first := sort.Search(len(s.belts), func(k int) bool {
		return s.section.Pitch.CenterMM(min(left, right), max(left, right), s.belts[k]) > center // false for NaN
	})
	most := 0.0
	for k := first; k < len(s.belts); k++ {
		belt := s.belts[k]
		if most == 0 {
			most = length(belt) + s.mostTakenUp(left+right)
		}
		if length(belt) > most {
			return 0
		}
		if !s.held(belt) {
			continue
		}
		place := s.placeOf(idlerCase{left, right, belt, s.wanted[i], step})
		if s.left < 0 {
			return 0
		}
		if place != nil && min(place.Path.Wheels[0].MeshedToothCount, place.Path.Wheels[1].MeshedToothCount) >= s.mesh {
			return belt
		}
	}
	return 0
}

// mostTakenUp bounds the length that an idler takes up: twice the way to its
// farthest point and back to the far side of both pulleys, and once round it.
func (s *idlerSearch) mostTakenUp(pulleyTeeth int) float64 {
	rim := 0.0
	if s.idler.DiameterMM != nil {
		rim = *s.idler.DiameterMM + 2*s.section.Pitch.MM()
	}
	if s.idler.ToothCount != nil {
		rim = s.section.Pitch.PitchDiameterMM(*s.idler.ToothCount)
	}
	return 2*(max(math.Abs(s.idler.FromMM), math.Abs(s.idler.ToMM))+rim+s.section.Pitch.PitchDiameterMM(pulleyTeeth)) + math.Pi*rim
}

// placeOf returns where the idler stands in a case, nil where the belt does not
// fit.
func (s *idlerSearch) placeOf(c idlerCase) *IdlerPlace {
	if place, known := s.memo[c]; known {
		return place
	}
	if slices.Contains(s.unheld, s.section.Designation) || !s.spend(stepsOfFit) {
		return nil
	}
	seat := idlerSeat{
		Idler: s.idler,
		drive: beltmath.Drive{
			Profile: beltmath.Profile{Section: s.section, Pitch: s.section.Pitch},
			Driver:  beltmath.Pulley{ToothCount: c.left}, Driven: beltmath.Pulley{ToothCount: c.right}, BeltToothCount: c.belt,
		},
		driven: beltmath.Point{XMM: c.wanted, YMM: c.step},
	}
	fits, err := path.Fits(seat.query(s.idler.FromMM, s.idler.ToMM))
	var place *IdlerPlace
	if fits {
		place, err = seat.solve()
	}
	if faults := beltmath.InputErrors(nil); errors.As(err, &faults) { // all else was checked
		s.unheld = append(s.unheld, s.section.Designation)
	}
	s.memo[c] = place
	return place
}

// add takes a candidate in where it is among the best.
func (s *idlerSearch) add(c *candidate) {
	at, same := slices.BinarySearchFunc(s.best, c, (*candidate).rankIdlers)
	if same {
		return // from another shelf
	}
	s.best = slices.Insert(s.best, at, c)
	s.best = s.best[:min(len(s.best), s.results+1)]
}

// rankIdlers is rank for plans with idlers: after the shift fewer of them.
func (c *candidate) rankIdlers(o *candidate) int {
	return cmp.Or(cmp.Compare(c.key, o.key), cmp.Compare(c.idlerCount, o.idlerCount), c.rank(o))
}

// placeInPlan works out where the idler of a link stands, its right axle the
// last one placed.
func (p *problem) placeInPlan(l *Link, axles []beltmath.Point) *IdlerPlace {
	link := len(axles) - 2
	seat := idlerSeat{
		Idler: p.idler, drive: l.Drive, driver: axles[l.FromAxle], driven: axles[l.ToAxle],
		names: [3]string{pulleyName(link, l.FromAxle), pulleyName(link, l.ToAxle), idlerName(link)},
	}
	place, err := seat.solve()
	if err != nil {
		return nil // cannot happen: the search found it
	}
	return place
}
