package beltmath

import "math"

// Point is a point in millimeters. In a drive the driver's center is the
// origin, the driven pulley lies on +x, y points up.
type Point struct{ XMM, YMM float64 }

// Sensitivity holds the derivatives of the center distance at a solution,
// each with the rest of the drive unchanged.
type Sensitivity struct {
	// PerBeltToothMM, PerDriverToothMM and PerDrivenToothMM are millimeters
	// for one tooth more.
	PerBeltToothMM, PerDriverToothMM, PerDrivenToothMM float64
	// PerBeltLength is millimeters for one millimeter of belt length.
	PerBeltLength float64
}

// PulleyGeometry is one pulley in a solved drive.
type PulleyGeometry struct {
	// ToothCount is the number of grooves.
	ToothCount int
	// PitchDiameterMM is pitch times teeth over pi.
	PitchDiameterMM float64
	// OutsideDiameterMM is nil where the pitch line differential is not held.
	OutsideDiameterMM *float64
	// WrapRad is the whole arc of contact.
	WrapRad float64
	// MeshedToothCount is the number of whole teeth inside the arc.
	MeshedToothCount int
	// Center is the axis; UpperTangent and LowerTangent are where the spans
	// leave the pitch circle.
	Center, UpperTangent, LowerTangent Point
}

// Geometry is a solved drive.
type Geometry struct {
	// Drive is what was solved.
	Drive Drive
	// BeltLengthMM is the pitch length, CenterDistanceMM the exact center
	// distance, SpanLengthMM one straight span from tangent to tangent.
	BeltLengthMM, CenterDistanceMM, SpanLengthMM float64
	// SpeedRatio is driven teeth over driver teeth.
	SpeedRatio float64
	// Sensitivity tells how the center distance follows small changes.
	Sensitivity Sensitivity
	// Driver and Driven are the pulleys.
	Driver, Driven PulleyGeometry
}

// Geometry solves the drive. Its error is that of Center.
//
// The center distance is as exact as CenterMM; lengths, angles and
// derivatives are within some units in the last place.
func (d Drive) Geometry() (Geometry, error) {
	c, err := d.Center()
	if err != nil {
		return Geometry{}, err
	}
	return d.geometryAt(c), nil
}

// geometryAt fills the geometry in for the exact center distance c.
func (d Drive) geometryAt(c float64) Geometry {
	p := d.Pitch.MM()
	g := Geometry{
		Drive:            d,
		BeltLengthMM:     d.Pitch.BeltPitchLengthMM(d.BeltToothCount),
		CenterDistanceMM: c,
		SpeedRatio:       float64(d.Driven.ToothCount) / float64(d.Driver.ToothCount),
	}
	r1 := d.Pitch.PitchDiameterMM(d.Driver.ToothCount) / 2
	r2 := d.Pitch.PitchDiameterMM(d.Driven.ToothCount) / 2
	diff := p * float64(d.Driver.ToothCount-d.Driven.ToothCount) / (2 * math.Pi)
	g.SpanLengthMM = math.Sqrt((c - diff) * (c + diff))
	// The spans leave both pulleys under the same angle from the line of
	// centers; its cosine and sine are exact in diff and the span.
	cos, sin := diff/c, g.SpanLengthMM/c
	wrap := d.driverWrapRad()
	g.Driver = d.pulleyGeometry(d.Driver, wrap, r1, Point{}, cos, sin)
	g.Driven = d.pulleyGeometry(d.Driven, 2*math.Pi-wrap, r2, Point{XMM: c}, cos, sin)
	g.Sensitivity = Sensitivity{
		PerBeltToothMM:   p / (2 * sin),
		PerDriverToothMM: -p * g.Driver.WrapRad / (4 * math.Pi * sin),
		PerDrivenToothMM: -p * g.Driven.WrapRad / (4 * math.Pi * sin),
		PerBeltLength:    1 / (2 * sin),
	}
	return g
}

// driverWrapRad returns the whole arc of contact on the driver.
func (d Drive) driverWrapRad() float64 {
	m := d.Driven.ToothCount - d.Driver.ToothCount
	w := 2*d.BeltToothCount - d.Driven.ToothCount - d.Driver.ToothCount
	small := 2 * smallWrapRad(max(m, -m), w)
	if m < 0 {
		return 2*math.Pi - small
	}
	return small
}

func (d Drive) pulleyGeometry(pulley Pulley, wrap, radius float64, center Point, cos, sin float64) PulleyGeometry {
	g := PulleyGeometry{
		ToothCount:       pulley.ToothCount,
		PitchDiameterMM:  2 * radius,
		WrapRad:          wrap,
		MeshedToothCount: meshedTeeth(pulley.ToothCount, wrap),
		Center:           center,
		UpperTangent:     Point{XMM: center.XMM + radius*cos, YMM: radius * sin},
		LowerTangent:     Point{XMM: center.XMM + radius*cos, YMM: -radius * sin},
	}
	if d.Section != nil {
		if od, _, ok := d.Section.OutsideDiameterMM(pulley.ToothCount); ok {
			g.OutsideDiameterMM = &od
		}
	}
	return g
}

// MeshedToothCount returns the lesser of the two pulleys' meshed teeth, that
// of the smaller pulley.
func (g Geometry) MeshedToothCount() int {
	return min(g.Driver.MeshedToothCount, g.Driven.MeshedToothCount)
}
