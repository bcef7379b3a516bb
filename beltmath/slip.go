package beltmath

import (
	"fmt"
	"math"
)

// The reason words of notes that name a usual slip.
const (
	NoteLooksLikeOutsideDiameter = "LOOKS_LIKE_OUTSIDE_DIAMETER"
	NoteLooksLikeInches          = "LOOKS_LIKE_INCHES"
	NoteLooksLikeLengthInMM      = "LOOKS_LIKE_LENGTH_IN_MM"
	NoteLooksLikeOtherPitch      = "LOOKS_LIKE_OTHER_PITCH"
	NoteLooksLikeSquareRootForm  = "LOOKS_LIKE_SQUARE_ROOT_FORM"
	NoteLooksLikeRailSpacing     = "LOOKS_LIKE_RAIL_SPACING"
)

// How far a center distance is honestly off in millimeters: often by up to the
// first, never by more than the second. Common practice, no source.
const (
	usualErrorMM    = 0.6
	greatestErrorMM = 5
)

// slip is a guess at why the deviation of a drive is rejected.
type slip struct {
	reason, field string
	// rest is the part of the deviation that the slip does not explain.
	rest float64
	// hint tells what was mistaken for what.
	hint string
	// args are the numbers of hint.
	args [2]float64
}

// noteSlip names each slip that explains the deviation; rarely two do.
//
// An honest error comes near to what some slip makes sooner or later, and a
// wrong hint is worse than none. So a slip explains a deviation beyond any
// honest error where what it leaves of it would not be rejected; a smaller
// deviation only if it gives the very number stated, to the last decimal; and
// never one that is an everyday error.
func (k *checkCase) noteSlip() {
	named := ""
	try := func(s slip) {
		if s.reason != named && k.explains(s) {
			named = s.reason
			k.nameSlip(s)
		}
	}
	try(k.inches())
	k.lengthInMM(try)
	k.otherPitch(try)
	k.outsideDiameters(try)
	try(k.squareRootForm())
	k.railSpacing(try)
}

func (k *checkCase) nameSlip(s slip) {
	side := "tight"
	if k.deviation < 0 {
		side = "slack"
	}
	k.note(s.reason, SeverityCaution, s.field,
		fmt.Sprintf("%.3f mm too %s: ", math.Abs(k.deviation), side)+fmt.Sprintf(s.hint, s.args[0], s.args[1]))
}

func (k *checkCase) explains(s slip) bool {
	switch deviation := math.Abs(k.deviation); {
	case deviation <= usualErrorMM:
		return false
	case deviation <= greatestErrorMM:
		return math.Abs(s.rest) <= halfLastDecimal(k.item.CenterDistanceMM)+limitSlackMM
	}
	return k.rule.ofDeviation(s.rest) != VerdictRejected
}

// halfLastDecimal returns half a unit of the last decimal that v is written
// with: of the second at least, of the sixth at most.
func halfLastDecimal(v float64) float64 {
	const most = 1e6
	unit := 100.0
	for unit < most && math.Abs(v*unit-math.Round(v*unit)) > 1e-6 {
		unit *= 10
	}
	return 0.5 / unit
}

// inches: a center distance in inches given as millimeters.
func (k *checkCase) inches() slip {
	perInch, _ := millimetersPerInch.Float64()
	meant := k.item.CenterDistanceMM * perInch
	return slip{
		reason: NoteLooksLikeInches, field: "CenterDistanceMM", rest: meant - k.exact,
		hint: "inches given as millimeters? %.6g in are %.3f mm", args: [2]float64{k.item.CenterDistanceMM, meant},
	}
}

// lengthInMM: a belt length in millimeters given as its tooth count.
func (k *checkCase) lengthInMM(try func(slip)) {
	if k.item.Drive.BeltToothCount == nil {
		return
	}
	given, pitch := float64(k.drive.BeltToothCount), k.drive.Pitch.MM()
	teeth := math.Round(given / pitch)
	if math.Abs(teeth*pitch-given) > 0.5 { // lengths are cut to whole millimeters
		return
	}
	c := k.drive.Pitch.CenterMM(k.drive.Driver.ToothCount, k.drive.Driven.ToothCount, int(teeth))
	try(slip{
		reason: NoteLooksLikeLengthInMM, field: "Drive.BeltToothCount", rest: k.item.CenterDistanceMM - c,
		hint: "belt length in mm given as teeth? %g mm are %g teeth", args: [2]float64{given, teeth},
	})
}

