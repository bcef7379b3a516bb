package web

import (
	"html/template"
	"net/http"
	"slices"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/drawing"
)

// fitAnswer is how well a drive fits and, where a load was given, what it
// carries.
type fitAnswer struct {
	*pb.AnalyzeFitResponse
	Stated  float64
	Picture template.HTML
	Drive   *pb.Drive
	Rate    *pb.RateDriveResponse
	form    *form
}

func fitGroups() []*group {
	number := func(name, label, suffix, hint string, paths ...string) *field {
		return &field{Name: name, Label: label, Suffix: suffix, Hint: hint, Kind: kindNumber, paths: paths}
	}
	center := lengthField("center", "Center distance as drilled", "", "center_distance_mm")
	return []*group{
		{Legend: "Drive", Fields: append([]*field{sectionField(), pitchField(), beltField()}, append(pulleyFields(), center)...)},
		{Legend: "Tolerances", Fields: []*field{
			lengthField("holes", "Holes, plus and minus", "0.05 mm where empty, as machined plates; laser-cut sheet about 0.1 mm", "center_tolerance_mm"),
			lengthField("length_tolerance", "Belt length, plus and minus", "the table of the section's standard where empty", "belt_length_tolerance_mm"),
			lengthField("oversize", "Pulley oversize", "how much larger the diameters may be", "pulley_oversize_mm"),
			lengthField("driver_play", "Play of the driver's axle", "half its diametral clearances", "driver_play_mm"),
			lengthField("driven_play", "Play of the driven axle", "", "driven_play_mm"),
		}},
		{Legend: "This very belt, measured", Folded: true, Fields: []*field{
			countField("m_driver", "Teeth of the one pulley", "", "belt_measurement.driver.tooth_count"),
			countField("m_driven", "Teeth of the other", "", "belt_measurement.driven.tooth_count"),
			lengthField("m_center", "Center distance at which it is taut", "under its measuring force", "belt_measurement.center_distance_mm", "belt_measurement"),
			lengthField("m_uncertainty", "Plus and minus", "", "belt_measurement.uncertainty_mm"),
		}},
		{Legend: "Warmth and stiffness", Folded: true, Fields: []*field{
			number("warmer", "Warmer than when measured", "K", "", "temperature_change_k"),
			number("plate_expansion", "Expansion of the plates", "1/K", "aluminum about 0.000023", "plate_expansion_per_k"),
			number("belt_expansion", "Expansion of the belt", "1/K", "the maker's value", "belt_expansion_per_k"),
			number("stiffness", "Belt stiffness", "N", "force in a span per unit strain, the maker's value", "stiffness_n"),
		}},
		{Legend: "What counts as good", Folded: true, Fields: limitFields()[:2]},
		{Legend: "Load", Folded: true, Fields: []*field{
			lengthField("width", "Belt width", "", "belt_width_mm"),
			number("torque", "Torque on the driver", "Nm", "needed with the width", "torque_nm"),
			number("speed", "Speed of the driver", "1/min", "", "speed_rpm"),
			number("service", "Service factor", "", "1.5 where empty", "service_factor"),
			number("mass", "Belt mass at its rated width", "kg/m", "the maker's value", "mass_kg_per_m"),
			lengthField("wheel", "Wheel on the driven axle", "", "wheel_diameter_mm"),
		}},
	}
}

// fit is the page that tells how well a drive fits.
func (p *pages) fit(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "How well a drive fits"
	f := newForm(v, v.query, "Analyze", fitGroups()...)
	if !f.Asked {
		return !v.refused(w, "svg")
	}
	request := readFit(f)
	response, err := p.drives.AnalyzeFit(r.Context(), request)
	if err != nil {
		f.refuse(err)
	}
	a := &fitAnswer{AnalyzeFitResponse: response, Stated: request.GetCenterDistanceMm(), Drive: request.GetDrive(), form: f}
	if f.has("width") || f.has("torque") {
		a.Rate, err = p.drives.RateDrive(r.Context(), &pb.RateDriveRequest{
			Drive: request.GetDrive(), CenterDistanceMm: request.GetCenterDistanceMm(),
			BeltWidthMm: or(f.length("width")), TorqueNm: f.number("torque"), SpeedRpm: or(f.number("speed")),
			ServiceFactor: f.number("service"), MassKgPerM: f.number("mass"), WheelDiameterMm: f.length("wheel"),
		})
		if err != nil {
			f.refuse(err)
		}
	}
	v.Status = f.settle()
	if v.refused(w, "svg") {
		return false
	}
	if f.faulty() {
		return true
	}
	picture := drawing.FitHistogram(response, "Deviation of "+v.Len(a.Stated))
	if v.format() == "svg" {
		hand(w, "fit.svg", "image/svg+xml", []byte(picture))
		return false
	}
	a.Picture = template.HTML(picture) //nolint:gosec // our own drawing, its texts escaped
	v.Answer = a
	return true
}

func readFit(f *form) *pb.AnalyzeFitRequest {
	request := &pb.AnalyzeFitRequest{
		Drive: readDrive(f), CenterDistanceMm: or(f.length("center")),
		CenterToleranceMm: f.length("holes"), BeltLengthToleranceMm: f.length("length_tolerance"),
		PulleyOversizeMm: or(f.length("oversize")), DriverPlayMm: or(f.length("driver_play")), DrivenPlayMm: or(f.length("driven_play")),
		TemperatureChangeK: or(f.number("warmer")), PlateExpansionPerK: or(f.number("plate_expansion")), BeltExpansionPerK: or(f.number("belt_expansion")),
		StiffnessN: f.number("stiffness"),
	}
	if f.has("fit_low") || f.has("fit_high") {
		request.Limits = &pb.FitLimits{FitLowMm: f.length("fit_low"), FitHighMm: f.length("fit_high")}
	}
	if f.has("m_driver") || f.has("m_driven") || f.has("m_center") || f.has("m_uncertainty") {
		request.BeltMeasurement = &pb.BeltMeasurement{
			Driver: readPulley(f, "m_driver"), Driven: readPulley(f, "m_driven"),
			CenterDistanceMm: or(f.length("m_center")), UncertaintyMm: or(f.length("m_uncertainty")),
		}
	}
	return request
}

// AllNotes are those of the fit and of the load, each once.
func (a *fitAnswer) AllNotes() []*pb.Note {
	notes := a.GetNotes()
	for _, n := range a.Rate.GetNotes() {
		if !slices.ContainsFunc(notes, func(o *pb.Note) bool { return o.GetMessage() == n.GetMessage() }) {
			notes = append(notes, n)
		}
	}
	return notes
}

// Label is the form's name for a field of the request.
func (a *fitAnswer) Label(path string) string {
	if field := a.form.owner(path); field != nil {
		return field.Label
	}
	return path
}
