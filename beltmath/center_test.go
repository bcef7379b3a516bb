package beltmath

import (
	"bytes"
	"encoding/csv"
	"math"
	"math/big"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// maxUlps is the promised error of every result, rounding included.
const maxUlps = 0.51

// sectionMicrometers are the pitches of the belt sections in use.
var sectionMicrometers = []int{2000, 2032, 2500, 3000, 5000, 5080, 8000, 9525, 10000, 12700, 14000, 20000, 22225, 31750}

func atoi(t *testing.T, s string) int {
	t.Helper()
	v, err := strconv.Atoi(s)
	require.NoError(t, err)
	return v
}

// The 300 cases were solved outside of this code with 60 digits; the file tells
// how.
func TestCenterGolden(t *testing.T) {
	file, err := os.ReadFile("../testdata/center_distance_golden.csv")
	require.NoError(t, err)
	reader := csv.NewReader(bytes.NewReader(file))
	reader.Comment = '#'
	rows, err := reader.ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 301)
	for _, row := range rows[1:] {
		z1, z2, belt := atoi(t, row[1]), atoi(t, row[2]), atoi(t, row[3])
		pitch, ok := new(big.Rat).SetString(row[4])
		require.True(t, ok)
		um := pitch.Mul(pitch, big.NewRat(1000, 1))
		require.True(t, um.IsInt())
		p := decimalPitch(int(um.Num().Int64()))
		name := strings.Join(row, ",")
		assert.LessOrEqual(t, ulpsOff(p.CenterMM(z1, z2, belt), bigText(row[5])), maxUlps, name)
		assert.LessOrEqual(t, ulpsOff(CenterPitches(z1, z2, belt), bigText(row[6])), maxUlps, name)
	}
}

// randomCounts draws pulleys from the whole range, every fifth pair far apart,
// and belts as often next to touching as at any other length.
func randomCounts(r *rand.Rand) (driver, driven, belt int) {
	span := maxPulleyTeeth - minPulleyTeeth + 1
	driver, driven = minPulleyTeeth+r.IntN(span), minPulleyTeeth+r.IntN(span)
	if r.IntN(5) == 0 {
		driver, driven = minPulleyTeeth+r.IntN(10), maxPulleyTeeth-r.IntN(10)
	}
	large := max(driver, driven)
	excess := math.Exp(r.Float64() * math.Log(float64(maxBeltTeeth-large)))
	return driver, driven, large + max(1, int(excess+0.5))
}

// randomPitch draws a section's pitch or, as often, any float64.
func randomPitch(r *rand.Rand) (p Pitch, micrometers int) {
	if r.IntN(2) == 0 {
		um := sectionMicrometers[r.IntN(len(sectionMicrometers))]
		return decimalPitch(um), um
	}
	return PitchMM(minPitchMM + r.Float64()*(maxPitchMM-minPitchMM)), 0
}

func TestCenterAgainstBisection(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 100 {
		driver, driven, belt := randomCounts(r)
		p, um := randomPitch(r)
		z1, z2 := bigNum(float64(min(driver, driven))), bigNum(float64(max(driver, driven)))
		want := bigCenter(z1, z2, bigNum(float64(belt)), 120)
		require.LessOrEqual(t, ulpsOff(CenterPitches(driver, driven, belt), want), maxUlps, "%d %d %d", driver, driven, belt)
		wantMM := bigMul(want, bigPitch(p, um))
		require.LessOrEqual(t, ulpsOff(p.CenterMM(driver, driven, belt), wantMM), maxUlps, "%v: %d %d %d", p, driver, driven, belt)
	}
}

// All pairs (m, w) of the domain, and so all center distances in pitches; the
// smallest pulley reaches each. By default a sample with every m and the belts
// next to touching whole. Worst found with -long over all 2 794 715 pairs, each
// with ten pitches: 0.50064 ulp in pitches, 0.50096 ulp in millimeters.
func TestCenterWholeDomain(t *testing.T) {
	unit := PitchMM(1)
	worst, worstMM, count := 0., 0., 0
	r := rand.New(rand.NewPCG(3, 4))
	for m := 0; m <= maxPulleyTeeth-minPulleyTeeth; m++ {
		large := minPulleyTeeth + m
		for belt := large + 1; belt <= maxBeltTeeth; belt++ {
			if !*long && belt > large+20 {
				belt += r.IntN(200)
				belt = min(belt, maxBeltTeeth)
			}
			count++
			worst = max(worst, ulpsByLength(unit, minPulleyTeeth, large, belt, CenterPitches(large, minPulleyTeeth, belt)))
			for i := range 10 {
				if i > 0 && !*long {
					break
				}
				p, _ := randomPitch(r)
				worstMM = max(worstMM, ulpsByLength(p, minPulleyTeeth, large, belt, p.CenterMM(minPulleyTeeth, large, belt)))
			}
		}
	}
	t.Logf("%d pairs: worst %.6f ulp in pitches, %.6f ulp in millimeters", count, worst, worstMM)
	assert.LessOrEqual(t, worst, maxUlps)
	assert.LessOrEqual(t, worstMM, maxUlps)
}

