package base

import (
	"fmt"
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// cuts returns what is cut to length for all sides: members, standoffs, plates.
func (p *layoutProblem) cuts() []Cut {
	var cuts []Cut
	for _, m := range p.Members {
		cuts = append(cuts, Cut{
			Kind: PartKindMember, Name: m.Name, LengthMM: p.memberLength(m), Quantity: m.Quantity, StockLengthMM: m.StockLengthMM,
		})
	}
	if len(p.Standoffs) > 0 {
		cuts = append(cuts, Cut{
			Kind: PartKindStandoff, Name: "standoff", LengthMM: p.CavityWidthMM,
			Quantity: len(p.Standoffs) * p.sides, StockLengthMM: p.StandoffStockLengthMM,
		})
	}
	return append(cuts, Cut{Kind: PartKindPlate, Name: "side plate", LengthMM: p.plateLength(), Quantity: 2 * p.sides})
}

// checkCuts refuses members that cannot be cut.
func (p *layoutProblem) checkCuts(in *inputs) {
	for i, m := range p.Members {
		length := p.memberLength(m)
		switch {
		case length <= 0:
			in.add(fmt.Sprintf("Members[%d].EndAllowanceMM", i), *m.EndAllowanceMM, beltmath.ReasonOutOfRange, fmt.Sprintf(
				"the member would be %s mm long: give more than %s, or a wider track", size(length), size(*m.EndAllowanceMM-length/2)))
		case m.StockLengthMM > 0 && length > m.StockLengthMM+gapSlackMM:
			in.add(fmt.Sprintf("Members[%d].StockLengthMM", i), m.StockLengthMM, ReasonBarTooShort, fmt.Sprintf(
				"the member is %s mm long: give at least that, or 0 where it is bought cut to length", size(length)))
		}
	}
}

// plateFace returns how far the outside face of the inner plate is from the
// mid-plane of the wheels.
func (p *layoutProblem) plateFace() float64 { return p.wheelMidZ + p.PlateThicknessMM }

// memberLength returns the length of a member: as given, or from inner plate to
// inner plate with its allowance at both ends.
func (p *layoutProblem) memberLength(m Member) float64 {
	if m.LengthMM != nil {
		return *m.LengthMM
	}
	return p.TrackWidthMM - 2*p.plateFace() + 2**m.EndAllowanceMM
}

// plateLength returns the wheelbase and both margins, rounded up.
func (p *layoutProblem) plateLength() float64 {
	length := p.wheelbase() + 2*p.PlateMarginMM
	if p.RoundUpMM == 0 {
		return length
	}
	return math.Ceil((length-gapSlackMM)/p.RoundUpMM) * p.RoundUpMM
}

// running returns the running dimensions of a point: from the end of the plate
// at the first axle, and up from its lower edge.
func (p *layoutProblem) running(at beltmath.Point) (fromEnd, fromEdge float64) {
	first, _ := p.plateEnds()
	return at.XMM - first, at.YMM + p.PlateHeightMM/2
}
