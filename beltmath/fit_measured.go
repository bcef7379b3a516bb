package beltmath

import (
	"fmt"
	"math"
)

// BeltMeasurement is one belt, measured on two pulleys of its pitch.
type BeltMeasurement struct {
	// Driver and Driven are the pulleys it was measured on.
	Driver, Driven Pulley
	// CenterDistanceMM is the center distance at which it is taut under its
	// measuring force, above 0 and at most 250000.
	CenterDistanceMM float64
	// UncertaintyMM is how far that may be off, both ways, 0 to 10; three
	// standard deviations.
	UncertaintyMM float64
}

func (m *BeltMeasurement) check(errs *InputErrors) {
	before := len(*errs)
	m.Driver.check(errs, "Driver.")
	m.Driven.check(errs, "Driven.")
	errs.CheckPositive("CenterDistanceMM", m.CenterDistanceMM, greatestCenterMM)
	errs.CheckRange("UncertaintyMM", m.UncertaintyMM, 0, maxToleranceMM)
	for _, e := range (*errs)[before:] {
		e.Field = "BeltMeasurement." + e.Field
	}
}

// measuredBelt returns what the measured belt does to the deviation: it wants
// another center distance than the nominal one. A measurement that another
// tooth count explains better is refused.
func (f *fitCase) measuredBelt(m *BeltMeasurement, errs *InputErrors) fitPart {
	pitch := f.drive.Pitch
	on := Drive{Profile: f.drive.Profile, Driver: m.Driver, Driven: m.Driven, BeltToothCount: f.drive.BeltToothCount}
	nominal := pitch.CenterMM(m.Driver.ToothCount, m.Driven.ToothCount, f.drive.BeltToothCount)
	if math.IsNaN(nominal) {
		errs.add("BeltMeasurement.Driven.ToothCount", m.Driven.ToothCount, ReasonOutOfRange,
			fmt.Sprintf("a belt of %d teeth does not reach round the pulleys it was measured on; give pulleys of fewer teeth", f.drive.BeltToothCount))
		return fitPart{}
	}
	p := pitch.MM()
	teeth := plainBeltTeeth(float64(m.Driver.ToothCount), float64(m.Driven.ToothCount), m.CenterDistanceMM/p)
	excess := teeth - float64(f.drive.BeltToothCount)
	if !(math.Abs(excess) <= 0.5) {
		reach := p / (2 * on.lengthPerCenter(nominal))
		errs.add("BeltMeasurement.CenterDistanceMM", m.CenterDistanceMM, ReasonOutOfRange,
			fmt.Sprintf("a belt of %d teeth is taut on these pulleys at %.3f mm; give a distance within half a tooth of that, about %.3f mm, or mend the pulleys or the belt",
				f.drive.BeltToothCount, nominal, reach))
		return fitPart{}
	}
	f.measuredExcessMM = excess * p
	part := bothWays(m.UncertaintyMM * on.lengthPerCenter(m.CenterDistanceMM) / (2 * f.sine))
	return part.plus(certain(f.exact - f.drive.centerOfTeeth(teeth, f.exact)))
}

// centerOfTeeth returns the center distance of a belt of any real number of
// teeth, by Newton's method on the length equation from the center distance c
// of a belt less than a tooth off. It is near enough for a few steps to do.
func (d Drive) centerOfTeeth(teeth, c float64) float64 {
	p := d.Pitch.MM()
	driver, driven := float64(d.Driver.ToothCount), float64(d.Driven.ToothCount)
	least := p * math.Abs(driver-driven) / (2 * math.Pi)
	for range 8 {
		step := p * (plainBeltTeeth(driver, driven, c/p) - teeth) / d.lengthPerCenter(c)
		c = max(c-step, least+(c-least)/8)
		if math.Abs(step) < 1e-12*c {
			break
		}
	}
	return c
}
