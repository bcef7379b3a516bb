package base

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
)

// The demo scenario's rover, invented for demos and tests. Its numbers were
// computed outside this code, by bisection of the length equation, and are
// compared to the digits the scenario prints.

func flanged(teeth int, flangeMM float64) beltmath.Pulley {
	return beltmath.Pulley{ToothCount: teeth, FlangeDiameterMM: &flangeMM}
}

func beltOn(from, to int, section string, driver, driven beltmath.Pulley, teeth int) LinkInput {
	return LinkInput{FromAxle: from, ToAxle: to, Drive: beltmath.DriveInput{
		Section: section, Driver: driver, Driven: driven, BeltToothCount: &teeth,
	}}
}

func at(x, y float64) beltmath.Point { return beltmath.Point{XMM: x, YMM: y} }

// roverA is six wheels with centers nearly equal.
func roverA() Base {
	p := flanged(36, 61)
	dead := Axle{Kind: AxleKindDead, WheelDiameterMM: 160, WheelWidthMM: 45, HoleDiameterMM: 8, BoltDiameterMM: 8}
	b := Base{
		Axles: []Axle{dead, {Kind: AxleKindLive, WheelDiameterMM: 160, WheelWidthMM: 45, DropMM: 3, HoleDiameterMM: 22}, dead},
		Links: []LinkInput{beltOn(1, 0, "H5M", p, p, 174), beltOn(1, 2, "H5M", p, p, 178)},

		CavityWidthMM: 125, PlateThicknessMM: 6, PlateMarginMM: 60, PlateHeightMM: 120,
		PulleyWidthMM: 32, BeltWidthMM: 25, PulleyGapMM: 4,
		StandoffClearanceMM: 3, StandoffStockLengthMM: 1000,
		TrackWidthMM: 520, KerfMM: 2.5, RoundUpMM: 1,
		SideSlipForceN: new(0.7 * 40 * 9.81 / 2),
		Members: []Member{
			{Name: "cross member", Quantity: 4, EndAllowanceMM: new(0.0), StockLengthMM: 2000},
			{Name: "bumper", Quantity: 2, EndAllowanceMM: new(137.0), StockLengthMM: 2000},
			{Name: "skirt", Quantity: 2, LengthMM: new(820.0), StockLengthMM: 2000},
		},
	}
	for _, c := range []beltmath.Point{at(130, 40), at(215, 40), at(485, 40), at(570, 40), at(172.5, -43), at(527.5, -43)} {
		b.Standoffs = append(b.Standoffs, Standoff{Center: c, DiameterMM: 14, HoleDiameterMM: 5.5})
	}
	return b
}

func layOut(t *testing.T, q LayOutQuery) Layout {
	t.Helper()
	l, err := LayOutBase(q)
	require.NoError(t, err)
	return l
}

func TestDemoPositions(t *testing.T) {
	l := layOut(t, LayOutQuery{Base: roverA()})
	for i, want := range []beltmath.Point{at(0, 0), at(344.986956, -3), at(699.974280, 0)} {
		assert.InDelta(t, want.XMM, l.Axles[i].Center.XMM, 5e-7)
		assert.InDelta(t, want.YMM, l.Axles[i].Center.YMM, 0)
	}
	t.Logf("%+v", l.Clearances)
	t.Logf("%+v", l.Stacks)
	t.Logf("%+v", l.Standoffs)
	t.Logf("%+v", l.CutPlans)
	t.Logf("%+v", l.Parts)
	t.Log(*l.Links[0].EffectiveTensionN)
}

func TestDrilledX(t *testing.T) {
	b := roverA()
	b.AxlePositions = []beltmath.Point{at(0, 0), at(344.986956, -3), at(699.974280, 0)}
	s := partsBin(t)
	s.Belts[4].Quantity = 0
	l := layOut(t, LayOutQuery{Base: b, Stock: s})
	for _, k := range l.Links {
		t.Logf("%+v %v", k.Drilled.DeviationMM, *k.Drilled.MoveMM)
		for _, u := range k.Drilled.Substitutes {
			t.Log(u.text(), u.Verdict, u.HoleMoveMM, u.MoveAxle, u.MoveMM, u.MissingBeltCount, u.MissingPulleyCount)
		}
	}
	for _, n := range l.Notes {
		t.Logf("%+v", n)
	}
}
