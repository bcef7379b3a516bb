package base

import (
	"fmt"
	"math"
	"strings"

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

// plateHole is a hole to drill and the field that says how large it is.
type plateHole struct {
	field, name string
	center      beltmath.Point
	radius      float64
}

// plateHoles are those of axles, idlers and standoffs, in this order.
func (p *layoutProblem) plateHoles() []plateHole {
	var holes []plateHole
	for i := range p.Axles {
		holes = append(holes, plateHole{fmt.Sprintf("Axles[%d].HoleDiameterMM", i), fmt.Sprintf("axle %d", i+1), p.positions[i], p.Axles[i].HoleDiameterMM / 2})
	}
	for i := range p.links {
		if l := &p.links[i]; l.place != nil {
			holes = append(holes, plateHole{fmt.Sprintf("Links[%d].Idler.HoleDiameterMM", i), idlerName(i), l.place.Center, l.Idler.HoleDiameterMM / 2})
		}
	}
	for i, s := range p.Standoffs {
		holes = append(holes, plateHole{fmt.Sprintf("Standoffs[%d].HoleDiameterMM", i), fmt.Sprintf("standoff %d", i+1), s.Center, s.HoleDiameterMM / 2})
	}
	return holes
}

// checkHoles refuses axle holes that break out of the plate and holes that run
// into one another. Those of standoffs lie within their standoffs.
func (p *layoutProblem) checkHoles(in *inputs) {
	holes := p.plateHoles()
	for _, h := range holes[:len(holes)-len(p.Standoffs)] {
		if p.onPlate(h.center, h.radius) {
			continue
		}
		advice := "give a smaller hole or a larger plate"
		if strings.HasPrefix(h.field, "Links") {
			advice += ", or another range"
		}
		in.add(h.field, 2*h.radius, ReasonOutsidePlate, fmt.Sprintf("at %s it breaks out of the plate, which is %v high with margins of %v: %s",
			pointText(h.center), p.PlateHeightMM, p.PlateMarginMM, advice))
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
