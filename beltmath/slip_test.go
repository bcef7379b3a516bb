package beltmath

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func checkOne(t testing.TB, item CheckItem) CheckResult {
	t.Helper()
	results, _, err := CheckDrives([]CheckItem{item}, FitLimits{})
	require.NoError(t, err)
	return results[0]
}

// slipsOf returns the slips that a result names.
func slipsOf(r CheckResult) []string {
	return slices.DeleteFunc(reasonsOf(r.Notes), func(reason string) bool { return !strings.HasPrefix(reason, "LOOKS_LIKE_") })
}

func toItem(section string, driver, driven, belt int, stated float64) CheckItem {
	return CheckItem{
		Drive:            DriveInput{Section: section, Driver: Pulley{ToothCount: driver}, Driven: Pulley{ToothCount: driven}, BeltToothCount: &belt},
		CenterDistanceMM: stated,
	}
}

func rounded(v float64, decimals int) float64 {
	unit := math.Pow(10, float64(decimals))
	return math.Round(v*unit) / unit
}

// randomListedDrive returns a drive of a listed length whose pulleys keep
// clear of each other, with its center distance by bisection.
func randomListedDrive(r *rand.Rand, designation string) (driver, driven, belt int, c float64) {
	s, _ := SectionByName(designation)
	for {
		belt = s.lengths[r.IntN(len(s.lengths))].ToothCount
		driver = 14 + r.IntN(40)
		driven = driver
		if r.IntN(2) == 0 {
			driven = 14 + r.IntN(60)
		}
		c = slowCenter(s.Pitch.MM(), driver, driven, belt)
		if c > s.Pitch.PitchDiameterMM(max(driver, driven)) {
			return driver, driven, belt, c
		}
	}
}

// TestSlipsFound makes each slip in random drives, as a person would, and
// states what came of it to two or three decimals or in full.
func TestSlipsFound(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3)) //nolint:gosec // test data
	withOutside := func(p float64, z1, z2, zb int, a float64) float64 {
		// A belt longer by 2 pi a on pitch circles is the belt on circles
		// smaller by a in radius: bisected on its own.
		low, high := p*math.Abs(float64(z1-z2))/(2*math.Pi)+1e-9, p*float64(zb)
		for range 100 {
			mid := (low + high) / 2
			if plainBeltTeeth(float64(z1), float64(z2), mid/p)*p < p*float64(zb)+2*math.Pi*a {
				low = mid
			} else {
				high = mid
			}
		}
		return low
	}
	made, several := map[string]int{}, 0
	for range 3000 {
		designation := []string{"H5M", "H3M", "H8M", "T5", "XL", "L", "T10"}[r.IntN(7)]
		s, _ := SectionByName(designation)
		p := s.Pitch.MM()
		z1, z2, zb, c := randomListedDrive(r, designation)
		decimals := []int{2, 3, 12}[r.IntN(3)]
		item := toItem(designation, z1, z2, zb, 0)
		var want string
		switch r.IntN(6) {
		case 0:
			want = NoteLooksLikeOutsideDiameter
			item.CenterDistanceMM = rounded(withOutside(p, z1, z2, zb, *s.PitchLineDifferentialMM.Value), decimals)
		case 1:
			want = NoteLooksLikeInches
			item.CenterDistanceMM = rounded(c/25.4, max(3, decimals))
		case 2:
			length := math.Round(p * float64(zb))
			if length > maxBeltTeeth {
				continue
			}
			want = NoteLooksLikeLengthInMM
			item.CenterDistanceMM = rounded(c, decimals)
			item.Drive.BeltToothCount = new(int(length))
		case 3:
			other := map[string]float64{"H5M": 5.08, "T5": 5.08, "XL": 5}[designation]
			if other == 0 {
				continue
			}
			want = NoteLooksLikeOtherPitch
			item.CenterDistanceMM = rounded(slowCenter(other, z1, z2, zb), decimals)
		case 4:
			want = NoteLooksLikeSquareRootForm
			// The form is off by that much at great ratios only.
			z2 = zb - 5 - r.IntN(30)
			if c = slowCenter(p, z1, z2, zb); z2 < 14 || !(c > p*float64(z1+z2)/(2*math.Pi)) {
				continue
			}
			item.Drive.Driven.ToothCount = z2
			m := p * float64(2*zb-z1-z2) / 8
			item.CenterDistanceMM = rounded(m+math.Sqrt(m*m-math.Pow(p*float64(z2-z1)/math.Pi, 2)/8), decimals)
		case 5:
			h := 5 + 40*r.Float64()
			want = NoteLooksLikeRailSpacing
			item.HeightDifferenceMM = new([]float64{h, -h}[r.IntN(2)])
			item.CenterDistanceMM = rounded([]float64{math.Sqrt(c*c + h*h), math.Sqrt(c*c - h*h)}[r.IntN(2)], decimals)
		}
		result := checkOne(t, item)
		require.True(t, result.Solved)
		if result.Verdict != VerdictRejected || math.Abs(result.DeviationMM) <= 0.6 {
			assert.Empty(t, slipsOf(result), "no more than an everyday error")
			continue
		}
		assert.Contains(t, slipsOf(result), want, "%s %d/%d/%d stated %v, exact %v: %v", designation, z1, z2, zb, item.CenterDistanceMM, c, result.Notes)
		made[want]++
		if len(slipsOf(result)) > 1 {
			several++
		}
	}
	t.Log(made, several)
	assert.Less(t, several, 30, "rarely two slips give the same number")
	require.Len(t, made, 6)
	for want, n := range made {
		assert.Greater(t, n, 5, want)
	}
}

