package web

import (
	"net/http"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// loadAnswer is what a drive carries.
type loadAnswer struct {
	*pb.RateDriveResponse
	Drive  *pb.Drive
	Center float64
}

// Overloaded tells whether the pull is more than the belt may carry.
func (a *loadAnswer) Overloaded() bool { return entry.Overloaded(a.RateDriveResponse) }

// Unsound is the note that the numbers do not hold, none where they do.
func (a *loadAnswer) Unsound() []*pb.Note {
	if n, _ := entry.RatingNotes(a.RateDriveResponse); n != nil {
		return []*pb.Note{n}
	}
	return nil
}

// Others are the other notes.
func (a *loadAnswer) Others() []*pb.Note {
	_, rest := entry.RatingNotes(a.RateDriveResponse)
	return rest
}

func numberField(name, label, suffix, hint string, paths ...string) *field {
	return &field{Name: name, Label: label, Suffix: suffix, Hint: hint, Kind: kindNumber, paths: paths}
}

func loadGroups() []*group {
	fields := append([]*field{sectionField(), pitchField(), beltField()}, pulleyFields()...)
	return []*group{
		{Legend: "Drive", Fields: append(fields,
			lengthField("center", "Center distance as built", "", "center_distance_mm"),
			lengthField("width", "Belt width", "", "belt_width_mm"))},
		{Legend: "Load", Fields: []*field{
			numberField("torque", "Torque on the driver", "Nm", "the greatest that can occur, such as of a stalled motor", "torque_nm"),
			numberField("power", "Or power", "W", "in place of the torque; needs a speed", "power_w"),
			numberField("speed", "Speed of the driver", "1/min", "", "speed_rpm"),
			numberField("service", "Service factor", "", "for shocks and running time; 1.5 where empty", "service_factor"),
			lengthField("wheel", "Wheel on the driven axle", "its diameter, for the speed of the vehicle", "wheel_diameter_mm"),
		}},
		{Legend: "Belt maker's values", Folded: true, Fields: []*field{
			numberField("tension", "Working tension", "N", "in place of the section's rating", "working_tension_n"),
			lengthField("base_width", "At a belt width of", "goes with the working tension", "base_width_mm"),
			numberField("mass", "Mass at that width", "kg/m", "for the frequency of a span", "mass_kg_per_m"),
		}},
	}
}

// load is the page that compares the pull on a belt with what it carries.
func (p *pages) load(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "What a drive carries"
	f := newForm(v, v.query, "Rate it", loadGroups()...)
	if !f.Asked {
		return !v.refused(w)
	}
	request := &pb.RateDriveRequest{
		Drive: readDrive(f), CenterDistanceMm: or(f.length("center")), BeltWidthMm: or(f.length("width")),
		TorqueNm: f.number("torque"), PowerW: f.number("power"), SpeedRpm: or(f.number("speed")), ServiceFactor: f.number("service"),
		WorkingTensionN: f.number("tension"), BaseWidthMm: f.length("base_width"), MassKgPerM: f.number("mass"), WheelDiameterMm: f.length("wheel"),
	}
	response, err := p.drives.RateDrive(r.Context(), request)
	if err != nil {
		f.refuse(err)
	}
	v.Status = f.settle()
	if v.refused(w) {
		return false
	}
	if !f.faulty() {
		v.Answer = &loadAnswer{response, request.GetDrive(), request.GetCenterDistanceMm()}
	}
	return true
}
