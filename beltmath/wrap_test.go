package beltmath

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The involute form tan t - t = pi (w - m)/(2 m) is solved by no step of
// smallWrapRad: its residual in math/big, divided by the derivative tan^2 t,
// is the error.
func TestSmallWrapRad(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	worst := 0.
	for range 4000 {
		m, w, _ := reduceCounts(randomCounts(r))
		got := smallWrapRad(m, w)
		if m == 0 {
			require.Equal(t, math.Pi/2, got)
			continue
		}
		sin, cos := bigSinCos(bigNum(got))
		tan := bigQuo(sin, cos)
		want := bigQuo(bigMul(bigPi, bigNum(float64(w-m))), bigNum(float64(2*m)))
		residual := bigSub(bigSub(tan, bigNum(got)), want)
		worst = max(worst, math.Abs(bigFloat64(bigQuo(residual, bigMul(tan, tan))))/ulpOf(got))
	}
	t.Logf("worst %.2f ulp", worst)
	assert.LessOrEqual(t, worst, 4.)
	assert.Equal(t, math.Pi/2, smallWrapRad(0, 100))
}

func TestMeshedTeeth(t *testing.T) {
	for teeth := minPulleyTeeth; teeth <= maxPulleyTeeth; teeth++ {
		require.Equal(t, teeth/2, meshedTeeth(teeth, 2*smallWrapRad(0, 200)), "equal pulleys")
	}
	tests := []struct {
		teeth int
		deg   float64
		want  int
	}{
		{20, 179.9, 9},
		{20, 180.1, 10},
		{60, 240, 40}, // two thirds of a turn, whole in floating point too
		{18, 119.9, 5},
		{18, 120.1, 6},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.want, meshedTeeth(tt.teeth, tt.deg*math.Pi/180), "%d teeth, %v deg", tt.teeth, tt.deg)
	}
}

// How near teeth wrap / 2 pi comes to a whole number over all drives of unequal
// pulleys, small and large pulley alike; by default over a sample of m. Found
// with -long over the whole domain, 1 624 953 330 wraps: 1.16e-9.
func TestMeshedTeethNearestWhole(t *testing.T) {
	nearest, count := 1., 0
	for m := 1; m <= maxPulleyTeeth-minPulleyTeeth; m++ {
		if !*long && m%50 != 0 {
			continue
		}
		for half := 1; half <= maxBeltTeeth-minPulleyTeeth-m; half++ { // (w - m)/2
			share := smallWrapRad(m, m+2*half) / math.Pi
			greatest := min(maxPulleyTeeth-m, maxBeltTeeth-m-half)
			for small := minPulleyTeeth; small <= greatest; small++ {
				a := float64(small) * share
				b := float64(small+m) * share
				nearest = min(nearest, math.Abs(a-math.Round(a)), math.Abs(b-math.Round(b)))
				count += 2
			}
		}
	}
	t.Logf("nearest %.3g over %d wraps", nearest, count)
	// An angle good to 4 ulp and two roundings: below 600 * 6 * 2^-53.
	assert.Greater(t, nearest, 1e-12)
}
