package base

import (
	"fmt"
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// checkPlaced runs the belts and refuses standoffs and holes beyond the plate.
func (p *layoutProblem) checkPlaced(in *inputs) {
	for i := range p.links {
		p.links[i].loop = p.loopOf(&p.links[i])
		p.links[i].load = p.loadOf(i)
	}
	first, last := p.plateEnds()
	for i, s := range p.Standoffs {
		r := s.DiameterMM / 2
		if !p.onPlate(s.Center, r) {
			in.add(fmt.Sprintf("Standoffs[%d].Center", i), pointText(s.Center), ReasonOutsidePlate, fmt.Sprintf(
				"it reaches beyond the plate: give x from %.3f to %.3f and y from %.3f to %.3f, or a larger plate",
				first+r, last-r, r-p.PlateHeightMM/2, p.PlateHeightMM/2-r))
		}
	}
	p.checkHoles(in)
}

// onPlate reports whether a disc lies within the plate.
func (p *layoutProblem) onPlate(center beltmath.Point, radius float64) bool {
	first, last := p.plateEnds()
	return center.XMM-radius >= first && center.XMM+radius <= last && math.Abs(center.YMM)+radius <= p.PlateHeightMM/2
}

// plateHole is a hole to drill, the field that says how large it is, and what to
// do where it breaks out of the plate: nothing of standoffs, whose holes lie within
// them.
type plateHole struct {
	field, name, mend string
	center            beltmath.Point
	radius            float64
}

// plateHoles are those of axles, idlers and standoffs, in this order.
func (p *layoutProblem) plateHoles() []plateHole {
	const larger = "give a smaller hole or a larger plate"
	var holes []plateHole
	for i := range p.Axles {
		holes = append(holes, plateHole{fmt.Sprintf("Axles[%d].HoleDiameterMM", i), fmt.Sprintf("axle %d", i+1), larger, p.positions[i], p.Axles[i].HoleDiameterMM / 2})
	}
	for i := range p.links {
		if l := &p.links[i]; l.place != nil {
			holes = append(holes, plateHole{fmt.Sprintf("Links[%d].Idler.HoleDiameterMM", i), idlerName(i), larger + ", or another range", l.place.Center, l.Idler.HoleDiameterMM / 2})
		}
	}
	for i, s := range p.Standoffs {
		holes = append(holes, plateHole{fmt.Sprintf("Standoffs[%d].HoleDiameterMM", i), fmt.Sprintf("standoff %d", i+1), "", s.Center, s.HoleDiameterMM / 2})
	}
	return holes
}

// checkHoles refuses holes that break out of the plate and holes that run into
// one another.
func (p *layoutProblem) checkHoles(in *inputs) {
	holes := p.plateHoles()
	for _, h := range holes {
		if h.mend != "" && !p.onPlate(h.center, h.radius) {
			in.add(h.field, 2*h.radius, ReasonOutsidePlate, fmt.Sprintf("at %s it breaks out of the plate, which is %v high with margins of %v: %s",
				pointText(h.center), p.PlateHeightMM, p.PlateMarginMM, h.mend))
		}
	}
	for i, h := range holes {
		for _, other := range holes[:i] {
			distance := math.Hypot(h.center.XMM-other.center.XMM, h.center.YMM-other.center.YMM)
			if h.radius > 0 && other.radius > 0 && distance <= h.radius+other.radius {
				in.add(h.field, 2*h.radius, ReasonHolesOverlap, fmt.Sprintf(
					"it runs into the hole of %s, %.3f mm away: give smaller holes or move them apart", other.name, distance))
			}
		}
	}
}

// plateEnds returns the ends of the plate along x, before rounding up.
func (p *layoutProblem) plateEnds() (first, last float64) {
	return p.positions[0].XMM - p.PlateMarginMM, p.positions[len(p.positions)-1].XMM + p.PlateMarginMM
}

func (p *layoutProblem) wheelbase() float64 {
	return p.positions[len(p.positions)-1].XMM - p.positions[0].XMM
}

// noteHoles tells of axles and idlers whose hole is not known.
func (p *layoutProblem) noteHoles(n *noteList) {
	add := func(field, name string) {
		n.add(NoteHoleNotGiven, caution, "Base."+field+".HoleDiameterMM",
			"no hole of %s is given: nothing is drilled there, and whether a hole keeps within the plate and off others is not known; give hole_diameter_mm", name)
	}
	for i, a := range p.Axles {
		if a.HoleDiameterMM == 0 {
			add(fmt.Sprintf("Axles[%d]", i), fmt.Sprintf("axle %d", i+1))
		}
	}
	for i := range p.links {
		if l := &p.links[i]; l.place != nil && l.Idler.HoleDiameterMM == 0 {
			add(fmt.Sprintf("Links[%d].Idler", i), "the "+idlerName(i))
		}
	}
}

// leastEdgeDistance is how far from an edge the center of a bolt's hole is to be,
// in diameters of the hole (EN 1993-1-8, table 3.3, from memory).
const leastEdgeDistance = 1.2

// noteEdges tells of holes that leave little of the plate beside them.
func (p *layoutProblem) noteEdges(n *noteList) {
	first, last := p.plateEnds()
	for _, h := range p.plateHoles() {
		edge := min(h.center.XMM-first, last-h.center.XMM, p.PlateHeightMM/2-math.Abs(h.center.YMM))
		if h.radius > 0 && edge < leastEdgeDistance*2*h.radius-gapSlackMM {
			n.add(NoteThinEdge, caution, "Base."+h.field,
				"the hole of %s has its center %.3f mm from the edge of the plate, less than %g times its diameter, the least distance of a bolt's hole from an edge (EN 1993-1-8, from memory): the metal between may tear; give a smaller hole or a larger plate",
				h.name, edge, leastEdgeDistance)
		}
	}
}
