package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// baseFitFlags are the tolerances that a base is built to. Any of them asks for
// its fit.
type baseFitFlags struct {
	toleranceFlags
	wanted   bool
	holes    length
	measured measuredFlag
}

func (f *baseFitFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.BoolVar(&f.wanted, "fit", false, "tell how likely the belts are good; so does each tolerance that follows")
	flags.Var(&f.holes, "hole-tolerance", "how far each hole may be off along the rail, both ways, a `LENGTH` (0.05mm)")
	flags.Var(&f.measured, "measured", "center distance at which a belt in hand is taut on its pulleys, `BELT:LENGTH` such as 1:345.12mm; once for each belt")
	f.addTolerances(cmd)
}

// overlay puts the tolerances that were given over those of a file, and names
// them.
func (f *baseFitFlags) overlay(cmd *cobra.Command, r *pb.LayOutBaseRequest, names fieldNames) error {
	given := cmd.Flags().Changed
	if given("fit") && !f.wanted {
		r.Fit = nil
	}
	fromFile := r.Fit != nil
	set := func(flag, path string, put func(*pb.BaseFit)) {
		if given(flag) {
			if r.Fit == nil {
				r.Fit = &pb.BaseFit{}
			}
			put(r.Fit)
		}
		if given(flag) || !fromFile {
			names["fit"+path] = "--" + flag
		}
	}
	if f.wanted && r.Fit == nil {
		r.Fit = &pb.BaseFit{}
	}
	if !fromFile {
		names["fit"] = "--fit"
	}
	set("hole-tolerance", ".hole_tolerance_mm", func(fit *pb.BaseFit) { fit.HoleToleranceMm = &f.holes.mm })
	set("belt-tolerance", ".belt_length_tolerance_mm", func(fit *pb.BaseFit) { fit.BeltLengthToleranceMm = &f.belt.mm })
	set("driver-play", ".driver_play_mm", func(fit *pb.BaseFit) { fit.DriverPlayMm = f.driverPlay.mm })
	set("driven-play", ".driven_play_mm", func(fit *pb.BaseFit) { fit.DrivenPlayMm = f.drivenPlay.mm })
	set("oversize", ".pulley_oversize_mm", func(fit *pb.BaseFit) { fit.PulleyOversizeMm = f.oversize.mm })
	set("warmer", ".temperature_change_k", func(fit *pb.BaseFit) { fit.TemperatureChangeK = f.warmer })
	set("plate-expansion", ".plate_expansion_per_k", func(fit *pb.BaseFit) { fit.PlateExpansionPerK = f.plateExpansion })
	set("belt-expansion", ".belt_expansion_per_k", func(fit *pb.BaseFit) { fit.BeltExpansionPerK = f.beltExpansion })
	set("measured", ".measurements", func(*pb.BaseFit) {})
	if names["fit.measurements"] != "" {
		for path, flag := range measurementNames {
			names["fit.measurements."+path] = flag
		}
	}
	return f.measure(r)
}

// measurementNames are the flags of a belt in hand.
var measurementNames = fieldNames{
	"link":                    "--measured",
	"belt":                    "--measured",
	"belt.center_distance_mm": "--measured",
	"belt.uncertainty_mm":     "--uncertainty",
}

// measure puts the belts in hand into a request, in place of those of a file.
func (f *baseFitFlags) measure(r *pb.LayOutBaseRequest) error {
	if len(f.measured.belts) == 0 {
		if f.uncertainty.given {
			return &usageError{msg: "--uncertainty goes with --measured: give the center distance at which a belt is taut"}
		}
		return nil
	}
	r.Fit.Measurements = nil
	links := r.GetBase().GetLinks()
	for _, m := range f.measured.belts {
		if m.belt > len(links) {
			return &usageError{msg: fmt.Sprintf("--measured is %s: the base has %s", quoted(m.text), beltsText(len(links)))}
		}
		drive := links[m.belt-1].GetDrive()
		r.Fit.Measurements = append(r.Fit.Measurements, &pb.LinkMeasurement{Link: int32(m.belt - 1), Belt: &pb.BeltMeasurement{ //nolint:gosec // at most the number of links
			Driver:           &pb.Pulley{ToothCount: drive.GetDriver().GetToothCount()},
			Driven:           &pb.Pulley{ToothCount: drive.GetDriven().GetToothCount()},
			CenterDistanceMm: m.mm, UncertaintyMm: f.uncertainty.mm,
		}})
	}
	return nil
}

func beltsText(n int) string {
	if n == 1 {
		return "1 belt"
	}
	return strconv.Itoa(n) + " belts"
}

// measuredFlag is a flag that takes belts in hand, one each time it is given.
type measuredFlag struct{ belts []measuredBelt }

// measuredBelt is a belt, counted from 1, and the center distance at which it is
// taut.
type measuredBelt struct {
	belt int
	mm   float64
	text string
}

func (f *measuredFlag) String() string { return "" }
func (f *measuredFlag) Type() string   { return "BELT:LENGTH" }

func (f *measuredFlag) Set(text string) error {
	number, distance, ok := strings.Cut(text, ":")
	belt, err := strconv.Atoi(number)
	if !ok || err != nil || belt < 1 {
		return &beltmath.InputError{Msg: "give the number of a belt, counted from 1, and its length, such as 1:345.12mm"}
	}
	if slices.ContainsFunc(f.belts, func(held measuredBelt) bool { return held.belt == belt }) {
		return &beltmath.InputError{Msg: "belt " + number + " is measured already: give it once"}
	}
	mm, err := beltmath.ReadLengthMM(distance)
	if err != nil {
		return err
	}
	f.belts = append(f.belts, measuredBelt{belt, mm, text})
	return nil
}

// fitTable tells how likely each belt is good; that of the whole base stands
// among the facts.
func (p *page) fitTable(f *pb.BaseFitShares) {
	if f == nil {
		return
	}
	unit := " " + p.unit.String()
	rows := [][]string{{"belt", "good", "too loose", "too tight", "mean" + unit, "3 sigma" + unit}}
	for _, l := range f.GetLinks() {
		rows = append(rows, []string{
			decimal(l.GetLink() + 1), percent(l.GetShareGood()), percent(l.GetShareLoose()), percent(l.GetShareTight()),
			signed(p.number(l.GetMeanMm())), p.number(3 * l.GetSigmaMm()),
		})
	}
	p.heading("Likely fit within the tolerances")
	p.align("lrrrrr", rows)
	p.betterFits(f)
}

// betterFits tells what would make more of each belt good.
func (p *page) betterFits(f *pb.BaseFitShares) {
	rows := [][]string{{"belt", "what to improve", "good then"}}
	for _, c := range entry.FitChanges(f) {
		what := p.names.of(c.Tolerance) + ", halved"
		if c.Way != "" {
			what = "its axles " + p.length(c.MoveMM) + " " + c.Way
		}
		rows = append(rows, []string{decimal(c.Belt), what, percent(c.ShareGood)})
	}
	if len(rows) > 1 {
		p.line("")
		p.align("llr", rows)
		p.line(entry.FitChangesNote)
	}
}
