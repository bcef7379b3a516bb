package drawing

import (
	"fmt"
	"math"
	"strconv"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

// Drive draws a drive of two pulleys. g is the drive at its exact center
// distance; a is its path, driver first, at the one to draw.
func Drive(g beltmath.Geometry, a path.Answer, centerMM float64) *Drawing {
	s := &a.Solutions[0]
	drive := g.Drive
	d := New(driveTitle(drive), sizeOf(s.Wheels))
	pulleys := [2]beltmath.Pulley{drive.Driver, drive.Driven}
	toothed := []path.Wheel{{Kind: path.KindToothed, Side: path.SideInside}, {Kind: path.KindToothed, Side: path.SideInside}}
	for i := range s.Wheels {
		outer := s.Wheels[i].PitchRadiusMM
		if a.BackMM != nil {
			outer += *a.BackMM
		}
		if flange := pulleys[i].FlangeDiameterMM; flange != nil {
			outer = math.Max(outer, *flange/2)
			d.Circle(Pen{Layer: Wheels, Dash: Dashed, Weight: Thin}, s.Wheels[i].Center, *flange/2)
		}
		d.wheel(&s.Wheels[i], []string{"driver", "driven"}[i], middle(s.Wheels), outer)
	}
	d.belt(s, toothed, beltSides{a.ToothSideMM, a.BackMM})
	d.Across(s.Wheels[0].Center, s.Wheels[1].Center, d.box.bottom-3*d.TextHeight(), fmt.Sprintf("%.4f", centerMM))
	d.ScaleBar()
	lines := []string{d.Title}
	if off := centerMM - g.CenterDistanceMM; math.Abs(off) >= 0.00005 {
		word := "tight"
		if off < 0 {
			word = "slack"
		}
		lines = append(lines, fmt.Sprintf("Drawn at %.4f; the belt fits at %.4f, so this is %.4f %s", centerMM, g.CenterDistanceMM, math.Abs(off), word))
	}
	d.Below(lines...)
	d.Table(driveRows(g, s))
	d.Below(toScale)
	return d
}

func driveTitle(drive beltmath.Drive) string {
	name := profileName("", new(drive.Pitch.MM()))
	belt := ""
	if drive.Section != nil {
		name, belt = profileName(drive.Section.Designation, nil), ", "+drive.Section.BeltDesignation(drive.BeltToothCount)
	}
	return fmt.Sprintf("%s: pulleys of %d and %d teeth, belt of %d teeth%s",
		name, drive.Driver.ToothCount, drive.Driven.ToothCount, drive.BeltToothCount, belt)
}

func driveRows(g beltmath.Geometry, s *path.Solution) [][]string {
	rows := [][]string{{"Pulley", "Teeth", "Pitch diameter", "Outside diameter", "Wrap, degrees", "Teeth in mesh"}}
	for i, p := range [2]beltmath.PulleyGeometry{g.Driver, g.Driven} {
		outside := "not held"
		if p.OutsideDiameterMM != nil {
			outside = fmt.Sprintf("%.4f", *p.OutsideDiameterMM)
		}
		w := &s.Wheels[i]
		rows = append(rows, []string{
			[]string{"driver", "driven"}[i], strconv.Itoa(p.ToothCount), fmt.Sprintf("%.4f", p.PitchDiameterMM), outside,
			fmt.Sprintf("%.2f", w.WrapRad*180/math.Pi), strconv.Itoa(w.MeshedToothCount),
		})
	}
	return rows
}
