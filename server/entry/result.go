package entry

import (
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// ResultHead is the first line of a CSV file of results.
const ResultHead = "line,id,verdict,center_distance_mm,deviation_mm,stretch_percent,notes,error_reason,error_field,message"

// ResultRow returns the cells of a result, that of the drive on a line of its
// file, under ResultHead.
func ResultRow(line int, r *pb.CheckResult) []string {
	var reasons, messages []string
	for _, n := range r.GetNotes() {
		reasons = append(reasons, n.GetReason())
		messages = append(messages, n.GetMessage())
	}
	if r.GetError() != nil {
		messages = append(messages, r.GetError().GetMessage())
	}
	return []string{
		strconv.Itoa(line), r.GetId(), VerdictWord(r.GetVerdict()),
		Optional(r.CenterDistanceMm), Optional(r.DeviationMm), Optional(r.StretchPercent),
		strings.Join(reasons, " "), r.GetError().GetReason(), r.GetError().GetField(), strings.Join(messages, "; "),
	}
}

// VerdictWord is a verdict without the prefix it has on the wire.
func VerdictWord(v pb.Verdict) string { return strings.TrimPrefix(v.String(), "VERDICT_") }

// Optional writes a number with all its digits, and nothing for none.
func Optional(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', -1, 64)
}

// Unreadable is the result of a row that could not be read: what the service
// noted on its id stays.
func Unreadable(r *pb.CheckResult, fault *RowFault) *pb.CheckResult {
	return &pb.CheckResult{
		Id: r.GetId(), Verdict: pb.Verdict_VERDICT_INVALID, Notes: r.GetNotes(),
		Error: &pb.CheckError{Reason: fault.Reason, Field: fieldOf(fault.Column), Message: fault.Text},
	}
}

// SpacingColumns is the first line of a CSV file of spacings.
var SpacingColumns = []string{
	"section", "driver_tooth_count", "driven_tooth_count", "belt_tooth_count", "center_distance_mm", "target_shift_mm",
	"speed_ratio", "meshed_tooth_count", "standard_length",
}

// SpacingRow returns the cells of a spacing under SpacingColumns.
func SpacingRow(s *pb.Spacing) []string {
	return []string{
		s.GetSection(), count(s.GetDriverToothCount()), count(s.GetDrivenToothCount()), count(s.GetBeltToothCount()),
		Optional(&s.CenterDistanceMm), Optional(s.TargetShiftMm), Optional(&s.SpeedRatio), count(s.GetMeshedToothCount()),
		strconv.FormatBool(s.GetStandardLength()),
	}
}
