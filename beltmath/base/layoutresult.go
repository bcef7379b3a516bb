package base

import "github.com/beltspan/beltspan/beltmath"

// Layout is a side laid out, with the cuts and parts of the whole base. Points
// are in the frame of the package.
type Layout struct {
	// Axles are the axles, in their order.
	Axles []AxleLayout
	// Links are the belts, in their order.
	Links []LinkLayout
	// Standoffs are the standoffs, in their order.
	Standoffs []StandoffLayout
	// Clearances are the distances that matter.
	Clearances []Clearance
	// Stacks are the parts on each axle, in the order of the axles.
	Stacks []Stack
	// StandoffZones are where standoffs have room on the asked lines.
	StandoffZones []StandoffZone
	// Cuts are what is cut to length, for all sides.
	Cuts []Cut
	// CutPlans say how to cut it from bars, one for each kind of bar.
	CutPlans []CutPlan
	// Parts are what the whole base needs.
	Parts []Part
	// WheelbaseMM is the distance along the rail from the first axle to the
	// last.
	WheelbaseMM float64
	// FloorYMM is the height y of the floor: the lowest point of the lowest
	// wheel. Where a rocking base touches it is not modeled.
	FloorYMM float64
	// Fit says how likely the belts are good; nil where not asked for.
	Fit *FitShares
	// Notes tell what deserves a look.
	Notes []beltmath.Note
}

// AxleLayout is one axle in place.
type AxleLayout struct {
	// Center is its axis.
	Center beltmath.Point
	// HoleDiameterMM is the hole in the plates; 0 where it was not given.
	HoleDiameterMM float64
	// FromEndMM and FromEdgeMM are its running dimensions: along the rail from
	// the end of the plate at the first axle, and up from its lower edge.
	FromEndMM, FromEdgeMM float64
}

// Lane is the plane across the cavity in which a belt runs.
type Lane int

// The lanes.
const (
	LaneInboard  Lane = iota + 1 // beside the inner plate
	LaneOutboard                 // beside the outer plate
)

// LinkLayout is one belt in place.
type LinkLayout struct {
	// FromAxle and ToAxle are those of the link.
	FromAxle, ToAxle int
	// Geometry is the solved drive with its points in the frame of the
	// package. On drilled plates the points are where the axles are and the
	// center distance is the one the belt wants.
	Geometry beltmath.Geometry
	// RailSpacingMM is the distance of the two axles along the rail.
	RailSpacingMM float64
	// Lane is where the belt runs.
	Lane Lane
	// DownstreamWheelCount is how many wheels this belt drives.
	DownstreamWheelCount int
	// EffectiveTensionN is the greatest pull of tight span less slack span, in
	// newtons: all of the force on one wheel, or all of the torque through this
	// belt. nil where neither is given, and where nothing drives the belt.
	EffectiveTensionN *float64
	// Drilled tells how the belt fits axles that are already in place; nil
	// where the belt says where to drill.
	Drilled *DrilledLink
	// Idler is where the idler of the link stands; nil without one, and where
	// no place in its range fits, which Drilled tells then. With an idler the
	// Geometry is that of the drive without it, its points where the axles are.
	Idler *IdlerLayout
}

// IdlerLayout is an idler in place.
type IdlerLayout struct {
	IdlerPlace
	// CenterDistanceMM is that of the axles between which it stands.
	CenterDistanceMM float64
	// HoleDiameterMM is the hole in the plates; 0 where it was not given.
	HoleDiameterMM float64
	// FromEndMM and FromEdgeMM are running dimensions as in AxleLayout.
	FromEndMM, FromEdgeMM float64
	// Stack is what sits on its bolt.
	Stack Stack
}

// DrilledLink tells how a belt fits drilled holes.
type DrilledLink struct {
	// CenterDistanceMM is that of the holes.
	CenterDistanceMM float64
	// DeviationMM is it less the center distance the belt wants: above 0 is
	// tight, below 0 slack.
	DeviationMM float64
	// Verdict judges the deviation and the teeth in mesh; of a link with an
	// idler whether that has a place in its range, and the teeth in mesh.
	Verdict beltmath.Verdict
	// MoveAxle is the axle to move for an exact fit, with all axles beyond it,
	// and MoveMM how far along x. nil where the belt cannot fit at all, and with
	// an idler.
	MoveAxle int
	MoveMM   *float64
	// MoveAlone tells that the axle moves while all others stay, which lets both
	// its belts fit where neither does.
	MoveAlone bool
	// Substitutes are what serves in place of the belt; see LayOutQuery.
	Substitutes []LinkSubstitute
}

// StandoffVerdict judges a standoff.
type StandoffVerdict int

// The verdicts on a standoff, from good to bad.
const (
	StandoffVerdictClear    StandoffVerdict = iota + 1 // as free as wanted
	StandoffVerdictTooClose                            // free, but by less than the clearance
	StandoffVerdictHits                                // it touches or overlaps
)