// TestHonestDeviations counts slips named where there was none. A workshop's
// errors are normal and some tenths of a millimeter at most: no slip may be
// named. Errors spread evenly over 3 mm either way are no workshop's, but show
// how narrow the slips are: stated to 0.01 mm each slip takes 0.01 mm of 6.
func TestHonestDeviations(t *testing.T) {
	const drives = 20000
	tests := []struct {
		name     string
		error    func(*rand.Rand) float64
		decimals int
		most     int // slips named, of all drives
	}{
		{"normal, sigma 0.1", func(r *rand.Rand) float64 { return 0.1 * r.NormFloat64() }, 2, 0},
		{"normal, sigma 0.2", func(r *rand.Rand) float64 { return 0.2 * r.NormFloat64() }, 2, 0},
		{"normal, sigma 0.3", func(r *rand.Rand) float64 { return 0.3 * r.NormFloat64() }, 2, drives / 1000},
		{"normal, sigma 0.3, unrounded", func(r *rand.Rand) float64 { return 0.3 * r.NormFloat64() }, 12, 0},
		{"even, 3 mm, unrounded", func(r *rand.Rand) float64 { return 6*r.Float64() - 3 }, 12, 0},
		{"even, 3 mm, to 0.01", func(r *rand.Rand) float64 { return 6*r.Float64() - 3 }, 2, drives / 200},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(11, 5)) //nolint:gosec // test data
			named, rejected := map[string]int{}, 0
			for range drives {
				designation := []string{"H5M", "H3M", "H8M", "T5", "XL", "L", "MXL", "T10"}[r.IntN(8)]
				z1, z2, zb, c := randomListedDrive(r, designation)
				item := toItem(designation, z1, z2, zb, rounded(c+tt.error(r), tt.decimals))
				if r.IntN(3) == 0 {
					item.HeightDifferenceMM = new(rounded(30*r.Float64(), 1))
				}
				result := checkOne(t, item)
				if result.Verdict == VerdictRejected {
					rejected++
				}
				for _, slip := range slipsOf(result) {
					named[slip]++
				}
			}
			total := 0
			for _, n := range named {
				total += n
			}
			t.Logf("%d of %d drives rejected, %d slips named: %v", rejected, drives, total, named)
			assert.LessOrEqual(t, total, tt.most)
			assert.Greater(t, rejected, drives/100)
		})
	}
}

func TestSlipNotNamed(t *testing.T) {
	tests := []struct {
		why  string
		item CheckItem
	}{
		{"a deviation that fits", toItem("H5M", 36, 36, 174, 345.1)},
		{"a marginal deviation", toItem("H5M", 36, 36, 174, 345.25)},
		{"near the outside diameters' 346.795 only", toItem("H5M", 36, 36, 174, 346.78)},
		{"12 in and 12 mm are the same number", toItem("H5M", 36, 36, 174, 12)},
		{"no height difference was given", toItem("H5M", 45, 36, 178, 344.38)},
		{"the section's outside diameters are not held", toItem("G8M", 36, 36, 174, 555)},
		{"8 mm belts have no look-alike", toItem("H8M", 36, 36, 174, 552*1.016)},
		{"whole millimeters of an inch design", toItem("L", 22, 22, 86, 304)},
	}
	for _, tt := range tests {
		assert.Empty(t, slipsOf(checkOne(t, tt.item)), tt.why)
	}

	designated := toItem("H5M", 36, 36, 870, 345)
	designated.Drive.BeltToothCount, designated.Drive.BeltDesignation = nil, "4350 H5M"
	assert.Empty(t, slipsOf(checkOne(t, designated)), "a designation is a length already")
}

func TestHalfLastDecimal(t *testing.T) {
	for _, tt := range []struct{ v, want float64 }{
		{346, 0.005},
		{346.8, 0.005},
		{346.79, 0.005},
		{346.795, 0.0005},
		{13.5827, 0.00005},
		{249999.99, 0.005},
		{math.Pi, 0.5e-6},
		{0.1 + 0.2, 0.005},
	} {
		assert.InDelta(t, tt.want, halfLastDecimal(tt.v), 1e-15, fmt.Sprint(tt.v))
	}
}
