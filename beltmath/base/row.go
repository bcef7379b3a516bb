package base

import (
	"fmt"
	"math"
	"slices"

	"github.com/beltspan/beltspan/beltmath"
)

// row is a row of axles as the search sees it.
type row struct {
	axles     []Axle
	heights   []float64
	diameters []float64 // the distinct wheel diameters, by first appearance
	wheel     []int     // for each axle the index of its diameter
	symmetric bool      // whether wheels, drops and wishes read the same from both ends
}

func newRow(axles []Axle, gaps []Gap) row {
	r := row{axles: axles, heights: AxleHeightsMM(axles), symmetric: true}
	for i, a := range axles {
		index := slices.Index(r.diameters, a.WheelDiameterMM)
		if index < 0 {
			index = len(r.diameters)
			r.diameters = append(r.diameters, a.WheelDiameterMM)
		}
		r.wheel = append(r.wheel, index)
		twin := axles[len(axles)-1-i]
		r.symmetric = r.symmetric && a.WheelDiameterMM == twin.WheelDiameterMM && a.DropMM == twin.DropMM
	}
	for i, g := range gaps {
		r.symmetric = r.symmetric && g.same(gaps[len(gaps)-1-i])
	}
	return r
}

func (g Gap) same(other Gap) bool {
	equal := func(a, b *float64) bool {
		return a == nil && b == nil || a != nil && b != nil && *a == *b
	}
	return equal(g.TargetMM, other.TargetMM) && equal(g.MinMM, other.MinMM) && equal(g.MaxMM, other.MaxMM)
}

// window returns the rail spacings g allows where targets are met within
// tolerance.
func (g Gap) window(tolerance float64) (least, most float64) {
	least, most = 0, math.Inf(1)
	if g.TargetMM != nil {
		return *g.TargetMM - tolerance, *g.TargetMM + tolerance
	}
	if g.MinMM != nil {
		least = *g.MinMM
	}
	if g.MaxMM != nil {
		most = *g.MaxMM
	}
	return least, most
}

// heightStep returns how far the axles of a link differ in height.
func (r *row) heightStep(link int) float64 { return math.Abs(r.heights[link+1] - r.heights[link]) }

// wheelsTouchMM returns the center distance at which the wheels of two axles
// touch.
func (r *row) wheelsTouchMM(a, b int) float64 {
	return (r.axles[a].WheelDiameterMM + r.axles[b].WheelDiameterMM) / 2
}

// along returns the rail spacing that a center distance leaves where the axles
// differ in height by step; 0 where it does not reach.
func along(center, step float64) float64 {
	if center <= step {
		return 0
	}
	return math.Sqrt((center - step) * (center + step))
}

// roomForWheels says that wheels would overlap in every plan, with what would
// just do.
func (p *problem) roomForWheels() error {
	total := 0.0
	for i := range p.gaps {
		least := along(p.wheelsTouchMM(i, i+1), p.heightStep(i))
		total += least
		for _, most := range []struct {
			field string
			value *float64
			slack float64
		}{{"TargetMM", p.gaps[i].TargetMM, p.tolerance}, {"MaxMM", p.gaps[i].MaxMM, 0}} {
			if most.value == nil || *most.value+most.slack >= least {
				continue
			}
			return &beltmath.NoSolutionError{
				Field: fmt.Sprintf("Gaps[%d].%s", i, most.field), Value: *most.value, Reason: ReasonWheelsTouch,
				Msg: fmt.Sprintf("the wheels of axles %d and %d would overlap; give at least %v, or smaller wheels",
					i+1, i+2, least-most.slack),
				Nearest: fmt.Sprint(least - most.slack),
			}
		}
	}
	if p.target+p.tolerance < total {
		return &beltmath.NoSolutionError{
			Field: "TargetWheelbaseMM", Value: p.target, Reason: ReasonWheelsTouch,
			Msg: fmt.Sprintf("the wheels would overlap; with wheels touching each other the wheelbase is %v: give more, or fewer or smaller wheels",
				total),
			Nearest: fmt.Sprint(total),
		}
	}
	return nil
}
