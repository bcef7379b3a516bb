package beltmath

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPitchMM(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	for range 1000 {
		mm := minPitchMM + r.Float64()*(maxPitchMM-minPitchMM)
		p := PitchMM(mm)
		require.Equal(t, mm, p.MM())
		require.Equal(t, mm, p.exact().hi)
		require.Zero(t, p.exact().lo, "the float64 itself, not a decimal near it")
		require.Equal(t, p, PitchMM(mm))
	}
	for _, mm := range []float64{0, -8, 0.49, 100.1, math.NaN(), math.Inf(1), math.Inf(-1)} {
		assert.Equal(t, Pitch{}, PitchMM(mm), "%v", mm)
	}
	assert.Zero(t, Pitch{}.MM())
}

// Every pitch of whole micrometers: the nearest float64, and the decimal itself
// in double-double.
func TestDecimalPitch(t *testing.T) {
	for um := 500; um <= 100000; um++ {
		p := decimalPitch(um)
		mm := float64(um) / 1000 // the nearest float64: one rounding
		require.Equal(t, mm, p.MM())
		back := p.exact().times(1000).sub(dd{hi: float64(um)})
		require.InDelta(t, 0, back.hi, float64(um)*0x1p-100)
		require.Equal(t, dd{hi: mm}, PitchMM(mm).exact(), "the float64 itself")
		if um%125 == 0 { // an eighth of a millimeter: a float64
			require.Equal(t, PitchMM(mm), p)
		}
	}
	assert.NotEqual(t, PitchMM(9.525), decimalPitch(9525), "9.525 is no float64")
	for _, um := range []int{0, -1, 499, 100001, math.MaxInt, math.MinInt} {
		assert.Equal(t, Pitch{}, decimalPitch(um), "%d", um)
	}
}
