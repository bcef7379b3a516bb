package beltmath

import (
	"fmt"
	"math"
)

// The greatest center distance, half of the longest belt, and the greatest
// flange diameter, both in millimeters.
const (
	greatestCenterMM = maxBeltTeeth * maxPitchMM / 2
	maxFlangeMM      = 20000
)

// Pulley is one toothed pulley.
type Pulley struct {
	// ToothCount is the number of grooves, 6 to 600.
	ToothCount int
	// FlangeDiameterMM is the diameter over the flanges, above 0 and at most
	// 20000; nil where no flange is reckoned with.
	FlangeDiameterMM *float64
}

// Profile says which belt is meant: a section of the tables or a pitch alone.
type Profile struct {
	// Section is nil where only the pitch is known.
	Section *Section
	// Pitch is the tooth pitch.
	Pitch Pitch
}

// DriveInput is a drive as people describe it. Resolve turns it into a Drive.
type DriveInput struct {
	// Section is a designation of the tables, such as "H8M". Exactly one of
	// Section and PitchMM.
	Section string
	// PitchMM is the tooth pitch of any other belt, 0.5 to 100.
	PitchMM *float64
	// Driver gives the power, Driven takes it.
	Driver, Driven Pulley
	// BeltToothCount is 7 to 5000. Exactly one of BeltToothCount and
	// BeltDesignation.
	BeltToothCount *int
	// BeltDesignation is the belt as printed on it, such as "890 H5M".
	BeltDesignation string
}

// Drive is two pulleys and the closed belt round them, all counts within the
// domain.
type Drive struct {
	Profile
	// Driver gives the power, Driven takes it.
	Driver, Driven Pulley
	// BeltToothCount is the number of belt teeth.
	BeltToothCount int
}

// Resolve checks in and looks its section and belt up. Its error holds every
// value at fault, as InputErrors.
func (in DriveInput) Resolve() (Drive, error) {
	var errs InputErrors
	d := in.resolve(&errs, "")
	return d, errs.Err()
}

// resolve puts the fields at fault under path, which it joins only where there
// are some.
func (in DriveInput) resolve(errs *InputErrors, path string) Drive {
	before := len(*errs)
	d := Drive{Driver: in.Driver, Driven: in.Driven}
	d.Profile = resolveProfile(errs, "", in.Section, in.PitchMM)
	in.Driver.check(errs, "Driver.")
	in.Driven.check(errs, "Driven.")
	d.BeltToothCount = in.resolveBelt(errs, d.Section)
	for _, e := range (*errs)[before:] {
		e.Field = path + e.Field
	}
	return d
}

func (in DriveInput) resolveBelt(errs *InputErrors, section *Section) int {
	switch {
	case in.BeltToothCount != nil && in.BeltDesignation != "":
		errs.add("BeltToothCount", *in.BeltToothCount, ReasonExactlyOne,
			"give exactly one of belt_tooth_count and belt_designation")
	case in.BeltToothCount != nil:
		errs.checkCount("BeltToothCount", *in.BeltToothCount, minBeltTeeth, maxBeltTeeth)
		return *in.BeltToothCount
	case in.BeltDesignation == "":
		errs.add("BeltToothCount", "not given", ReasonExactlyOne,
			"give belt_tooth_count, 7 to 5000, or belt_designation such as \"890 H5M\"")
	case section != nil:
		teeth, err := section.ReadBeltDesignation(in.BeltDesignation)
		errs.addUnder("", err)
		return teeth
	case in.Section == "":
		errs.add("BeltDesignation", in.BeltDesignation, ReasonUnknownDesignation,
			"a designation is read only with section; with pitch_mm give belt_tooth_count")
	}
	return 0
}

func resolveProfile(errs *InputErrors, path, section string, pitchMM *float64) Profile {
	switch {
	case section != "" && pitchMM != nil:
		errs.add(path+"Section", section, ReasonExactlyOne, "give exactly one of section and pitch_mm")
	case section != "":
		s, err := FindSection(section)
		if err != nil {
			errs.addUnder(path, err)
			return Profile{}
		}
		return Profile{Section: s, Pitch: s.Pitch}
	case pitchMM == nil:
		errs.add(path+"Section", "not given", ReasonExactlyOne,
			"give section, such as H5M, or pitch_mm, 0.5 to 100")
	default:
		if errs.CheckRange(path+"PitchMM", *pitchMM, minPitchMM, maxPitchMM) {
			return Profile{Pitch: PitchMM(*pitchMM)}
		}
	}
	return Profile{}
}

func (p Pulley) check(errs *InputErrors, path string) {
	if p.inDomain() { // keeps a batch from joining paths that nobody reads
		return
	}
	errs.checkCount(path+"ToothCount", p.ToothCount, minPulleyTeeth, maxPulleyTeeth)
	if p.FlangeDiameterMM != nil {
		errs.CheckPositive(path+"FlangeDiameterMM", *p.FlangeDiameterMM, maxFlangeMM)
	}
}

