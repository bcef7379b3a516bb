package base

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// rowBase is a row of equal wheels with a belt between neighbors.
func rowBase(axles int) Base {
	b := roverA()
	b.Axles, b.Links, b.Standoffs = nil, nil, nil
	b.SideCount = new(1)
	for i := range axles {
		b.Axles = append(b.Axles, Axle{Kind: AxleKindLive, WheelDiameterMM: 160, WheelWidthMM: 45, DropMM: float64(i%2) * 20})
		if i > 0 {
			from, to := i-1, i
			if i%2 == 0 { // both ways round
				from, to = i, i-1
			}
			b.Links = append(b.Links, beltOn(from, to, "H5M", flanged(36, 61), flanged(36, 61), 174))
		}
	}
	b.Members = nil
	return b
}

// fitProblem resolves a layout with its single links analyzed.
func fitProblem(t *testing.T, q LayOutQuery) (*layoutProblem, []beltmath.FitAnswer) {
	t.Helper()
	p, err := q.resolve()
	require.NoError(t, err)
	answers, err := p.analyzeLinks()
	require.NoError(t, err)
	return p, answers
}

// sample estimates the share of a side by drawing holes and belts: sign -1 is
// the wrong correlation.
func sample(p *layoutProblem, answers []beltmath.FitAnswer, n int, sign float64) float64 {
	r := rand.New(rand.NewPCG(81, 82)) //nolint:gosec // a fixed seed
	hole := p.holeTolerance() / 3
	x := make([]float64, len(p.Axles))
	good := 0
	for range n {
		for i := range x {
			x[i] = hole * r.NormFloat64()
		}
		ok := true
		for i := range p.links {
			l, a := &p.links[i], &answers[i]
			left, right := min(l.FromAxle, l.ToAxle), max(l.FromAxle, l.ToAxle)
			slope := math.Abs(p.positions[left].XMM-p.positions[right].XMM) / distance(p.positions[left], p.positions[right])
			d := a.DeviationMM.Mean + slope*(x[right]-sign*x[left]) + a.OtherSigmaMM*r.NormFloat64()
			ok = ok && d >= a.FitLowMM && d <= a.FitHighMM
		}
		if ok {
			good++
		}
	}
	return float64(good) / float64(n)
}

// ringBase closes a ring: two belts side by side on axles 0
// and 1.
func ringBase() Base {
	b := rowBase(2)
	b.Links = append(b.Links, b.Links[0])
	return b
}

// ringOfFour closes a ring over four axles.
func ringOfFour() Base {
	b := rowBase(4)
	for i := range b.Axles {
		b.Axles[i].DropMM = 0
	}
	p := flanged(36, 61)
	b.Links = []LinkInput{
		beltOn(1, 0, "H5M", p, p, 174), beltOn(1, 3, "H5M", p, p, 312), beltOn(3, 2, "H5M", p, p, 174), beltOn(0, 2, "H5M", p, p, 312),
	}
	return b
}

// TestBaseFitMonteCarlo draws hole errors and belts. 400000 samples are within
// 5 sigma = 5 sqrt(0.25 / 400000) = 0.004 of the share.
func TestBaseFitMonteCarlo(t *testing.T) {
	tests := []struct {
		name        string
		base        Base
		hole, belt  float64
		wrongDiffer bool // the wrong sign of correlation shows
	}{
		{"rows of usual belts", rowBase(5), 0.15, 0.2, true},
		{"holes above all", rowBase(4), 0.3, 0.05, true},
		{"belts without tolerance", rowBase(6), 0.2, 0, true},
		{"ring of two", ringBase(), 0.15, 0.2, false},
		{"ring of four", ringOfFour(), 0.3, 0.1, false},
	}
	const n, delta = 400000, 0.004
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			q := LayOutQuery{Base: tt.base, Fit: &Fit{HoleToleranceMM: &tt.hole, BeltLengthToleranceMM: &tt.belt}}
			l := layOut(t, q)
			p, answers := fitProblem(t, q)
			assert.InDelta(t, sample(p, answers, n, 1), l.Fit.ShareGood, delta)
			t.Log(l.Fit.ShareGood, sample(p, answers, n, -1))
			if tt.wrongDiffer {
				assert.Greater(t, math.Abs(sample(p, answers, n, -1)-l.Fit.ShareGood), 3*delta, "the sign would not show")
			}
		})
	}
}

