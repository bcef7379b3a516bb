package base

import (
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// zones returns where the center of a standoff of the given diameter may lie
// on each of the asked lines, so that it keeps the wanted clearance to wheels,
// pulleys and belts and stays on the plate; by line, then along x. Other
// standoffs are not looked at.
func (p *layoutProblem) zones(diameter float64) []StandoffZone {
	var zones []StandoffZone
	for _, y := range p.lines {
		first, last := p.plateEnds()
		from, end := first+diameter/2, last-diameter/2
		for _, taken := range p.taken(y, diameter/2+p.StandoffClearanceMM) {
			zones = p.addZone(zones, y, from, min(taken.from, end))
			from = max(from, taken.to)
		}
		zones = p.addZone(zones, y, from, end)
	}
	return zones
}

// taken returns where the line of height y runs nearer than reach to a part,
// by where the stretches begin.
func (p *layoutProblem) taken(y, reach float64) []stretch {
	var list []stretch
	add := func(s stretch) {
		if !s.empty() {
			list = append(list, s)
		}
	}
	for axle := range p.Axles {
		add(p.wheel(axle).within(y, reach))
	}
	for i := range p.links {
		loop := p.links[i].loop
		for k := range loop.spans {
			add(loop.spans[k].within(y, reach))
		}
		for k := range loop.pulleys {
			add(loop.pulleys[k].within(y, reach))
		}
		if loop.idler != nil {
			add(loop.idler.within(y, reach))
		}
	}
	slices.SortFunc(list, func(a, b stretch) int {
		switch {
		case a.from < b.from:
			return -1
		case a.from > b.from:
			return 1
		}
		return 0
	})
	return list
}

func (p *layoutProblem) addZone(zones []StandoffZone, y, from, to float64) []StandoffZone {
	if !(from < to) {
		return zones
	}
	inside := p.insideLoop(beltmath.Point{XMM: (from + to) / 2, YMM: y})
	return append(zones, StandoffZone{YMM: y, FromMM: from, ToMM: to, InsideLoop: inside})
}
