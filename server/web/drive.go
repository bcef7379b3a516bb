package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// What the page of a drive can find.
const (
	findCenter = "center"
	findBelt   = "belt"
	findPulley = "pulley"
)

// driveAnswer is what was found; one of the first three is given.
type driveAnswer struct {
	Center  *pb.SolveCenterDistanceResponse
	Belt    *pb.SolveBeltResponse
	Pulley  *pb.SolvePulleyResponse
	Wanted  float64           // center distance that was asked for
	Best    *pb.Drive         // the drive to draw
	At      float64           // center distance at which it is drawn
	Drawing template.HTML     // to scale
	Notes   []*pb.Note        // what deserves a look
	Section *beltmath.Section // nil for a pitch of its own
}

// sectionField chooses a section, or leaves it to a pitch.
func sectionField() *field {
	f := &field{
		Name: "section", Label: "Belt section", Kind: kindSelect, paths: []string{"drive.section", "section"},
		Options: []option{{"", "other: give its pitch", ""}},
	}
	for _, s := range beltmath.Sections() {
		f.Options = append(f.Options, option{s.Designation, fmt.Sprintf("%s, pitch %v mm", s.Designation, s.Pitch.MM()), s.System})
	}
	return f
}

func pitchField() *field {
	return &field{
		Name: "pitch", Label: "Other pitch", Kind: kindLength, Hint: "only for a belt that is in no table",
		paths: []string{"drive.pitch_mm", "pitch_mm"},
	}
}

func countField(name, label, hint string, paths ...string) *field {
	return &field{Name: name, Label: label, Hint: hint, Kind: kindCount, paths: paths}
}

func lengthField(name, label, hint string, paths ...string) *field {
	return &field{Name: name, Label: label, Hint: hint, Kind: kindLength, paths: paths}
}

// pulleyFields are those of both pulleys of a drive; prefix leads to them.
func pulleyFields() []*field {
	return []*field{
		countField("driver", "Driver teeth", "6 to 600, on the motor's side", "drive.driver.tooth_count", "driver.tooth_count"),
		countField("driven", "Driven teeth", "6 to 600", "drive.driven.tooth_count", "driven.tooth_count"),
	}
}

func beltField() *field {
	return &field{
		Name: "belt", Label: "Belt", Kind: kindText, Hint: "teeth, such as 178, or as printed on it, such as 890 H5M",
		paths: []string{"drive.belt_tooth_count", "belt_tooth_count", "drive.belt_designation"},
		words: []string{"teeth", "teeth", "what is printed on it,"},
	}
}

// driveGroups is the form for what is to be found.
func driveGroups(find string) []*group {
	pulleys := pulleyFields()
	flanges := &group{Legend: "Flanges", Folded: true, Fields: []*field{
		lengthField("driver_flange", "Driver flange diameter", "counts where both pulleys have one", "drive.driver.flange_diameter_mm", "driver.flange_diameter_mm"),
		lengthField("driven_flange", "Driven flange diameter", "", "drive.driven.flange_diameter_mm", "driven.flange_diameter_mm"),
	}}
	center := lengthField("center", "Center distance", "of the two axles, true, not along the rail", "center_distance_mm")
	near := countField("near", "Neighbors", "how many on each side, 1 to 20; 1 where empty", "neighbor_count")
	first := []*field{{Name: "find", Kind: kindHidden, Value: find}, sectionField(), pitchField()}
	switch find {
	case findBelt:
		standard := &field{Name: "standard", Label: "Standard lengths only", Kind: kindCheck, paths: []string{"standard_lengths_only"}}
		return []*group{
			{Legend: "Belt to find", Fields: append(first, near, standard)},
			{Legend: "Pulleys and axles", Fields: append(pulleys, center)},
			flanges,
		}
	case findPulley:
		belt := countField("belt", "Belt teeth", "7 to 5000", "belt_tooth_count")
		flanges.Fields = flanges.Fields[:1]
		return []*group{
			{Legend: "Belt", Fields: append(first, belt)},
			{Legend: "Pulley and axles", Fields: []*field{pulleys[0], center, near}},
			flanges,
		}
	}
	allowance := lengthField("allowance", "Allowance", "added when drilling: above 0 tight, below 0 slack", "allowance_mm")
	return []*group{
		{Legend: "Belt", Fields: append(first, beltField())},
		{Legend: "Pulleys", Fields: append(pulleys, allowance)},
		flanges,
	}
}

