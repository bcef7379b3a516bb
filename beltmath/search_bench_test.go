package beltmath

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// forwardNanoseconds measures one plain evaluation of the forward equation, by
// math.Sqrt and math.Asin over shuffled cases: the unit in which the cost of a
// search is stated. It takes the least of several rounds.
func forwardNanoseconds() float64 {
	type drive struct{ d, sum, c float64 }
	r := rand.New(rand.NewPCG(3, 5))
	cases := make([]drive, 4096)
	for i := range cases {
		a, b := 6+r.IntN(595), 6+r.IntN(595)
		belt := max(a, b) + 1 + r.IntN(2000)
		m := max(a, b) - min(a, b)
		cases[i] = drive{8 * float64(m) / (2 * math.Pi), 8 * float64(a+b) / 2, PitchMM(8).CenterMM(a, b, belt)}
	}
	least := time.Duration(math.MaxInt64)
	for range 50 {
		start, sum := time.Now(), 0.
		for i := range cases {
			c := &cases[i]
			sum += 2*math.Sqrt(c.c*c.c-c.d*c.d) + c.sum + 2*c.d*math.Asin(c.d/c.c)
		}
		benchSum = sum
		least = min(least, time.Since(start))
	}
	return float64(least.Nanoseconds()) / float64(len(cases))
}

var benchSum float64

func searchOf(tb testing.TB, change func(*SearchQuery)) *Search {
	q := SearchQuery{
		PitchMM: new(8.),
		Driver:  &ToothCounts{Min: new(12), Max: new(80)},
		Driven:  &ToothCounts{Min: new(12), Max: new(80)},
		Belt:    &ToothCounts{Min: new(30), Max: new(600)},
	}
	change(&q)
	s, err := q.Resolve()
	require.NoError(tb, err)
	return s
}

// benchmarkAll states the cost in forward evaluations, both by the least time
// of many rounds, because other work on the machine only ever adds.
func benchmarkAll(b *testing.B, s *Search) {
	dst := s.All(nil)
	least := time.Duration(math.MaxInt64)
	b.ReportAllocs()
	for b.Loop() {
		start := time.Now()
		dst = s.All(dst[:0])
		least = min(least, time.Since(start))
	}
	evals := float64(least.Nanoseconds()) / forwardNanoseconds()
	b.ReportMetric(float64(len(dst)), "results")
	b.ReportMetric(evals/float64(len(dst)), "evals/result")
	b.ReportMetric(evals, "evals")
}

func BenchmarkSearchFullRange(b *testing.B) {
	benchmarkAll(b, searchOf(b, func(*SearchQuery) {}))
}

// The window is a tenth of the pitch wide.
func BenchmarkSearchNarrowWindow(b *testing.B) {
	for _, target := range []float64{150, 600, 1500} {
		b.Run(fmt.Sprint(target), func(b *testing.B) {
			benchmarkAll(b, searchOf(b, func(q *SearchQuery) {
				q.TargetCenterDistanceMM, q.ToleranceMM = &target, new(0.4)
			}))
		})
	}
}

func BenchmarkSearchCount(b *testing.B) {
	s := searchOf(b, func(*SearchQuery) {})
	for b.Loop() {
		_, _ = s.Count(math.MaxInt, nil)
	}
}

func BenchmarkSearchFirstPage(b *testing.B) {
	s := searchOf(b, func(q *SearchQuery) {
		q.TargetCenterDistanceMM, q.ToleranceMM = new(600.), new(5000.)
		q.OrderBy = OrderTargetShift
	})
	for b.Loop() {
		_, _ = s.Page(nil, 100, nil)
	}
}

func BenchmarkSearchResolve(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		searchOf(b, func(*SearchQuery) {})
	}
}
