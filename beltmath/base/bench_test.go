package base

import (
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// largeQuery is a wide search: eight axles a side, three sections, pulleys of
// 12 to 60 and belts of 40 to 400 teeth.
func largeQuery(drops ...float64) SearchQuery {
	q := SearchQuery{
		Sections: []string{"H5M", "T5", "AT5"}, Pulley: &beltmath.ToothCounts{Min: new(12), Max: new(60)},
		Belt: &beltmath.ToothCounts{Min: new(40), Max: new(400)}, TargetWheelbaseMM: 1501, ToleranceMM: 5, MinWheelGapMM: 10,
	}
	for i := range 8 {
		q.Axles = append(q.Axles, Axle{WheelDiameterMM: 160, DropMM: drops[i%len(drops)]})
	}
	return q
}

func BenchmarkSearchBases(b *testing.B) {
	for _, bm := range []struct {
		name  string
		query func() SearchQuery
	}{
		{"level", func() SearchQuery { return largeQuery(0) }},
		{"dropped center", func() SearchQuery { return largeQuery(0, 1, 2, 3, 3, 2, 1, 0) }},
		{"every gap different", func() SearchQuery { return largeQuery(0, 1, 3, 6, 10, 15, 21, 28) }},
		{"wide tolerance", func() SearchQuery {
			q := largeQuery(0, 1, 2, 3, 3, 2, 1, 0)
			q.ToleranceMM = 100000
			return q
		}},
		{"three wheel sizes", func() SearchQuery {
			q := largeQuery(0, 1, 2, 3, 3, 2, 1, 0)
			q.Axles[0].WheelDiameterMM, q.Axles[7].WheelDiameterMM = 200, 180
			q.MaxScrubPercent = new(1.0)
			return q
		}},
		{"1000 plans", func() SearchQuery {
			q := largeQuery(0, 1, 2, 3, 3, 2, 1, 0)
			q.MaxResults = new(1000)
			return q
		}},
		{"standard lengths, three belts", func() SearchQuery {
			q := largeQuery(0, 1, 2, 3, 3, 2, 1, 0)
			q.Sections[2] = "H8M"
			q.StandardLengthsOnly, q.MaxDistinctBelts = true, new(3)
			return q
		}},
		{"three belts", func() SearchQuery {
			q := largeQuery(0)
			q.MaxDistinctBelts = new(3)
			return q
		}},
	} {
		b.Run(bm.name, func(b *testing.B) {
			var searched int64
			for b.Loop() {
				a, err := SearchBases(bm.query())
				require.NoError(b, err)
				require.NotEmpty(b, a.Plans)
				searched = a.SearchedCount
			}
			b.ReportMetric(float64(searched), "combinations")
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/search")
		})
	}
}
