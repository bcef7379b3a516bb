package beltmath

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// trueCenterMM is the center distance of a belt of any length round pulleys of
// any pitch diameters, by bisection of the open-belt length: no derivative, no
// kernel.
func trueCenterMM(lengthMM, d1, d2 float64) float64 {
	apart := math.Abs(d2-d1) / 2
	excess := func(c float64) float64 {
		return 2*math.Sqrt(c*c-apart*apart) + math.Pi*(d1+d2)/2 + 2*apart*math.Asin(apart/c) - lengthMM
	}
	lo, hi := apart, lengthMM/2
	for hi-lo > 1e-10 {
		if mid := lo + (hi-lo)/2; excess(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// tightness draws one drive of a fit and returns its deviation by the exact
// equations.
func tightness(r *rand.Rand, q FitQuery, teeth int, pitch float64) float64 {
	oneSided := func(end float64) float64 { return end/2 + end/6*r.NormFloat64() }
	drilled := q.CenterDistanceMM*(1+q.PlateExpansionPerK*q.TemperatureChangeK) +
		*q.CenterToleranceMM/3*r.NormFloat64() - oneSided(q.DriverPlayMM) - oneSided(q.DrivenPlayMM)
	length := (float64(teeth)*pitch + *q.BeltLengthToleranceMM/3*r.NormFloat64()) * (1 + q.BeltExpansionPerK*q.TemperatureChangeK)
	d1 := pitch*float64(q.Drive.Driver.ToothCount)/math.Pi + oneSided(q.PulleyOversizeMM)
	d2 := pitch*float64(q.Drive.Driven.ToothCount)/math.Pi + oneSided(q.PulleyOversizeMM)
	return drilled - trueCenterMM(length, d1, d2)
}

// TestFitMonteCarlo draws drives by the exact equations and compares mean,
// spread and shares. With n drawn, a share p is known to sqrt(p(1-p)/n): four
// of these, a chance of 6e-5 each, is the bound. Each contributor left out
// must break it, so the check can fail.
func TestFitMonteCarlo(t *testing.T) {
	const n = 200_000
	full := fullFit()
	full.BeltLengthToleranceMM, full.BeltExpansionPerK = new(0.30), 8e-6
	full.CenterDistanceMM, full.CenterToleranceMM = 343.50, new(0.1)
	full.DriverPlayMM, full.DrivenPlayMM = 0.12, 0.08
	steep := full
	steep.Drive = fitDrive("T5", 14, 120, 150)
	steep.CenterDistanceMM = trueCenterMM(750, 70/math.Pi, 600/math.Pi) - 0.05
	swapped := full
	swapped.Drive = fitDrive("H5M", 45, 36, 178)
	for name, q := range map[string]FitQuery{"full": full, "steep": steep, "driver larger": swapped} {
		r := rand.New(rand.NewPCG(71, 72)) //nolint:gosec // a fixed seed
		a := analyze(t, q)
		var sum, squares float64
		var loose, good, tight int
		for range n {
			deviation := tightness(r, q, *q.Drive.BeltToothCount, 5)
			sum += deviation
			squares += deviation * deviation
			switch {
			case deviation < -0.05:
				loose++
			case deviation <= 0.15:
				good++
			default:
				tight++
			}
		}
		mean := sum / n
		sigma := math.Sqrt(squares/n - mean*mean)
		assert.InDelta(t, mean, a.DeviationMM.Mean, 4*sigma/math.Sqrt(n), name)
		assert.InDelta(t, sigma, a.DeviationMM.Sigma, 4*sigma/math.Sqrt(2*n), name)
		near := func(share float64, count int) bool {
			p := float64(count) / n
			return math.Abs(share-p) <= 4*math.Sqrt(max(p*(1-p), 1.0/n)/n)
		}
		agrees := func(a FitAnswer) bool {
			return near(a.ShareLoose, loose) && near(a.ShareGood, good) && near(a.ShareTight, tight)
		}
		assert.True(t, agrees(a), "%s: %v %v %v, drawn %v %v %v", name, a.ShareLoose, a.ShareGood, a.ShareTight, loose, good, tight)
		for without, change := range leaveOut {
			changed := q
			change(&changed)
			assert.False(t, agrees(analyze(t, changed)), "%s: nobody would notice that %s is left out", name, without)
		}
	}
}

// leaveOut takes one contributor out of a fit.
var leaveOut = map[string]func(*FitQuery){
	"the holes":            func(q *FitQuery) { q.CenterToleranceMM = new(0.0) },
	"the length":           func(q *FitQuery) { q.BeltLengthToleranceMM = new(0.0) },
	"the driver's play":    func(q *FitQuery) { q.DriverPlayMM = 0 },
	"the driven's play":    func(q *FitQuery) { q.DrivenPlayMM = 0 },
	"the oversize":         func(q *FitQuery) { q.PulleyOversizeMM = 0 },
	"the warmth":           func(q *FitQuery) { q.TemperatureChangeK = 0 },
	"the belt's warmth":    func(q *FitQuery) { q.BeltExpansionPerK = 0 },
	"the plates' warmth":   func(q *FitQuery) { q.PlateExpansionPerK = 0 },
	"a tenth of allowance": func(q *FitQuery) { q.CenterDistanceMM += 0.01 },
}

// TestFitFirstOrder: what AnalyzeFit promises of its first-order answer, for
// random drives whose center distance is at least the large pulley's pitch
// diameter and 50 mm.
func TestFitFirstOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(73, 74)) //nolint:gosec // a fixed seed
	worst, count := 0.0, 0
	for count < 3000 {
		pitch := []float64{2, 3, 5, 8, 14}[r.IntN(5)]
		driver, driven, belt := 6+r.IntN(60), 6+r.IntN(60), 30+r.IntN(300)
		center := PitchMM(pitch).CenterMM(driver, driven, belt)
		d1, d2 := pitch*float64(driver)/math.Pi, pitch*float64(driven)/math.Pi
		if !(center >= max(50, d1, d2)) {
			continue
		}
		count++
		drive := fitDrive("", driver, driven, belt)
		drive.PitchMM = &pitch
		q := FitQuery{Drive: drive, CenterDistanceMM: center, CenterToleranceMM: new(0.0), BeltLengthToleranceMM: new(1.0), PulleyOversizeMM: 1}
		a, err := AnalyzeFit(q)
		if err != nil {
			var none *NoSolutionError
			require.ErrorAs(t, err, &none) // pulleys that touch
			continue
		}
		length := pitch * float64(belt)
		loosest := center - trueCenterMM(length+1, d1, d2)
		tightest := center - trueCenterMM(length-1, d1+1, d2+1)
		worst = max(worst, math.Abs(loosest-a.DeviationMM.WorstLow), math.Abs(tightest-a.DeviationMM.WorstHigh))
	}
	assert.Less(t, worst, 0.01)
	assert.Greater(t, worst, 1e-4, "the drives are too tame to show anything")
}

// randomFit returns a drive of the given tolerances at a center distance near
// its exact one.
func randomFit(r *rand.Rand) (FitQuery, bool) {
	drive := fitDrive("", 12+r.IntN(60), 12+r.IntN(60), 80+r.IntN(300))
	drive.PitchMM = new(1 + 9*r.Float64())
	d, err := drive.Resolve()
	if err != nil {
		return FitQuery{}, false
	}
	center, err := d.Center()
	return FitQuery{
		Drive: drive, CenterDistanceMM: center + 0.3*r.Float64() - 0.15, CenterToleranceMM: new(0.1 * r.Float64()),
		BeltLengthToleranceMM: new(0.05 + 0.6*r.Float64()), DriverPlayMM: 0.1 * r.Float64(), DrivenPlayMM: 0.1 * r.Float64(),
		PulleyOversizeMM: 0.1 * r.Float64(), TemperatureChangeK: 40*r.Float64() - 20, PlateExpansionPerK: 23e-6, BeltExpansionPerK: 5e-6,
	}, err == nil
}

func TestFitProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(75, 76)) //nolint:gosec // a fixed seed
	for range 500 {
		q, ok := randomFit(r)
		if !ok {
			continue
		}
		a := analyze(t, q)
		const rounding = 1e-9 // differences of lengths of some 1000 mm
		var shifts, shares float64
		for _, c := range a.Contributors {
			shifts += c.ShiftMM
			shares += c.VarianceShare
		}
		assert.InDelta(t, a.DeviationMM.Mean, shifts, rounding, "shifts add up to the mean")
		assert.InDelta(t, 1, shares, 1e-12)
		assert.InDelta(t, 1, a.ShareLoose+a.ShareGood+a.ShareTight, 1e-14)
		assert.LessOrEqual(t, a.DeviationMM.WorstLow, a.DeviationMM.Mean)
		assert.GreaterOrEqual(t, a.DeviationMM.WorstHigh, a.DeviationMM.Mean)
		for i := 1; i < len(a.Levers); i++ {
			assert.GreaterOrEqual(t, a.Levers[i-1].ShareGoodIfHalved, a.Levers[i].ShareGoodIfHalved)
		}

		// Swapping the pulleys with their plays changes nothing.
		swapped := q
		swapped.Drive.Driver, swapped.Drive.Driven = q.Drive.Driven, q.Drive.Driver
		swapped.DriverPlayMM, swapped.DrivenPlayMM = q.DrivenPlayMM, q.DriverPlayMM
		b := analyze(t, swapped)
		assert.InDelta(t, a.ShareGood, b.ShareGood, 1e-8)
		assert.InDelta(t, a.DeviationMM.WorstHigh, b.DeviationMM.WorstHigh, rounding)

		// All lengths twice as large give the same shares.
		double := scaled(q, 2)
		c := analyze(t, double)
		assert.InDelta(t, a.ShareGood, c.ShareGood, 1e-8)
		assert.InDelta(t, 2*a.DeviationMM.Sigma, c.DeviationMM.Sigma, rounding)
		assert.InDelta(t, 2*a.BestAllowanceMM, c.BestAllowanceMM, 2*rounding)

		// The best allowance is reached by drilling it, and no other is better.
		best := q
		best.CenterDistanceMM = a.ExactCenterDistanceMM + a.BestAllowanceMM
		d := analyze(t, best)
		assert.InDelta(t, a.BestShareGood, d.ShareGood, 1e-12)
		for _, off := range []float64{-0.02, 0.02} {
			best.CenterDistanceMM = a.ExactCenterDistanceMM + a.BestAllowanceMM + off
			assert.Less(t, analyze(t, best).ShareGood, d.ShareGood+1e-15)
		}

		// Wider tolerances never make the best share greater.
		for _, widen := range []func(*FitQuery){
			func(q *FitQuery) { q.CenterToleranceMM = new(*q.CenterToleranceMM + 0.05) },
			func(q *FitQuery) { q.BeltLengthToleranceMM = new(*q.BeltLengthToleranceMM + 0.05) },
			func(q *FitQuery) { q.DriverPlayMM += 0.05 },
			func(q *FitQuery) { q.DrivenPlayMM += 0.05 },
			func(q *FitQuery) { q.PulleyOversizeMM += 0.05 },
		} {
			wide := q
			widen(&wide)
			e := analyze(t, wide)
			assert.Less(t, e.BestShareGood, a.BestShareGood)
			assert.Greater(t, e.DeviationMM.WorstHigh-e.DeviationMM.WorstLow, a.DeviationMM.WorstHigh-a.DeviationMM.WorstLow)
		}
	}
}

