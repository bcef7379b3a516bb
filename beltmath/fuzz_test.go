package beltmath

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// requireInputOrNone checks that an error, if there is one, is of the two kinds
// that callers can tell.
func requireInputOrNone(t *testing.T, err error) {
	t.Helper()
	var inputs InputErrors
	var none *NoSolutionError
	require.True(t, err == nil || errors.As(err, &inputs) || errors.As(err, &none), "%v", err)
}

// FuzzSearchSpacings: a search finds exactly the drives that, solved one by one,
// meet its conditions, each once and in order.
func FuzzSearchSpacings(f *testing.F) {
	f.Add("H5M", 5.0, 36, 3, 36, 3, 170, 9, 2, 345.0, 3.0, 0.5, 2.0, 6, 1, uint8(0))
	f.Add("L", 9.525, 18, 4, 40, 1, 60, 12, 1, 200.0, 60.0, 1.0, 3.0, 10, 2, uint8(3))
	f.Add("", 3.3, 6, 5, 600, 1, 5000, 1, 5000, 1e9, math.Inf(1), math.NaN(), -1.0, 0, 3, uint8(4))
	f.Add("XL", 0.0, 10, 1, 100, 1, 111, 5, 1, 100.0, 1e6, 0.0, 1e9, 1, 0, uint8(7))
	f.Fuzz(func(t *testing.T, section string, pitch float64, driver, drivers, driven, drivens, belt, belts, step int, target, tolerance, low, high float64, mesh, order int, which uint8) {
		counts := func(first, n int) *ToothCounts { return &ToothCounts{Min: &first, Max: new(first + max(0, min(n, 6)))} }
		q := SearchQuery{
			Driver: counts(driver, drivers), Driven: counts(driven, drivens), Belt: counts(belt, belts), MinMeshedToothCount: &mesh,
			TargetCenterDistanceMM: &target, ToleranceMM: &tolerance, OrderBy: SpacingOrder(order), EqualPulleys: which&1 != 0,
		}
		q.Belt.Step = &step
		if which&2 != 0 {
			q.MinSpeedRatio, q.MaxSpeedRatio = &low, &high
		}
		if which&4 != 0 {
			q.PitchMM = &pitch
		} else {
			q.Sections = []string{section}
		}
		s, err := q.Resolve()
		requireInputOrNone(t, err)
		if err != nil {
			return
		}
		want := map[[3]int]float64{}
		for z1 := driver; z1 <= *q.Driver.Max; z1++ {
			for z2 := driven; z2 <= *q.Driven.Max; z2++ {
				for zb := belt; zb <= *q.Belt.Max; zb += step {
					in := DriveInput{Section: section, Driver: Pulley{ToothCount: z1}, Driven: Pulley{ToothCount: z2}, BeltToothCount: &zb}
					if q.PitchMM != nil {
						in.Section, in.PitchMM = "", q.PitchMM
					}
					a, err := SolveCenterDistance(CenterQuery{Drive: in})
					requireInputOrNone(t, err)
					if err != nil {
						continue
					}
					g := a.Geometry
					meshed := min(g.Driver.MeshedToothCount, g.Driven.MeshedToothCount)
					ratio := float64(z2) / float64(z1)
					if meshed < mesh || q.EqualPulleys && z1 != z2 || q.MinSpeedRatio != nil && (ratio < low || ratio > high) ||
						g.CenterDistanceMM < target-tolerance || g.CenterDistanceMM > target+tolerance {
						continue
					}
					want[[3]int{z1, z2, zb}] = g.CenterDistanceMM
				}
			}
		}
		got := map[[3]int]float64{}
		for _, one := range s.All(nil) {
			got[[3]int{one.DriverToothCount(), one.DrivenToothCount(), one.BeltToothCount()}] = one.CenterDistanceMM
		}
		require.Equal(t, want, got, "bit for bit: both ask the kernel")
		n, err := s.Count(1000, nil)
		require.NoError(t, err)
		require.Equal(t, len(want), n)
		page, err := s.Page(nil, 1000, nil)
		require.NoError(t, err)
		require.Len(t, page, n)
		for i := 1; i < len(page); i++ {
			a, b := page[i-1], page[i]
			switch q.OrderBy {
			case OrderTargetShift:
				require.LessOrEqual(t, math.Abs(a.CenterDistanceMM-target), math.Abs(b.CenterDistanceMM-target))
			case OrderBeltToothCount:
				require.LessOrEqual(t, a.BeltToothCount(), b.BeltToothCount())
			default:
				require.LessOrEqual(t, a.CenterDistanceMM, b.CenterDistanceMM)
			}
		}
	})
}

// FuzzSharedHole: each drive is judged in the hole, or at its end of the slot, as
// a check of it there does.
func FuzzSharedHole(f *testing.F) {
	f.Add("H5M", 36, 36, 178, 32, 32, 174, -0.05, 0.15, -0.15, 0.30)
	f.Add("L", 22, 24, 86, 22, 24, 88, -0.7, 0.8, -1.0, 1.0)
	f.Add("T5", 6, 600, 1300, 10, 11, 20, 0.0, 0.0, math.NaN(), math.Inf(1))
	f.Fuzz(func(t *testing.T, section string, a1, a2, ab, b1, b2, bb int, fitLow, fitHigh, marginalLow, marginalHigh float64) {
		limits := FitLimits{FitLowMM: &fitLow, FitHighMM: &fitHigh, MarginalLowMM: &marginalLow, MarginalHighMM: &marginalHigh}
		drive := func(z1, z2, zb int) DriveInput {
			return DriveInput{Section: section, Driver: Pulley{ToothCount: z1}, Driven: Pulley{ToothCount: z2}, BeltToothCount: &zb}
		}
		q := SharedHoleQuery{Drives: []DriveInput{drive(a1, a2, ab), drive(b1, b2, bb)}, Limits: limits}
		a, err := SolveSharedHole(q)
		requireInputOrNone(t, err)
		if err != nil {
			return
		}
		checker, err := NewChecker(limits, "Limits.")
		require.NoError(t, err)
		require.NotEqual(t, a.DrillCenterDistanceMM == nil, a.SlotFromMM == nil)
		for i, fit := range a.Fits {
			stated := fit.CenterDistanceMM + fit.DeviationMM
			if a.DrillCenterDistanceMM != nil {
				stated = *a.DrillCenterDistanceMM
			}
			r := checker.Check(&CheckItem{Drive: q.Drives[i], CenterDistanceMM: stated})
			if r.Err != nil {
				continue // a hole that no drive may state, such as one below 0
			}
			require.InDelta(t, fit.CenterDistanceMM, r.CenterDistanceMM, 0)
			if a.DrillCenterDistanceMM != nil {
				require.InDelta(t, fit.DeviationMM, r.DeviationMM, 0)
				require.Equal(t, fit.Verdict, r.Verdict)
			}
		}
		if a.SlotFromMM != nil {
			require.Less(t, *a.SlotFromMM, *a.SlotToMM)
		}
	})
}
