package entry

import (
	"slices"
	"strconv"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// Rows of answers as CSV, the first one naming the columns. Numbers have all
// their digits.

func count(n int32) string { return strconv.Itoa(int(n)) }

// BeltDesignation is what is printed on the belt of a drive, or empty where its
// section has no rule for that.
func BeltDesignation(d *pb.Drive) string {
	section, ok := beltmath.SectionByName(d.GetSection())
	if !ok {
		return ""
	}
	return section.BeltDesignation(int(d.GetBeltToothCount()))
}

// SubstituteRows has a row for each substitute.
func SubstituteRows(r *pb.SearchSubstitutesResponse) [][]string {
	rows := [][]string{{
		"section", "driver_tooth_count", "driven_tooth_count", "belt_tooth_count", "belt_designation", "center_distance_mm", "deviation_mm",
		"verdict", "same_holes", "hole_move_mm", "ratio_change_percent", "standard_length",
	}}
	for _, s := range r.GetSubstitutes() {
		d := s.GetDrive()
		rows = append(rows, []string{
			d.GetSection(), count(d.GetDriver().GetToothCount()), count(d.GetDriven().GetToothCount()), count(d.GetBeltToothCount()),
			BeltDesignation(d), Optional(&s.CenterDistanceMm), Optional(&s.DeviationMm), VerdictWord(s.GetVerdict()),
			strconv.FormatBool(s.GetSameHoles()), Optional(&s.HoleMoveMm), Optional(&s.RatioChangePercent), strconv.FormatBool(s.GetStandardLength()),
		})
	}
	return rows
}

// PlanRows has a row for each belt of each plan; axles count from 1. Plans with
// idlers have a column more.
func PlanRows(r *pb.SearchBasesResponse) [][]string {
	rows := [][]string{{
		"plan", "wheelbase_mm", "wheelbase_shift_mm", "gap_difference_mm", "scrub_percent", "mirrored_too", "driver_axle", "driven_axle",
		"section", "driver_tooth_count", "driven_tooth_count", "belt_tooth_count", "center_distance_mm", "rail_spacing_mm",
	}}
	idlers := PlansHaveIdlers(r.GetPlans())
	if idlers {
		rows[0] = append(rows[0], "idler_offset_mm")
	}
	for i, plan := range r.GetPlans() {
		for _, l := range plan.GetLinks() {
			d := l.GetDrive()
			row := []string{
				strconv.Itoa(i + 1), Optional(&plan.WheelbaseMm), Optional(&plan.WheelbaseShiftMm), Optional(&plan.GapDifferenceMm),
				Optional(&plan.ScrubPercent), strconv.FormatBool(plan.GetMirroredToo()), count(l.GetFromAxle() + 1), count(l.GetToAxle() + 1),
				d.GetSection(), count(d.GetDriver().GetToothCount()), count(d.GetDriven().GetToothCount()), count(d.GetBeltToothCount()),
				Optional(&l.CenterDistanceMm), Optional(&l.RailSpacingMm),
			}
			switch {
			case l.GetIdler() != nil:
				row = append(row, Optional(&l.GetIdler().OffsetMm))
			case idlers:
				row = append(row, "")
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// PlansHaveIdlers tells whether plans have idlers: all have or none.
func PlansHaveIdlers(plans []*pb.Plan) bool {
	return len(plans) > 0 && slices.ContainsFunc(plans[0].GetLinks(), func(l *pb.PlanLink) bool { return l.GetIdler() != nil })
}

// PathRows has a row for each wheel of each solution; both count from 1.
func PathRows(r *pb.SolvePathResponse) [][]string {
	rows := [][]string{{
		"solution", "position_mm", "belt_length_mm", "exact_tooth_count", "wheel", "center_x_mm", "center_y_mm",
		"pitch_radius_mm", "wrap_angle_deg", "meshed_tooth_count", "span_length_mm",
	}}
	for n, s := range r.GetSolutions() {
		for i, w := range s.GetWheels() {
			span := ""
			if i < len(s.GetSpans()) {
				span = Optional(&s.GetSpans()[i].LengthMm)
			}
			x, y := w.GetCenter().GetXMm(), w.GetCenter().GetYMm()
			rows = append(rows, []string{
				strconv.Itoa(n + 1), Optional(s.PositionMm), Optional(&s.BeltLengthMm), Optional(&s.ExactToothCount), strconv.Itoa(i + 1),
				Optional(&x), Optional(&y), Optional(&w.PitchRadiusMm),
				Optional(&w.WrapAngleDeg), count(w.GetMeshedToothCount()), span,
			})
		}
	}
	return rows
}
