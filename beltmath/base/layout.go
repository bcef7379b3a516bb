package base

import (
	"github.com/beltspan/beltspan/beltmath"
)

// LinkInput is a belt of a Base as people describe it.
type LinkInput struct {
	// FromAxle and ToAxle are the indexes of the two axles the belt joins, from
	// the motor outward. The driver pulley of Drive sits on FromAxle.
	FromAxle, ToAxle int
	// Drive is the pulleys and the belt.
	Drive beltmath.DriveInput
	// Idler takes up what the belt is too long; nil where there is none.
	Idler *Idler
	// CenterDistanceMM is the true distance of the axles, above 0 and at most
	// 100000. It is needed with an idler where no plates are drilled, and not
	// allowed otherwise.
	CenterDistanceMM *float64
}

// Standoff is a post that ties the two plates of a side together.
type Standoff struct {
	// Center is its axis in the frame of the package.
	Center beltmath.Point
	// DiameterMM is that of the disc it needs, over corners if it has any;
	// above 0 and at most 1000.
	DiameterMM float64
	// HoleDiameterMM is the hole in the plates, 0 to 1000; 0 is not given.
	HoleDiameterMM float64
}

// Member is a bar of the frame that all sides share, such as a cross member.
type Member struct {
	// Name is what people call it; not empty, at most 100 bytes.
	Name string
	// Quantity is how many the whole base needs, 1 to 1000.
	Quantity int
	// LengthMM and EndAllowanceMM: exactly one. LengthMM is the length, above 0
	// and at most 100000. With EndAllowanceMM, -10000 to 10000, the member
	// spans from side to side and reaches that far beyond the inner plates'
	// outside faces at both ends.
	LengthMM, EndAllowanceMM *float64
	// StockLengthMM is the length in which its bar is bought, above 0 and at
	// most 100000; 0 where it is bought cut to length. Members of one stock
	// length are cut from one kind of bar.
	StockLengthMM float64
}

// Base is a vehicle base of equal sides, of which one is described.
type Base struct {
	// Axles is the row from the first axle on, 2 to 16 of them.
	Axles []Axle
	// DrivenAxles are the indexes of the axles on which motors act; empty is
	// the middle axle, of an even row the one before the middle.
	DrivenAxles []int
	// Links are the belts, 1 to 16.
	Links []LinkInput
	// CavityWidthMM is the clear distance of the two plates of a side, and
	// PlateThicknessMM how thick each is; above 0 and at most 10000.
	CavityWidthMM, PlateThicknessMM float64
	// PlateMarginMM is how far a plate reaches beyond the first and the last
	// axle, 0 to 10000. PlateHeightMM, above 0 and at most 10000, is its
	// height, half of it above y = 0.
	PlateMarginMM, PlateHeightMM float64
	// PulleyWidthMM is the width of every pulley over its flanges and hub,
	// above 0 and at most 1000, at least BeltWidthMM.
	PulleyWidthMM float64
	// BeltWidthMM is the width of every belt, above 0 and at most 1000.
	BeltWidthMM float64
	// PulleyGapMM is the least distance across the cavity between a pulley or
	// wheel and its neighbors, plates included, 0 to 1000.
	PulleyGapMM float64
	// Standoffs are those between the plates of one side, at most 200.
	Standoffs []Standoff
	// StandoffClearanceMM is the free distance wanted between standoffs, belts,
	// pulleys and wheels, 0 to 1000.
	StandoffClearanceMM float64
	// StandoffStockLengthMM is the length in which standoff bar is bought, 0 to
	// 100000; 0 where standoffs are bought cut to length.
	StandoffStockLengthMM float64
	// TrackWidthMM is the distance from wheel mid-plane to wheel mid-plane of
	// the outer sides, 0 to 100000; needed where a member has an end allowance.
	TrackWidthMM float64
	// Members are the bars of the whole base, at most 100 and 2000 pieces.
	Members []Member
	// KerfMM is the width the saw takes, 0 to 100.
	KerfMM float64
	// RoundUpMM is the step to which plate lengths are rounded up, 0.001 to
	// 1000; 0 leaves them.
	RoundUpMM float64
	// SideCount is how many equal sides are built, 1 to 100; nil is 2.
	SideCount *int
	// SideSlipForceN is the greatest force that the wheels of one side can put
	// on the floor together, in newtons, above 0 and at most 1000000. At most
	// one of SideSlipForceN and AxleTorqueNM.
	SideSlipForceN *float64
	// AxleTorqueNM is the greatest torque on each driven axle, in newton
	// meters, above 0 and at most 1000000.
	AxleTorqueNM *float64
	// AxlePositions are the axles as measured on drilled plates, in the frame
	// of the package; empty where the belts say where to drill.
	AxlePositions []beltmath.Point
	// BeltHeightMM, ToothHeightMM and PitchLineDifferentialMM are those of the
	// belts, in place of the tables' values; each above 0 and at most 100.
	// Needed where the tables hold none, and with a pitch alone.
	BeltHeightMM, ToothHeightMM, PitchLineDifferentialMM *float64
}

// LayOutQuery asks for the layout of a base.
type LayOutQuery struct {
	// Base is the base.
	Base Base
	// StandoffLinesMM are the heights y on which to look for room for
	// standoffs, at most 100. They need StandoffDiameterMM, above 0 and at most
	// 1000.
	StandoffLinesMM    []float64
	StandoffDiameterMM float64
	// Limits say what counts as fitting on drilled plates, and with Fit as good.
	Limits beltmath.FitLimits
	// Stock is the parts bin; nil where there is none.
	Stock *beltmath.Stock
	// Fit are the tolerances the base is built to; nil asks for no shares.
	Fit *Fit
}

// LayOutBase lays a side of a base out: where the axles go, what sits on them,
// what clears what, what to cut and what to buy. Its error is InputErrors or a
// *beltmath.NoSolutionError.
//
// Center distances are as exact as beltmath.Pitch.CenterMM, all other lengths
// within 1e-9 mm for rows up to 100 m. Clearances and zones are exact for this
// model: wheels and standoffs are discs; a pulley is a disc to its flange or to
// the back of the belt on it, whichever is larger; a straight span is its pitch
// line thickened outward by the belt's back (belt height - tooth height - pitch
// line differential) and inward by the tooth (pitch line differential + tooth
// height). All belts count, whatever their lane, since a standoff crosses the
// whole cavity. A sagging or trembling belt needs more.
func LayOutBase(q LayOutQuery) (Layout, error) {
	p, err := q.resolve()
	if err != nil {
		return Layout{}, err
	}
	l := Layout{
		WheelbaseMM: p.wheelbase(),
		FloorYMM:    p.floor(),
	}
	l.Links = p.linkLayouts()
	l.Axles = p.axleLayouts()
	l.Standoffs = p.standoffLayouts()
	l.Clearances = p.clearances()
	l.Stacks = p.stacks()
	l.StandoffZones = p.zones(q.StandoffDiameterMM)
	l.Cuts = p.cuts()
	l.CutPlans = p.cutPlans(l.Cuts)
	l.Parts = p.parts(&l)
	l.Notes = p.notes(&l)
	if err := p.addFit(&l); err != nil {
		return Layout{}, err
	}
	return l, nil
}
