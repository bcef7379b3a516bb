package beltmath

import (
	"math"
	"math/rand/v2"
	"testing"
)

type benchCase struct {
	driver, driven, belt int
	d, sum, c            float64
}

func benchCases() []benchCase {
	r := rand.New(rand.NewPCG(1, 2))
	cs := make([]benchCase, 4096)
	for i := range cs {
		a, b := 6+r.IntN(595), 6+r.IntN(595)
		l := max(a, b)
		belt := l + 1 + int(math.Exp(r.Float64()*math.Log(float64(5000-l))))
		if i%2 == 0 {
			belt = l + 1 + r.IntN(5000-l)
		}
		belt = min(belt, 5000)
		cs[i] = benchCase{a, b, belt, 8 * float64(max(a, b)-min(a, b)) / (2 * math.Pi), 8 * float64(a+b) / 2, PitchMM(8).CenterMM(a, b, belt)}
	}
	return cs
}

var sink float64

func BenchmarkForward(b *testing.B) {
	cs := benchCases()
	b.ReportAllocs()
	for b.Loop() {
		s := 0.
		for i := range cs {
			c := &cs[i]
			s += 2*math.Sqrt(c.c*c.c-c.d*c.d) + c.sum + 2*c.d*math.Asin(c.d/c.c)
		}
		sink = s
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(cs)), "ns/eval")
}

func BenchmarkInverse(b *testing.B) {
	cs := benchCases()
	p := PitchMM(8)
	for b.Loop() {
		s := 0.
		for i := range cs {
			c := &cs[i]
			s += p.CenterMM(c.driver, c.driven, c.belt)
		}
		sink = s
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(cs)), "ns/eval")
}

func BenchmarkPitches(b *testing.B) {
	cs := benchCases()
	for b.Loop() {
		s := 0.
		for i := range cs {
			c := &cs[i]
			s += CenterPitches(c.driver, c.driven, c.belt)
		}
		sink = s
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(cs)), "ns/eval")
}

func BenchmarkBatch(b *testing.B) {
	cs := benchCases()
	p := PitchMM(8)
	n := len(cs)
	x, y, z, d := make([]int32, n), make([]int32, n), make([]int32, n), make([]float64, n)
	for i, c := range cs {
		x[i], y[i], z[i] = int32(c.driver), int32(c.driven), int32(c.belt)
	}
	for b.Loop() {
		p.CentersMM(d, x, y, z)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(cs)), "ns/eval")
}
