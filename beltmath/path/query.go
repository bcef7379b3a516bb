package path

import (
	"github.com/beltspan/beltspan/beltmath"
)

// Kind says what a wheel's rim is.
type Kind int

// The kinds of wheels.
const (
	KindToothed Kind = iota + 1 // grooves, in mesh with the belt's teeth
	KindSmooth                  // a plain rim
)

// Side says where a wheel stands.
type Side int

// The sides of the belt.
const (
	SideInside  Side = iota + 1 // within the loop, on the toothed side of the belt
	SideOutside                 // beyond the loop, on the back of the belt
)

// Wheel is one wheel that the belt goes round.
type Wheel struct {
	// Kind says what the rim is.
	Kind Kind
	// ToothCount is 6 to 600; for toothed wheels only.
	ToothCount *int
	// DiameterMM is that of the rim, above 0 and at most 20000; for smooth
	// wheels only.
	DiameterMM *float64
	// Side says where the wheel stands. Toothed wheels stand inside: a belt
	// with teeth on both sides is not modeled.
	Side Side
	// Center is the axis, coordinates from -250000 to 250000. It is not read
	// for the wheel that moves.
	Center *beltmath.Point
	// Name is what texts call it; empty is "wheel 1" and so on.
	Name string
}

// Segment is a straight way.
type Segment struct {
	// From and To are its ends, which may not be one point; both are needed.
	From, To *beltmath.Point
}

// Arc is a way round a point.
type Arc struct {
	// Center is the point it goes round; it is needed.
	Center *beltmath.Point
	// RadiusMM is above 0 and at most 250000.
	RadiusMM float64
	// FromDeg and ToDeg are the angles of its ends, counter-clockwise from the
	// x axis, -720 to 720; they differ, by 360 at most. The arc leads from the
	// first to the second, clockwise where that is less.
	FromDeg, ToDeg float64
}

// Moving names the wheel whose position is looked for. Exactly one of Segment
// and Arc.
type Moving struct {
	// WheelIndex counts from 0.
	WheelIndex int
	// Segment is the way that the wheel's axis can take.
	Segment *Segment
	// Arc is the way that the wheel's axis can take.
	Arc *Arc
}

// Query asks for the length of a path, or for the positions of one wheel.
type Query struct {
	// Section and PitchMM: exactly one.
	Section string
	PitchMM *float64
	// BeltHeightMM, ToothHeightMM and PitchLineDifferentialMM are those of the
	// belt at hand, 0 to 100; where not given, those held for the section
	// serve. They matter for smooth wheels only.
	BeltHeightMM, ToothHeightMM, PitchLineDifferentialMM *float64
	// Wheels are 2 to 12 wheels in the order in which the belt meets them,
	// either direction round.
	Wheels []Wheel
	// BeltToothCount is 7 to 5000. Needed with Moving.
	BeltToothCount *int
	// Moving is nil where every wheel stays.
	Moving *Moving
}

// OfDrive is the query for a drive of two pulleys at a center distance: the
// driver at the origin, the driven pulley on +x.
func OfDrive(d beltmath.Drive, centerMM float64) Query {
	q := Query{Wheels: []Wheel{
		{Kind: KindToothed, Side: SideInside, ToothCount: &d.Driver.ToothCount, Center: &beltmath.Point{}},
		{Kind: KindToothed, Side: SideInside, ToothCount: &d.Driven.ToothCount, Center: &beltmath.Point{XMM: centerMM}},
	}}
	if d.Section != nil {
		q.Section = d.Section.Designation
	} else {
		q.PitchMM = new(d.Pitch.MM())
	}
	return q
}

// WheelGeometry is one wheel of a solved path.
type WheelGeometry struct {
	// Center is the axis.
	Center beltmath.Point
	// PitchRadiusMM is the radius of the pitch line on the wheel.
	PitchRadiusMM float64
	// RimRadiusMM is the radius of the wheel itself: over its teeth, or over
	// its pitch circle where the pitch line differential is not held.
	RimRadiusMM float64
	// WrapRad is the arc of contact, 0 to 2 pi.
	WrapRad float64
	// ContactLengthMM is the arc of contact along the pitch line.
	ContactLengthMM float64
	// MeshedToothCount is the number of whole teeth inside the arc; 0 for a
	// smooth wheel.
	MeshedToothCount int
	// WrapFrom and WrapTo are the ends of the arc on the pitch line; it leads
	// from the first to the second counter-clockwise.
	WrapFrom, WrapTo beltmath.Point
}

// Span is a straight part of the belt.
type Span struct {
	// From and To are its ends on the pitch line, in belt order.
	From, To beltmath.Point
	// LengthMM is the distance between them.
	LengthMM float64
}

// Solution is one belt path.
type Solution struct {
	// Wheels are in the order of the query.
	Wheels []WheelGeometry
	// Spans are the straight parts: span i leads from wheel i to the next one.
	Spans []Span
	// BeltLengthMM is the length of the path.
	BeltLengthMM float64
	// ExactToothCount is that length in pitches.
	ExactToothCount float64
	// CounterClockwise tells in which direction the order of the wheels goes
	// round the loop.
	CounterClockwise bool
	// PositionMM is how far along its way the moving wheel is, measured along
	// the segment or arc; nil where no wheel moves.
	PositionMM *float64
	// LengthPerMM is by how much the path grows for each millimeter farther
	// along the way; nil where no wheel moves.
	LengthPerMM *float64
}

// Answer is the paths that a query has.
type Answer struct {
	// Solutions are sorted along the way; exactly one where no wheel moves.
	Solutions []Solution
	// ToothSideMM and BackMM are how far the belt reaches from its pitch line,
	// to the tips of its teeth and to its back; nil where heights are unknown.
	ToothSideMM, BackMM *float64
	// Notes tell what deserves a look.
	Notes []beltmath.Note
}
