package beltmath

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// randomDrive returns a drive whose pulleys keep clear of each other.
func randomDrive(r *rand.Rand) Drive {
	sections := Sections()
	for {
		d := Drive{Profile: Profile{Pitch: PitchMM(0.5 + r.Float64()*20)}}
		if r.IntN(2) == 0 {
			s := sections[r.IntN(len(sections))]
			d.Profile = Profile{Section: s, Pitch: s.Pitch}
		}
		d.Driver.ToothCount = minPulleyTeeth + r.IntN(150)
		d.Driven.ToothCount = minPulleyTeeth + r.IntN(150)
		d.BeltToothCount = minBeltTeeth + r.IntN(600)
		if _, err := d.Center(); err == nil {
			return d
		}
	}
}

func (d Drive) input() DriveInput {
	in := DriveInput{Driver: d.Driver, Driven: d.Driven, BeltToothCount: new(d.BeltToothCount)}
	if d.Section != nil {
		in.Section = d.Section.Designation
	} else {
		in.PitchMM = new(d.Pitch.MM())
	}
	return in
}

func (d Drive) beltQuery(c float64, neighbors int) BeltQuery {
	in := d.input()
	return BeltQuery{
		Section: in.Section, PitchMM: in.PitchMM, Driver: d.Driver, Driven: d.Driven,
		CenterDistanceMM: c, NeighborCount: &neighbors,
	}
}

func (d Drive) pulleyQuery(c float64, neighbors int) PulleyQuery {
	in := d.input()
	return PulleyQuery{
		Section: in.Section, PitchMM: in.PitchMM, Driver: d.Driver, BeltToothCount: d.BeltToothCount,
		CenterDistanceMM: c, NeighborCount: &neighbors,
	}
}

// TestSolversInvertEachOther solves random drives for the center distance and
// from it for the belt and the pulley again.
func TestSolversInvertEachOther(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 3000 {
		d := randomDrive(r)
		name := fmt.Sprintf("%v %d/%d/%d", d.Pitch.MM(), d.Driver.ToothCount, d.Driven.ToothCount, d.BeltToothCount)
		center, err := SolveCenterDistance(CenterQuery{Drive: d.input(), AllowanceMM: 0.125})
		require.NoError(t, err, name)
		c := center.Geometry.CenterDistanceMM
		assert.InDelta(t, 0.125, center.DrillCenterDistanceMM-c, 1e-10, name)

		n := 1 + r.IntN(maxNeighborCount)
		belts, err := SolveBelt(d.beltQuery(c, n))
		require.NoError(t, err, name)
		assert.InEpsilon(t, d.BeltToothCount, belts.ExactToothCount, 1e-15, name)
		best := belts.Candidates[0]
		assert.Equal(t, d.BeltToothCount, best.Geometry.Drive.BeltToothCount, name)
		assert.Zero(t, best.CenterShiftMM, name) // the asked distance is this belt's to the bit
		checkNeighbors(t, name, d.BeltToothCount, n, beltCounts(belts), d.beltWorks)

		pulleys, err := SolvePulley(d.pulleyQuery(c, n))
		require.NoError(t, err, name)
		assert.InDelta(t, d.Driven.ToothCount, pulleys.ExactToothCount, 1e-9, name)
		assert.Equal(t, d.Driven.ToothCount, pulleys.Candidates[0].Geometry.Drive.Driven.ToothCount, name)
		assert.Zero(t, pulleys.Candidates[0].CenterShiftMM, name)
		checkNeighbors(t, name, d.Driven.ToothCount, n, drivenCounts(pulleys), d.drivenWorks)
	}
}

func (d Drive) beltWorks(teeth int) bool {
	d.BeltToothCount = teeth
	_, err := d.Center()
	return teeth >= minBeltTeeth && teeth <= maxBeltTeeth && err == nil
}

func (d Drive) drivenWorks(teeth int) bool {
	d.Driven.ToothCount = teeth
	_, err := d.Center()
	return teeth >= minPulleyTeeth && teeth <= maxPulleyTeeth && err == nil
}

func beltCounts(a BeltAnswer) map[int]bool {
	counts := map[int]bool{}
	for _, c := range a.Candidates {
		counts[c.Geometry.Drive.BeltToothCount] = true
	}
	return counts
}

func drivenCounts(a PulleyAnswer) map[int]bool {
	counts := map[int]bool{}
	for _, c := range a.Candidates {
		counts[c.Geometry.Drive.Driven.ToothCount] = true
	}
	return counts
}

