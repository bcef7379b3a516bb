package beltmath

import (
	"fmt"
	"math"
	"sort"
)

// PulleyQuery asks which driven pulleys fit a belt and a driver pulley at a
// center distance.
type PulleyQuery struct {
	// Section and PitchMM: exactly one.
	Section string
	PitchMM *float64
	// Driver is the known pulley.
	Driver Pulley
	// BeltToothCount is 7 to 5000.
	BeltToothCount int
	// CenterDistanceMM is above 0 and at most 250000.
	CenterDistanceMM float64
	// NeighborCount is how many pulleys to name on each side, 1 to 20; nil is
	// 1.
	NeighborCount *int
}

// PulleyCandidate is a driven pulley near a wanted center distance.
type PulleyCandidate struct {
	// Geometry is the drive with this pulley.
	Geometry Geometry
	// CenterShiftMM is the center distance with this pulley minus the wanted
	// one.
	CenterShiftMM float64
}

// PulleyAnswer is the driven pulleys nearest to a center distance.
type PulleyAnswer struct {
	// ExactToothCount is the count of driven teeth that fits exactly.
	ExactToothCount float64
	// Candidates are the pulleys, least shift first.
	Candidates []PulleyCandidate
	// Notes tell what deserves a look.
	Notes []Note
}

// SolvePulley finds the driven pulleys on each side of the tooth count that
// fits the belt and the driver at the given center distance. The exact count
// is within 1e-9 teeth. Its error is InputErrors or a *NoSolutionError.
func SolvePulley(q PulleyQuery) (PulleyAnswer, error) {
	var errs InputErrors
	d := Drive{Profile: resolveProfile(&errs, "", q.Section, q.PitchMM), Driver: q.Driver, BeltToothCount: q.BeltToothCount}
	q.Driver.check(&errs, "Driver.")
	errs.checkCount("BeltToothCount", q.BeltToothCount, minBeltTeeth, maxBeltTeeth)
	errs.CheckPositive("CenterDistanceMM", q.CenterDistanceMM, greatestCenterMM)
	neighbors := errs.neighborCount(q.NeighborCount)
	if len(errs) > 0 {
		return PulleyAnswer{}, errs
	}
	exact, err := d.exactDriven(q.CenterDistanceMM)
	if err != nil {
		return PulleyAnswer{}, err
	}
	if math.Floor(exact) > maxPulleyTeeth || math.Ceil(exact) < minPulleyTeeth {
		return PulleyAnswer{}, d.noPulley(q.CenterDistanceMM)
	}
	a := PulleyAnswer{ExactToothCount: exact}
	for _, teeth := range d.drivenNear(exact, q.CenterDistanceMM, neighbors) {
		d.Driven.ToothCount = teeth
		if g, err := d.Geometry(); err == nil {
			a.Candidates = append(a.Candidates, PulleyCandidate{
				Geometry: g, CenterShiftMM: g.CenterDistanceMM - q.CenterDistanceMM,
			})
		}
	}
	if len(a.Candidates) == 0 {
		return PulleyAnswer{}, d.noPulley(q.CenterDistanceMM)
	}
	sort.SliceStable(a.Candidates, func(i, j int) bool {
		return math.Abs(a.Candidates[i].CenterShiftMM) < math.Abs(a.Candidates[j].CenterShiftMM)
	})
	a.Notes = a.notes()
	return a, nil
}

// exactDriven solves the length equation for the driven teeth, taken as any
// number for which one pitch circle does not hold the other.
func (d Drive) exactDriven(centerMM float64) (float64, error) {
	c := centerMM / d.Pitch.MM()
	driver, belt := float64(d.Driver.ToothCount), float64(d.BeltToothCount)
	least, most := math.Max(0, driver-2*math.Pi*c), driver+2*math.Pi*c
	excess := func(driven float64) float64 { return plainBeltTeeth(driver, driven, c) - belt }
	if !(excess(least) <= 0 && excess(most) >= 0) { // at no center distance at all it is no number
		return 0, d.noPulley(centerMM)
	}
	return findRoot(excess, least, most)
}

// plainBeltTeeth is the length equation in pitches for any real tooth counts.
// Unlike BeltTeeth it is good to some units in the last place only. It rises
// with either count up to where one pitch circle holds the other.
func plainBeltTeeth(z1, z2, c float64) float64 {
	d := math.Min(c, math.Max(-c, (z2-z1)/(2*math.Pi))) // rounding may lead past the end
	return 2*math.Sqrt((c-d)*(c+d)) + (z1+z2)/2 + 2*d*math.Asin(d/c)
}

// drivenNear returns n driven counts on each side of exact, ascending, and
// between them the one whose center distance is c to the bit.
func (d Drive) drivenNear(exact, c float64, n int) []int {
	var counts []int
	near := int(exact)
	for teeth := max(minPulleyTeeth, near-n-1); teeth <= min(maxPulleyTeeth, near+n+2); teeth++ {
		counts = append(counts, teeth)
	}
	return neighborsOf(counts, exact, n, func(teeth int) bool {
		return d.Pitch.CenterMM(d.Driver.ToothCount, teeth, d.BeltToothCount) == c
	})
}

// noPulley says which center distances the belt and the driver can reach.
func (d Drive) noPulley(centerMM float64) error {
	d.Driven.ToothCount = minPulleyTeeth
	greatest, err := d.Center()
	if err != nil {
		return err
	}
	// A larger driven pulley shortens the center distance until it touches.
	count := sort.Search(maxPulleyTeeth-minPulleyTeeth, func(i int) bool {
		d.Driven.ToothCount = minPulleyTeeth + i + 1
		_, err := d.Center()
		return err != nil
	})
	d.Driven.ToothCount = minPulleyTeeth + count
	least, err := d.Center()
	if err != nil {
		return err
	}
	nearest := greatest
	if centerMM < greatest {
		nearest = least
	}
	return &NoSolutionError{
		Field: "CenterDistanceMM", Value: centerMM, Reason: ReasonNoPulley,
		Msg: fmt.Sprintf("with this belt and driver, pulleys of %d to %d teeth reach %.3f to %.3f mm; change the belt or the center distance",
			minPulleyTeeth, d.Driven.ToothCount, least, greatest),
		Nearest: fmt.Sprint(nearest),
	}
}
