package path

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// solvePositions finds every position of the moving wheel.
func (p *problem) solvePositions() (Answer, error) {
	places, f, ok := p.places()
	if !ok {
		return Answer{}, &beltmath.NoSolutionError{
			Field: "BeltToothCount", Value: *p.BeltToothCount, Reason: ReasonEveryPosition,
			Msg: "the path keeps its length along a part of the way, or so nearly that positions cannot be told apart, and the belt fits there: any position on it will do, or change the way",
		}
	}
	if len(places) == 0 {
		return Answer{}, p.noPosition(f)
	}
	n := noteList{problem: p}
	a := p.answer()
	for i := range places {
		at := &places[i]
		p.moveTo(at.at)
		solution := p.loop.solution(&at.course, p.pitchMM, p.Wheels)
		solution.PositionMM, solution.LengthPerMM = &at.at, &at.slope
		a.Solutions = append(a.Solutions, solution)
		if len(places) > 1 {
			n.prefix = fmt.Sprintf("position %d: ", i+1)
		}
		n.path(&p.loop, &at.course, &a.Solutions[i])
		if at.touching {
			n.touching()
		}
	}
	n.prefix = ""
	n.listed(*p.BeltToothCount)
	a.Notes = n.finish()
	return a, nil
}

// moveTo puts the moving wheel s millimeters along its way.
func (p *problem) moveTo(s float64) {
	at, _, _ := p.way.point(s)
	w := &p.loop.wheels[p.Moving.WheelIndex]
	w.x, w.y = at.XMM, at.YMM
}

// places finds the places of both directions, sorted along the way, and why
// others that have the right length are no path. ok is false where the belt
// fits along a whole part of the way.
func (p *problem) places() (places []place, f *flaw, ok bool) {
	for _, direction := range p.directions() {
		s := p.seeker(direction)
		if !s.run() {
			return nil, nil, false
		}
		places = append(places, s.places...)
		if f == nil || f.reason == ReasonNotWound && s.flaw != nil {
			f = s.flaw
		}
	}
	slices.SortStableFunc(places, func(a, b place) int { return cmp.Compare(a.at, b.at) })
	return places, f, true
}

// tries is on how many places of the way the reachable lengths are looked at,
// for the text of an error only.
const tries = 257

// noPosition tells which belts fit somewhere along the way.
func (p *problem) noPosition(f *flaw) error {
	e := &beltmath.NoSolutionError{Field: "BeltToothCount", Value: *p.BeltToothCount, Reason: ReasonNoPosition}
	least, most, why := p.reach()
	if least > most {
		if f == nil {
			f = why
		}
		e.Field, e.Value = "Moving.WheelIndex", p.Moving.WheelIndex
		p.moveTo(f.at)
		e.Msg = fmt.Sprintf("none of %d places along the way gives a path: at %.3f mm from its start %s", tries, f.at, f.text(&p.loop))
		return e
	}
	e.Msg = fmt.Sprintf("no position along the way fits this belt; looked at in %d places, the path takes %.3f to %.3f teeth", tries, least, most)
	if f != nil {
		p.moveTo(f.at)
		e.Msg += fmt.Sprintf("; at %.3f mm from the start the length would be right, but %s", f.at, f.text(&p.loop))
	}
	near := int(math.Ceil(least))
	if float64(*p.BeltToothCount) > most {
		near = int(math.Floor(most))
	}
	if teeth, ok := p.worksNear(near, least, most); ok {
		e.Nearest = fmt.Sprint(teeth)
		e.Msg += fmt.Sprintf("; a belt of %d teeth fits", teeth)
	} else {
		e.Msg += "; move the way or change a wheel"
	}
	return e
}

// reach returns the least and greatest length in teeth among the places that
// are looked at, least above most where none gives a path, and why the first
// place gives none.
func (p *problem) reach() (least, most float64, why *flaw) {
	least, most = math.Inf(1), math.Inf(-1)
	var c course
	for n := range tries {
		p.moveTo(p.way.length * float64(n) / (tries - 1))
		overlap := p.loop.overlap()
		for _, direction := range p.directions() {
			f := overlap
			if f == nil {
				p.loop.wind(direction, &c)
				f = p.loop.check(&c)
			}
			if f != nil {
				if why == nil {
					why = f
				}
				continue
			}
			least, most = math.Min(least, c.length/p.pitchMM), math.Max(most, c.length/p.pitchMM)
		}
	}
	p.moveTo(0)
	return least, most, why
}

// worksNear proves that a belt of the given teeth has a position.
func (p *problem) worksNear(teeth int, least, most float64) (int, bool) {
	if float64(teeth) < least || float64(teeth) > most || teeth < minBeltTeeth || teeth > maxBeltTeeth {
		return 0, false
	}
	other := *p
	other.BeltToothCount = &teeth
	places, _, ok := other.places()
	return teeth, ok && len(places) > 0
}

// Fits tells whether the moving wheel of q has a position at which the belt
// fits, as Solve finds them, without working any out. Its error is
// beltmath.InputErrors.
func Fits(q Query) (bool, error) {
	p, err := q.resolve()
	if err != nil || q.Moving == nil {
		return false, err
	}
	places, _, ok := p.places()
	return ok && len(places) > 0, nil
}
