package base

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

const (
	// listedSubstitutes is how many substitutes of each sort a link lists.
	listedSubstitutes = 10
	// soughtSubstitutes is how many it chooses them from.
	soughtSubstitutes = 200
)

// worth says which substitutes are worth listing: those that want the center
// distance of the planned belt, which is so if that belt is not to be had, and
// those that move an axle.
type worth struct{ planned, moving bool }

// LinkSubstitute is what serves in place of a belt on drilled axles.
type LinkSubstitute struct {
	// Substitute is the drive that serves and how it fits the holes.
	beltmath.Substitute
	// MissingBeltCount and MissingPulleyCount are how many the stock lacks for
	// all sides, what the other belts of the base take set aside; 0 without a
	// stock.
	MissingBeltCount, MissingPulleyCount int
	// MoveAxle is the axle to move for an exact fit, with all axles beyond it,
	// and MoveMM how far along x; 0 where the holes serve as they are.
	MoveAxle int
	MoveMM   float64
}

// drilledLink tells how a belt fits axles that are in place. Where it does not
// fit well, or the stock lacks it, it looks for substitutes.
func (p *layoutProblem) drilledLink(i int, lone map[int]loneMove) *DrilledLink {
	l := &p.links[i]
	out := &DrilledLink{
		CenterDistanceMM: l.checked.centerMM, DeviationMM: l.checked.deviationMM, Verdict: l.checked.verdict,
	}
	out.MoveAxle, out.MoveMM = p.move(l, l.geometry.CenterDistanceMM)
	if move, ok := lone[i]; ok {
		out.MoveAxle, out.MoveMM, out.MoveAlone = move.axle, &move.mm, true
	}
	lacking := p.missingParts(i, l.geometry.Drive, true) != (missing{})
	if out.Verdict != beltmath.VerdictFits || lacking {
		out.Substitutes = p.substitutes(i, worth{planned: lacking, moving: lacking || !out.MoveAlone})
	}
	return out
}

// loneMove is an axle that moves along the rail while all others stay.
type loneMove struct {
	axle int
	mm   float64
}

// loneMoves returns the moves of one axle each that let both its belts fit where
// neither does, by link; each link has one at most, from the first axle on. The
// axle goes half way between the two places at which one of its belts fits
// exactly.
func (p *layoutProblem) loneMoves() map[int]loneMove {
	moves := map[int]loneMove{}
	if len(p.AxlePositions) == 0 {
		return moves
	}
	for axle := range p.Axles {
		var off []int
		for i := range p.links {
			if _, taken := moves[i]; taken || p.links[i].checked == nil || !p.links[i].joins(axle) {
				continue
			}
			if p.links[i].checked.verdict != beltmath.VerdictFits {
				off = append(off, i)
			}
		}
		if len(off) != 2 {
			continue
		}
		first, ok := p.placeFor(off[0], axle)
		second, alsoOK := p.placeFor(off[1], axle)
		at := beltmath.Point{XMM: (first + second) / 2, YMM: p.positions[axle].YMM}
		if ok && alsoOK && p.fitsAt(off[0], axle, at) && p.fitsAt(off[1], axle, at) {
			move := loneMove{axle, at.XMM - p.positions[axle].XMM}
			moves[off[0]], moves[off[1]] = move, move
		}
	}
	return moves
}

// placeFor returns the x at which an axle gives a link the center distance it
// wants, on the side of its other axle on which it is.
func (p *layoutProblem) placeFor(link, axle int) (x float64, ok bool) {
	l := &p.links[link]
	here, other := p.positions[axle], p.positions[l.other(axle)]
	step := math.Abs(here.YMM - other.YMM)
	if l.geometry.CenterDistanceMM <= step {
		return 0, false
	}
	return other.XMM + math.Copysign(along(l.geometry.CenterDistanceMM, step), here.XMM-other.XMM), true
}

