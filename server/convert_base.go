package server

import (
	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath/base"
	"github.com/beltspan/beltspan/beltmath/path"
)

func baseQueryFromProto(r *pb.SearchBasesRequest) base.SearchQuery {
	q := base.SearchQuery{
		DrivenAxles:         intsFromProto(r.DrivenAxles),
		Sections:            r.Sections,
		Pulley:              toothCountsFromProto(r.Pulley),
		Belt:                toothCountsFromProto(r.Belt),
		StandardLengthsOnly: r.StandardLengthsOnly,
		Stock:               stockFromProto(r.Stock),
		BeltWidthMM:         r.BeltWidthMm,
		SideCount:           intFromProto(r.SideCount),
		TargetWheelbaseMM:   r.TargetWheelbaseMm,
		ToleranceMM:         r.ToleranceMm,
		EqualGaps:           r.EqualGaps,
		MaxGapDifferenceMM:  r.MaxGapDifferenceMm,
		MaxDistinctBelts:    intFromProto(r.MaxDistinctBelts),
		MaxScrubPercent:     r.MaxScrubPercent,
		MinWheelGapMM:       r.MinWheelGapMm,
		MinMeshedToothCount: intFromProto(r.MinMeshedToothCount),
		ResolutionMM:        r.ResolutionMm,
		MaxResults:          intFromProto(r.MaxResults),
		Idler:               idlerFromProto(r.Idler),
	}
	for _, a := range r.Axles {
		q.Axles = append(q.Axles, axleFromProto(a))
	}
	for _, g := range r.Gaps {
		q.Gaps = append(q.Gaps, base.Gap{TargetMM: g.TargetMm, MinMM: g.MinMm, MaxMM: g.MaxMm})
	}
	return q
}

func idlerFromProto(d *pb.Idler) *base.Idler {
	if d == nil {
		return nil
	}
	return &base.Idler{
		Kind: path.Kind(d.Kind), ToothCount: intFromProto(d.ToothCount), DiameterMM: d.DiameterMm, Side: path.Side(d.Side),
		Position: d.Position, FromMM: d.FromMm, ToMM: d.ToMm, WidthMM: d.WidthMm, FlangeDiameterMM: d.FlangeDiameterMm,
		HoleDiameterMM: d.HoleDiameterMm, BoltDiameterMM: d.BoltDiameterMm,
	}
}

func idlerPlaceToProto(p *base.IdlerPlace) *pb.IdlerPlace {
	if p == nil {
		return nil
	}
	return &pb.IdlerPlace{
		Center: pointToProto(p.Center), OffsetMm: p.OffsetMM, PositionCount: int32(p.PositionCount),
		LongerTravelMm: p.LongerTravelMM, LongerBeltMm: p.LongerBeltMM, ShorterTravelMm: p.ShorterTravelMM, ShorterBeltMm: p.ShorterBeltMM,
		Path: pathSolutionToProto(&p.Path),
	}
}

func axleFromProto(a *pb.Axle) base.Axle {
	return base.Axle{
		Kind:            base.AxleKind(a.Kind),
		WheelDiameterMM: a.WheelDiameterMm,
		WheelWidthMM:    a.WheelWidthMm,
		DropMM:          a.DropMm,
		HoleDiameterMM:  a.HoleDiameterMm,
		BoltDiameterMM:  a.BoltDiameterMm,
	}
}

func baseAnswerToProto(a base.SearchAnswer) *pb.SearchBasesResponse {
	out := &pb.SearchBasesResponse{SearchedCount: a.SearchedCount, Truncated: a.Truncated, Notes: notesToProto(a.Notes)}
	for i := range a.Plans {
		out.Plans = append(out.Plans, planToProto(&a.Plans[i]))
	}
	for _, x := range a.Exclusions {
		out.Exclusions = append(out.Exclusions, &pb.Exclusion{
			Field: protoPath(x.Field), Sufficient: x.Sufficient, Message: x.Message, Nearest: planToProto(x.Nearest),
		})
	}
	return out
}

func planToProto(p *base.Plan) *pb.Plan {
	if p == nil {
		return nil
	}
	out := &pb.Plan{
		WheelbaseMm:       p.WheelbaseMM,
		WheelbaseShiftMm:  p.WheelbaseShiftMM,
		ScrubPercent:      p.ScrubPercent,
		GapDifferenceMm:   p.GapDifferenceMM,
		DistinctBeltCount: int32(p.DistinctBeltCount),
		MirroredToo:       p.MirroredToo,
		Notes:             notesToProto(p.Notes),
	}
	for _, l := range p.Links {
		out.Links = append(out.Links, &pb.PlanLink{
			FromAxle: int32(l.FromAxle), ToAxle: int32(l.ToAxle), Drive: driveToProto(l.Drive),
			CenterDistanceMm: l.CenterDistanceMM, RailSpacingMm: l.RailSpacingMM,
			Idler: idlerPlaceToProto(l.Idler),
		})
	}
	for _, at := range p.AxlePositions {
		out.AxlePositions = append(out.AxlePositions, pointToProto(at))
	}
	return out
}