// otherPitch: a belt of 5 mm pitch taken for 5.08 mm or the other way round.
func (k *checkCase) otherPitch(try func(slip)) {
	const metricUM, inchUM = 5000, 5080
	this := k.drive.Pitch.MM()
	other := decimalPitch(inchUM)
	switch this {
	case other.MM():
		other = decimalPitch(metricUM)
	case decimalPitch(metricUM).MM():
	default:
		return
	}
	c := other.CenterMM(k.drive.Driver.ToothCount, k.drive.Driven.ToothCount, k.drive.BeltToothCount)
	field := "Drive.Section"
	if k.drive.Section == nil {
		field = "Drive.PitchMM"
	}
	try(slip{
		reason: NoteLooksLikeOtherPitch, field: field, rest: k.item.CenterDistanceMM - c,
		hint: "5 mm and 5.08 mm mixed up? with a pitch of %g mm the center distance is %.3f mm", args: [2]float64{other.MM(), c},
	})
}

// outsideDiameters: outside diameters, exact or as tables round them, taken
// for pitch diameters.
func (k *checkCase) outsideDiameters(try func(slip)) {
	if k.drive.Section == nil {
		return
	}
	od1, _, ok := k.drive.Section.OutsideDiameterMM(k.drive.Driver.ToothCount)
	od2, _, _ := k.drive.Section.OutsideDiameterMM(k.drive.Driven.ToothCount)
	if !ok {
		return
	}
	length := k.drive.Pitch.BeltPitchLengthMM(k.drive.BeltToothCount)
	stated := k.item.CenterDistanceMM
	for _, unit := range [...]float64{0, 100} {
		if unit > 0 {
			od1, od2 = math.Round(od1*unit)/unit, math.Round(od2*unit)/unit
		}
		// How far the length on these circles misses the belt, as center distance.
		rest := (plainBeltTeeth(math.Pi*od1, math.Pi*od2, stated) - length) / k.drive.lengthPerCenter(stated)
		try(slip{
			reason: NoteLooksLikeOutsideDiameter, field: "CenterDistanceMM", rest: rest,
			hint: "outside diameters taken for pitch diameters? use %.3f and %.3f mm, tooth count times pitch over pi",
			args: [2]float64{k.drive.Pitch.PitchDiameterMM(k.drive.Driver.ToothCount), k.drive.Pitch.PitchDiameterMM(k.drive.Driven.ToothCount)},
		})
	}
}

// squareRootForm: the handbook's approximation taken for the exact equation.
//
// Source: ISO 5295, from memory; S18 prints it.
func (k *checkCase) squareRootForm() slip {
	driver, driven := k.drive.Driver.ToothCount, k.drive.Driven.ToothCount
	p := k.drive.Pitch.MM()
	m := p * float64(2*k.drive.BeltToothCount-driver-driven) / 8
	apart := p * float64(driven-driver) / math.Pi
	c := m + math.Sqrt(m*m-apart*apart/8)
	return slip{
		reason: NoteLooksLikeSquareRootForm, field: "CenterDistanceMM", rest: k.item.CenterDistanceMM - c,
		hint: "from the handbooks' square-root form? it gives %.3f mm, %.3f mm too much at this ratio", args: [2]float64{c, c - k.exact},
	}
}

// railSpacing: axles of unequal height, and the spacing along the rail mixed
// up with the center distance, one way or the other.
func (k *checkCase) railSpacing(try func(slip)) {
	if k.item.HeightDifferenceMM == nil || math.Abs(*k.item.HeightDifferenceMM) >= k.exact {
		return
	}
	h := math.Abs(*k.item.HeightDifferenceMM)
	rail := math.Sqrt((k.exact - h) * (k.exact + h))
	s := slip{
		reason: NoteLooksLikeRailSpacing, field: "CenterDistanceMM", rest: k.item.CenterDistanceMM - math.Hypot(k.exact, h),
		hint: "center distance used as rail spacing? with a height difference of %g mm the rail spacing is %.3f mm", args: [2]float64{h, rail},
	}
	try(s)
	s.rest = k.item.CenterDistanceMM - rail
	s.hint = "rail spacing given as center distance? with a height difference of %g mm the rail spacing of %.3f mm belongs to it"
	try(s)
}