// fitsAt tells whether a link fits with one of its axles elsewhere.
func (p *layoutProblem) fitsAt(link, axle int, at beltmath.Point) bool {
	l := &p.links[link]
	item := beltmath.CheckItem{Drive: l.Drive, CenterDistanceMM: distance(at, p.positions[l.other(axle)])}
	return p.checker.Check(&item).Verdict == beltmath.VerdictFits
}

// move returns which axle to move along the rail, all beyond it with it, and
// how far, to give a link another center distance: the axle with fewer beyond
// it, of equals the later one.
func (p *layoutProblem) move(l *layoutLink, center float64) (axle int, mm *float64) {
	left, right := min(l.FromAxle, l.ToAxle), max(l.FromAxle, l.ToAxle)
	step := math.Abs(p.positions[left].YMM - p.positions[right].YMM)
	if center <= step {
		return right, nil
	}
	apart := along(center, step) - (p.positions[right].XMM - p.positions[left].XMM)
	if left < len(p.Axles)-1-right {
		return left, new(-apart)
	}
	return right, &apart
}

// substitutes returns what serves in place of a belt: first what the stock
// holds, then what would fit the holes as they are if it were there. Without a
// stock, of those that want one center distance it is the first that is listed.
func (p *layoutProblem) substitutes(i int, wanted worth) []LinkSubstitute {
	l := &p.links[i]
	q := beltmath.SubstituteQuery{
		Drive: l.Drive, DrilledCenterDistanceMM: l.checked.centerMM, Limits: p.limits,
		NeededQuantity: &p.sides, MaxResults: new(soughtSubstitutes),
	}
	var list []LinkSubstitute
	add := func(found []beltmath.Substitute, serves func(beltmath.Substitute) bool) {
		most := len(list) + listedSubstitutes
		for _, s := range found {
			known := slices.ContainsFunc(list, func(held LinkSubstitute) bool { return sameTeeth(held.Drive, s.Drive) })
			same := math.Abs(s.CenterDistanceMM-l.geometry.CenterDistanceMM) <= gapSlackMM
			if len(list) < most && !known && (wanted.planned || !same) && (wanted.moving || s.SameHoles) && serves(s) {
				list = append(list, p.linkSubstitute(i, s))
			}
		}
	}
	if p.stock != nil && l.geometry.Drive.Section != nil {
		limited := q
		limited.Stock, limited.BeltWidthMM = p.stockBeside(i), &p.BeltWidthMM
		add(searchSubstitutes(limited), func(beltmath.Substitute) bool { return true })
	}
	add(searchSubstitutes(q), func(s beltmath.Substitute) bool {
		return s.SameHoles || p.stock == nil && !slices.ContainsFunc(list, func(held LinkSubstitute) bool {
			return !held.SameHoles && math.Abs(held.CenterDistanceMM-s.CenterDistanceMM) <= gapSlackMM
		})
	})
	return list
}

// linkSubstitute tells what a substitute takes.
func (p *layoutProblem) linkSubstitute(i int, s beltmath.Substitute) LinkSubstitute {
	lacking := p.missingParts(i, s.Drive, false)
	out := LinkSubstitute{Substitute: s, MissingBeltCount: lacking.belts, MissingPulleyCount: lacking.pulleys}
	axle, move := p.move(&p.links[i], s.CenterDistanceMM)
	out.MoveAxle = axle
	if !s.SameHoles && move != nil {
		out.MoveMM = *move
	}
	return out
}

// searchSubstitutes asks with values that are all checked.
func searchSubstitutes(q beltmath.SubstituteQuery) []beltmath.Substitute {
	answer, err := beltmath.SearchSubstitutes(q)
	if err != nil {
		return nil // cannot happen: the base was checked
	}
	return answer.Substitutes
}

func sameTeeth(a, b beltmath.Drive) bool {
	return a.BeltToothCount == b.BeltToothCount && a.Driver.ToothCount == b.Driver.ToothCount && a.Driven.ToothCount == b.Driven.ToothCount
}