// scaled makes every length of a fit larger.
func scaled(q FitQuery, by float64) FitQuery {
	q.Drive.PitchMM = new(*q.Drive.PitchMM * by)
	q.CenterDistanceMM *= by
	q.CenterToleranceMM = new(*q.CenterToleranceMM * by)
	q.BeltLengthToleranceMM = new(*q.BeltLengthToleranceMM * by)
	q.DriverPlayMM *= by
	q.DrivenPlayMM *= by
	q.PulleyOversizeMM *= by
	q.Limits = FitLimits{FitLowMM: new(-0.05 * by), FitHighMM: new(0.15 * by)}
	return q
}

// TestFitLevers: a lever is the share with the field halved in the query.
func TestFitLevers(t *testing.T) {
	q := fullFit()
	levers := map[string]float64{}
	for _, l := range analyze(t, q).Levers {
		levers[l.Name] = l.ShareGoodIfHalved
	}
	halve := map[string]func(*FitQuery){
		"CenterToleranceMM":     func(q *FitQuery) { q.CenterToleranceMM = new(*q.CenterToleranceMM / 2) },
		"BeltLengthToleranceMM": func(q *FitQuery) { q.BeltLengthToleranceMM = new(*q.BeltLengthToleranceMM / 2) },
		"DriverPlayMM":          func(q *FitQuery) { q.DriverPlayMM /= 2 },
		"DrivenPlayMM":          func(q *FitQuery) { q.DrivenPlayMM /= 2 },
		"PulleyOversizeMM":      func(q *FitQuery) { q.PulleyOversizeMM /= 2 },
		"TemperatureChangeK":    func(q *FitQuery) { q.TemperatureChangeK /= 2 },
	}
	assert.Len(t, levers, len(halve))
	for name, change := range halve {
		changed := q
		change(&changed)
		assert.InDelta(t, analyze(t, changed).ShareGood, levers[name], 1e-12, name)
	}
}