// checkNeighbors wants exactly the counts within n of the fitting one that
// make a drive.
func checkNeighbors(t *testing.T, name string, fitting, n int, got map[int]bool, works func(int) bool) {
	t.Helper()
	want := map[int]bool{}
	for teeth := fitting - n; teeth <= fitting+n; teeth++ {
		if works(teeth) {
			want[teeth] = true
		}
	}
	assert.Equal(t, want, got, name)
}

// TestCandidatesBracket asks at center distances between two belts: n on each
// side, in the order of their shifts, each shift true.
func TestCandidatesBracket(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		d := randomDrive(r)
		g, err := d.Geometry()
		require.NoError(t, err)
		c := g.CenterDistanceMM + d.Pitch.MM()*(0.1+0.3*r.Float64())
		a, err := SolveBelt(d.beltQuery(c, 2))
		require.NoError(t, err)
		below, above := 0, 0
		last := 0.0
		for _, candidate := range a.Candidates {
			if candidate.CenterShiftMM < 0 {
				below++
			} else {
				above++
			}
			assert.GreaterOrEqual(t, math.Abs(candidate.CenterShiftMM), last)
			last = math.Abs(candidate.CenterShiftMM)
			assert.InDelta(t, c+candidate.CenterShiftMM, candidate.Geometry.CenterDistanceMM, 1e-9)
		}
		assert.LessOrEqual(t, below, 2)
		assert.Equal(t, min(2, maxBeltTeeth-d.BeltToothCount), above)
		assert.GreaterOrEqual(t, below, 1) // d itself
	}
}

// TestSmallestBelt compares the belt that errors name with a plain search from
// the least belt up.
func TestSmallestBelt(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 500 {
		d := randomDrive(r)
		if r.IntN(2) == 0 {
			flange := d.Pitch.PitchDiameterMM(max(d.Driver.ToothCount, d.Driven.ToothCount)) * (1 + r.Float64())
			d.Driver.FlangeDiameterMM, d.Driven.FlangeDiameterMM = &flange, &flange
		}
		want := minBeltTeeth
		for !d.beltWorks(want) {
			want++
		}
		if want == minBeltTeeth {
			continue
		}
		d.BeltToothCount = want - 1
		_, err := SolveCenterDistance(CenterQuery{Drive: d.input()})
		var none *NoSolutionError
		require.ErrorAs(t, err, &none)
		assert.Equal(t, strconv.Itoa(want), none.Nearest)
		assert.Equal(t, "Drive.BeltToothCount", none.Field)
	}
}

// TestNearestCenterWorks asks again with the nearest value of each refusal.
func TestNearestCenterWorks(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	refused := 0
	for range 2000 {
		d := randomDrive(r)
		c := math.Exp(r.Float64()*15 - 3) // 0.05 to 160000 mm
		var none *NoSolutionError
		if _, err := SolveBelt(d.beltQuery(c, 1)); err != nil {
			require.ErrorAs(t, err, &none)
			nearest, parseErr := strconv.ParseFloat(none.Nearest, 64)
			require.NoError(t, parseErr)
			_, err = SolveBelt(d.beltQuery(nearest, 1))
			require.NoError(t, err, "%v", none)
			refused++
		}
		if _, err := SolvePulley(d.pulleyQuery(c, 1)); err != nil {
			require.ErrorAs(t, err, &none)
			nearest, parseErr := strconv.ParseFloat(none.Nearest, 64)
			require.NoError(t, parseErr, "%v", none)
			_, err = SolvePulley(d.pulleyQuery(nearest, 1))
			require.NoError(t, err, "%v", none)
			refused++
		}
	}
	require.Greater(t, refused, 500)
}

// TestGeometryIsConsistent checks a solved drive by plain geometry: tangent
// points lie on the pitch circles, spans are square to the radii there and as
// long as said, and arcs and spans add up to the belt.
func TestGeometryIsConsistent(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for range 3000 {
		d := randomDrive(r)
		g, err := d.Geometry()
		require.NoError(t, err)
		scale := g.BeltLengthMM
		for _, p := range []PulleyGeometry{g.Driver, g.Driven} {
			radius := p.PitchDiameterMM / 2
			assert.InEpsilon(t, radius, math.Hypot(p.UpperTangent.XMM-p.Center.XMM, p.UpperTangent.YMM), 1e-13)
			assert.InDelta(t, 0, p.UpperTangent.YMM+p.LowerTangent.YMM, 0)
			dx, dy := g.Driven.UpperTangent.XMM-g.Driver.UpperTangent.XMM, g.Driven.UpperTangent.YMM-g.Driver.UpperTangent.YMM
			square := dx*(p.UpperTangent.XMM-p.Center.XMM) + dy*p.UpperTangent.YMM
			assert.InDelta(t, 0, square/(scale*radius), 1e-12)
			assert.InDelta(t, g.SpanLengthMM, math.Hypot(dx, dy), 1e-12*scale)
		}
		arcs := g.Driver.WrapRad*g.Driver.PitchDiameterMM/2 + g.Driven.WrapRad*g.Driven.PitchDiameterMM/2
		assert.InDelta(t, g.BeltLengthMM, 2*g.SpanLengthMM+arcs, 1e-12*scale)
		assert.InDelta(t, g.CenterDistanceMM, g.Driven.Center.XMM, 0)
	}
}