// drive is the page of one drive.
func (p *pages) drive(w http.ResponseWriter, r *http.Request, v *view) bool {
	find := v.query.Get("find")
	if !slices.Contains([]string{findBelt, findPulley}, find) {
		find = findCenter
	}
	v.Title = map[string]string{
		findCenter: "Center distance of a drive", findBelt: "Belt for a center distance", findPulley: "Driven pulley for a belt",
	}[find]
	f := newForm(v, v.query, "Find it", driveGroups(find)...)
	// What the other two questions take may stay in the address.
	f.names = append(f.names, "belt", "driven", "center", "allowance", "near", "standard", "driver_flange", "driven_flange")
	if given := v.query.Get("find"); given != "" && given != find {
		f.Faults = append(f.Faults, fmt.Sprintf("find is %s: give %s, %s or %s", entry.Quoted(given), findCenter, findBelt, findPulley))
		f.find("find").Value = find
	}
	a := &driveAnswer{}
	if f.Asked {
		a.find(r.Context(), p, f, find)
	}
	v.Status = f.settle()
	if v.refused(w, "number", "svg", "dxf") {
		return false
	}
	if !f.Asked || f.faulty() {
		return true
	}
	v.Answer = a
	a.Section = findSection(a.Best.GetSection())
	return p.present(w, r, v, a)
}

// present gives the answer in the wanted form; on a page it needs the drawing.
func (p *pages) present(w http.ResponseWriter, r *http.Request, v *view, a *driveAnswer) bool {
	if v.format() == "number" {
		hand(w, "", "text/plain; charset=utf-8", []byte(a.number(v)+"\n"))
		return false
	}
	body, err := p.drives.DrawDrive(r.Context(), &pb.DrawDriveRequest{
		Drive: a.Best, CenterDistanceMm: &a.At, Format: drawings[v.format()],
	})
	if err != nil {
		v.Form.refuse(err)
		v.Answer, v.Status = nil, v.Form.settle()
		return !v.refused(w, "number", "svg", "dxf")
	}
	if v.format() != "" {
		hand(w, "drive."+v.format(), body.GetContentType(), body.GetData())
		return false
	}
	a.Drawing = template.HTML(body.GetData()) //nolint:gosec // our own drawing, its texts escaped
	return true
}

// number is the answer for a cell of a spreadsheet.
func (a *driveAnswer) number(v *view) string {
	switch {
	case a.Belt != nil:
		return exact(a.Belt.GetExactToothCount())
	case a.Pulley != nil:
		return exact(a.Pulley.GetExactToothCount())
	}
	return exact(beltmath.InUnit(a.Center.GetDrillCenterDistanceMm(), v.Unit))
}

