package beltmath

import "fmt"

// sharedDrives is how many drives share a hole.
const sharedDrives = 2

// The reason words of notes on shared holes, beside those on drives.
const (
	NoteMarginalHole = "MARGINAL_HOLE"
	NoteSlot         = "SLOT_NEEDS_CLAMPING"
)

// SharedHoleQuery asks for one hole that serves two drives on the same axles.
type SharedHoleQuery struct {
	// Drives are exactly two: the one now and its substitute later.
	Drives []DriveInput
	// Limits say what fits.
	Limits FitLimits
}

// SharedHoleFit is how one drive sits in a shared hole or slot.
type SharedHoleFit struct {
	// CenterDistanceMM is the drive's exact center distance.
	CenterDistanceMM float64
	// DeviationMM is hole minus exact center distance, above 0 is tight; with a
	// slot, that of the end at which this belt runs.
	DeviationMM float64
	// Verdict judges deviation and teeth in mesh there.
	Verdict Verdict
}

// SharedHoleAnswer is one hole or a slot.
type SharedHoleAnswer struct {
	// DrillCenterDistanceMM is nil where no hole serves both.
	DrillCenterDistanceMM *float64
	// SlotFromMM and SlotToMM are nil where one hole does.
	SlotFromMM, SlotToMM *float64
	// Fits has one entry a drive, in their order.
	Fits []SharedHoleFit
	// Notes tell what deserves a look.
	Notes []Note
}

// SolveSharedHole finds the center distance at which both drives have a
// deviation that fits: the middle of all such, so that the lesser margin is
// the greatest. Where there is none, it finds the slot at whose ends the drives
// have the middle of the deviations that fit.
//
// Its error is InputErrors or a *NoSolutionError, as of SolveCenterDistance.
func SolveSharedHole(q SharedHoleQuery) (SharedHoleAnswer, error) {
	var errs InputErrors
	if len(q.Drives) != sharedDrives {
		errs.add("Drives", len(q.Drives), ReasonOutOfRange, "give exactly 2 drives")
	}
	var drives [sharedDrives]Drive
	for i := range min(len(q.Drives), sharedDrives) {
		drives[i] = q.Drives[i].resolve(&errs, drivePaths[i])
	}
	rule := q.Limits.resolve(&errs, "Limits.")
	if len(errs) > 0 {
		return SharedHoleAnswer{}, errs
	}
	var exact [sharedDrives]float64
	for i, d := range drives {
		var err error
		if exact[i], err = d.Center(); err != nil {
			return SharedHoleAnswer{}, under(drivePaths[i], err)
		}
	}
	a := SharedHoleAnswer{Fits: make([]SharedHoleFit, sharedDrives)}
	at := a.place(rule, exact)
	for i, d := range drives {
		deviation := at[i] - exact[i]
		a.Fits[i] = SharedHoleFit{exact[i], deviation, rule.of(deviation, d.meshedTeeth())}
		a.Notes = append(a.Notes, d.notes(drivePaths[i])...)
		if n, ok := d.touchNote(at[i], drivePaths[i]); ok {
			a.Notes = append(a.Notes, n)
			a.Fits[i].Verdict = VerdictRejected
		}
	}
	return a, nil
}

// drivePaths are the paths of the drives of a SharedHoleQuery.
var drivePaths = [sharedDrives]string{"Drives[0].", "Drives[1]."}

// place fills hole or slot in and returns the center distance at which each
// drive runs.
func (a *SharedHoleAnswer) place(rule fitRule, exact [sharedDrives]float64) [sharedDrives]float64 {
	near, far := min(exact[0], exact[1]), max(exact[0], exact[1])
	middle := (rule.fitLow + rule.fitHigh) / 2
	if far-near <= rule.fitHigh-rule.fitLow+limitSlackMM {
		hole := near + (far-near)/2 + middle
		a.DrillCenterDistanceMM = &hole
		return [sharedDrives]float64{hole, hole}
	}
	from, to := near+middle, far+middle
	a.SlotFromMM, a.SlotToMM = &from, &to
	a.Notes = append(a.Notes, Note{
		NoteSlot, SeverityCaution,
		"an axle in a slot is held by its clamping alone, which shocks can move: set a stop or a plate of its own at each end",
		"",
	})
	if far-near <= rule.marginalHigh-rule.marginalLow+limitSlackMM {
		hole := near + (far-near)/2 + (rule.marginalLow+rule.marginalHigh)/2
		a.Notes = append(a.Notes, Note{
			NoteMarginalHole, SeverityInfo,
			fmt.Sprintf("one hole at %.3f mm would be marginal: %+.3f mm tight for the shorter drive, %+.3f mm for the longer", hole, hole-near, hole-far),
			"",
		})
	}
	if exact[0] < exact[1] {
		return [sharedDrives]float64{from, to}
	}
	return [sharedDrives]float64{to, from}
}

// touchNote warns where the pulleys of a drive overlap at a center distance.
func (d Drive) touchNote(centerMM float64, path string) (Note, bool) {
	limit, reason := d.leastCenterMM()
	if centerMM > limit {
		return Note{}, false
	}
	return Note{
		reason, SeverityCaution,
		fmt.Sprintf("at %.3f mm the pulleys or their flanges overlap: more than %.3f mm is needed", centerMM, limit),
		path + "BeltToothCount",
	}, true
}
