package base

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// normal is the share of a normal value of mean 0 and sigma 1 below x.
func normal(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// TestIdlerFitShares: with perfect holes a belt is good where its length is off
// by no more than the idler takes up, so the share follows from the normal
// distribution alone.
func TestIdlerFitShares(t *testing.T) {
	const sigma = 0.6 / 3
	half := 345.0 / 2
	height := func(excess float64) float64 { // of three equal wheels with a belt so much longer than 885
		return leg((885+excess-180)/2-half, half)
	}
	for _, ends := range [][2]float64{{-0.1, 0.3}, {-0.5, 0.05}, {-1, 1}, {-0.2, 30}} {
		b := withIdler(toothedIdler(36, height(ends[0]), height(ends[1])), 177)
		l := layOut(t, LayOutQuery{Base: b, Fit: &Fit{HoleToleranceMM: new(0.0), BeltLengthToleranceMM: new(0.6)}})
		got := l.Fit.Links[0]
		assert.Nil(t, got.Best, "moving an axle is not what an idler's belt wants")
		assert.InDelta(t, sigma/2, got.SigmaMM, 1e-12) // of the center distance of equal pulleys
		assert.InDelta(t, normal(ends[0]/sigma), got.ShareTight, 1e-6)
		assert.InDelta(t, 1-normal(ends[1]/sigma), got.ShareLoose, 1e-6)
		assert.InDelta(t, normal(ends[1]/sigma)-normal(ends[0]/sigma), got.ShareGood, 1e-6)
		side := got.ShareGood * l.Fit.Links[1].ShareGood
		assert.InDelta(t, side*side, l.Fit.ShareGood, 1e-12) // two of them
		require.Len(t, notesOf(l, NoteIdlerFit), 1)
	}
	// 3 sigma of travel both ways are as good as certain.
	l := layOut(t, LayOutQuery{Base: withIdler(toothedIdler(36, height(-0.6), height(0.6)), 177), Fit: &Fit{HoleToleranceMM: new(0.0), BeltLengthToleranceMM: new(0.6)}})
	assert.InDelta(t, 0.9973, l.Fit.Links[0].ShareGood, 5e-5)
}

// TestIdlerFitSample draws belts and holes and asks where the idler would have
// to stand. What is reckoned is never better than that, and not much worse.
func TestIdlerFitSample(t *testing.T) {
	const belt, hole, n = 0.3, 0.2, 400_000 // sigma of the belt and of each hole
	r := rand.New(rand.NewPCG(94, 95))      //nolint:gosec // a fixed seed
	for _, ends := range [][2]float64{{50, 53}, {48, 52}, {51, 60}} {
		b := withIdler(toothedIdler(36, ends[0], ends[1]), 177)
		b.Axles[1].DropMM = 0
		l := layOut(t, LayOutQuery{Base: b, Fit: &Fit{HoleToleranceMM: new(3 * hole), BeltLengthToleranceMM: new(3 * belt)}})
		good := 0
		for range n {
			c := 345 + hole*(r.NormFloat64()-r.NormFloat64())
			spans := 885 + belt*r.NormFloat64() - 180 - c
			if square := spans*spans/4 - c*c/4; square > 0 {
				if h := math.Sqrt(square); h >= ends[0] && h <= ends[1] {
					good++
				}
			}
		}
		drawn := float64(good) / n
		assert.Less(t, l.Fit.Links[0].ShareGood, drawn+0.002) // 3 sigma of the sample
		assert.Greater(t, l.Fit.Links[0].ShareGood, drawn-0.02)
	}
}

// TestIdlerSlope: no path grows by more than 2 mm for a millimeter of center
// distance, which the shares rest on.
func TestIdlerSlope(t *testing.T) {
	r := rand.New(rand.NewPCG(96, 97)) //nolint:gosec // a fixed seed
	found, most := 0, 0.0
	for range 2000 {
		d := toothedIdler(8+r.IntN(40), 0, 100)
		if r.IntN(2) == 0 {
			d = backIdler(10+50*r.Float64(), -10, 60)
		}
		d.Position = new(0.1 + 0.8*r.Float64())
		offset := d.FromMM + (d.ToMM-d.FromMM)*r.Float64()
		c, z1, z2 := 150+300*r.Float64(), 14+r.IntN(50), 14+r.IntN(50)
		length := func(c float64) (float64, bool) {
			s := idlerSeat{Idler: d, driver: at(0, 0), driven: at(c, 0), drive: beltmath.Drive{
				Profile: beltmath.Profile{Section: section(t, "H5M"), Pitch: section(t, "H5M").Pitch},
				Driver:  beltmath.Pulley{ToothCount: z1}, Driven: beltmath.Pulley{ToothCount: z2}, BeltToothCount: 200,
			}}
			q := s.query(0, 1)
			center := s.at(offset)
			q.Moving, q.BeltToothCount, q.Wheels[2].Center = nil, nil, &center
			a, err := path.Solve(q)
			if err != nil {
				return 0, false
			}
			return a.Solutions[0].BeltLengthMM, a.Solutions[0].CounterClockwise
		}
		const step = 1e-3
		low, ok1 := length(c - step)
		high, ok2 := length(c + step)
		if ok1 && ok2 {
			found++
			most = max(most, (high-low)/(2*step))
		}
	}
	assert.Greater(t, found, 300)
	assert.LessOrEqual(t, most, 2+1e-6)
	assert.Greater(t, most, 1.9)
}

func section(t *testing.T, name string) *beltmath.Section {
	t.Helper()
	s, err := beltmath.FindSection(name)
	require.NoError(t, err)
	return s
}

// TestIdlerFitOfBase: a link with an idler parts a row of belts in two, whose
// shares multiply.
func TestIdlerFitOfBase(t *testing.T) {
	fit := &Fit{HoleToleranceMM: new(0.1)}
	row := func(axles, idler int, from, to float64) Layout {
		b := rowBase(axles)
		if idler >= 0 {
			l := &b.Links[idler]
			l.Idler, l.CenterDistanceMM, l.Drive.BeltToothCount = toothedIdler(36, from, to), new(345.0), new(177)
			b.PlateHeightMM = 400
		}
		return layOut(t, LayOutQuery{Base: b, Fit: fit})
	}
	whole := row(6, 2, 5, 80) // belts 1 and 2, the one with the idler, belts 4 and 5
	pair := row(3, -1, 0, 0)
	assert.InDelta(t, pair.Fit.ShareGood*pair.Fit.ShareGood*whole.Fit.Links[2].ShareGood, whole.Fit.ShareGood, 1e-6)
	assert.InDelta(t, 1, whole.Fit.Links[2].ShareGood, 1e-9)
	assert.Less(t, pair.Fit.ShareGood, 0.99)
	tight := row(6, 2, 51.3, 51.6)
	assert.Less(t, tight.Fit.Links[2].ShareGood, 0.9)
	assert.InDelta(t, pair.Fit.ShareGood*pair.Fit.ShareGood*tight.Fit.Links[2].ShareGood, tight.Fit.ShareGood, 1e-6)
	single := row(4, 1, 51.3, 51.6)
	assert.InDelta(t, single.Fit.Links[0].ShareGood*single.Fit.Links[1].ShareGood*single.Fit.Links[2].ShareGood, single.Fit.ShareGood, 1e-6)
}