// find asks the service.
func (a *driveAnswer) find(ctx context.Context, p *pages, f *form, find string) {
	driver, driven := readPulley(f, "driver"), readPulley(f, "driven")
	section, pitch, center := f.text("section"), f.length("pitch"), or(f.length("center"))
	var err error
	switch find {
	case findBelt:
		a.Belt, err = p.drives.SolveBelt(ctx, &pb.SolveBeltRequest{
			Section: section, PitchMm: pitch, Driver: driver, Driven: driven, CenterDistanceMm: center,
			NeighborCount: f.count("near"), StandardLengthsOnly: f.check("standard"),
		})
		a.Notes = a.Belt.GetNotes()
		if len(a.Belt.GetCandidates()) > 0 {
			a.Best = a.Belt.GetCandidates()[0].GetGeometry().GetDrive()
		}
	case findPulley:
		a.Pulley, err = p.drives.SolvePulley(ctx, &pb.SolvePulleyRequest{
			Section: section, PitchMm: pitch, Driver: driver, BeltToothCount: or(f.count("belt")), CenterDistanceMm: center,
			NeighborCount: f.count("near"),
		})
		a.Notes = a.Pulley.GetNotes()
		if len(a.Pulley.GetCandidates()) > 0 {
			a.Best = a.Pulley.GetCandidates()[0].GetGeometry().GetDrive()
		}
	default:
		a.Center, err = p.drives.SolveCenterDistance(ctx, &pb.SolveCenterDistanceRequest{
			Drive: readDrive(f), AllowanceMm: or(f.length("allowance")),
		})
		a.Notes, a.Best = a.Center.GetNotes(), a.Center.GetGeometry().GetDrive()
		center = a.Center.GetDrillCenterDistanceMm()
	}
	a.Wanted, a.At = center, center
	if err != nil {
		f.refuse(err)
	}
}

// readPulley reads the pulley whose fields begin with a name.
func readPulley(f *form, name string) *pb.Pulley {
	return &pb.Pulley{ToothCount: or(f.count(name)), FlangeDiameterMm: f.length(name + "_flange")}
}

// readDrive reads a drive from its usual fields. The belt is a count of teeth,
// or what is printed on it.
func readDrive(f *form) *pb.Drive { return readDriveOf(f, "") }

// readDriveOf reads the drive whose pulleys and belt have fields with an end to
// their usual names.
func readDriveOf(f *form, end string) *pb.Drive {
	d := &pb.Drive{
		Section: f.text("section"), PitchMm: f.length("pitch"),
		Driver: readPulley(f, "driver"+end), Driven: readPulley(f, "driven"+end),
	}
	belt := f.text("belt" + end)
	if n, err := strconv.ParseInt(belt, 10, 32); err == nil {
		d.BeltToothCount = new(int32(n))
		return d
	}
	d.BeltDesignation = strings.ToUpper(belt)
	return d
}

// DriveURL is the page of a drive at its exact center distance.
func (v *view) DriveURL(d *pb.Drive) string {
	return v.driveTo("/drive", d)
}

// FitURL is the page that tells how well a drive fits.
func (v *view) FitURL(d *pb.Drive, centerMM float64) string {
	return v.driveTo("/fit", d, "center", v.Typed(centerMM))
}

// LoadURL is the page that tells what a drive carries.
func (v *view) LoadURL(d *pb.Drive, centerMM float64) string {
	return v.driveTo("/load", d, "center", v.Typed(centerMM))
}

// SubstitutesURL is the page that tells what fits in place of a drive.
func (v *view) SubstitutesURL(d *pb.Drive, centerMM float64) string {
	return v.driveTo("/substitutes", d, "center", v.Typed(centerMM))
}

// SharedHoleURL is the page that finds one hole for two drives.
func (v *view) SharedHoleURL(now, later *pb.Drive) string {
	return v.driveTo("/substitutes/shared-hole", now, "belt"+otherBelt, beltText(later),
		"driver"+otherBelt, later.GetDriver().GetToothCount(), "driven"+otherBelt, later.GetDriven().GetToothCount())
}

// beltText is the belt of a drive as a form takes it.
func beltText(d *pb.Drive) string {
	if d.BeltToothCount == nil {
		return d.GetBeltDesignation()
	}
	return strconv.Itoa(int(d.GetBeltToothCount()))
}

func (v *view) driveTo(path string, d *pb.Drive, more ...any) string {
	pairs := []any{"section", d.GetSection(), "driver", d.GetDriver().GetToothCount(), "driven", d.GetDriven().GetToothCount(), "belt", beltText(d)}
	if d.PitchMm != nil {
		pairs = append(pairs, "pitch", exact(d.GetPitchMm())+"mm")
	}
	return v.To(path, append(pairs, more...)...)
}
