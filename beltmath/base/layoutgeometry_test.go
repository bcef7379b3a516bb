package base

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// geometryCase is a side with what a general geometry library found on it; see
// generate.py beside the file.
type geometryCase struct {
	Teeth     []int
	Flanges   []*float64
	Drops     []float64
	Wheels    []float64
	Links     []struct{ From, To, Belt int }
	X, Y      []float64
	Diameter  float64 `json:"standoff_diameter"`
	Passed    *float64
	Standoffs []struct {
		X, Y, Diameter, Wheel float64
		Belt, Pulley          *float64
		Inside                bool
	}
	Lines []struct {
		Y     float64
		Zones []struct {
			From, To float64
			Inside   bool
		}
	}
}

func (c *geometryCase) query() LayOutQuery {
	b := Base{
		CavityWidthMM: 125, PlateThicknessMM: 6, PlateMarginMM: 60, PlateHeightMM: 400,
		PulleyWidthMM: 32, BeltWidthMM: 25, PulleyGapMM: 4, StandoffClearanceMM: 3, DrivenAxles: []int{0},
	}
	for i := range c.Teeth {
		b.Axles = append(b.Axles, Axle{
			Kind: AxleKindDead, WheelDiameterMM: c.Wheels[i], WheelWidthMM: 45, DropMM: c.Drops[i], BoltDiameterMM: 8,
		})
	}
	for _, l := range c.Links {
		b.Links = append(b.Links, beltOn(l.From, l.To, "H5M",
			beltmath.Pulley{ToothCount: c.Teeth[l.From], FlangeDiameterMM: c.Flanges[l.From]},
			beltmath.Pulley{ToothCount: c.Teeth[l.To], FlangeDiameterMM: c.Flanges[l.To]}, l.Belt))
	}
	for _, s := range c.Standoffs {
		b.Standoffs = append(b.Standoffs, Standoff{Center: at(s.X, s.Y), DiameterMM: s.Diameter})
	}
	q := LayOutQuery{Base: b, StandoffDiameterMM: c.Diameter}
	for _, line := range c.Lines {
		q.StandoffLinesMM = append(q.StandoffLinesMM, line.Y)
	}
	return q
}

// TestLayoutAgainstGeometryLibrary compares positions, clearances, the inside
// of loops and the room for standoffs with polygons of 8192 corners a circle.
func TestLayoutAgainstGeometryLibrary(t *testing.T) {
	const (
		near    = 5e-5 // corners of the polygons cut 1e-5 off at most, several add up
		nearEnd = 2e-3 // an end shifts by 0.001 for 0.00004 of size at most
	)
	raw, err := os.ReadFile("../../testdata/layout/layout.json")
	require.NoError(t, err)
	var cases []geometryCase
	require.NoError(t, json.Unmarshal(raw, &cases))
	require.Len(t, cases, 30)
	for _, c := range cases {
		l := layOut(t, c.query())
		for i := range c.X {
			assert.InDelta(t, c.X[i], l.Axles[i].Center.XMM, 1e-9) // bisection in double precision
			assert.InDelta(t, c.Y[i], l.Axles[i].Center.YMM, 1e-9)
		}
		gapIs := func(want *float64, got, radius float64, name string) {
			if want == nil { // the center lies inside
				assert.Less(t, got, -radius+near, name)
				return
			}
			assert.InDelta(t, *want, got, near, name)
			assert.LessOrEqual(t, got, *want+near, "%s: optimistic", name)
		}
		wheels, belts, pulleys := gaps(l, ClearanceKindWheelStandoff), gaps(l, ClearanceKindStandoffBelt), gaps(l, ClearanceKindStandoffPulley)
		for i, s := range c.Standoffs {
			assert.InDelta(t, s.Wheel, wheels[i], 1e-9) // discs: no polygon
			gapIs(s.Belt, belts[i], s.Diameter/2, "belt")
			gapIs(s.Pulley, pulleys[i], s.Diameter/2, "pulley")
			if s.Belt != nil { // on a pulley the question has no meaning
				assert.Equal(t, s.Inside, l.Standoffs[i].InsideLoop, "%+v", s)
			}
		}
		if passed := gaps(l, ClearanceKindBeltAxle); len(passed) > 0 {
			gapIs(c.Passed, passed[0], 4, "passed axle")
		} else {
			assert.Nil(t, c.Passed)
		}
		var zones []StandoffZone
		for _, line := range c.Lines {
			for _, z := range line.Zones {
				zones = append(zones, StandoffZone{line.Y, z.From, z.To, z.Inside})
			}
		}
		require.Len(t, l.StandoffZones, len(zones))
		for i, z := range zones {
			got := l.StandoffZones[i]
			assert.InDelta(t, z.YMM, got.YMM, 0)
			assert.InDelta(t, z.FromMM, got.FromMM, nearEnd)
			assert.InDelta(t, z.ToMM, got.ToMM, nearEnd)
			assert.Equal(t, z.InsideLoop, got.InsideLoop)
		}
	}
}

// TestZonesBruteForce puts a standoff on every half millimeter of each line and
// compares its clearances with the zones: clear inside, not clear outside.
func TestZonesBruteForce(t *testing.T) {
	const step, diameter = 0.5, 14.0
	for _, b := range []Base{roverA(), roverB(), roverC(45, 169, 188), roverD()} {
		b.Standoffs, b.Members = nil, nil
		for y := -40.0; y <= 40; y += 8 {
			q := LayOutQuery{Base: b, StandoffLinesMM: []float64{y}, StandoffDiameterMM: diameter}
			l := layOut(t, q)
			p, err := q.resolve()
			require.NoError(t, err)
			first, last := p.plateEnds()
			for x := first + diameter/2; x <= last-diameter/2; x += step {
				free := true
				p.Standoffs = []Standoff{{Center: at(x, y), DiameterMM: diameter}}
				for _, c := range p.standoffGaps(0) {
					free = free && c.Clear
				}
				inZone := false
				for _, z := range l.StandoffZones {
					inZone = inZone || x >= z.FromMM && x <= z.ToMM
				}
				require.Equal(t, free, inZone, "at (%v, %v)", x, y)
			}
		}
	}
}

// TestZoneEnds steps over the ends of the zones: a hair inside is clear, a hair
// outside is not, unless the plate ends there.
func TestZoneEnds(t *testing.T) {
	const hair = 1e-6
	b := roverA()
	b.Standoffs, b.PlateMarginMM = nil, 300
	q := LayOutQuery{Base: b, StandoffLinesMM: []float64{0, 20, 40, 45}, StandoffDiameterMM: 14}
	l := layOut(t, q)
	p, err := q.resolve()
	require.NoError(t, err)
	first, last := p.plateEnds()
	clear := func(x, y float64) bool {
		p.Standoffs = []Standoff{{Center: at(x, y), DiameterMM: 14}}
		for _, c := range p.standoffGaps(0) {
			if !c.Clear {
				return false
			}
		}
		return true
	}
	ends := 0
	for _, z := range l.StandoffZones {
		for _, end := range []struct{ x, inward float64 }{{z.FromMM, hair}, {z.ToMM, -hair}} {
			assert.True(t, clear(end.x+end.inward, z.YMM), "inside %+v", z)
			if end.x-7 > first+hair && end.x+7 < last-hair {
				assert.False(t, clear(end.x-end.inward, z.YMM), "outside %+v", z)
				ends++
			}
		}
	}
	assert.Greater(t, ends, 10)
}