func (p Pulley) inDomain() bool {
	flange := p.FlangeDiameterMM
	return p.ToothCount >= minPulleyTeeth && p.ToothCount <= maxPulleyTeeth &&
		(flange == nil || *flange > 0 && *flange <= maxFlangeMM)
}

// Center returns the exact center distance in millimeters. Its error is a
// *NoSolutionError that names the smallest belt that works where the belt is
// too short or the pulleys or their flanges would touch.
func (d Drive) Center() (float64, error) {
	c := d.Pitch.CenterMM(d.Driver.ToothCount, d.Driven.ToothCount, d.BeltToothCount)
	if limit, _ := d.leastCenterMM(); c > limit {
		return c, nil
	}
	return c, d.noCenter(c)
}

// leastCenterMM returns the center distance at which the pulleys or their
// flanges touch, and the reason word of that contact. Where outside diameters
// are not held, the pitch diameters stand for them.
func (d Drive) leastCenterMM() (limitMM float64, reason string) {
	limitMM = (d.outerDiameterMM(d.Driver) + d.outerDiameterMM(d.Driven)) / 2
	if d.Driver.FlangeDiameterMM != nil && d.Driven.FlangeDiameterMM != nil {
		if flanges := (*d.Driver.FlangeDiameterMM + *d.Driven.FlangeDiameterMM) / 2; flanges > limitMM {
			return flanges, ReasonFlangesTouch
		}
	}
	return limitMM, ReasonPulleysTouch
}

// CheckCenterDistance tells whether the pulleys can stand centerMM apart,
// whatever the belt: above 0, at most 250000, and without touching. Its error
// is InputErrors or a *NoSolutionError of reason PULLEYS_TOUCH or
// FLANGES_TOUCH, for the field CenterDistanceMM.
func (d Drive) CheckCenterDistance(centerMM float64) error {
	var errs InputErrors
	if !errs.CheckPositive("CenterDistanceMM", centerMM, greatestCenterMM) {
		return errs
	}
	return d.checkClear("CenterDistanceMM", centerMM)
}

// checkClear refuses a center distance at which pulleys or flanges touch.
func (d Drive) checkClear(field string, centerMM float64) error {
	limit, reason := d.leastCenterMM()
	if centerMM > limit {
		return nil
	}
	return &NoSolutionError{
		Field: field, Value: centerMM, Reason: reason,
		Msg:     fmt.Sprintf("the %s; give more than %.4f mm", whatTouches[reason], math.Ceil(limit*1e4)/1e4),
		Nearest: fmt.Sprint(math.Nextafter(limit, math.Inf(1))),
	}
}

func (p Profile) outerDiameterMM(pulley Pulley) float64 {
	if p.Section != nil {
		if od, _, ok := p.Section.OutsideDiameterMM(pulley.ToothCount); ok {
			return od
		}
	}
	return p.Pitch.PitchDiameterMM(pulley.ToothCount)
}

var whatTouches = map[string]string{
	ReasonPulleysTouch: "pulleys touch",
	ReasonFlangesTouch: "flanges touch",
}

func (d Drive) noCenter(c float64) error {
	limit, reason := d.leastCenterMM()
	text := fmt.Sprintf("at its center distance of %.3f mm the %s, which needs more than %.3f mm",
		c, whatTouches[reason], limit)
	if math.IsNaN(c) {
		reason = ReasonBeltTooShort
		text = fmt.Sprintf("the belt does not reach round its pulleys: more than %d teeth are needed, and clearance",
			max(d.Driver.ToothCount, d.Driven.ToothCount))
	}
	e := &NoSolutionError{Field: "BeltToothCount", Value: d.BeltToothCount, Reason: reason, Msg: text}
	if smallest, ok := d.smallestBelt(); ok {
		e.Nearest = fmt.Sprint(smallest)
		e.Msg += fmt.Sprintf("; the smallest belt that works has %d teeth", smallest)
	} else {
		e.Msg += "; no belt up to 5000 teeth works, so change the pulleys"
	}
	return e
}

// smallestBelt returns the least belt tooth count with which the pulleys keep
// clear of each other.
func (d Drive) smallestBelt() (int, bool) {
	limit, _ := d.leastCenterMM()
	clears := func(teeth int) bool {
		return d.Pitch.CenterMM(d.Driver.ToothCount, d.Driven.ToothCount, teeth) > limit
	}
	teeth := int(d.Pitch.BeltTeeth(d.Driver.ToothCount, d.Driven.ToothCount, limit))
	teeth = max(minBeltTeeth, teeth)
	for teeth > minBeltTeeth && clears(teeth-1) {
		teeth--
	}
	for teeth <= maxBeltTeeth && !clears(teeth) {
		teeth++
	}
	return teeth, teeth <= maxBeltTeeth
}
