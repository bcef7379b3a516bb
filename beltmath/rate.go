package beltmath

import "math"

// The bounds of a RateQuery, and its default.
const (
	maxPowerW            = 1e9
	leastSpeedRPM        = 0.001 // of a power: it is divided by the speed
	maxSpeedRPM          = 1e5
	leastServiceFactor   = 1
	maxServiceFactor     = 10
	defaultServiceFactor = 1.5 // the lesser of the usual values for small pitches, S24
	leastWorkingTensionN = 0.001
	maxWorkingTensionN   = 1e7
	leastRatedWidthMM    = 0.001
	leastMassKgPerM      = 1e-6
	maxMassKgPerM        = 100
	maxWheelDiameterMM   = 10000
)

// RateQuery asks what a drive carries and how to set it.
type RateQuery struct {
	// Drive is the drive.
	Drive DriveInput
	// CenterDistanceMM is that of the built drive, above 0 and at most 250000.
	CenterDistanceMM float64
	// BeltWidthMM is 0.001 to 1000.
	BeltWidthMM float64
	// TorqueNM on the driver, 0 to 1000000, or PowerW, 0 to 1e9: exactly one.
	// Power needs a speed of at least 0.001.
	TorqueNM, PowerW *float64
	// SpeedRPM is that of the driver, 0 to 100000 revolutions per minute.
	SpeedRPM float64
	// ServiceFactor multiplies the pull, 1 to 10; nil is 1.5.
	ServiceFactor *float64
	// WorkingTensionN, 0.001 to 1e7, at BaseWidthMM, 0.001 to 1000, are the
	// maker's: both or none. Nil is the section's rating.
	WorkingTensionN, BaseWidthMM *float64
	// MassKgPerM is the belt's, at BaseWidthMM or else at the width of the
	// section's rating, 1e-6 to 100; nil is the section's.
	MassKgPerM *float64
	// WheelDiameterMM is that of a wheel on the driven axle, above 0 and at
	// most 10000; nil without.
	WheelDiameterMM *float64
}

// RateAnswer is what a drive carries and how to set it. The design pull is
// effective tension times service factor.
type RateAnswer struct {
	// EffectiveTensionN is tight minus slack span, without service factor.
	EffectiveTensionN float64
	// MeshedToothFactor is 1 from six teeth in mesh, 0.2 less for each one
	// missing, at least 0.
	MeshedToothFactor float64
	// WidthFactor is (width/base width)^1.14.
	WidthFactor float64
	// CentrifugalTensionN is mass per length times speed squared; nil where no
	// mass is known.
	CentrifugalTensionN *float64
	// AllowableTensionN is working tension times both factors, less the
	// centrifugal tension where known; at least 0.
	AllowableTensionN float64
	// Utilization is design pull over allowable tension; nil where that is 0.
	Utilization *float64
	// StaticTensionN is what to set in each span at rest.
	StaticTensionN float64
	// SpanFrequencyHz is that of a plucked span; nil where no mass is known.
	SpanFrequencyHz *float64
	// DeflectionMM of the middle of a span takes DeflectionForceN.
	DeflectionMM, DeflectionForceN float64
	// ShaftLoadN is the load on either shaft at the design pull.
	// ShaftLoadDirectionRad is its direction on the driver's shaft, counter-
	// clockwise from the line to the driven pulley, for a driver that turns
	// counter-clockwise.
	ShaftLoadN, ShaftLoadDirectionRad float64
	// BeltSpeedMPerS and VehicleSpeedMPerS are in meters per second; the second
	// is nil without a wheel.
	BeltSpeedMPerS    float64
	VehicleSpeedMPerS *float64
	// Notes tell what deserves a look. A NoteOffExact comes first: where the
	// stated center distance is rejected, no number here holds. NoteBeyondRating
	// or NoteNoCapacity follow.
	Notes []Note
}

// rateCase is a checked RateQuery.
type rateCase struct {
	drive         Drive
	span          float64 // length of one span in mm
	inclination   float64 // sine of the angle of the spans to the line of centers, driven larger above 0
	speed         float64 // of the belt in m/s
	serviceFactor float64

	workingTension, baseWidth float64
	mass                      float64 // kg/m of this belt, 0 where unknown
	tensionSource, massSource *Value  // of the tables, where used
}

// RateDrive compares the pull on a belt with what it carries. Its error is
// InputErrors, among them reason NO_RATING_HELD, or a *NoSolutionError.
//
// With z, d the driver's teeth and pitch diameter, p the pitch, n the speed, b
// the belt width, t the span length and m the mass per length of this belt:
//
//	v  = p z n / 60000                        S17
//	Te = 2000 M / d, or P / v                 ISO 5295
//	kz = 1 - 0.2 (6 - meshed), at most 1      S40, S13
//	kw = (b/b0)^1.14                          ISO 5295, from memory
//	Ta = kz kw T0 - m v^2                     ISO 5295, from memory
//	T1 = 8/7 Te', T2 = 1/7 Te', Te' = s Te    makers' drive manuals, from memory
//	Tst = (T1 + T2)/2 + m v^2
//	f  = sqrt(Tst/m) / (2 t)                  S20
//	F  = Tst/16 at t/64                       S6, without its belt constant
//
// The shaft load is the vector sum of T1 and T2 along the spans. Teeth in mesh
// are those of the exact center distance, spans those of the stated one.
func RateDrive(q RateQuery) (RateAnswer, error) {
	var r rateCase
	if err := r.resolve(&q); err != nil {
		return RateAnswer{}, err
	}
	a := RateAnswer{
		EffectiveTensionN: r.effectiveTensionN(&q),
		MeshedToothFactor: meshedToothFactor(r.drive.meshedTeeth()),
		WidthFactor:       math.Pow(q.BeltWidthMM/r.baseWidth, widthExponent),
		BeltSpeedMPerS:    r.speed,
	}
	centrifugal := r.mass * r.speed * r.speed
	design := r.serviceFactor * a.EffectiveTensionN
	a.AllowableTensionN = max(0, a.MeshedToothFactor*a.WidthFactor*r.workingTension-centrifugal)
	if a.AllowableTensionN > 0 {
		a.Utilization = new(design / a.AllowableTensionN)
	}
	a.setTension(&r, design, centrifugal)
	a.ShaftLoadN, a.ShaftLoadDirectionRad = shaftLoad(design, r.inclination)
	if q.WheelDiameterMM != nil {
		ratio := float64(r.drive.Driver.ToothCount) / float64(r.drive.Driven.ToothCount)
		a.VehicleSpeedMPerS = new(math.Pi * *q.WheelDiameterMM * q.SpeedRPM * ratio / 60000)
	}
	a.Notes = r.notes(&q, &a)
	return a, nil
}

func (r *rateCase) effectiveTensionN(q *RateQuery) float64 {
	if q.TorqueNM != nil {
		return r.drive.effectiveTensionN(*q.TorqueNM)
	}
	return *q.PowerW / r.speed
}

// meshedToothFactor is what few teeth in mesh leave of a rating. The rule is
// printed down to two teeth.
//
// Sources: S40 prints it, S13 confirms the limit of six.
func meshedToothFactor(meshed int) float64 {
	missing := max(0, recommendedMeshedTeeth-meshed)
	return max(0, float64(5-missing)/5)
}