// Equal pulleys: C = p w/4 exactly, by the closed form.
func TestCenterEqualPulleys(t *testing.T) {
	for _, teeth := range []int{minPulleyTeeth, 20, 333, maxPulleyTeeth} {
		for belt := teeth + 1; belt <= maxBeltTeeth; belt++ {
			require.Equal(t, float64(belt-teeth)/2, CenterPitches(teeth, teeth, belt))
			require.Equal(t, 8*float64(belt-teeth)/2, decimalPitch(8000).CenterMM(teeth, teeth, belt))
		}
	}
}

func TestCenterNoSolution(t *testing.T) {
	tests := []struct {
		name                 string
		driver, driven, belt int
	}{
		{"pulley below the domain", 5, 20, 100},
		{"pulley above the domain", 20, 601, 1000},
		{"belt above the domain", 20, 30, 5001},
		{"belt no longer than the larger pulley", 20, 100, 100},
		{"belt no longer than equal pulleys", 20, 20, 20},
		{"belt shorter than the pulleys", 100, 20, 7},
		{"nothing", 0, 0, 0},
		{"negative", -20, -30, -100},
		{"greatest integers", math.MaxInt, math.MaxInt, math.MaxInt},
		{"least integers", math.MinInt, math.MinInt, math.MinInt},
		{"belt that wraps round when doubled", 20, 30, math.MinInt/2 - 5},
		{"pulleys that wrap round", math.MinInt, math.MaxInt, 100},
	}
	for _, tt := range tests {
		assert.True(t, math.IsNaN(CenterPitches(tt.driver, tt.driven, tt.belt)), tt.name)
		assert.True(t, math.IsNaN(PitchMM(8).CenterMM(tt.driver, tt.driven, tt.belt)), tt.name)
		assert.True(t, math.IsNaN(PitchMM(8).CenterMM(tt.driven, tt.driver, tt.belt)), tt.name)
	}
	assert.True(t, math.IsNaN(Pitch{}.CenterMM(20, 30, 100)), "zero pitch")
}

func TestCenterProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 20000 {
		driver, driven, belt := randomCounts(r)
		p, _ := randomPitch(r)
		c := p.CenterMM(driver, driven, belt)
		require.Equal(t, c, p.CenterMM(driven, driver, belt), "order of pulleys")
		m, w, ok := reduceCounts(driver, driven, belt)
		require.True(t, ok)
		require.Equal(t, c, p.centerMW(m, w))
		if belt < maxBeltTeeth {
			require.Greater(t, p.CenterMM(driver, driven, belt+1), c, "one more belt tooth")
		}
		if max(driver, driven) < maxPulleyTeeth && belt < maxBeltTeeth {
			require.Equal(t, c, p.CenterMM(driver+1, driven+1, belt+1), "one more tooth on all three")
		}
	}
}

func TestCentersMM(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	const n = 300
	driver, driven, belt := make([]int32, n), make([]int32, n), make([]int32, n)
	for i := range n {
		a, b, c := randomCounts(r)
		driver[i], driven[i], belt[i] = int32(a), int32(b), int32(c)
		if i%10 == 0 {
			belt[i] = int32(r.Int())
		}
	}
	p := decimalPitch(9525)
	for _, count := range []int{0, 1, 63, 64, 65, 128, 299} {
		dst := make([]float64, n)
		require.Equal(t, count, p.CentersMM(dst, driver, driven[:count], belt))
		for i := range count {
			want := p.CenterMM(int(driver[i]), int(driven[i]), int(belt[i]))
			require.Equal(t, math.Float64bits(want), math.Float64bits(dst[i]), "case %d", i)
		}
		require.Zero(t, dst[count], "written beyond the count")
	}
	dst := make([]float64, 2)
	Pitch{}.CentersMM(dst, driver[1:], driven[1:], belt[1:])
	assert.True(t, math.IsNaN(dst[0]) && math.IsNaN(dst[1]), "zero pitch")
}
