package server

import (
	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/base"
)

func layOutQueryFromProto(r *pb.LayOutBaseRequest) base.LayOutQuery {
	return base.LayOutQuery{
		Base:               baseFromProto(r.Base),
		StandoffLinesMM:    r.StandoffLinesMm,
		StandoffDiameterMM: r.StandoffDiameterMm,
		Limits:             fitLimitsFromProto(r.Limits),
		Stock:              stockFromProto(r.Stock),
		Fit:                baseFitFromProto(r.Fit),
	}
}

func baseFitFromProto(f *pb.BaseFit) *base.Fit {
	if f == nil {
		return nil
	}
	out := &base.Fit{
		HoleToleranceMM:       f.HoleToleranceMm,
		BeltLengthToleranceMM: f.BeltLengthToleranceMm,
		DriverPlayMM:          f.DriverPlayMm,
		DrivenPlayMM:          f.DrivenPlayMm,
		PulleyOversizeMM:      f.PulleyOversizeMm,
		TemperatureChangeK:    f.TemperatureChangeK,
		PlateExpansionPerK:    f.PlateExpansionPerK,
		BeltExpansionPerK:     f.BeltExpansionPerK,
	}
	for _, m := range f.Measurements {
		one := base.LinkMeasurement{Link: int(m.GetLink())}
		if b := beltMeasurementFromProto(m.GetBelt()); b != nil {
			one.Belt = *b
		}
		out.Measurements = append(out.Measurements, one)
	}
	return out
}

func baseFitToProto(f *base.FitShares) *pb.BaseFitShares {
	if f == nil {
		return nil
	}
	out := &pb.BaseFitShares{ShareGood: f.ShareGood, Limits: &pb.FitLimits{FitLowMm: &f.FitLowMM, FitHighMm: &f.FitHighMM}}
	for _, l := range f.Links {
		shares := &pb.LinkFitShares{
			Link: int32(l.Link), MeanMm: l.MeanMM, SigmaMm: l.SigmaMM,
			ShareLoose: l.ShareLoose, ShareGood: l.ShareGood, ShareTight: l.ShareTight,
		}
		if b := l.Best; b != nil {
			shares.BestMoveMm, shares.BestShareGood, shares.Levers = &b.MoveMM, &b.ShareGood, leversToProto(b.Levers)
		}
		out.Links = append(out.Links, shares)
	}
	return out
}

func pointFromProto(p *pb.Point) beltmath.Point {
	return beltmath.Point{XMM: p.GetXMm(), YMM: p.GetYMm()}
}

func baseFromProto(b *pb.Base) base.Base {
	if b == nil {
		return base.Base{}
	}
	out := base.Base{
		DrivenAxles:             intsFromProto(b.DrivenAxles),
		CavityWidthMM:           b.CavityWidthMm,
		PlateThicknessMM:        b.PlateThicknessMm,
		PlateMarginMM:           b.PlateMarginMm,
		PlateHeightMM:           b.PlateHeightMm,
		PulleyWidthMM:           b.PulleyWidthMm,
		BeltWidthMM:             b.BeltWidthMm,
		PulleyGapMM:             b.PulleyGapMm,
		StandoffClearanceMM:     b.StandoffClearanceMm,
		StandoffStockLengthMM:   b.StandoffStockLengthMm,
		TrackWidthMM:            b.TrackWidthMm,
		KerfMM:                  b.KerfMm,
		RoundUpMM:               b.RoundUpMm,
		SideCount:               intFromProto(b.SideCount),
		SideSlipForceN:          b.SideSlipForceN,
		AxleTorqueNM:            b.AxleTorqueNm,
		BeltHeightMM:            b.BeltHeightMm,
		ToothHeightMM:           b.ToothHeightMm,
		PitchLineDifferentialMM: b.PitchLineDifferentialMm,
	}
	for _, a := range b.Axles {
		out.Axles = append(out.Axles, axleFromProto(a))
	}
	for _, l := range b.Links {
		out.Links = append(out.Links, base.LinkInput{
			FromAxle: int(l.FromAxle), ToAxle: int(l.ToAxle), Drive: driveFromProto(l.Drive),
			Idler: idlerFromProto(l.Idler), CenterDistanceMM: l.CenterDistanceMm,
		})
	}
	for _, s := range b.Standoffs {
		out.Standoffs = append(out.Standoffs, base.Standoff{
			Center: pointFromProto(s.Center), DiameterMM: s.DiameterMm, HoleDiameterMM: s.HoleDiameterMm,
		})
	}
	for _, m := range b.Members {
		out.Members = append(out.Members, base.Member{
			Name: m.Name, Quantity: int(m.Quantity), LengthMM: m.LengthMm, EndAllowanceMM: m.EndAllowanceMm, StockLengthMM: m.StockLengthMm,
		})
	}
	for _, at := range b.AxlePositions {
		out.AxlePositions = append(out.AxlePositions, pointFromProto(at))
	}
	return out
}

