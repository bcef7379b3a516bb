package beltmath

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// sink keeps results from being optimized away.
var sink float64

// benchmarkCases are shuffled cases of the whole domain, with all that one
// forward evaluation needs beside the center distance worked out beforehand.
type benchmarkCases struct {
	pitch                Pitch
	driver, driven, belt []int32
	dst                  []float64
	forward              []forwardCase
}

type forwardCase struct {
	radiusDifference, around, center float64 // D, pi (R + r) and C, in mm
}

func newBenchmarkCases() *benchmarkCases {
	const n = 4096
	r := rand.New(rand.NewPCG(51, 52))
	b := &benchmarkCases{pitch: decimalPitch(9525), dst: make([]float64, n)}
	for range n {
		driver, driven, belt := randomCounts(r)
		b.driver = append(b.driver, int32(driver))
		b.driven = append(b.driven, int32(driven))
		b.belt = append(b.belt, int32(belt))
		p := b.pitch.MM()
		b.forward = append(b.forward, forwardCase{
			radiusDifference: p * math.Abs(float64(driver-driven)) / (2 * math.Pi),
			around:           p * float64(driver+driven) / 2,
			center:           b.pitch.CenterMM(driver, driven, belt),
		})
	}
	return b
}

// evaluateForward is the length equation in plain float64, once a case.
func (b *benchmarkCases) evaluateForward() {
	dst := b.dst
	for i, f := range b.forward {
		d, c := f.radiusDifference, f.center
		dst[i] = 2*math.Sqrt(c*c-d*d) + f.around + 2*d*math.Asin(d/c)
	}
}

func (b *benchmarkCases) solveEach() {
	p, dst, driver, driven, belt := b.pitch, b.dst, b.driver, b.driven, b.belt
	for i := range dst {
		dst[i] = p.CenterMM(int(driver[i]), int(driven[i]), int(belt[i]))
	}
}

func (b *benchmarkCases) solveAll() {
	b.pitch.CentersMM(b.dst, b.driver, b.driven, b.belt)
}

// compare runs a round of forward evaluations and a round of solve in turn and
// reports the median nanoseconds of both and of their ratio.
func (b *benchmarkCases) compare(tb *testing.B, solve func()) {
	perCase := func(f func()) float64 {
		start := time.Now()
		f()
		return float64(time.Since(start).Nanoseconds()) / float64(len(b.dst))
	}
	const rounds = 1 << 16 // room for them, not to count the growth of a slice
	forward, inverse, ratio := make([]float64, 0, rounds), make([]float64, 0, rounds), make([]float64, 0, rounds)
	tb.ReportAllocs()
	for tb.Loop() {
		f, s := perCase(b.evaluateForward), perCase(solve)
		forward, inverse, ratio = append(forward, f), append(inverse, s), append(ratio, s/f)
	}
	tb.ReportMetric(median(forward), "ns/forward")
	tb.ReportMetric(median(inverse), "ns/inverse")
	tb.ReportMetric(median(ratio), "ratio")
}

func median(v []float64) float64 {
	slices.Sort(v)
	return v[len(v)/2]
}

// BenchmarkCenter: one solve with its domain checks. Wanted: ratio at most 0.8.
func BenchmarkCenter(b *testing.B) {
	c := newBenchmarkCases()
	c.compare(b, c.solveEach)
}

// BenchmarkCenters: the batch form. Wanted: ratio at most 0.55.
func BenchmarkCenters(b *testing.B) {
	c := newBenchmarkCases()
	c.compare(b, c.solveAll)
}

// BenchmarkBeltTeeth: the exact forward equation, in double-double.
func BenchmarkBeltTeeth(b *testing.B) {
	p := decimalPitch(9525)
	b.ReportAllocs()
	for b.Loop() {
		sink += p.BeltTeeth(20, 60, 500)
	}
}

func TestCenterAllocates(t *testing.T) {
	c := newBenchmarkCases()
	for _, f := range []func(){c.solveEach, c.solveAll} {
		if n := testing.AllocsPerRun(10, f); n != 0 {
			t.Errorf("%v allocations a round, want 0", n)
		}
	}
}
