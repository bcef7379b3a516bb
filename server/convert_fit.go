package server

import (
	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

func sharedHoleToProto(a beltmath.SharedHoleAnswer) *pb.SolveSharedHoleResponse {
	out := &pb.SolveSharedHoleResponse{
		DrillCenterDistanceMm: a.DrillCenterDistanceMM,
		SlotFromMm:            a.SlotFromMM,
		SlotToMm:              a.SlotToMM,
		Notes:                 notesToProto(a.Notes),
	}
	for _, f := range a.Fits {
		out.Fits = append(out.Fits, &pb.SharedHoleFit{
			CenterDistanceMm: f.CenterDistanceMM, DeviationMm: f.DeviationMM, Verdict: pb.Verdict(f.Verdict),
		})
	}
	return out
}

func fitQueryFromProto(r *pb.AnalyzeFitRequest) beltmath.FitQuery {
	return beltmath.FitQuery{
		Drive:                 driveFromProto(r.Drive),
		CenterDistanceMM:      r.CenterDistanceMm,
		CenterToleranceMM:     r.CenterToleranceMm,
		BeltLengthToleranceMM: r.BeltLengthToleranceMm,
		DriverPlayMM:          r.DriverPlayMm,
		DrivenPlayMM:          r.DrivenPlayMm,
		PulleyOversizeMM:      r.PulleyOversizeMm,
		TemperatureChangeK:    r.TemperatureChangeK,
		PlateExpansionPerK:    r.PlateExpansionPerK,
		BeltExpansionPerK:     r.BeltExpansionPerK,
		Limits:                fitLimitsFromProto(r.Limits),
		StiffnessN:            r.StiffnessN,
		BeltMeasurement:       beltMeasurementFromProto(r.BeltMeasurement),
	}
}

func beltMeasurementFromProto(m *pb.BeltMeasurement) *beltmath.BeltMeasurement {
	if m == nil {
		return nil
	}
	return &beltmath.BeltMeasurement{
		Driver: pulleyFromProto(m.Driver), Driven: pulleyFromProto(m.Driven),
		CenterDistanceMM: m.CenterDistanceMm, UncertaintyMM: m.UncertaintyMm,
	}
}

func fitAnswerToProto(a beltmath.FitAnswer) *pb.AnalyzeFitResponse {
	d, s := a.DeviationMM, a.StretchPercent
	out := &pb.AnalyzeFitResponse{
		ExactCenterDistanceMm: a.ExactCenterDistanceMM,
		Deviation:             &pb.FitDeviation{MeanMm: d.Mean, SigmaMm: d.Sigma, WorstLowMm: d.WorstLow, WorstHighMm: d.WorstHigh},
		ShareLoose:            a.ShareLoose,
		ShareGood:             a.ShareGood,
		ShareTight:            a.ShareTight,
		BestAllowanceMm:       a.BestAllowanceMM,
		BestShareGood:         a.BestShareGood,
		Stretch: &pb.FitStretch{
			MeanPercent: s.Mean, SigmaPercent: s.Sigma, WorstLowPercent: s.WorstLow, WorstHighPercent: s.WorstHigh,
		},
		Notes:  notesToProto(a.Notes),
		Limits: &pb.FitLimits{FitLowMm: &a.FitLowMM, FitHighMm: &a.FitHighMM},
	}
	if t := a.TensionN; t != nil {
		out.Tension = &pb.FitTension{MeanN: t.Mean, SigmaN: t.Sigma, WorstLowN: t.WorstLow, WorstHighN: t.WorstHigh}
	}
	for _, c := range a.Contributors {
		out.Contributors = append(out.Contributors, &pb.FitContributor{
			Name: protoPath(c.Name), ShiftMm: c.ShiftMM, VarianceShare: c.VarianceShare,
		})
	}
	out.Levers = leversToProto(a.Levers)
	return out
}

func rateQueryFromProto(r *pb.RateDriveRequest) beltmath.RateQuery {
	return beltmath.RateQuery{
		Drive:            driveFromProto(r.Drive),
		CenterDistanceMM: r.CenterDistanceMm,
		BeltWidthMM:      r.BeltWidthMm,
		TorqueNM:         r.TorqueNm,
		PowerW:           r.PowerW,
		SpeedRPM:         r.SpeedRpm,
		ServiceFactor:    r.ServiceFactor,
		WorkingTensionN:  r.WorkingTensionN,
		BaseWidthMM:      r.BaseWidthMm,
		MassKgPerM:       r.MassKgPerM,
		WheelDiameterMM:  r.WheelDiameterMm,
	}
}

func rateAnswerToProto(a beltmath.RateAnswer) *pb.RateDriveResponse {
	return &pb.RateDriveResponse{
		EffectiveTensionN:     a.EffectiveTensionN,
		MeshedToothFactor:     a.MeshedToothFactor,
		WidthFactor:           a.WidthFactor,
		CentrifugalTensionN:   a.CentrifugalTensionN,
		AllowableTensionN:     a.AllowableTensionN,
		Utilization:           a.Utilization,
		StaticTensionN:        a.StaticTensionN,
		SpanFrequencyHz:       a.SpanFrequencyHz,
		DeflectionMm:          a.DeflectionMM,
		DeflectionForceN:      a.DeflectionForceN,
		ShaftLoadN:            a.ShaftLoadN,
		ShaftLoadDirectionDeg: degrees(a.ShaftLoadDirectionRad),
		BeltSpeedMPerS:        a.BeltSpeedMPerS,
		VehicleSpeedMPerS:     a.VehicleSpeedMPerS,
		Notes:                 notesToProto(a.Notes),
	}
}

func leversToProto(levers []beltmath.FitLever) []*pb.FitLever {
	out := make([]*pb.FitLever, len(levers))
	for i, l := range levers {
		out[i] = &pb.FitLever{Name: protoPath(l.Name), ShareGoodIfHalved: l.ShareGoodIfHalved}
	}
	return out
}
