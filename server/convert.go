package server

import (
	"errors"
	"math"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

func pulleyFromProto(p *pb.Pulley) beltmath.Pulley {
	if p == nil {
		return beltmath.Pulley{}
	}
	return beltmath.Pulley{ToothCount: int(p.ToothCount), FlangeDiameterMM: p.FlangeDiameterMm}
}

func intFromProto(v *int32) *int {
	if v == nil {
		return nil
	}
	return new(int(*v))
}

func intsFromProto(values []int32) []int {
	out := make([]int, len(values))
	for i, v := range values {
		out[i] = int(v)
	}
	return out
}

func driveFromProto(d *pb.Drive) beltmath.DriveInput {
	if d == nil {
		return beltmath.DriveInput{}
	}
	return beltmath.DriveInput{
		Section:         d.Section,
		PitchMM:         d.PitchMm,
		Driver:          pulleyFromProto(d.Driver),
		Driven:          pulleyFromProto(d.Driven),
		BeltToothCount:  intFromProto(d.BeltToothCount),
		BeltDesignation: d.BeltDesignation,
	}
}

func beltQueryFromProto(r *pb.SolveBeltRequest) beltmath.BeltQuery {
	return beltmath.BeltQuery{
		Section:             r.Section,
		PitchMM:             r.PitchMm,
		Driver:              pulleyFromProto(r.Driver),
		Driven:              pulleyFromProto(r.Driven),
		CenterDistanceMM:    r.CenterDistanceMm,
		NeighborCount:       intFromProto(r.NeighborCount),
		StandardLengthsOnly: r.StandardLengthsOnly,
	}
}

func toothCountsFromProto(c *pb.ToothCounts) *beltmath.ToothCounts {
	if c == nil {
		return nil
	}
	out := &beltmath.ToothCounts{Min: intFromProto(c.Min), Max: intFromProto(c.Max), Step: intFromProto(c.Step)}
	for _, v := range c.Values {
		out.Values = append(out.Values, int(v))
	}
	return out
}

func searchQueryFromProto(r *pb.SearchSpacingsRequest) beltmath.SearchQuery {
	return beltmath.SearchQuery{
		Sections:               r.Sections,
		PitchMM:                r.PitchMm,
		Driver:                 toothCountsFromProto(r.Driver),
		Driven:                 toothCountsFromProto(r.Driven),
		Belt:                   toothCountsFromProto(r.Belt),
		MinCenterDistanceMM:    r.MinCenterDistanceMm,
		MaxCenterDistanceMM:    r.MaxCenterDistanceMm,
		TargetCenterDistanceMM: r.TargetCenterDistanceMm,
		ToleranceMM:            r.ToleranceMm,
		MinSpeedRatio:          r.MinSpeedRatio,
		MaxSpeedRatio:          r.MaxSpeedRatio,
		EqualPulleys:           r.EqualPulleys,
		MinMeshedToothCount:    intFromProto(r.MinMeshedToothCount),
		StandardLengthsOnly:    r.StandardLengthsOnly,
		OrderBy:                beltmath.SpacingOrder(r.OrderBy),
	}
}

func streamQueryFromProto(r *pb.StreamSpacingsRequest) beltmath.SearchQuery {
	return searchQueryFromProto(&pb.SearchSpacingsRequest{
		Sections:               r.Sections,
		PitchMm:                r.PitchMm,
		Driver:                 r.Driver,
		Driven:                 r.Driven,
		Belt:                   r.Belt,
		MinCenterDistanceMm:    r.MinCenterDistanceMm,
		MaxCenterDistanceMm:    r.MaxCenterDistanceMm,
		TargetCenterDistanceMm: r.TargetCenterDistanceMm,
		ToleranceMm:            r.ToleranceMm,
		MinSpeedRatio:          r.MinSpeedRatio,
		MaxSpeedRatio:          r.MaxSpeedRatio,
		EqualPulleys:           r.EqualPulleys,
		MinMeshedToothCount:    r.MinMeshedToothCount,
		StandardLengthsOnly:    r.StandardLengthsOnly,
	})
}

func spacingToProto(d beltmath.SpacingDetail) *pb.Spacing {
	return &pb.Spacing{
		Section:          d.Section,
		DriverToothCount: int32(d.DriverToothCount),
		DrivenToothCount: int32(d.DrivenToothCount),
		BeltToothCount:   int32(d.BeltToothCount),
		CenterDistanceMm: d.CenterDistanceMM,
		TargetShiftMm:    d.TargetShiftMM,
		SpeedRatio:       d.SpeedRatio,
		MeshedToothCount: int32(d.MeshedToothCount),
		StandardLength:   d.StandardLength,
	}
}

func pulleyQueryFromProto(r *pb.SolvePulleyRequest) beltmath.PulleyQuery {
	return beltmath.PulleyQuery{
		Section:          r.Section,
		PitchMM:          r.PitchMm,
		Driver:           pulleyFromProto(r.Driver),
		BeltToothCount:   int(r.BeltToothCount),
		CenterDistanceMM: r.CenterDistanceMm,
		NeighborCount:    intFromProto(r.NeighborCount),
	}
}

func pulleyToProto(p beltmath.Pulley) *pb.Pulley {
	return &pb.Pulley{ToothCount: int32(p.ToothCount), FlangeDiameterMm: p.FlangeDiameterMM}
}

func driveToProto(d beltmath.Drive) *pb.Drive {
	out := &pb.Drive{
		Driver:         pulleyToProto(d.Driver),
		Driven:         pulleyToProto(d.Driven),
		BeltToothCount: new(int32(d.BeltToothCount)),
	}
	if d.Section != nil {
		out.Section = d.Section.Designation
	} else {
		out.PitchMm = new(d.Pitch.MM())
	}
	return out
}

func degrees(rad float64) float64 { return rad * (180 / math.Pi) }

func pointToProto(p beltmath.Point) *pb.Point { return &pb.Point{XMm: p.XMM, YMm: p.YMM} }

func pulleyGeometryToProto(g beltmath.PulleyGeometry) *pb.PulleyGeometry {
	return &pb.PulleyGeometry{
		ToothCount:        int32(g.ToothCount),
		PitchDiameterMm:   g.PitchDiameterMM,
		OutsideDiameterMm: g.OutsideDiameterMM,
		WrapAngleDeg:      degrees(g.WrapRad),
		MeshedToothCount:  int32(g.MeshedToothCount),
		Center:            pointToProto(g.Center),
		UpperTangent:      pointToProto(g.UpperTangent),
		LowerTangent:      pointToProto(g.LowerTangent),
	}
}

func geometryToProto(g beltmath.Geometry) *pb.DriveGeometry {
	return &pb.DriveGeometry{
		Drive:            driveToProto(g.Drive),
		PitchMm:          g.Drive.Pitch.MM(),
		BeltLengthMm:     g.BeltLengthMM,
		CenterDistanceMm: g.CenterDistanceMM,
		SpanLengthMm:     g.SpanLengthMM,
		SpeedRatio:       g.SpeedRatio,
		Sensitivity: &pb.Sensitivity{
			PerBeltToothMm:   g.Sensitivity.PerBeltToothMM,
			PerDriverToothMm: g.Sensitivity.PerDriverToothMM,
			PerDrivenToothMm: g.Sensitivity.PerDrivenToothMM,
			PerBeltLength:    g.Sensitivity.PerBeltLength,
		},
		Driver: pulleyGeometryToProto(g.Driver),
		Driven: pulleyGeometryToProto(g.Driven),
	}
}

func notesToProto(notes []beltmath.Note) []*pb.Note {
	out := make([]*pb.Note, len(notes))
	for i, n := range notes {
		out[i] = noteToProto(n)
	}
	return out
}

func noteToProto(n beltmath.Note) *pb.Note {
	return &pb.Note{Reason: n.Reason, Severity: pb.Severity(n.Severity), Message: n.Message, Field: protoPath(n.Field)}
}

func centerAnswerToProto(a beltmath.CenterAnswer) *pb.SolveCenterDistanceResponse {
	return &pb.SolveCenterDistanceResponse{
		Geometry:              geometryToProto(a.Geometry),
		DrillCenterDistanceMm: a.DrillCenterDistanceMM,
		Notes:                 notesToProto(a.Notes),
	}
}

func beltAnswerToProto(a beltmath.BeltAnswer) *pb.SolveBeltResponse {
	out := &pb.SolveBeltResponse{
		ExactToothCount: a.ExactToothCount,
		BeltLengthMm:    a.BeltLengthMM,
		Notes:           notesToProto(a.Notes),
	}
	for _, c := range a.Candidates {
		out.Candidates = append(out.Candidates, &pb.BeltCandidate{
			Geometry: geometryToProto(c.Geometry), CenterShiftMm: c.CenterShiftMM, StandardLength: c.StandardLength,
		})
	}
	return out
}

func pulleyAnswerToProto(a beltmath.PulleyAnswer) *pb.SolvePulleyResponse {
	out := &pb.SolvePulleyResponse{ExactToothCount: a.ExactToothCount, Notes: notesToProto(a.Notes)}
	for _, c := range a.Candidates {
		out.Candidates = append(out.Candidates, &pb.PulleyCandidate{
			Geometry: geometryToProto(c.Geometry), CenterShiftMm: c.CenterShiftMM,
		})
	}
	return out
}

func valueToProto(v beltmath.Value) *pb.Value {
	return &pb.Value{Value: v.Value, Source: beltmath.ExplainSource(v.Source), Verified: v.Verified}
}

func sectionToProto(s *beltmath.Section) *pb.Section {
	out := &pb.Section{
		Section:                 s.Designation,
		System:                  s.System,
		Standard:                s.Standard,
		PitchMm:                 valueToProto(s.PitchMM),
		PitchLineDifferentialMm: valueToProto(s.PitchLineDifferentialMM),
		MinToothCount:           valueToProto(s.MinToothCount),
		BeltHeightMm:            valueToProto(s.BeltHeightMM),
		ToothHeightMm:           valueToProto(s.ToothHeightMM),
		Rating: &pb.Rating{
			BaseWidthMm:     valueToProto(s.Rating.BaseWidthMM),
			WorkingTensionN: valueToProto(s.Rating.WorkingTensionN),
			MassKgPerM:      valueToProto(s.Rating.MassKgPerM),
		},
	}
	for _, w := range s.WidthsMM {
		out.WidthsMm = append(out.WidthsMm, valueToProto(w))
	}
	return out
}

func beltLengthToProto(b beltmath.BeltLength) *pb.BeltLength {
	return &pb.BeltLength{
		Designation: b.Designation, ToothCount: int32(b.ToothCount), BeltLengthMm: b.LengthMM,
		Source: beltmath.ExplainSource(b.Source), Verified: b.Verified,
	}
}

func fitLimitsFromProto(l *pb.FitLimits) beltmath.FitLimits {
	if l == nil {
		return beltmath.FitLimits{}
	}
	return beltmath.FitLimits{
		FitLowMM:                 l.FitLowMm,
		FitHighMM:                l.FitHighMm,
		MarginalLowMM:            l.MarginalLowMm,
		MarginalHighMM:           l.MarginalHighMm,
		MarginalMeshedToothCount: intFromProto(l.MarginalMeshedToothCount),
		RejectedMeshedToothCount: intFromProto(l.RejectedMeshedToothCount),
	}
}

func checkItemFromProto(item *pb.CheckItem) beltmath.CheckItem {
	if item == nil {
		return beltmath.CheckItem{}
	}
	return beltmath.CheckItem{
		ID:                 item.Id,
		Drive:              driveFromProto(item.Drive),
		CenterDistanceMM:   item.CenterDistanceMm,
		BeltWidthMM:        item.BeltWidthMm,
		TorqueNM:           item.TorqueNm,
		HeightDifferenceMM: item.HeightDifferenceMm,
	}
}

// checkSlot holds one result and the numbers that its optional fields point to,
// so that a batch of results is one allocation.
type checkSlot struct {
	result                     pb.CheckResult
	center, deviation, stretch float64
}

// checkResultsToProto makes n results of what get returns for their indexes.
func checkResultsToProto(n int, get func(i int) beltmath.CheckResult) []*pb.CheckResult {
	out := make([]*pb.CheckResult, n)
	slots := make([]checkSlot, n)
	for i := range slots {
		slots[i].fill(get(i))
		out[i] = &slots[i].result
	}
	return out
}

func (s *checkSlot) fill(from beltmath.CheckResult) {
	s.result.Id = from.ID
	s.result.Verdict = pb.Verdict(from.Verdict)
	if from.Solved {
		s.center, s.deviation, s.stretch = from.CenterDistanceMM, from.DeviationMM, from.StretchPercent
		s.result.CenterDistanceMm, s.result.DeviationMm, s.result.StretchPercent = &s.center, &s.deviation, &s.stretch
	}
	if len(from.Notes) > 0 {
		s.result.Notes = notesToProto(from.Notes)
	}
	if from.Err != nil {
		s.result.Error = checkErrorToProto(from.Err)
	}
}

// checkErrorToProto tells what is wrong with one item of a batch: the reason
// and field of the first fault, and the text of all of them.
func checkErrorToProto(err error) *pb.CheckError {
	faults := inputFaults(err)
	var none *beltmath.NoSolutionError
	if errors.As(err, &none) {
		faults = []fault{solutionFault(none)}
	}
	texts := make([]string, len(faults))
	for i, f := range faults {
		texts[i] = f.text
	}
	return &pb.CheckError{Reason: faults[0].reason, Field: faults[0].field, Message: strings.Join(texts, "; ")}
}

func checkSummaryToProto(s beltmath.CheckSummary) *pb.CheckSummary {
	return &pb.CheckSummary{
		Fits: int64(s.Fits), Marginal: int64(s.Marginal), Rejected: int64(s.Rejected), Invalid: int64(s.Invalid),
	}
}

func stockFromProto(s *pb.Stock) *beltmath.Stock {
	if s == nil {
		return nil
	}
	return &beltmath.Stock{Belts: stockItemsFromProto(s.Belts), Pulleys: stockItemsFromProto(s.Pulleys)}
}

func stockItemsFromProto(items []*pb.StockItem) []beltmath.StockItem {
	out := make([]beltmath.StockItem, len(items))
	for i, item := range items {
		out[i] = beltmath.StockItem{
			Section: item.GetSection(), ToothCount: int(item.GetToothCount()),
			WidthMM: item.GetWidthMm(), Quantity: int(item.GetQuantity()),
		}
	}
	return out
}

func substituteQueryFromProto(r *pb.SearchSubstitutesRequest) beltmath.SubstituteQuery {
	return beltmath.SubstituteQuery{
		Drive:                   driveFromProto(r.Drive),
		DrilledCenterDistanceMM: r.DrilledCenterDistanceMm,
		Limits:                  fitLimitsFromProto(r.Limits),
		Driver:                  toothCountsFromProto(r.Driver),
		Driven:                  toothCountsFromProto(r.Driven),
		Belt:                    toothCountsFromProto(r.Belt),
		StandardLengthsOnly:     r.StandardLengthsOnly,
		Stock:                   stockFromProto(r.Stock),
		NeededQuantity:          intFromProto(r.NeededQuantity),
		MaxRatioChangePercent:   r.MaxRatioChangePercent,
		MaxResults:              intFromProto(r.MaxResults),
		BeltWidthMM:             r.BeltWidthMm,
	}
}

func substituteAnswerToProto(a beltmath.SubstituteAnswer) *pb.SearchSubstitutesResponse {
	out := &pb.SearchSubstitutesResponse{Notes: notesToProto(a.Notes)}
	for _, s := range a.Substitutes {
		out.Substitutes = append(out.Substitutes, substituteToProto(s))
	}
	return out
}

func substituteToProto(s beltmath.Substitute) *pb.Substitute {
	return &pb.Substitute{
		Drive:              driveToProto(s.Drive),
		CenterDistanceMm:   s.CenterDistanceMM,
		DeviationMm:        s.DeviationMM,
		Verdict:            pb.Verdict(s.Verdict),
		SameHoles:          s.SameHoles,
		HoleMoveMm:         s.HoleMoveMM,
		RatioChangePercent: s.RatioChangePercent,
		StandardLength:     s.StandardLength,
	}
}
