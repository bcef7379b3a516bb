package server

import (
	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

func optionalPointFromProto(p *pb.Point) *beltmath.Point {
	if p == nil {
		return nil
	}
	return &beltmath.Point{XMM: p.XMm, YMM: p.YMm}
}

func pathQueryFromProto(r *pb.SolvePathRequest) path.Query {
	if r == nil {
		return path.Query{}
	}
	q := path.Query{
		Section:                 r.Section,
		PitchMM:                 r.PitchMm,
		BeltHeightMM:            r.BeltHeightMm,
		ToothHeightMM:           r.ToothHeightMm,
		PitchLineDifferentialMM: r.PitchLineDifferentialMm,
		BeltToothCount:          intFromProto(r.BeltToothCount),
		Moving:                  movingFromProto(r.Moving),
	}
	for _, w := range r.Wheels {
		q.Wheels = append(q.Wheels, wheelFromProto(w))
	}
	return q
}

func wheelFromProto(w *pb.Wheel) path.Wheel {
	if w == nil {
		return path.Wheel{}
	}
	return path.Wheel{
		Kind: path.Kind(w.Kind), ToothCount: intFromProto(w.ToothCount), DiameterMM: w.DiameterMm,
		Side: path.Side(w.Side), Center: optionalPointFromProto(w.Center),
	}
}

func movingFromProto(m *pb.MovingWheel) *path.Moving {
	if m == nil {
		return nil
	}
	out := &path.Moving{WheelIndex: int(m.WheelIndex)}
	if s := m.Segment; s != nil {
		out.Segment = &path.Segment{From: optionalPointFromProto(s.From), To: optionalPointFromProto(s.To)}
	}
	if a := m.Arc; a != nil {
		out.Arc = &path.Arc{
			Center: optionalPointFromProto(a.Center), RadiusMM: a.RadiusMm, FromDeg: a.FromDeg, ToDeg: a.ToDeg,
		}
	}
	return out
}

func pathAnswerToProto(a path.Answer) *pb.SolvePathResponse {
	out := &pb.SolvePathResponse{Notes: notesToProto(a.Notes)}
	for i := range a.Solutions {
		out.Solutions = append(out.Solutions, pathSolutionToProto(&a.Solutions[i]))
	}
	return out
}

func pathSolutionToProto(s *path.Solution) *pb.PathSolution {
	out := &pb.PathSolution{
		BeltLengthMm: s.BeltLengthMM, ExactToothCount: s.ExactToothCount, CounterClockwise: s.CounterClockwise,
		PositionMm: s.PositionMM, LengthPerMm: s.LengthPerMM,
	}
	for _, w := range s.Wheels {
		out.Wheels = append(out.Wheels, &pb.PathWheel{
			Center:           pointToProto(w.Center),
			PitchRadiusMm:    w.PitchRadiusMM,
			RimRadiusMm:      w.RimRadiusMM,
			WrapAngleDeg:     degrees(w.WrapRad),
			ContactLengthMm:  w.ContactLengthMM,
			MeshedToothCount: int32(w.MeshedToothCount),
			WrapFrom:         pointToProto(w.WrapFrom),
			WrapTo:           pointToProto(w.WrapTo),
		})
	}
	for _, span := range s.Spans {
		out.Spans = append(out.Spans, &pb.PathSpan{From: pointToProto(span.From), To: pointToProto(span.To), LengthMm: span.LengthMM})
	}
	return out
}
