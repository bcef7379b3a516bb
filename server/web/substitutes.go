package web

import (
	"net/http"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// substitutesAnswer is what else fits drilled holes.
type substitutesAnswer struct {
	*pb.SearchSubstitutesResponse
	Planned *pb.Drive
	Drilled float64
}

// Same counts the substitutes that need no new hole.
func (a *substitutesAnswer) Same() int {
	n := 0
	for _, s := range a.GetSubstitutes() {
		if s.GetSameHoles() {
			n++
		}
	}
	return n
}

func substituteGroups() []*group {
	counts := func(name, label, hint, path string) *field {
		return &field{Name: name, Label: label, Hint: hint, Kind: kindText, paths: []string{path}}
	}
	belt := beltField()
	belt.Label = "Belt to replace"
	shelf := stockField()
	shelf.Hint += "; pulleys of the drive itself need not be listed"
	fields := append([]*field{sectionField(), pitchField(), belt}, pulleyFields()...)
	return []*group{
		{Legend: "Drive", Fields: append(fields,
			lengthField("center", "Holes drilled at", "center distance of the two axles, as measured", "drilled_center_distance_mm"),
			&field{Name: "standard", Label: "Standard lengths only", Kind: kindCheck, paths: []string{"standard_lengths_only"}})},
		{Legend: "Only what is on the shelf", Folded: true, Fields: []*field{
			shelf,
			countField("needed", "Drives to replace", "1 where empty", "needed_quantity"),
			lengthField("belt_width", "Belt width", "any where empty", "belt_width_mm"),
		}},
		{Legend: "What to try", Folded: true, Fields: []*field{
			counts("try_driver", "Driver teeth to try", "such as 34..38; 4 either way where empty", "driver"),
			counts("try_driven", "Driven teeth to try", "in the same way", "driven"),
			counts("try_belt", "Belt teeth to try", "every belt where empty", "belt"),
			{Name: "ratio", Label: "Change of speed ratio, at most", Suffix: "%", Hint: "1 where empty", Kind: kindNumber, paths: []string{"max_ratio_change_percent"}},
			countField("results", "Rows to show", "20 where empty", "max_results"),
		}},
		{Legend: "What counts as fitting", Folded: true, Fields: limitFields()},
	}
}

// substitutes is the page that tells what else fits drilled holes.
func (p *pages) substitutes(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "What else fits these holes"
	f := newForm(v, v.query, "Find substitutes", substituteGroups()...)
	if !f.Asked {
		return !v.refused(w, "csv")
	}
	request := &pb.SearchSubstitutesRequest{
		Drive: readDrive(f), DrilledCenterDistanceMm: or(f.length("center")), Limits: readLimits(f),
		Driver: f.counts("try_driver"), Driven: f.counts("try_driven"), Belt: f.counts("try_belt"), StandardLengthsOnly: f.check("standard"),
		Stock: f.stock(), NeededQuantity: f.count("needed"), BeltWidthMm: f.length("belt_width"),
		MaxRatioChangePercent: f.number("ratio"), MaxResults: f.count("results"),
	}
	response, err := p.drives.SearchSubstitutes(r.Context(), request)
	if err != nil {
		f.refuse(err)
	}
	v.Status = f.settle()
	if v.refused(w, "csv") {
		return false
	}
	if f.faulty() {
		return true
	}
	if v.format() == "csv" {
		hand(w, "substitutes.csv", csvType, rowsOf(entry.SubstituteRows(response)))
		return false
	}
	v.Answer = &substitutesAnswer{response, request.GetDrive(), request.GetDrilledCenterDistanceMm()}
	return true
}

// sharedHoleAnswer is the hole, or the slot, that serves two drives.
type sharedHoleAnswer struct {
	*pb.SolveSharedHoleResponse
	Drives []*pb.Drive
}

// sharedFit is how one of the two drives sits.
type sharedFit struct {
	Drive *pb.Drive
	At    float64
	*pb.SharedHoleFit
}

// Rows are both drives as they sit.
func (a *sharedHoleAnswer) Rows() []sharedFit {
	var rows []sharedFit
	for i, fit := range a.GetFits() {
		rows = append(rows, sharedFit{a.Drives[i], fit.GetCenterDistanceMm() + fit.GetDeviationMm(), fit})
	}
	return rows
}

// otherBelt ends the names of the fields of the second drive.
const otherBelt = "2"

func sharedHoleGroups() []*group {
	one := func(index, end, when string) []*field {
		at := "drives[" + index + "]."
		return []*field{
			{
				Name: "belt" + end, Label: "Belt " + when, Kind: kindText, Hint: "teeth, such as 178, or as printed on it, such as 890 H5M",
				paths: []string{at + "belt_tooth_count", at + "belt_designation"},
				words: []string{"teeth", "what is printed on it,"},
			},
			countField("driver"+end, "Driver teeth "+when, "", at+"driver.tooth_count"),
			countField("driven"+end, "Driven teeth "+when, "", at+"driven.tooth_count"),
		}
	}
	section, pitch := sectionField(), pitchField()
	section.paths, pitch.paths = []string{"drives.section"}, []string{"drives.pitch_mm"}
	return []*group{
		{Legend: "Both belts", Fields: []*field{section, pitch}},
		{Legend: "Now", Fields: one("0", "", "now")},
		{Legend: "Later", Fields: one("1", otherBelt, "later")},
		{Legend: "What counts as fitting", Folded: true, Fields: limitFields()},
	}
}

// sharedHole is the page that finds one hole for two drives.
func (p *pages) sharedHole(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "One hole for two belts"
	f := newForm(v, v.query, "Find the hole", sharedHoleGroups()...)
	if !f.Asked {
		return !v.refused(w)
	}
	request := &pb.SolveSharedHoleRequest{Drives: []*pb.Drive{readDrive(f), readDriveOf(f, otherBelt)}, Limits: readLimits(f)}
	response, err := p.drives.SolveSharedHole(r.Context(), request)
	if err != nil {
		f.refuse(err)
	}
	v.Status = f.settle()
	if v.refused(w) {
		return false
	}
	if !f.faulty() {
		v.Answer = &sharedHoleAnswer{response, request.GetDrives()}
	}
	return true
}
