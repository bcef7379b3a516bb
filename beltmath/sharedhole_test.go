package beltmath

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func shared(t *testing.T, q SharedHoleQuery) SharedHoleAnswer {
	t.Helper()
	a, err := SolveSharedHole(q)
	require.NoError(t, err)
	return a
}

// TestSharedHole compares with center distances of the length equation in 40
// digits: 36/36/174 and 38/38/176 345; 32/32/172 350; 36/36/175 347.5;
// 36/36/178 355; 36/45/178 343.6753718625495.
func TestSharedHole(t *testing.T) {
	const exact45 = 343.6753718625495
	tests := []struct {
		name           string
		first, second  DriveInput
		limits         FitLimits
		drill          float64 // or
		from, to       float64
		deviations     [2]float64
		verdicts       [2]Verdict
		noted, unnoted string
	}{
		{
			"same-hole family", fitDrive("H5M", 36, 36, 174), fitDrive("H5M", 38, 38, 176),
			FitLimits{},
			345.05, 0, 0,
			[2]float64{0.05, 0.05},
			[2]Verdict{VerdictFits, VerdictFits},
			"", NoteSlot,
		},
		{
			"near enough for wide limits", fitDrive("H5M", 36, 36, 174), fitDrive("H5M", 36, 45, 178),
			FitLimits{FitLowMM: new(-0.7), FitHighMM: new(0.8)},
			(345+exact45)/2 + 0.05, 0, 0,
			[2]float64{(exact45-345)/2 + 0.05, (345-exact45)/2 + 0.05},
			[2]Verdict{VerdictFits, VerdictFits},
			"", NoteSlot,
		},
		{
			"a slot", fitDrive("H5M", 36, 36, 178), fitDrive("H5M", 32, 32, 172),
			FitLimits{},
			0, 350.05, 355.05,
			[2]float64{0.05, 0.05},
			[2]Verdict{VerdictFits, VerdictFits},
			NoteSlot, NoteMarginalHole,
		},
		{
			"marginal in one hole", fitDrive("H5M", 36, 36, 174), fitDrive("H5M", 36, 36, 175),
			FitLimits{MarginalLowMM: new(-1.5), MarginalHighMM: new(1.5)},
			0, 345.05, 347.55,
			[2]float64{0.05, 0.05},
			[2]Verdict{VerdictFits, VerdictFits},
			NoteMarginalHole, "",
		},
	}
	for _, tt := range tests {
		a := shared(t, SharedHoleQuery{Drives: []DriveInput{tt.first, tt.second}, Limits: tt.limits})
		if tt.drill != 0 {
			require.NotNil(t, a.DrillCenterDistanceMM, tt.name)
			assert.Nil(t, a.SlotFromMM)
			assert.Nil(t, a.SlotToMM)
			assert.InDelta(t, tt.drill, *a.DrillCenterDistanceMM, 1e-12, tt.name)
		} else {
			assert.Nil(t, a.DrillCenterDistanceMM)
			require.NotNil(t, a.SlotFromMM, tt.name)
			assert.InDelta(t, tt.from, *a.SlotFromMM, 1e-12, tt.name)
			assert.InDelta(t, tt.to, *a.SlotToMM, 1e-12, tt.name)
		}
		for i, fit := range a.Fits {
			assert.InDelta(t, tt.deviations[i], fit.DeviationMM, 1e-12, tt.name)
			assert.Equal(t, tt.verdicts[i], fit.Verdict, tt.name)
		}
		if tt.noted != "" {
			assert.Contains(t, reasons(a.Notes), tt.noted, tt.name)
		}
		assert.NotContains(t, reasons(a.Notes), tt.unnoted, tt.name)
	}
}

