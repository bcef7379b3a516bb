package base

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
)

// listedSubstitutes is how many substitutes of each sort a link lists.
const listedSubstitutes = 10

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
func (p *layoutProblem) drilledLink(i int) *DrilledLink {
	l := &p.links[i]
	out := &DrilledLink{
		CenterDistanceMM: l.checked.centerMM, DeviationMM: l.checked.deviationMM, Verdict: l.checked.verdict,
	}
	out.MoveAxle, out.MoveMM = p.move(l, l.geometry.CenterDistanceMM)
	if out.Verdict != beltmath.VerdictFits || p.missingParts(i, l.geometry.Drive, true) != (missing{}) {
		out.Substitutes = p.substitutes(i)
	}
	return out
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
// holds, then what would fit the holes as they are if it were there.
func (p *layoutProblem) substitutes(i int) []LinkSubstitute {
	l := &p.links[i]
	q := beltmath.SubstituteQuery{
		Drive: l.Drive, DrilledCenterDistanceMM: l.checked.centerMM, Limits: p.limits,
		NeededQuantity: &p.sides, MaxResults: new(listedSubstitutes),
	}
	var list []LinkSubstitute
	add := func(s beltmath.Substitute) {
		if slices.ContainsFunc(list, func(held LinkSubstitute) bool { return sameTeeth(held.Drive, s.Drive) }) {
			return
		}
		lacking := p.missingParts(i, s.Drive, false)
		out := LinkSubstitute{Substitute: s, MissingBeltCount: lacking.belts, MissingPulleyCount: lacking.pulleys}
		axle, move := p.move(l, s.CenterDistanceMM)
		out.MoveAxle = axle
		if !s.SameHoles && move != nil {
			out.MoveMM = *move
		}
		list = append(list, out)
	}
	if p.stock != nil && l.geometry.Drive.Section != nil {
		limited := q
		limited.Stock, limited.BeltWidthMM = p.stockBeside(i), &p.BeltWidthMM
		for _, s := range searchSubstitutes(limited) {
			add(s)
		}
	}
	for _, s := range searchSubstitutes(q) {
		if s.SameHoles || p.stock == nil {
			add(s)
		}
	}
	return list
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
