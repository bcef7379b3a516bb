package main

import (
	"context"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// dice makes questions: mostly such as people ask, some at the edges of what is
// allowed, some that no one may ask.
type dice struct {
	*rand.Rand
	local grpc.ClientConnInterface // knows page tokens
}

func pick[T any](d dice, from ...T) T { return from[d.IntN(len(from))] }

// rarely is true once in n times.
func (d dice) rarely(n int) bool { return d.IntN(n) == 0 }

// maybe gives a value or none, either half of the time.
func maybe[T any](d dice, v T) *T {
	if d.rarely(2) {
		return nil
	}
	return &v
}

// or gives another value now and then.
func or[T any](d dice, usual T, others ...T) T {
	if d.rarely(80) {
		return pick(d, others...)
	}
	return usual
}

func (d dice) section() string {
	all := beltmath.Sections()
	return or(d, all[d.IntN(len(all))].Designation, "", "h5m", "Q5", "H5M ", "T 5", "5M", "\u00c4\u2028", "a,b", "<b>", "-5", strings.Repeat("x", 300))
}

func (d dice) teeth() int32 {
	return or(d, 10+d.Int32N(90), 0, 5, 6, 7, 600, 601, -1, math.MinInt32, math.MaxInt32)
}

func (d dice) small(most int32) int32 {
	return or(d, 1+d.Int32N(most), 0, -1, most+1, math.MaxInt32)
}

// measure is a number about so large.
func (d dice) measure(about float64) float64 {
	v := about * (0.5 + d.Float64())
	if d.rarely(2) {
		v = math.Round(100*v) / 100
	}
	return or(d, v, 0, math.Copysign(0, -1), -v, 1e-300, 5e-324, 1e9, math.MaxFloat64, math.NaN(), math.Inf(1), math.Inf(-1), 1e22, 0.1)
}

func (d dice) counts() *pb.ToothCounts {
	t := &pb.ToothCounts{}
	if d.rarely(2) {
		for range 1 + d.IntN(4) {
			t.Values = append(t.Values, d.teeth())
		}
		return or(d, t, nil, &pb.ToothCounts{}, &pb.ToothCounts{Min: new(d.teeth())})
	}
	low := 10 + d.Int32N(60)
	t.Min, t.Max, t.Step = or(d, &low, nil, new(int32(5))), new(or(d, low+d.Int32N(8), low-1, 601)), maybe(d, or(d, 1+d.Int32N(3), 0, 5001))
	return t
}

func (d dice) beltCounts() *pb.ToothCounts {
	low := 60 + d.Int32N(150)
	return or(d, &pb.ToothCounts{Min: &low, Max: new(low + d.Int32N(60))}, nil, &pb.ToothCounts{Values: []int32{low, 5000, 6}})
}

func (d dice) pulley() *pb.Pulley {
	p := &pb.Pulley{ToothCount: d.teeth()}
	if d.rarely(4) {
		p.FlangeDiameterMm = new(d.measure(50))
	}
	return or(d, p, nil)
}

// drive is a belt round two pulleys, mostly one that goes round them.
func (d dice) drive() *pb.Drive {
	p := &pb.Drive{Section: d.section(), Driver: d.pulley(), Driven: d.pulley()}
	if d.rarely(5) {
		p.Section, p.PitchMm = or(d, "", p.Section), new(or(d, pick(d, 5, 5.08, 9.525, 3.3, 2.032), 0.4, 101, math.NaN()))
	}
	least := (p.Driver.GetToothCount()/2 + p.Driven.GetToothCount()/2)
	p.BeltToothCount = new(or(d, least+10+d.Int32N(200), 6, 5001, least, 0))
	if section, err := beltmath.FindSection(p.Section); err == nil && d.rarely(6) {
		p.BeltDesignation = or(d, section.BeltDesignation(int(max(7, *p.BeltToothCount))), "870 h5m", "B40 XXL", "wide", "1e3", "\u00e9")
		if !d.rarely(20) {
			p.BeltToothCount = nil
		}
	}
	return or(d, p, nil, &pb.Drive{})
}

// centerOf is a center distance at which the belt of a drive about fits.
func (d dice) centerOf(p *pb.Drive) float64 {
	in := beltmath.DriveInput{
		Section: p.GetSection(), PitchMM: pitchOf(p), BeltDesignation: p.GetBeltDesignation(),
		Driver: beltmath.Pulley{ToothCount: int(p.GetDriver().GetToothCount())}, Driven: beltmath.Pulley{ToothCount: int(p.GetDriven().GetToothCount())},
	}
	if p != nil && p.BeltToothCount != nil {
		in.BeltToothCount = new(int(*p.BeltToothCount))
	}
	a, err := beltmath.SolveCenterDistance(beltmath.CenterQuery{Drive: in})
	if err != nil || d.rarely(10) {
		return d.measure(300)
	}
	exact := a.Geometry.CenterDistanceMM
	return or(d, exact+pick(d, 0, -0.05, 0.15, -0.15, 0.3, 0.1, 0.31, -0.2, d.Float64()-0.5, 5), d.measure(300), exact/25.4)
}

func (d dice) limits() *pb.FitLimits {
	if d.rarely(2) {
		return nil
	}
	return &pb.FitLimits{
		FitLowMm: maybe(d, or(d, -0.1*d.Float64(), 0.5, math.NaN())), FitHighMm: maybe(d, 0.2*d.Float64()),
		MarginalLowMm: maybe(d, -0.1-d.Float64()), MarginalHighMm: maybe(d, or(d, 0.2+d.Float64(), -1, 1e9)),
		MarginalMeshedToothCount: maybe(d, d.small(12)), RejectedMeshedToothCount: maybe(d, d.small(6)),
	}
}

func (d dice) centerRequest() *pb.SolveCenterDistanceRequest {
	return &pb.SolveCenterDistanceRequest{Drive: d.drive(), AllowanceMm: or(d, 0, d.measure(0.1), d.measure(0.1), 11)}
}

func (d dice) beltRequest() *pb.SolveBeltRequest {
	p := d.drive()
	return &pb.SolveBeltRequest{
		Section: p.GetSection(), PitchMm: pitchOf(p), Driver: p.GetDriver(), Driven: p.GetDriven(), CenterDistanceMm: d.centerOf(p),
		NeighborCount: maybe(d, d.small(20)), StandardLengthsOnly: d.rarely(4),
	}
}

func (d dice) pulleyRequest() *pb.SolvePulleyRequest {
	p := d.drive()
	return &pb.SolvePulleyRequest{
		Section: p.GetSection(), PitchMm: pitchOf(p), Driver: p.GetDriver(), BeltToothCount: p.GetBeltToothCount(), CenterDistanceMm: d.centerOf(p),
		NeighborCount: maybe(d, d.small(20)),
	}
}

func (d dice) spacingsRequest() *pb.SearchSpacingsRequest {
	q := &pb.SearchSpacingsRequest{
		Driver: d.counts(), Driven: d.counts(), Belt: d.beltCounts(), EqualPulleys: d.rarely(6), StandardLengthsOnly: d.rarely(4),
		MinMeshedToothCount: maybe(d, d.small(20)), OrderBy: or(d, pick(d, pb.SpacingOrder(0), 1, 3), 2, 99), PageSize: maybe(d, or(d, 1+d.Int32N(40), 0, 10_000, 10_001)),
	}
	for range 1 + d.IntN(2) {
		q.Sections = append(q.Sections, d.section())
	}
	if d.rarely(8) {
		q.Sections, q.PitchMm = or(d, nil, q.Sections), new(d.measure(5))
	}
	switch d.IntN(4) {
	case 0:
		q.TargetCenterDistanceMm, q.ToleranceMm = new(d.measure(300)), or(d, new(d.measure(20)), nil)
		q.OrderBy = 2
	case 1:
		low := d.measure(200)
		q.MinCenterDistanceMm, q.MaxCenterDistanceMm = maybe(d, low), maybe(d, or(d, low+d.measure(100), low-1))
	}
	if d.rarely(4) {
		q.MinSpeedRatio, q.MaxSpeedRatio = maybe(d, d.measure(0.7)), maybe(d, d.measure(2))
	}
	if d.rarely(4) {
		if first, err := pb.NewDriveServiceClient(d.local).SearchSpacings(context.Background(), proto.CloneOf(q)); err == nil {
			q.PageToken = or(d, first.NextPageToken, first.NextPageToken+"\n", first.NextPageToken+"A")
		}
	}
	return q
}

func (d dice) checkRequest() *pb.CheckDrivesRequest {
	q := &pb.CheckDrivesRequest{Limits: d.limits()}
	for i := range d.IntN(6) {
		p := d.drive()
		if p.GetDriver() != nil && p.GetDriven() != nil && !d.rarely(8) {
			p.Driver.FlangeDiameterMm, p.Driven.FlangeDiameterMm = nil, nil
		}
		item := &pb.CheckItem{
			Id: or(d, "axle "+strconv.Itoa(i), "axle 0", "", "\u00e9,\"\n", " x"), Drive: p, CenterDistanceMm: d.centerOf(p),
			BeltWidthMm: maybe(d, d.measure(20)), TorqueNm: maybe(d, d.measure(5)), HeightDifferenceMm: maybe(d, d.measure(3)),
		}
		q.Items = append(q.Items, item)
	}
	return q
}

func (d dice) stock() *pb.Stock {
	if d.rarely(2) {
		return nil
	}
	s := &pb.Stock{}
	for range d.IntN(12) {
		item := func() *pb.StockItem {
			return &pb.StockItem{Section: pick(d, "H5M", "H5M", d.section()), ToothCount: or(d, 30+d.Int32N(200), 0), WidthMm: or(d, 25, d.measure(20)), Quantity: or(d, d.Int32N(9), -1)}
		}
		s.Belts, s.Pulleys = append(s.Belts, item()), append(s.Pulleys, item())
	}
	return s
}

func (d dice) substitutesRequest() *pb.SearchSubstitutesRequest {
	p := d.drive()
	q := &pb.SearchSubstitutesRequest{
		Drive: p, DrilledCenterDistanceMm: d.centerOf(p), Limits: d.limits(), StandardLengthsOnly: d.rarely(4), Stock: d.stock(),
		NeededQuantity: maybe(d, d.small(4)), MaxRatioChangePercent: maybe(d, d.measure(5)), MaxResults: maybe(d, d.small(50)), BeltWidthMm: maybe(d, 25.0),
	}
	if q.Stock == nil {
		q.BeltWidthMm = or(d, nil, q.BeltWidthMm)
	}
	if d.rarely(2) {
		q.Driver, q.Driven, q.Belt = d.counts(), d.counts(), d.beltCounts()
	}
	return q
}

func (d dice) sharedHoleRequest() *pb.SolveSharedHoleRequest {
	first := d.drive()
	second := proto.CloneOf(first)
	if second != nil && second.BeltToothCount != nil {
		*second.BeltToothCount += d.Int32N(3)
	}
	second = or(d, second, d.drive())
	return &pb.SolveSharedHoleRequest{Drives: or(d, []*pb.Drive{first, second}, []*pb.Drive{first}, nil, []*pb.Drive{first, second, first}), Limits: d.limits()}
}

func (d dice) fitRequest() *pb.AnalyzeFitRequest {
	p := d.drive()
	q := &pb.AnalyzeFitRequest{
		Drive: p, CenterDistanceMm: d.centerOf(p), CenterToleranceMm: maybe(d, d.measure(0.05)), BeltLengthToleranceMm: maybe(d, d.measure(0.3)),
		DriverPlayMm: or(d, 0, d.measure(0.05)), DrivenPlayMm: d.measure(0.05), PulleyOversizeMm: d.measure(0.1),
		TemperatureChangeK: d.measure(20), PlateExpansionPerK: d.measure(20e-6), BeltExpansionPerK: d.measure(10e-6), StiffnessN: maybe(d, d.measure(1e5)),
	}
	if l := d.limits(); l != nil {
		q.Limits = or(d, &pb.FitLimits{FitLowMm: l.FitLowMm, FitHighMm: l.FitHighMm}, l)
	}
	if d.rarely(3) {
		q.BeltLengthToleranceMm = or(d, nil, q.BeltLengthToleranceMm)
		q.BeltMeasurement = &pb.BeltMeasurement{Driver: d.pulley(), Driven: d.pulley(), CenterDistanceMm: d.centerOf(p), UncertaintyMm: d.measure(0.02)}
	}
	return q
}

func (d dice) rateRequest() *pb.RateDriveRequest {
	p := d.drive()
	q := &pb.RateDriveRequest{
		Drive: p, CenterDistanceMm: d.centerOf(p), BeltWidthMm: d.measure(20), SpeedRpm: d.measure(300), ServiceFactor: maybe(d, d.measure(1.5)), WheelDiameterMm: maybe(d, d.measure(160)),
	}
	q.TorqueNm, q.PowerW = new(d.measure(5)), or(d, nil, new(d.measure(100)))
	if d.rarely(3) {
		q.TorqueNm, q.PowerW = or(d, nil, q.TorqueNm), new(d.measure(200))
	}
	if !d.rarely(4) {
		q.WorkingTensionN, q.BaseWidthMm, q.MassKgPerM = new(d.measure(900)), or(d, new(d.measure(25)), nil), maybe(d, d.measure(0.1))
	}
	return q
}

func (d dice) point(x, y float64) *pb.Point {
	return or(d, &pb.Point{XMm: or(d, x, d.measure(x)), YMm: or(d, y, d.measure(y))}, nil, &pb.Point{})
}

func (d dice) pathRequest() *pb.SolvePathRequest {
	q := &pb.SolvePathRequest{Section: or(d, pick(d, "H3M", "H5M", "T5", "XL"), d.section())}
	if d.rarely(5) {
		q.Section, q.PitchMm = or(d, "", q.Section), new(d.measure(5))
	}
	n := or(d, 2+d.IntN(5), 0, 1, 13)
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		w := &pb.Wheel{Kind: pb.WheelKind_WHEEL_KIND_TOOTHED, Side: pb.WrapSide_WRAP_SIDE_INSIDE, Center: d.point(math.Round(300*cos), 250*sin)}
		if i > 0 && d.rarely(3) {
			w.Kind, w.DiameterMm, w.Side = pb.WheelKind_WHEEL_KIND_SMOOTH, new(d.measure(40)), or(d, pb.WrapSide(1+d.IntN(2)), 0, 7)
		} else {
			w.ToothCount = new(or(d, 12+d.Int32N(30), d.teeth()))
		}
		w.Kind = or(d, w.Kind, 0, 5)
		q.Wheels = append(q.Wheels, w)
	}
	if d.rarely(3) {
		q.BeltHeightMm, q.ToothHeightMm, q.PitchLineDifferentialMm = new(d.measure(3)), new(d.measure(1.5)), maybe(d, d.measure(0.6))
	}
	if d.rarely(2) && n > 0 {
		q.BeltToothCount = or(d, new(200+d.Int32N(400)), nil)
		q.Moving = &pb.MovingWheel{WheelIndex: or(d, d.Int32N(int32(n)), -1, 99)} //nolint:gosec // 13 at most
		if d.rarely(2) {
			q.Moving.Segment = &pb.PathSegment{From: d.point(-100, 50), To: d.point(150, -400)}
		} else {
			q.Moving.Arc = or(d, &pb.PathArc{Center: d.point(0, 0), RadiusMm: d.measure(250), FromDeg: d.measure(-90), ToDeg: d.measure(200)}, nil)
		}
	}
	return q
}

func pitchOf(p *pb.Drive) *float64 {
	if p == nil {
		return nil
	}
	return p.PitchMm
}
