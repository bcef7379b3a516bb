package main

import (
	"fmt"
	"strconv"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func (c *commandLine) sharedHole(q *pb.SolveSharedHoleRequest) {
	c.begin("shared-hole")
	c.can(len(q.Drives) == 2)
	c.limits(q.Limits)
	if !c.ok {
		return
	}
	first, second := q.Drives[0], q.Drives[1]
	c.can(first.GetSection() == second.GetSection() && (first.GetPitchMm() == second.GetPitchMm()))
	c.can(first != nil && second != nil && (first.PitchMm == nil) == (second.PitchMm == nil))
	c.drive(first, false)
	c.pulleyWord(second.GetDriver(), "")
	c.pulleyWord(second.GetDriven(), "")
	c.beltWord(second)
}

func (c *commandLine) fit(q *pb.AnalyzeFitRequest) {
	c.begin("fit")
	c.drive(q.Drive, true)
	c.word(c.written(q.CenterDistanceMm))
	c.length("center-tolerance", q.CenterToleranceMm)
	c.length("belt-tolerance", q.BeltLengthToleranceMm)
	if m := q.BeltMeasurement; m != nil {
		c.can(m.Driver != nil && m.Driven != nil && m.Driver.FlangeDiameterMm == nil && m.Driven.FlangeDiameterMm == nil)
		c.length("measured", &m.CenterDistanceMm)
		c.flag("measured-on", fmt.Sprintf("%d,%d", m.Driver.GetToothCount(), m.Driven.GetToothCount()))
		c.plainLength("uncertainty", m.UncertaintyMm)
	}
	c.plainLength("driver-play", q.DriverPlayMm)
	c.plainLength("driven-play", q.DrivenPlayMm)
	c.plainLength("oversize", q.PulleyOversizeMm)
	c.plainNumber("warmer", q.TemperatureChangeK)
	c.plainNumber("plate-expansion", q.PlateExpansionPerK)
	c.plainNumber("belt-expansion", q.BeltExpansionPerK)
	c.number("stiffness", q.StiffnessN)
	c.fitLimits(q.Limits)
	if l := q.Limits; l != nil {
		c.can(l.MarginalLowMm == nil && l.MarginalHighMm == nil && l.MarginalMeshedToothCount == nil && l.RejectedMeshedToothCount == nil)
	}
}

func (c *commandLine) rate(q *pb.RateDriveRequest) {
	c.begin("rate")
	c.drive(q.Drive, true)
	c.word(c.written(q.CenterDistanceMm))
	c.word(c.written(q.BeltWidthMm))
	c.number("torque", q.TorqueNm)
	c.number("power", q.PowerW)
	c.plainNumber("speed", q.SpeedRpm)
	c.number("service-factor", q.ServiceFactor)
	c.number("working-tension", q.WorkingTensionN)
	c.length("base-width", q.BaseWidthMm)
	c.number("mass", q.MassKgPerM)
	c.length("wheel", q.WheelDiameterMm)
}

func (c *commandLine) path(q *pb.SolvePathRequest) {
	c.begin("path")
	c.profile(q.Section, q.PitchMm)
	c.can(len(q.Wheels) >= 2)
	for _, w := range q.Wheels {
		text := ""
		switch {
		case w.Kind == pb.WheelKind_WHEEL_KIND_TOOTHED && w.Side == pb.WrapSide_WRAP_SIDE_INSIDE:
			c.can(w.ToothCount != nil && w.DiameterMm == nil)
			text = strconv.Itoa(int(w.GetToothCount()))
		case w.Kind == pb.WheelKind_WHEEL_KIND_SMOOTH && w.Side != 0:
			c.can(w.ToothCount == nil && w.DiameterMm != nil)
			text = map[pb.WrapSide]string{1: "d", 2: "b"}[w.Side] + c.written(w.GetDiameterMm())
			c.can(w.Side <= pb.WrapSide_WRAP_SIDE_OUTSIDE)
		default:
			c.can(false)
		}
		if w.Center != nil {
			text += "@" + c.point(w.Center)
		}
		c.word(text)
	}
	c.count("belt", q.BeltToothCount)
	c.length("belt-height", q.BeltHeightMm)
	c.length("tooth-height", q.ToothHeightMm)
	c.length("pitch-line", q.PitchLineDifferentialMm)
	if q.Moving != nil {
		// Another wheel and no way at all are wrong usage.
		c.can(q.Moving.WheelIndex >= 0 && int(q.Moving.WheelIndex) < len(q.Wheels) && (q.Moving.Segment != nil || q.Moving.Arc != nil))
		c.moving(q.Moving)
	}
}

func (c *commandLine) point(p *pb.Point) string { return c.written(p.XMm) + "," + c.written(p.YMm) }

func (c *commandLine) moving(m *pb.MovingWheel) {
	c.count("move", new(m.WheelIndex+1))
	if s := m.Segment; s != nil {
		c.can(s.From != nil || s.To != nil)
		for name, p := range map[string]*pb.Point{"from": s.From, "to": s.To} {
			if p != nil {
				c.flag(name, c.point(p))
			}
		}
	}
	if a := m.Arc; a != nil {
		if a.Center != nil {
			c.flag("pivot", c.point(a.Center))
		}
		c.length("radius", &a.RadiusMm)
		c.number("from-angle", &a.FromDeg)
		c.number("to-angle", &a.ToDeg)
	}
}
