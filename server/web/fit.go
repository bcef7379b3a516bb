package web

import (
	"html/template"
	"net/http"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/drawing"
)

// fitAnswer is how well a drive fits.
type fitAnswer struct {
	*pb.AnalyzeFitResponse
	Stated  float64
	Picture template.HTML
	Drive   *pb.Drive
	form    *form
}

func fitGroups() []*group {
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
			numberField("warmer", "Warmer than when measured", "K", "", "temperature_change_k"),
			numberField("plate_expansion", "Expansion of the plates", "1/K", "aluminum about 0.000023", "plate_expansion_per_k"),
			numberField("belt_expansion", "Expansion of the belt", "1/K", "the maker's value", "belt_expansion_per_k"),
			numberField("stiffness", "Belt stiffness", "N", "force in a span per unit strain, the maker's value", "stiffness_n"),
		}},
		{Legend: "What counts as good", Folded: true, Fields: limitFields()[:2]},
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
	if f.Has("fit_low") || f.Has("fit_high") {
		request.Limits = &pb.FitLimits{FitLowMm: f.length("fit_low"), FitHighMm: f.length("fit_high")}
	}
	if f.Has("m_driver") || f.Has("m_driven") || f.Has("m_center") || f.Has("m_uncertainty") {
		request.BeltMeasurement = &pb.BeltMeasurement{
			Driver: readPulley(f, "m_driver"), Driven: readPulley(f, "m_driven"),
			CenterDistanceMm: or(f.length("m_center")), UncertaintyMm: or(f.length("m_uncertainty")),
		}
	}
	return request
}

// Label is the form's name for a field of the request.
func (a *fitAnswer) Label(path string) string { return a.form.labelOf(path) }
