package beltmath

import "math"

// The shares of the design pull that the tight and the slack span carry when
// the tight one has eight times the tension of the other.
//
// Source: makers' drive design manuals, from memory: spans of 144067 and 18008
// lbf times hp/(in rpm), a ratio of 8.000; no standard was seen.
const (
	tightShare = 8.0 / 7
	slackShare = 1.0 / 7
)

// deflectionRatio is the span length over the deflection at which its force is
// stated. Source: S6.
const deflectionRatio = 64

// setTension fills in the tension to set and how to measure it, for a design
// pull and a centrifugal tension in newtons.
func (a *RateAnswer) setTension(r *rateCase, design, centrifugal float64) {
	a.StaticTensionN = (tightShare+slackShare)/2*design + centrifugal
	a.DeflectionMM = r.span / deflectionRatio
	a.DeflectionForceN = stringForce(a.StaticTensionN)
	if r.mass > 0 {
		a.CentrifugalTensionN = new(centrifugal)
		a.SpanFrequencyHz = new(stringFrequency(a.StaticTensionN, r.mass, r.span))
	}
}

// stringForce returns the force in newtons that deflects a string of the given
// tension by 1/64 of its length in its middle: 4 T f/t. Stiff belts need more.
//
// Source: S6, equations 1-3 and 1-4 without the belt constant.
func stringForce(tensionN float64) float64 { return 4 * tensionN / deflectionRatio }

// stringFrequency returns the frequency in Hz of a string of the given tension,
// mass in kg/m and length in mm. Short, stiff spans sound higher.
//
// Source: S20, T = 4 m t^2 f^2.
func stringFrequency(tensionN, massKgPerM, lengthMM float64) float64 {
	return math.Sqrt(tensionN/massKgPerM) / (2 * lengthMM / 1000)
}

// shaftLoad returns size and direction of the sum of both spans' pulls on the
// driver, which turns counter-clockwise: its upper span is the tight one.
// inclination is the sine of the angle at which the upper span leaves the line
// of centers.
func shaftLoad(design, inclination float64) (size, direction float64) {
	tight, slack := tightShare*design, slackShare*design
	along := (tight + slack) * math.Sqrt((1-inclination)*(1+inclination))
	across := (tight - slack) * inclination
	return math.Hypot(along, across), math.Atan2(across, along)
}
