package web

import (
	"slices"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// fitAsks are the fields that each ask for the fit of a base.
var fitAsks = []string{
	"fit", "hole_tolerance", "length_tolerance", "oversize", "driver_play", "driven_play", "measured", "warmer", "plate_expansion", "belt_expansion",
}

// baseFitFields are the tolerances that a base is built to.
func baseFitFields() *group {
	return &group{Legend: "How likely the belts fit", Folded: true, Fields: []*field{
		{Name: "fit", Label: "Tell how likely the belts are good", Kind: kindCheck, Hint: "so does each value below", paths: []string{"fit"}},
		lengthField("hole_tolerance", "Axle holes, plus and minus", "along the rail; 0.05 mm where empty, as machined plates; laser-cut sheet about 0.1 mm", "fit.hole_tolerance_mm"),
		lengthField("length_tolerance", "Belt length, plus and minus", "the table of the section's standard where empty", "fit.belt_length_tolerance_mm"),
		lengthField("oversize", "Pulley oversize", "how much larger the diameters may be", "fit.pulley_oversize_mm"),
		lengthField("driver_play", "Play of the axles of drivers", "half of their diametral clearances", "fit.driver_play_mm"),
		lengthField("driven_play", "Play of the other axles", "", "fit.driven_play_mm"),
		{
			Name: "measured", Label: "Belts in hand, taut at", Kind: kindLengths, each: "belt",
			Hint:  "center distance at which each is taut on its pulleys, in place of its table: one a belt with commas, - for one not measured",
			paths: []string{"fit.measurements", "fit.measurements.belt", "fit.measurements.belt.center_distance_mm"},
		},
		lengthField("uncertainty", "Measured to, plus and minus", "0 where empty", "fit.measurements.belt.uncertainty_mm"),
		numberField("warmer", "Warmer than when measured", "K", "", "fit.temperature_change_k"),
		numberField("plate_expansion", "Expansion of the plates", "1/K", "aluminum about 0.000023", "fit.plate_expansion_per_k"),
		numberField("belt_expansion", "Expansion of the belts", "1/K", "the maker's value", "fit.belt_expansion_per_k"),
	}}
}

// baseFit reads the tolerances, or nothing where the fit is not asked for.
func (f *form) baseFit(links []*pb.Link) *pb.BaseFit {
	if f.Has("uncertainty") && !f.Has("measured") {
		f.find("measured").Error = "It is told how well a belt is measured, but no belt: give the center distance at which it is taut"
	}
	if !slices.ContainsFunc(fitAsks, f.Has) {
		return nil
	}
	fit := &pb.BaseFit{
		HoleToleranceMm: f.length("hole_tolerance"), BeltLengthToleranceMm: f.length("length_tolerance"), PulleyOversizeMm: or(f.length("oversize")),
		DriverPlayMm: or(f.length("driver_play")), DrivenPlayMm: or(f.length("driven_play")),
		TemperatureChangeK: or(f.number("warmer")), PlateExpansionPerK: or(f.number("plate_expansion")), BeltExpansionPerK: or(f.number("belt_expansion")),
	}
	uncertainty := or(f.length("uncertainty"))
	field := f.find("measured")
	for i, mm := range f.eachLength("measured", len(links)) {
		if mm == nil {
			continue
		}
		d := links[i].GetDrive()
		field.counted = append(field.counted, i)
		fit.Measurements = append(fit.Measurements, &pb.LinkMeasurement{Link: int32(i), Belt: &pb.BeltMeasurement{
			Driver:           &pb.Pulley{ToothCount: d.GetDriver().GetToothCount()},
			Driven:           &pb.Pulley{ToothCount: d.GetDriven().GetToothCount()},
			CenterDistanceMm: *mm, UncertaintyMm: uncertainty,
		}})
	}
	return fit
}

// Mean is where the deviation of a belt lies, with its 3 sigma.
func (v *view) Mean(l *pb.LinkFitShares) string {
	return v.Shift(l.GetMeanMm()) + " ± " + v.Num(3*l.GetSigmaMm())
}

// FitChanges are the changes that would make more of each belt good.
func (v *view) FitChanges(f *pb.BaseFitShares) []entry.FitChange { return entry.FitChanges(f) }

// FitChangesNote goes with them.
func (v *view) FitChangesNote() string { return entry.FitChangesNote }

// Change says what a change is.
func (v *view) Change(c entry.FitChange) string {
	if c.Way != "" {
		return "its axles " + v.Len(c.MoveMM) + " " + c.Way
	}
	return "half of “" + v.Form.labelOf(c.Tolerance) + "”"
}