// FuzzAnalyzeFit: any numbers give finite answers or a refusal.
func FuzzAnalyzeFit(f *testing.F) {
	f.Add(36, 45, 178, 343.72, 0.05, 0.66, 0.1, 20.0, 23e-6, 0.02)
	f.Add(6, 600, 5000, 250000.0, 0.0, 10.0, 10.0, -300.0, -1e-3, 0.0)
	f.Fuzz(func(t *testing.T, driver, driven, belt int, center, tolerance, length, play, warm, expansion, measured float64) {
		q := FitQuery{
			Drive: fitDrive("H5M", driver, driven, belt), CenterDistanceMM: center, CenterToleranceMM: &tolerance,
			BeltLengthToleranceMM: &length, DriverPlayMM: play, PulleyOversizeMM: play, TemperatureChangeK: warm,
			PlateExpansionPerK: expansion, BeltExpansionPerK: -expansion, StiffnessN: &center,
		}
		if measured != 0 {
			q.BeltLengthToleranceMM = nil
			q.BeltMeasurement = &BeltMeasurement{Driver: Pulley{ToothCount: driven}, Driven: Pulley{ToothCount: driver}, CenterDistanceMM: center + measured, UncertaintyMM: tolerance}
		}
		a, err := AnalyzeFit(q)
		requireInputOrNone(t, err)
		if err != nil {
			return
		}
		for _, v := range []float64{
			a.DeviationMM.Mean, a.DeviationMM.Sigma, a.DeviationMM.WorstLow, a.DeviationMM.WorstHigh, a.BestAllowanceMM,
			a.OtherSigmaMM, a.StretchPercent.Mean, a.TensionN.WorstHigh,
		} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%v in %+v", v, a)
			}
		}
		if sum := a.ShareLoose + a.ShareGood + a.ShareTight; !(math.Abs(sum-1) < 1e-12) || !(a.BestShareGood >= a.ShareGood-1e-12) {
			t.Fatalf("shares %v %v %v, best %v", a.ShareLoose, a.ShareGood, a.ShareTight, a.BestShareGood)
		}
	})
}