func layoutToProto(l base.Layout) *pb.LayOutBaseResponse {
	out := &pb.LayOutBaseResponse{WheelbaseMm: l.WheelbaseMM, FloorYMm: l.FloorYMM, Notes: notesToProto(l.Notes), Fit: baseFitToProto(l.Fit)}
	for _, a := range l.Axles {
		out.Axles = append(out.Axles, &pb.AxleLayout{
			Center: pointToProto(a.Center), HoleDiameterMm: a.HoleDiameterMM, FromEndMm: a.FromEndMM, FromEdgeMm: a.FromEdgeMM,
		})
	}
	for i := range l.Links {
		out.Links = append(out.Links, linkLayoutToProto(&l.Links[i]))
	}
	for _, s := range l.Standoffs {
		out.Standoffs = append(out.Standoffs, &pb.StandoffLayout{
			Center: pointToProto(s.Center), HoleDiameterMm: s.HoleDiameterMM, FromEndMm: s.FromEndMM, FromEdgeMm: s.FromEdgeMM,
			Verdict: pb.StandoffVerdict(s.Verdict), GapMm: s.GapMM, Nearest: s.Nearest, InsideLoop: s.InsideLoop,
		})
	}
	for _, c := range l.Clearances {
		out.Clearances = append(out.Clearances, &pb.Clearance{
			Kind: pb.ClearanceKind(c.Kind), Between: c.Between[:], GapMm: c.GapMM, RequiredMm: c.RequiredMM, Clear: c.Clear,
		})
	}
	for _, s := range l.Stacks {
		out.Stacks = append(out.Stacks, stackToProto(s))
	}
	for _, z := range l.StandoffZones {
		out.StandoffZones = append(out.StandoffZones, &pb.StandoffZone{
			YMm: z.YMM, FromMm: z.FromMM, ToMm: z.ToMM, InsideLoop: z.InsideLoop,
		})
	}
	for _, c := range l.Cuts {
		out.Cuts = append(out.Cuts, &pb.Cut{
			Kind: pb.PartKind(c.Kind), Name: c.Name, LengthMm: c.LengthMM, Quantity: int32(c.Quantity), StockLengthMm: c.StockLengthMM,
		})
	}
	for _, p := range l.CutPlans {
		out.CutPlans = append(out.CutPlans, cutPlanToProto(p))
	}
	for _, p := range l.Parts {
		out.Parts = append(out.Parts, &pb.Part{
			Kind: pb.PartKind(p.Kind), Designation: p.Designation, Quantity: int32(p.Quantity), NeededQuantity: int32(p.NeededQuantity),
		})
	}
	return out
}

func linkLayoutToProto(l *base.LinkLayout) *pb.LinkLayout {
	out := &pb.LinkLayout{
		FromAxle: int32(l.FromAxle), ToAxle: int32(l.ToAxle), Geometry: geometryToProto(l.Geometry), RailSpacingMm: l.RailSpacingMM,
		Lane: pb.Lane(l.Lane), DownstreamWheelCount: int32(l.DownstreamWheelCount), EffectiveTensionN: l.EffectiveTensionN,
	}
	if d := l.Idler; d != nil {
		out.Idler = &pb.IdlerLayout{
			Place: idlerPlaceToProto(&d.IdlerPlace), CenterDistanceMm: d.CenterDistanceMM, HoleDiameterMm: d.HoleDiameterMM,
			FromEndMm: d.FromEndMM, FromEdgeMm: d.FromEdgeMM, Stack: stackToProto(d.Stack),
		}
	}
	if d := l.Drilled; d != nil {
		out.Drilled = &pb.DrilledLink{
			CenterDistanceMm: d.CenterDistanceMM, DeviationMm: d.DeviationMM, Verdict: pb.Verdict(d.Verdict),
			MoveAxle: int32(d.MoveAxle), MoveMm: d.MoveMM, MoveAlone: d.MoveAlone,
		}
		for _, s := range d.Substitutes {
			out.Drilled.Substitutes = append(out.Drilled.Substitutes, &pb.LinkSubstitute{
				Substitute: substituteToProto(s.Substitute), MissingBeltCount: int32(s.MissingBeltCount),
				MissingPulleyCount: int32(s.MissingPulleyCount), MoveAxle: int32(s.MoveAxle), MoveMm: s.MoveMM,
			})
		}
	}
	return out
}

func stackToProto(s base.Stack) *pb.Stack {
	out := &pb.Stack{}
	for _, p := range s.Parts {
		part := &pb.StackPart{Part: pb.PartKind(p.Part), StartMm: p.StartMM, EndMm: p.EndMM}
		if p.Link != nil {
			part.Link = new(int32(*p.Link))
		}
		out.Parts = append(out.Parts, part)
	}
	return out
}

func cutPlanToProto(p base.CutPlan) *pb.CutPlan {
	out := &pb.CutPlan{
		Kind: pb.PartKind(p.Kind), StockLengthMm: p.StockLengthMM, BoundBarCount: int32(p.BoundBarCount), Proof: pb.MinimumProof(p.Proof),
	}
	for _, b := range p.Bars {
		bar := &pb.Bar{RestMm: b.RestMM}
		for _, piece := range b.Pieces {
			bar.Pieces = append(bar.Pieces, &pb.Piece{Name: piece.Name, LengthMm: piece.LengthMM})
		}
		out.Bars = append(out.Bars, bar)
	}
	return out
}
