package path

import (
	"fmt"
	"math"
	"testing"
)

// ringQuery is n toothed wheels on a ring, large enough to have no notes of few
// teeth in mesh.
func ringQuery(n int) Query {
	q := Query{Section: "H5M"}
	for i := range n {
		sin, cos := math.Sincos(fullTurn * float64(i) / float64(n))
		q.Wheels = append(q.Wheels, toothed(80, 1000*cos, 1000*sin))
	}
	return q
}

var sink float64

// BenchmarkLength is the length alone, for wheels that are known.
func BenchmarkLength(b *testing.B) {
	for _, n := range []int{2, 3, 12} {
		p, err := ringQuery(n).resolve()
		if err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			var c course
			for b.Loop() {
				p.loop.wind(1, &c)
				sink = c.length
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/wheel")
		})
	}
}

// BenchmarkSolve is a whole question: input checked, path checked, answer and
// notes written.
func BenchmarkSolve(b *testing.B) {
	for _, n := range []int{2, 3, 12} {
		q := ringQuery(n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Solve(q); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/wheel")
		})
	}
}

// BenchmarkPositions looks for every position of a wheel on the back.
func BenchmarkPositions(b *testing.B) {
	q := Query{Section: "H5M", BeltToothCount: new(177), Wheels: []Wheel{toothed(36, 0, 0), toothed(36, 345, 0), back(40, 0, 0)}}
	q.Moving = &Moving{WheelIndex: 2, Segment: &Segment{From: at(170, 60), To: at(170, -60)}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Solve(q); err != nil {
			b.Fatal(err)
		}
	}
}