// TestSensitivityAgainstDifferences compares the derivatives with differences
// of the exact solver. Over a step of one tooth the third derivative leaves an
// error that falls with the square of the counts: 2e-4 for these drives.
func TestSensitivityAgainstDifferences(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for range 1000 {
		d := Drive{Profile: Profile{Pitch: PitchMM(1 + 10*r.Float64())}}
		d.Driver.ToothCount, d.Driven.ToothCount = 60+r.IntN(200), 60+r.IntN(200)
		d.BeltToothCount = d.Driver.ToothCount + d.Driven.ToothCount + 100 + r.IntN(300)
		g, err := d.Geometry()
		require.NoError(t, err)
		center := func(driver, driven, belt int) float64 {
			return d.Pitch.CenterMM(d.Driver.ToothCount+driver, d.Driven.ToothCount+driven, d.BeltToothCount+belt)
		}
		s := g.Sensitivity
		p := d.Pitch.MM()
		assert.InDelta(t, (center(0, 0, 1)-center(0, 0, -1))/2, s.PerBeltToothMM, 2e-4*p)
		assert.InDelta(t, (center(1, 0, 0)-center(-1, 0, 0))/2, s.PerDriverToothMM, 2e-4*p)
		assert.InDelta(t, (center(0, 1, 0)-center(0, -1, 0))/2, s.PerDrivenToothMM, 2e-4*p)
		// dL/dC by a difference small enough for ten digits.
		h := g.CenterDistanceMM * 1e-4
		length := func(c float64) float64 {
			return d.Pitch.BeltLengthMM(d.Driver.ToothCount, d.Driven.ToothCount, c)
		}
		slope := (length(g.CenterDistanceMM+h) - length(g.CenterDistanceMM-h)) / (2 * h)
		assert.InEpsilon(t, 1/slope, s.PerBeltLength, 1e-7)
	}
}

// TestSwappingPulleys changes nothing but which is which.
func TestSwappingPulleys(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	for range 1000 {
		d := randomDrive(r)
		swapped := d
		swapped.Driver, swapped.Driven = d.Driven, d.Driver
		a, err := d.Geometry()
		require.NoError(t, err)
		b, err := swapped.Geometry()
		require.NoError(t, err)
		assert.InDelta(t, a.CenterDistanceMM, b.CenterDistanceMM, 0) // the same integers go in
		assert.InDelta(t, a.SpanLengthMM, b.SpanLengthMM, 0)
		assert.Equal(t, a.Driver.MeshedToothCount, b.Driven.MeshedToothCount)
		assert.InDelta(t, a.Driver.WrapRad, b.Driven.WrapRad, 1e-15)
		assert.InEpsilon(t, 1/a.SpeedRatio, b.SpeedRatio, 1e-15)
		assert.InEpsilon(t, a.Sensitivity.PerDriverToothMM, b.Sensitivity.PerDrivenToothMM, 1e-14)
	}
}

func TestFindRoot(t *testing.T) {
	root, err := findRoot(func(x float64) float64 { return x*x - 2 }, 0, 2)
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt2, root, 1e-15)
	_, err = findRoot(func(x float64) float64 { return x + 1 }, 0, 2)
	require.ErrorIs(t, err, errNoRoot)
	_, err = findRoot(func(float64) float64 { return math.NaN() }, 0, 2)
	require.ErrorIs(t, err, errNoRoot)
}

