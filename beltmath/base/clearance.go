package base

import (
	"fmt"
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// gapSlackMM keeps a gap of exactly the wanted size clear, whatever its last
// bits; it is far below any measure.
const gapSlackMM = 1e-9

func (p *layoutProblem) wheel(axle int) disc {
	return disc{p.positions[axle], p.Axles[axle].WheelDiameterMM / 2}
}

// floor returns the lowest point of the lowest wheel.
func (p *layoutProblem) floor() float64 {
	lowest := math.Inf(1)
	for i := range p.Axles {
		lowest = min(lowest, p.positions[i].YMM-p.Axles[i].WheelDiameterMM/2)
	}
	return lowest
}

// pulleyOn returns the disc of the link's pulley on one of its axles.
func (l *layoutLink) pulleyOn(axle int) disc {
	if axle == l.FromAxle {
		return l.loop.pulleys[0]
	}
	return l.loop.pulleys[1]
}

func wheelName(axle int) string { return fmt.Sprintf("wheel %d", axle+1) }
func standoffName(i int) string { return fmt.Sprintf("standoff %d", i+1) }
func beltName(link int) string  { return fmt.Sprintf("belt %d", link+1) }
func idlerName(link int) string { return fmt.Sprintf("idler of belt %d", link+1) }
func pulleyName(link, axle int) string {
	return fmt.Sprintf("pulley of belt %d on axle %d", link+1, axle+1)
}

// clearances returns the distances that matter, sorted by kind.
func (p *layoutProblem) clearances() []Clearance {
	list := p.wheelGaps()
	for i := range p.Standoffs {
		list = append(list, p.standoffGaps(i)...)
	}
	list = append(list, p.crowdedStandoffs()...)
	list = append(list, p.floorGaps()...)
	list = append(list, p.passedGaps()...)
	list = append(list, p.laneGaps()...)
	for k := range p.links {
		if p.links[k].place != nil {
			list = append(list, p.idlerGaps(k)...)
		}
	}
	return list
}

func clearance(kind ClearanceKind, a, b string, gap, required float64) Clearance {
	c := Clearance{Kind: kind, Between: [2]string{a, b}, GapMM: gap, RequiredMM: required}
	c.Clear = gap > 0 && gap >= required-gapSlackMM
	return c
}

// wheelGaps returns the gap of each pair of neighbors, and of any other pair
// that is nearer than all of them.
func (p *layoutProblem) wheelGaps() []Clearance {
	var list []Clearance
	least := math.Inf(1)
	add := func(a, b int) {
		gap := p.wheel(a).gap(p.wheel(b))
		list = append(list, clearance(ClearanceKindWheelWheel, wheelName(a), wheelName(b), gap, 0))
	}
	for i := 1; i < len(p.Axles); i++ {
		least = min(least, p.wheel(i-1).gap(p.wheel(i)))
		add(i-1, i)
	}
	for i := range p.Axles {
		for k := i + 2; k < len(p.Axles); k++ {
			if p.wheel(i).gap(p.wheel(k)) < least {
				add(i, k)
			}
		}
	}
	return list
}

// standoffGaps returns the gaps of a standoff to the nearest wheel, belt and
// pulley.
func (p *layoutProblem) standoffGaps(i int) []Clearance {
	s := p.Standoffs[i]
	post := disc{s.Center, s.DiameterMM / 2}
	wheel := nearest{gap: math.Inf(1)}
	for axle := range p.Axles {
		wheel.offer(post.gap(p.wheel(axle)), wheelName(axle))
	}
	belt, pulley := nearest{gap: math.Inf(1)}, nearest{gap: math.Inf(1)}
	for k := range p.links {
		l := &p.links[k]
		belt.offer(l.loop.distance(s.Center)-post.radius, beltName(k))
		for _, axle := range []int{l.FromAxle, l.ToAxle} {
			pulley.offer(post.gap(l.pulleyOn(axle)), pulleyName(k, axle))
		}
		if l.loop.idler != nil {
			pulley.offer(post.gap(*l.loop.idler), idlerName(k))
		}
	}
	required := p.StandoffClearanceMM
	return []Clearance{
		clearance(ClearanceKindWheelStandoff, wheel.name, standoffName(i), wheel.gap, required),
		clearance(ClearanceKindStandoffBelt, standoffName(i), belt.name, belt.gap, required),
		clearance(ClearanceKindStandoffPulley, standoffName(i), pulley.name, pulley.gap, required),
	}
}

type nearest struct {
	gap  float64
	name string
}

func (n *nearest) offer(gap float64, name string) {
	if gap < n.gap {
		n.gap, n.name = gap, name
	}
}

// crowdedStandoffs returns the gap of each standoff to the nearest one before
// it, where that is less than wanted.
func (p *layoutProblem) crowdedStandoffs() []Clearance {
	var list []Clearance
	for i, s := range p.Standoffs {
		other := nearest{gap: math.Inf(1)}
		for k, before := range p.Standoffs[:i] {
			other.offer(distance(s.Center, before.Center)-(s.DiameterMM+before.DiameterMM)/2, standoffName(k))
		}
		if c := clearance(ClearanceKindStandoffStandoff, other.name, standoffName(i), other.gap, p.StandoffClearanceMM); !c.Clear {
			list = append(list, c)
		}
	}
	return list
}

// floorGaps returns the gap of the lowest pulley on each axle to the floor.
func (p *layoutProblem) floorGaps() []Clearance {
	var list []Clearance
	floor := p.floor()
	for axle := range p.Axles {
		low := nearest{gap: math.Inf(1)}
		for _, k := range p.linksOn(axle) {
			d := p.links[k].pulleyOn(axle)
			low.offer(d.center.YMM-d.radius-floor, pulleyName(k, axle))
		}
		if low.name != "" {
			list = append(list, clearance(ClearanceKindFlangeFloor, low.name, "floor", low.gap, 0))
		}
	}
	for k := range p.links {
		if d := p.links[k].loop.idler; d != nil {
			list = append(list, clearance(ClearanceKindFlangeFloor, idlerName(k), "floor", d.center.YMM-d.radius-floor, 0))
		}
	}
	return list
}

// passedGaps returns the gaps of belts to what they pass on axles of others.
func (p *layoutProblem) passedGaps() []Clearance {
	var list []Clearance
	for k := range p.links {
		l := &p.links[k]
		for axle := min(l.FromAxle, l.ToAxle) + 1; axle < max(l.FromAxle, l.ToAxle); axle++ {
			obstacle, name := p.obstacle(axle, k)
			gap := l.loop.distance(obstacle.center) - obstacle.radius
			list = append(list, clearance(ClearanceKindBeltAxle, beltName(k), name, gap, p.StandoffClearanceMM))
		}
	}
	return list
}

// obstacle returns the largest disc on an axle in the lane of a link that
// passes it: its wheel or a pulley where they stand in the way, else its bolt,
// and of a live axle the bearing hole, than which the shaft is thinner. Where
// neither diameter is given only a point is left, and a note says so.
func (p *layoutProblem) obstacle(axle, link int) (disc, string) {
	lane := p.laneMiddle(p.lanes[link])
	a := p.Axles[axle]
	if math.Abs(lane-p.wheelMidZ) < (p.BeltWidthMM+a.WheelWidthMM)/2 {
		return p.wheel(axle), wheelName(axle)
	}
	d, name := disc{p.positions[axle], a.boltRadius()}, fmt.Sprintf("axle %d", axle+1)
	for _, other := range p.linksOn(axle) {
		if on := p.links[other].pulleyOn(axle); p.lanes[other] == p.lanes[link] && on.radius > d.radius {
			d, name = on, pulleyName(other, axle)
		}
	}
	return d, name
}

func (a Axle) boltRadius() float64 {
	if a.Kind == AxleKindDead && a.BoltDiameterMM > 0 {
		return a.BoltDiameterMM / 2
	}
	return max(a.HoleDiameterMM, a.BoltDiameterMM) / 2
}

// laneGaps returns the gaps of pulleys of different belts that stand in one
// lane on neighboring axles.
func (p *layoutProblem) laneGaps() []Clearance {
	var list []Clearance
	for axle := 1; axle < len(p.Axles); axle++ {
		for _, a := range p.linksOn(axle - 1) {
			for _, b := range p.linksOn(axle) {
				if a != b && p.lanes[a] == p.lanes[b] {
					gap := p.links[a].pulleyOn(axle - 1).gap(p.links[b].pulleyOn(axle))
					list = append(list, clearance(ClearanceKindPulleyPulley, pulleyName(a, axle-1), pulleyName(b, axle), gap, 0))
				}
			}
		}
	}
	return list
}

// insideLoop tells whether a belt runs round a point.
func (p *layoutProblem) insideLoop(at beltmath.Point) bool {
	for i := range p.links {
		if p.links[i].loop.encloses(at) {
			return true
		}
	}
	return false
}

func (p *layoutProblem) standoffLayouts() []StandoffLayout {
	var list []StandoffLayout
	for i, s := range p.Standoffs {
		out := StandoffLayout{Center: s.Center, HoleDiameterMM: s.HoleDiameterMM, GapMM: math.Inf(1), InsideLoop: p.insideLoop(s.Center)}
		out.FromEndMM, out.FromEdgeMM = p.running(s.Center)
		out.Verdict = StandoffVerdictClear
		for _, c := range p.standoffGaps(i) {
			if c.GapMM < out.GapMM {
				out.GapMM = c.GapMM
				out.Nearest = c.Between[0]
				if c.Between[0] == standoffName(i) {
					out.Nearest = c.Between[1]
				}
			}
			switch {
			case c.GapMM <= 0:
				out.Verdict = StandoffVerdictHits
			case !c.Clear:
				out.Verdict = max(out.Verdict, StandoffVerdictTooClose)
			}
		}
		list = append(list, out)
	}
	return list
}