// TestBaseFitOneLink: with one belt the grid gives the share of AnalyzeFit, in
// both kinds of step.
func TestBaseFitOneLink(t *testing.T) {
	for _, belt := range []float64{0, 0.001, 0.01, 0.02, 0.2, 2} {
		l := layOut(t, LayOutQuery{Base: rowBase(2), Fit: &Fit{
			HoleToleranceMM: new(0.1), BeltLengthToleranceMM: &belt, PulleyOversizeMM: 0.02, DrivenPlayMM: 0.01,
		}})
		// By hand: each of the two holes along the rail, at the slope of the belt.
		c := l.Links[0].Geometry.CenterDistanceMM
		a, err := beltmath.AnalyzeFit(beltmath.FitQuery{
			Drive: rowBase(2).Links[0].Drive, CenterDistanceMM: c, CenterToleranceMM: new(0.1 * math.Sqrt2 * math.Sqrt(c*c-20*20) / c),
			BeltLengthToleranceMM: &belt, PulleyOversizeMM: 0.02, DrivenPlayMM: 0.01,
		})
		require.NoError(t, err)
		assert.InDelta(t, a.ShareGood, l.Fit.ShareGood, 1e-6)
		assert.InDelta(t, a.ShareGood, l.Fit.Links[0].ShareGood, 1e-12)
		assert.InDelta(t, a.DeviationMM.Sigma, l.Fit.Links[0].SigmaMM, 1e-12)
	}
}

// TestBaseFitIndependent: with perfect holes shares multiply, over sides too,
// and holes that hardly vary come close to that.
func TestBaseFitIndependent(t *testing.T) {
	b := rowBase(5)
	b.SideCount = new(3)
	for _, hole := range []float64{0, 1e-7} {
		l := layOut(t, LayOutQuery{Base: b, Fit: &Fit{HoleToleranceMM: &hole}})
		want := 1.0
		for _, link := range l.Fit.Links {
			want *= link.ShareGood
		}
		assert.Greater(t, want, 0.1)
		assert.Less(t, want, 0.99)
		assert.InDelta(t, want*want*want, l.Fit.ShareGood, 3e-6) // 1e-6 a side
	}
}

// TestBaseFitGrid halves the step of the grid, at own parts that vary from not
// at all to far more than the holes, and for rings.
func TestBaseFitGrid(t *testing.T) {
	worst := 0.0
	check := func(b Base, hole, belt float64) {
		p, answers := fitProblem(t, LayOutQuery{Base: b, Fit: &Fit{HoleToleranceMM: &hole, BeltLengthToleranceMM: &belt}})
		var in inputs
		coarse, fine := p.shareOfSide(&in, answers, holeStepSigma), p.shareOfSide(&in, answers, holeStepSigma/2)
		require.Empty(t, in.errs)
		worst = max(worst, math.Abs(coarse-fine))
	}
	for _, belt := range []float64{0, 0.003, 0.0099, 0.0101, 0.05, 0.5} {
		check(rowBase(16), 0.1, belt)
		check(rowBase(5), 0.2, belt)
		if belt > 0.02 {
			check(ringBase(), 0.1, belt)
			check(ringOfFour(), 0.1, belt)
		}
	}
	t.Log("greatest change", worst)
	assert.Less(t, worst, 1e-6)
}