// FuzzSolve puts any numbers to the three solvers: no panic, and no answer
// that is not finite.
func FuzzSolve(f *testing.F) {
	f.Add("H5M", 5.0, 36, 36, 174, 345.0, 0.05, 1)
	f.Add("", 5.0, 6, 600, 5000, 250000.0, -5.0, 20)
	f.Add("", 0.5, 6, 6, 7, 0.25, 0.0, 20)
	f.Add("T10", 10.0, 43, 6, 50, 5e-324, 150.0, 3) // no center distance at all in pitches
	f.Add("H6M", math.NaN(), -1, math.MaxInt, math.MinInt, math.Inf(1), math.Inf(-1), -7)
	f.Fuzz(func(t *testing.T, section string, pitch float64, driver, driven, belt int, center, flange float64, neighbors int) {
		in := DriveInput{Section: section, Driver: Pulley{ToothCount: driver}, Driven: Pulley{ToothCount: driven, FlangeDiameterMM: &flange}, BeltToothCount: &belt}
		if section == "" {
			in.PitchMM = &pitch
		}
		in.Driver.FlangeDiameterMM = &flange
		a, err := SolveCenterDistance(CenterQuery{Drive: in, AllowanceMM: flange})
		requireInputOrNone(t, err)
		if err == nil {
			requireFinite(t, a.Geometry)
		}
		query := BeltQuery{Section: in.Section, PitchMM: in.PitchMM, Driver: in.Driver, Driven: in.Driven, CenterDistanceMM: center, NeighborCount: &neighbors, StandardLengthsOnly: driver%2 == 0}
		belts, err := SolveBelt(query)
		requireInputOrNone(t, err)
		if err == nil {
			require.NotEmpty(t, belts.Candidates)
			for _, c := range belts.Candidates {
				requireFinite(t, c.Geometry)
			}
		}
		pulleyQuery := PulleyQuery{Section: in.Section, PitchMM: in.PitchMM, Driver: in.Driver, BeltToothCount: belt, CenterDistanceMM: center, NeighborCount: &neighbors}
		pulleys, err := SolvePulley(pulleyQuery)
		requireInputOrNone(t, err)
		if err == nil {
			require.NotEmpty(t, pulleys.Candidates)
			for _, c := range pulleys.Candidates {
				requireFinite(t, c.Geometry)
			}
		}
	})
}

func requireFinite(t *testing.T, g Geometry) {
	t.Helper()
	s := g.Sensitivity
	for _, v := range []float64{
		g.BeltLengthMM, g.CenterDistanceMM, g.SpanLengthMM, g.SpeedRatio,
		s.PerBeltToothMM, s.PerDriverToothMM, s.PerDrivenToothMM, s.PerBeltLength,
		g.Driver.WrapRad, g.Driven.WrapRad, g.Driver.UpperTangent.XMM, g.Driven.LowerTangent.YMM,
	} {
		require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", g)
	}
	require.Positive(t, g.CenterDistanceMM)
}

// The chain of example 14.3 of Design of Machine Elements (S33): 21 and 63
// teeth, 122 links of 12.7 mm; the book's square-root form gives 500.804717 mm.
func ExampleSolveCenterDistance() {
	answer, err := SolveCenterDistance(CenterQuery{Drive: DriveInput{
		PitchMM: new(12.7), Driver: Pulley{ToothCount: 21}, Driven: Pulley{ToothCount: 63}, BeltToothCount: new(122),
	}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.9f mm\n", answer.Geometry.CenterDistanceMM)
	// Output: 500.787081678 mm
}

// A T5 drive of 38 and 114 teeth at 299 mm, worked in a textbook exercise
// (S18), which takes the belt of 198 teeth.
func ExampleSolveBelt() {
	answer, err := SolveBelt(BeltQuery{
		Section: "T5", Driver: Pulley{ToothCount: 38}, Driven: Pulley{ToothCount: 114}, CenterDistanceMM: 299,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f teeth\n", answer.ExactToothCount)
	for _, c := range answer.Candidates {
		fmt.Printf("%d teeth: %+.4f mm\n", c.Geometry.Drive.BeltToothCount, c.CenterShiftMM)
	}
	// Output:
	// 198.055 teeth
	// 198 teeth: -0.1406 mm
	// 199 teeth: +2.4118 mm
}

// Equal pulleys: the center distance is pitch times (belt - pulley)/2, so a
// belt of 174 teeth at 345 mm and 5 mm pitch wants 36 teeth.
func ExampleSolvePulley() {
	answer, err := SolvePulley(PulleyQuery{
		Section: "H5M", Driver: Pulley{ToothCount: 36}, BeltToothCount: 174, CenterDistanceMM: 345,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(answer.Candidates[0].Geometry.Drive.Driven.ToothCount)
	// Output: 36
}