// partNeed is how many belts or pulleys of one section and tooth count the
// links take for all sides.
type partNeed map[string]map[int]int

func (n partNeed) add(section string, teeth, quantity int) {
	if n[section] == nil {
		n[section] = map[int]int{}
	}
	n[section][teeth] += quantity
}

// needBeside returns what all links but one take for all sides; -1 leaves out
// none.
func (p *layoutProblem) needBeside(link int) (belts, pulleys partNeed) {
	belts, pulleys = partNeed{}, partNeed{}
	for i := range p.links {
		d := p.links[i].geometry.Drive
		if i == link || d.Section == nil {
			continue
		}
		belts.add(d.Section.Designation, d.BeltToothCount, p.sides)
		pulleys.add(d.Section.Designation, d.Driver.ToothCount, p.sides)
		pulleys.add(d.Section.Designation, d.Driven.ToothCount, p.sides)
	}
	return belts, pulleys
}

// stockBeside returns the stock less what all links but one take of it.
func (p *layoutProblem) stockBeside(link int) *beltmath.Stock {
	belts, pulleys := p.needBeside(link)
	return &beltmath.Stock{Belts: p.without(p.stock.Belts, belts), Pulleys: p.without(p.stock.Pulleys, pulleys)}
}

// without takes need off items of the base's belt width, in their order.
func (p *layoutProblem) without(items []beltmath.StockItem, need partNeed) []beltmath.StockItem {
	rest := slices.Clone(items)
	for i := range rest {
		item := &rest[i]
		if item.WidthMM == p.BeltWidthMM && need[item.Section][item.ToothCount] > 0 {
			taken := min(item.Quantity, need[item.Section][item.ToothCount])
			item.Quantity -= taken
			need.add(item.Section, item.ToothCount, -taken)
		}
	}
	return rest
}

// missing is how many parts the stock lacks.
type missing struct{ belts, pulleys int }

// missingParts returns what the stock lacks for a drive in place of a link,
// once the other links have taken theirs. The planned pulleys of a substitute
// are at hand, as they are for beltmath.SearchSubstitutes.
func (p *layoutProblem) missingParts(link int, d beltmath.Drive, planned bool) missing {
	var lack missing
	if p.stock == nil || d.Section == nil {
		return lack
	}
	rest := p.stockBeside(link)
	lack.belts = max(0, p.sides-p.inStock(rest.Belts, d.Section.Designation, d.BeltToothCount))
	if planned {
		return lack
	}
	old := p.links[link].geometry.Drive
	var needed []int
	if d.Driver.ToothCount != old.Driver.ToothCount {
		needed = append(needed, d.Driver.ToothCount)
	}
	if d.Driven.ToothCount != old.Driven.ToothCount {
		needed = append(needed, d.Driven.ToothCount)
	}
	if len(needed) == 2 && needed[0] == needed[1] {
		lack.pulleys = max(0, 2*p.sides-p.inStock(rest.Pulleys, d.Section.Designation, needed[0]))
		return lack
	}
	for _, teeth := range needed {
		lack.pulleys += max(0, p.sides-p.inStock(rest.Pulleys, d.Section.Designation, teeth))
	}
	return lack
}

// lacking says what the stock lacks, nothing where all is there.
func (s LinkSubstitute) lacking() string {
	var texts []string
	for _, part := range []struct {
		count int
		name  string
	}{{s.MissingBeltCount, "belt"}, {s.MissingPulleyCount, "pulley"}} {
		switch {
		case part.count == 1:
			texts = append(texts, "1 "+part.name+" short")
		case part.count > 1:
			texts = append(texts, fmt.Sprintf("%d %ss short", part.count, part.name))
		}
	}
	return strings.Join(texts, ", ")
}

// text writes a substitute for people.
func (s LinkSubstitute) text() string {
	return fmt.Sprintf("a belt of %d teeth with pulleys of %d and %d", s.Drive.BeltToothCount, s.Drive.Driver.ToothCount, s.Drive.Driven.ToothCount)
}
