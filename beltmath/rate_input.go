package beltmath

import "math"

// resolve is the door of the query: it fills all else in.
func (r *rateCase) resolve(q *RateQuery) error {
	var errs InputErrors
	r.drive = q.Drive.resolve(&errs, "Drive.")
	errs.CheckPositive("CenterDistanceMM", q.CenterDistanceMM, greatestCenterMM)
	errs.CheckRange("BeltWidthMM", q.BeltWidthMM, leastRatedWidthMM, maxBeltWidthMM)
	q.checkLoad(&errs)
	r.serviceFactor = defaultServiceFactor
	if q.ServiceFactor != nil {
		r.serviceFactor = *q.ServiceFactor
		errs.CheckRange("ServiceFactor", r.serviceFactor, leastServiceFactor, maxServiceFactor)
	}
	r.resolveRating(q, &errs)
	if q.WheelDiameterMM != nil {
		errs.CheckPositive("WheelDiameterMM", *q.WheelDiameterMM, maxWheelDiameterMM)
	}
	if len(errs) > 0 {
		return errs
	}
	if _, err := r.drive.Center(); err != nil {
		return under("Drive.", err)
	}
	if err := r.drive.checkClear("CenterDistanceMM", q.CenterDistanceMM); err != nil {
		return err
	}
	r.place(q)
	return nil
}

// place works the spans out at the stated center distance.
func (r *rateCase) place(q *RateQuery) {
	d, c := r.drive, q.CenterDistanceMM
	p := d.Pitch.MM()
	r.speed = p * float64(d.Driver.ToothCount) * q.SpeedRPM / 60000
	diff := p * float64(d.Driven.ToothCount-d.Driver.ToothCount) / (2 * math.Pi)
	r.span = math.Sqrt((c - diff) * (c + diff))
	r.inclination = diff / c
}

func (q *RateQuery) checkLoad(errs *InputErrors) {
	tooSlow := errs.CheckRange("SpeedRPM", q.SpeedRPM, 0, maxSpeedRPM) && q.SpeedRPM < leastSpeedRPM
	switch {
	case q.TorqueNM == nil && q.PowerW == nil:
		errs.add("TorqueNM", "not given", ReasonExactlyOne, "give torque_nm, 0 to 1000000, or power_w")
	case q.TorqueNM != nil && q.PowerW != nil:
		errs.add("TorqueNM", *q.TorqueNM, ReasonExactlyOne, "give exactly one of torque_nm and power_w")
	case q.TorqueNM != nil:
		errs.CheckRange("TorqueNM", *q.TorqueNM, 0, maxTorqueNM)
	case errs.CheckRange("PowerW", *q.PowerW, 0, maxPowerW) && tooSlow:
		errs.add("SpeedRPM", q.SpeedRPM, ReasonNotGiven, "power_w needs a speed: give a number from 0.001 to 100000, or torque_nm")
	}
}

// resolveRating takes the maker's values or else the section's.
func (r *rateCase) resolveRating(q *RateQuery, errs *InputErrors) {
	if q.MassKgPerM != nil {
		errs.CheckRange("MassKgPerM", *q.MassKgPerM, leastMassKgPerM, maxMassKgPerM)
	}
	if q.WorkingTensionN != nil {
		errs.CheckRange("WorkingTensionN", *q.WorkingTensionN, leastWorkingTensionN, maxWorkingTensionN)
		r.workingTension = *q.WorkingTensionN
	}
	if q.BaseWidthMM != nil {
		errs.CheckRange("BaseWidthMM", *q.BaseWidthMM, leastRatedWidthMM, maxBeltWidthMM)
		r.baseWidth = *q.BaseWidthMM
	}
	var held Rating
	if r.drive.Section != nil {
		held = r.drive.Section.Rating
	}
	switch {
	case q.WorkingTensionN != nil && q.BaseWidthMM == nil:
		errs.add("BaseWidthMM", "not given", ReasonNotGiven, "working_tension_n and base_width_mm go together: give the belt width that the maker's tension is for")
	case q.WorkingTensionN == nil && q.BaseWidthMM != nil:
		errs.add("WorkingTensionN", "not given", ReasonNotGiven, "working_tension_n and base_width_mm go together: give the maker's tension at that width")
	case q.WorkingTensionN != nil:
	case held.WorkingTensionN.Value != nil && held.BaseWidthMM.Value != nil:
		r.workingTension, r.baseWidth = *held.WorkingTensionN.Value, *held.BaseWidthMM.Value
		r.tensionSource = &r.drive.Section.Rating.WorkingTensionN
	case r.drive.Pitch != (Pitch{}): // else the section is at fault already
		errs.add("WorkingTensionN", "not given", ReasonNoRating, "no published rating of this belt is held: give the maker's working_tension_n and base_width_mm")
	}
	switch {
	case q.MassKgPerM != nil:
		r.mass = *q.MassKgPerM * q.BeltWidthMM / r.baseWidth
	case held.MassKgPerM.Value != nil:
		r.mass = *held.MassKgPerM.Value * q.BeltWidthMM / *held.BaseWidthMM.Value
		r.massSource = &r.drive.Section.Rating.MassKgPerM
	}
}
