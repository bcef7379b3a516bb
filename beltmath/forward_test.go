package beltmath

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// randomCenter draws a center distance for the pulleys: next above D, near it,
// or anywhere up to the longest belt.
func randomCenter(r *rand.Rand, p Pitch, driver, driven int) float64 {
	d := p.MM() * math.Abs(float64(driver-driven)) / (2 * math.Pi)
	switch r.IntN(3) {
	case 0:
		for range r.IntN(4) {
			d = math.Nextafter(d, math.Inf(1))
		}
		return d
	case 1:
		return d * (1 + math.Exp(-40*r.Float64()))
	default:
		return d + r.Float64()*maxBeltTeeth*p.MM()/2
	}
}

// Against the textbook equation in math/big, also next to D, where an error of
// D would show most.
func TestBeltLengthReference(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	worst, none := 0., 0
	for range 4000 {
		driver, driven, _ := randomCounts(r)
		p, um := randomPitch(r)
		c := randomCenter(r, p, driver, driven)
		pitch := bigPitch(p, um)
		z1, z2 := bigNum(float64(min(driver, driven))), bigNum(float64(max(driver, driven)))
		want := bigLength(pitch, z1, z2, bigNum(c))
		length, teeth := p.BeltLengthMM(driver, driven, c), p.BeltTeeth(driver, driven, c)
		if want == nil {
			none++
			require.True(t, math.IsNaN(length) && math.IsNaN(teeth), "%v: %d %d at %v", p, driver, driven, c)
			continue
		}
		worst = max(worst, ulpsOff(length, want), ulpsOff(teeth, bigQuo(want, pitch)))
	}
	require.Positive(t, none, "no case below D was drawn")
	t.Logf("worst %.6f ulp, %d below D", worst, none)
	assert.LessOrEqual(t, worst, maxUlps)
}

// The length at a center distance solved for is the belt's, but for the ulp in
// which that center distance is rounded: dL/dC is at most 2.
func TestBeltTeethRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	for range 20000 {
		driver, driven, belt := randomCounts(r)
		p, _ := randomPitch(r)
		c := p.CenterMM(driver, driven, belt)
		delta := (2*ulpOf(c) + ulpOf(p.MM()*float64(belt))) / p.MM()
		require.InDelta(t, belt, p.BeltTeeth(driver, driven, c), delta)
		require.Equal(t, p.BeltTeeth(driver, driven, c), p.BeltTeeth(driven, driver, c))
	}
}

func TestBeltLengthEdges(t *testing.T) {
	p := PitchMM(8)
	tests := []struct {
		name           string
		pitch          Pitch
		driver, driven int
		center         float64
		want           float64 // NaN where there is no length
	}{
		{"equal pulleys, 2 C + p z", p, 20, 20, 100, 360},
		{"equal pulleys on one axle", p, 20, 20, 0, 160},
		{"below D", p, 20, 40, 25, math.NaN()},
		{"negative", p, 20, 20, -1, math.NaN()},
		{"not a number", p, 20, 40, math.NaN(), math.NaN()},
		{"infinite", p, 20, 40, math.Inf(1), math.NaN()},
		{"beyond the domain", p, 20, 40, 1e300, math.NaN()},
		{"zero pitch", Pitch{}, 20, 40, 100, math.NaN()},
		{"pulley below the domain", p, 5, 40, 100, math.NaN()},
		{"pulley above the domain", p, 20, 601, 1000, math.NaN()},
	}
	for _, tt := range tests {
		length := tt.pitch.BeltLengthMM(tt.driver, tt.driven, tt.center)
		teeth := tt.pitch.BeltTeeth(tt.driver, tt.driven, tt.center)
		if math.IsNaN(tt.want) {
			assert.True(t, math.IsNaN(length) && math.IsNaN(teeth), tt.name)
			continue
		}
		assert.Equal(t, tt.want, length, tt.name) // whole numbers: exact
		assert.Equal(t, tt.want/8, teeth, tt.name)
	}
}

func TestBeltLengthAllocates(t *testing.T) {
	p := decimalPitch(9525)
	assert.Zero(t, testing.AllocsPerRun(100, func() { sink += p.BeltTeeth(20, 60, 500) }))
}