// StandoffLayout is one standoff in place.
type StandoffLayout struct {
	// Center is its axis.
	Center beltmath.Point
	// HoleDiameterMM is the hole in the plates; 0 where it was not given.
	HoleDiameterMM float64
	// FromEndMM and FromEdgeMM are running dimensions as in AxleLayout.
	FromEndMM, FromEdgeMM float64
	// Verdict judges it by GapMM, the least free distance, which is to Nearest.
	Verdict StandoffVerdict
	GapMM   float64
	Nearest string
	// InsideLoop tells that a belt runs round it: it goes in with or after the
	// belt.
	InsideLoop bool
}

// ClearanceKind says between what a clearance is.
type ClearanceKind int

// The kinds of clearance.
const (
	ClearanceKindWheelWheel       ClearanceKind = iota + 1 // two wheels of the row
	ClearanceKindWheelStandoff                             // a standoff and the nearest wheel
	ClearanceKindStandoffBelt                              // a standoff and the nearest belt
	ClearanceKindStandoffPulley                            // a standoff and the nearest pulley
	ClearanceKindFlangeFloor                               // the lowest flange or belt on an axle and the floor
	ClearanceKindBeltAxle                                  // a belt and what it passes on an axle of others
	ClearanceKindPulleyPulley                              // two pulleys of different belts in one lane
	ClearanceKindStandoffStandoff                          // two standoffs nearer than the clearance
	ClearanceKindIdlerWheel                                // an idler or its bolt and the nearest wheel
	ClearanceKindIdlerBelt                                 // an idler or its bolt and the nearest belt, its own where it runs past it
	ClearanceKindIdlerPulley                               // an idler or its bolt and the nearest pulley or other idler
)

// Clearance is the free distance of two parts.
type Clearance struct {
	// Kind says what the parts are.
	Kind ClearanceKind
	// Between names the two parts; people count from 1.
	Between [2]string
	// GapMM is the free distance, below 0 where they overlap.
	GapMM float64
	// RequiredMM is the distance wanted: StandoffClearanceMM for standoffs,
	// passed axles and idlers, else 0, which must be exceeded.
	RequiredMM float64
	// Clear tells whether the gap will do.
	Clear bool
}

// StandoffZone is a stretch of a line on which the center of a standoff may
// lie, both ends included.
type StandoffZone struct {
	// YMM is the height of the line; FromMM and ToMM are the ends along x.
	YMM, FromMM, ToMM float64
	// InsideLoop tells that a belt runs round it: the standoff goes in with or
	// after the belt.
	InsideLoop bool
}

// PartKind says what a part is.
type PartKind int

// The kinds of part.
const (
	PartKindBelt     PartKind = iota + 1 // closed timing belt
	PartKindPulley                       // toothed pulley
	PartKindWheel                        // wheel
	PartKindSpacer                       // sleeve on an axle
	PartKindAxle                         // live shaft or dead bolt
	PartKindStandoff                     // post between the plates of a side
	PartKindPlate                        // side plate
	PartKindMember                       // bar of the frame
	PartKindIdler                        // wheel that takes up what a belt is too long
)

// Stack is what sits on one axle from the inner plate to the outer one.
type Stack struct{ Parts []StackPart }

// StackPart is one part of a stack.
type StackPart struct {
	// Part is a spacer, a pulley, an idler or the wheel.
	Part PartKind
	// Link is the index of the pulley's or idler's link; nil for other parts.
	Link *int
	// StartMM and EndMM are its ends on z.
	StartMM, EndMM float64
}

// Cut is what is cut to one length, for all sides.
type Cut struct {
	// Kind is a member, a standoff or a plate.
	Kind PartKind
	// Name is the member's name, or "standoff" or "side plate".
	Name string
	// LengthMM is the length of each.
	LengthMM float64
	// Quantity is how many.
	Quantity int
	// StockLengthMM is the bar it comes from; 0 where none was given.
	StockLengthMM float64
}

// MinimumProof says how it is known that no plan needs fewer bars.
type MinimumProof int

// The proofs.
const (
	MinimumProofBound      MinimumProof = iota + 1 // as few as ceil(sum (length + kerf) / (stock + kerf))
	MinimumProofExhaustion                         // every plan with fewer bars was tried
	MinimumProofNone                               // not proved
)

// CutPlan says how to cut parts from bars of one length.
type CutPlan struct {
	// Kind is a member or a standoff.
	Kind PartKind
	// StockLengthMM is the length of the bars.
	StockLengthMM float64
	// Bars are the bars, fullest first.
	Bars []Bar
	// BoundBarCount is the least number that total length and kerf allow.
	BoundBarCount int
	// Proof says whether fewer bars can do.
	Proof MinimumProof
}

// Bar is one bar with its cuts.
type Bar struct {
	// Pieces are the cuts, longest first.
	Pieces []Piece
	// RestMM is what is left, the kerf of the last cut taken off.
	RestMM float64
}

// Piece is one piece of a bar.
type Piece struct {
	// Name is that of its Cut.
	Name string
	// LengthMM is its length.
	LengthMM float64
}

// Part is a kind of part and how many the whole base takes.
type Part struct {
	// Kind says what it is.
	Kind PartKind
	// Designation says which, such as "870 H5M, 174 teeth, 25 mm wide". Sizes
	// are rounded to 0.001 mm.
	Designation string
	// Quantity is how many are still to be had: NeededQuantity less what is in
	// the stock.
	Quantity int
	// NeededQuantity is how many all sides take together.
	NeededQuantity int
}