// TestBaseFitInputs: what is at fault is named where it came from.
func TestBaseFitInputs(t *testing.T) {
	m := beltmath.BeltMeasurement{Driver: flanged(36, 61), Driven: flanged(36, 61), CenterDistanceMM: 345, UncertaintyMM: 0.02}
	far := m
	far.CenterDistanceMM = 400
	tests := []struct {
		fit    Fit
		field  string
		reason string
	}{
		{Fit{HoleToleranceMM: new(-1.0)}, "Fit.HoleToleranceMM", beltmath.ReasonOutOfRange},
		{Fit{HoleToleranceMM: new(5.1)}, "Fit.HoleToleranceMM", beltmath.ReasonOutOfRange},
		{Fit{HoleToleranceMM: new(math.NaN())}, "Fit.HoleToleranceMM", beltmath.ReasonNotFinite},
		{Fit{BeltLengthToleranceMM: new(11.0)}, "Fit.BeltLengthToleranceMM", beltmath.ReasonOutOfRange},
		{Fit{DriverPlayMM: -1}, "Fit.DriverPlayMM", beltmath.ReasonOutOfRange},
		{Fit{PlateExpansionPerK: 1}, "Fit.PlateExpansionPerK", beltmath.ReasonOutOfRange},
		{Fit{Measurements: []LinkMeasurement{{Link: 2, Belt: m}}}, "Fit.Measurements[0].Link", beltmath.ReasonOutOfRange},
		{Fit{Measurements: []LinkMeasurement{{Link: 1, Belt: m}, {Link: 1, Belt: m}}}, "Fit.Measurements[1].Link", ReasonTwice},
		{Fit{Measurements: []LinkMeasurement{{Link: 1, Belt: far}}}, "Fit.Measurements[0].Belt.CenterDistanceMM", beltmath.ReasonOutOfRange},
	}
	for _, tt := range tests {
		_, err := LayOutBase(LayOutQuery{Base: rowBase(3), Fit: &tt.fit})
		var faults beltmath.InputErrors
		require.ErrorAs(t, err, &faults, tt.field)
		require.Len(t, faults, 1, tt.field)
		assert.Equal(t, tt.field, faults[0].Field)
		assert.Equal(t, tt.reason, faults[0].Reason)
	}
	_, err := LayOutBase(LayOutQuery{Base: ringBase(), Fit: &Fit{BeltLengthToleranceMM: new(0.0)}})
	var faults beltmath.InputErrors
	require.ErrorAs(t, err, &faults)
	assert.Equal(t, ReasonRingTooSharp, faults[0].Reason)
}

// TestBaseFitMeasured: a measured belt moves its own link only, and the notes
// tell what the shares rest on.
func TestBaseFitMeasured(t *testing.T) {
	b := rowBase(3)
	b.SideCount = nil
	fit := &Fit{}
	plain := layOut(t, LayOutQuery{Base: b, Fit: fit})
	fit.Measurements = []LinkMeasurement{{Link: 1, Belt: beltmath.BeltMeasurement{
		Driver: flanged(36, 61), Driven: flanged(36, 61), CenterDistanceMM: 344.9, UncertaintyMM: 0.02,
	}}}
	l := layOut(t, LayOutQuery{Base: b, Fit: fit})
	assert.Equal(t, plain.Fit.Links[0], l.Fit.Links[0])
	assert.InDelta(t, 0.1, l.Fit.Links[1].MeanMM, 1e-9) // 36:36 at 174 teeth is 345 mm

	// By the error function: the middle of -0.05 to 0.15 mm is the best, and half
	// of a hole's 0.05 mm leaves a quarter of its variance. The rail is 20 mm off.
	best, sigma := l.Fit.Links[1].Best, l.Fit.Links[1].SigmaMM
	phi := func(x float64) float64 { return (1 + math.Erf(x/math.Sqrt2)) / 2 }
	assert.InDelta(t, -0.05, best.MoveMM, 1e-9)
	assert.InDelta(t, 2*phi(0.1/sigma)-1, best.ShareGood, 1e-12)
	holes := 2 * (345.0*345 - 20*20) / (345 * 345) * (0.05 / 3) * (0.05 / 3)
	assert.InDelta(t, holes+0.02*0.02/9, sigma*sigma, 1e-12)
	levers := map[string]float64{}
	for _, lever := range best.Levers {
		levers[lever.Name] = lever.ShareGoodIfHalved
	}
	share := func(variance float64) float64 {
		return phi(0.05/math.Sqrt(variance)) - phi(-0.15/math.Sqrt(variance))
	}
	assert.Len(t, levers, 2)
	assert.InDelta(t, share(holes/4+0.02*0.02/9), levers["Fit.HoleToleranceMM"], 1e-12)
	assert.InDelta(t, share(holes+0.01*0.01/9), levers["Fit.Measurements[0].Belt.UncertaintyMM"], 1e-12)
	var got []string
	for _, n := range l.Notes {
		got = append(got, n.Reason)
	}
	for _, want := range []string{NoteDefaultHoles, NoteMeasuredOnSides, NoteBaseFitModel, beltmath.NoteFitModel, beltmath.NoteDefaultLimits} {
		assert.Contains(t, got, want)
	}
	assert.NotContains(t, got, beltmath.NoteDefaultTolerance)
	assert.Nil(t, layOut(t, LayOutQuery{Base: b}).Fit)
}