// TestSharedHoleBest: no other hole keeps the lesser margin greater, and the
// order of the drives does not matter.
func TestSharedHoleBest(t *testing.T) {
	r := rand.New(rand.NewPCG(91, 92)) //nolint:gosec // a fixed seed
	holes, slots := 0, 0
	for range 2000 {
		q := SharedHoleQuery{Drives: []DriveInput{fitDrive("H5M", 30+r.IntN(12), 30+r.IntN(12), 174+r.IntN(6)), fitDrive("H5M", 30+r.IntN(12), 30+r.IntN(12), 174+r.IntN(6))}}
		low, high := -r.Float64(), r.Float64()
		q.Limits = FitLimits{FitLowMM: &low, FitHighMM: &high}
		a := shared(t, q)
		e1, e2 := a.Fits[0].CenterDistanceMM, a.Fits[1].CenterDistanceMM
		margin := func(c float64) float64 {
			return min(c-e1-low, high-(c-e1), c-e2-low, high-(c-e2))
		}
		b := shared(t, SharedHoleQuery{Drives: []DriveInput{q.Drives[1], q.Drives[0]}, Limits: q.Limits})
		assert.Equal(t, a.Fits[0], b.Fits[1])
		assert.Equal(t, a.Fits[1], b.Fits[0])
		if a.DrillCenterDistanceMM == nil {
			slots++
			assert.Greater(t, math.Abs(e1-e2), high-low)
			for _, c := range []float64{e1, e2, (e1 + e2) / 2, *a.SlotFromMM, *a.SlotToMM} {
				assert.Negative(t, margin(c), "a hole would have done")
			}
			continue
		}
		holes++
		best := margin(*a.DrillCenterDistanceMM)
		assert.GreaterOrEqual(t, best, -1e-9)
		for _, off := range []float64{-0.1, -0.01, 0.01, 0.1} {
			assert.Less(t, margin(*a.DrillCenterDistanceMM+off), best)
		}
	}
	assert.Greater(t, holes, 100)
	assert.Greater(t, slots, 100)
}

func TestSharedHoleOverlap(t *testing.T) {
	// XL with equal pulleys of 20 teeth, 33 teeth of belt: C 33.02, and the
	// pulleys touch at 20 * 5.08/pi - 0.508 = 31.83 mm.
	drive := fitDrive("XL", 20, 20, 33)
	limits := FitLimits{FitLowMM: new(-2.0), FitHighMM: new(-1.5)}
	a := shared(t, SharedHoleQuery{Drives: []DriveInput{drive, drive}, Limits: limits})
	assert.InDelta(t, 33.02-1.75, *a.DrillCenterDistanceMM, 1e-12)
	assert.Contains(t, reasons(a.Notes), ReasonPulleysTouch)
	assert.Equal(t, VerdictRejected, a.Fits[0].Verdict)
}

func TestSharedHoleRefusals(t *testing.T) {
	good := fitDrive("H5M", 36, 36, 174)
	bad := fitDrive("H5M", 5, 36, 174)
	for _, drives := range [][]DriveInput{nil, {good}, {good, good, good}} {
		_, err := SolveSharedHole(SharedHoleQuery{Drives: drives})
		var one *InputError
		require.ErrorAs(t, err, &one)
		assert.Equal(t, "Drives", one.Field)
		assert.Equal(t, ReasonOutOfRange, one.Reason)
	}
	_, err := SolveSharedHole(SharedHoleQuery{Drives: []DriveInput{bad, bad}, Limits: FitLimits{FitLowMM: new(11.0)}})
	var errs InputErrors
	require.ErrorAs(t, err, &errs)
	var fields []string
	for _, e := range errs {
		fields = append(fields, e.Field)
	}
	assert.Contains(t, fields, "Drives[0].Driver.ToothCount")
	assert.Contains(t, fields, "Drives[1].Driver.ToothCount")
	assert.Contains(t, fields, "Limits.FitLowMM")

	var none *NoSolutionError
	_, err = SolveSharedHole(SharedHoleQuery{Drives: []DriveInput{good, fitDrive("H5M", 36, 90, 80)}})
	require.ErrorAs(t, err, &none)
	assert.Equal(t, "Drives[1].BeltToothCount", none.Field)
}

func ExampleSolveSharedHole() {
	a, err := SolveSharedHole(SharedHoleQuery{Drives: []DriveInput{
		{Section: "H5M", Driver: Pulley{ToothCount: 36}, Driven: Pulley{ToothCount: 36}, BeltDesignation: "890 H5M"},
		{Section: "H5M", Driver: Pulley{ToothCount: 32}, Driven: Pulley{ToothCount: 32}, BeltDesignation: "870 H5M"},
	}})
	fmt.Println(*a.DrillCenterDistanceMM, a.Fits[0].CenterDistanceMM, a.Fits[1].CenterDistanceMM, err)
	// Output: 355.05 355 355 <nil>
}
