package beltmath

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The kernel and the forward equation give the same bits on every machine and
// for every setting of the compiler: run this under GOAMD64=v1 and v3 and on
// arm64. A change of the sums below is a change of results and needs a reason.
func TestBits(t *testing.T) {
	const cases = 200000
	r := rand.New(rand.NewPCG(41, 42))
	inverse, forward := fnv.New64a(), fnv.New64a()
	for i := range cases {
		driver, driven, belt := randomBitsCounts(r)
		pitches := []Pitch{
			decimalPitch(sectionMicrometers[r.IntN(len(sectionMicrometers))]),
			PitchMM(float64(1000+r.IntN(90000)) / 1003), // no product: the input must not depend on fusing
		}
		write := func(sum interface{ Write([]byte) (int, error) }, v float64) {
			var b [8]byte
			binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
			_, _ = sum.Write(b[:])
		}
		write(inverse, CenterPitches(driver, driven, belt))
		for _, p := range pitches {
			c := p.CenterMM(driver, driven, belt)
			write(inverse, c)
			if i%10 == 0 {
				write(forward, p.BeltLengthMM(driver, driven, c))
				write(forward, p.BeltTeeth(driver, driven, c+float64(r.IntN(1000))))
			}
		}
	}
	assert.Equal(t, uint64(0x51b7bd9173e34f12), inverse.Sum64(), "inverse")
	assert.Equal(t, uint64(0x87fb5cf3f9ac5328), forward.Sum64(), "forward")
}

// randomBitsCounts draws whole numbers only, so that the cases are the same
// everywhere: half of the belts are next to touching.
func randomBitsCounts(r *rand.Rand) (driver, driven, belt int) {
	span := maxPulleyTeeth - minPulleyTeeth + 1
	driver, driven = minPulleyTeeth+r.IntN(span), minPulleyTeeth+r.IntN(span)
	room := maxBeltTeeth - max(driver, driven)
	if r.IntN(2) == 0 {
		room = min(room, 40)
	}
	return driver, driven, max(driver, driven) + 1 + r.IntN(room)
}
