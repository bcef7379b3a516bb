package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/drawing"
)

// driveNames are the arguments and flags of a drive in a request.
var driveNames = fieldNames{
	"drive.section":                   "SECTION",
	"drive.pitch_mm":                  "--pitch",
	"drive.driver.tooth_count":        "DRIVER",
	"drive.driver.flange_diameter_mm": "--driver-flange",
	"drive.driven.tooth_count":        "DRIVEN",
	"drive.driven.flange_diameter_mm": "--driven-flange",
	"drive.belt_tooth_count":          "BELT",
	"drive.belt_designation":          "BELT",
	"center_distance_mm":              "CENTER",
}

var fitNames = mergeNames(driveNames, limitNames, fieldNames{
	"center_tolerance_mm":                 "--center-tolerance",
	"belt_length_tolerance_mm":            "--belt-tolerance",
	"belt_measurement":                    "--measured",
	"belt_measurement.driver.tooth_count": "--measured-on",
	"belt_measurement.driven.tooth_count": "--measured-on",
	"belt_measurement.center_distance_mm": "--measured",
	"belt_measurement.uncertainty_mm":     "--uncertainty",
	"driver_play_mm":                      "--driver-play",
	"driven_play_mm":                      "--driven-play",
	"pulley_oversize_mm":                  "--oversize",
	"temperature_change_k":                "--warmer",
	"plate_expansion_per_k":               "--plate-expansion",
	"belt_expansion_per_k":                "--belt-expansion",
	"limits":                              "--fit-low, --fit-high",
	"stiffness_n":                         "--stiffness",
})

// fitFlags are the tolerances of a fit.
type fitFlags struct {
	driveFlags
	limitFlags
	toleranceFlags
	center, measured length
	measuredOn       []int32
	stiffness        float64
	svg              string
}

func (a *app) fitCommand() *cobra.Command {
	var flags fitFlags
	cmd := &cobra.Command{
		Use:   "fit SECTION DRIVER DRIVEN BELT CENTER",
		Short: "Tell how likely a drilled drive is loose, good or tight",
		Long: `Tell how likely the belt of a drilled drive is too loose, good or too tight, what
contributes to that and what to improve first.

CENTER is the center distance as drilled. The deviation is CENTER minus the
center distance that this belt and these pulleys want: above 0 tight. Tolerances
count both ways and as 3 sigma, play and oversize one way; everything is taken as
independent and normal. Without --belt-tolerance the table of the section's
standard is used; --measured is the center distance at which the belt in your
hand is taut, on the drive's own pulleys or on --measured-on.

A good fit is not a tension: center distances are defined under a measuring
force. Turn the drive by hand before running it, behind its guard.

Exit state 1 tells that the belt is likelier bad than good.`,
		Example: `  beltspan fit H5M 36 36 174 345mm
  beltspan fit H5M 36 45 "890 H5M" 343.7mm --driver-play 0.04mm --oversize 0.1mm --svg fit.svg
  # The belt in hand is too long for the holes: exit state 1, and what to drill
  beltspan fit H5M 36 36 174 345mm --measured 345.12mm --uncertainty 0.02mm
  beltspan fit T5 32 32 112 200mm --warmer 30 --plate-expansion 23e-6 --stiffness 142500`,
		Args:              flags.check("DRIVER", "DRIVEN", "BELT", "CENTER"),
		ValidArgsFunction: a.completeSection(&flags.driveFlags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, err := flags.request(cmd, args)
			if err != nil {
				return err
			}
			var got *pb.AnalyzeFitResponse
			err = answer(cmd, a, question[*pb.AnalyzeFitResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.AnalyzeFitResponse, error) {
					got, err = pb.NewDriveServiceClient(conn).AnalyzeFit(ctx, request)
					return got, err
				},
				names: fitNames,
				text:  func(p *page, r *pb.AnalyzeFitResponse) { p.fit(r, request.CenterDistanceMm) },
			})
			if err != nil {
				return err
			}
			if flags.svg != "" {
				if err := writePicture(flags.svg, drawing.FitHistogram(got, fitCaption(request))); err != nil {
					return err
				}
			}
			return passesIf(likelyGood[*pb.AnalyzeFitResponse])(got)
		}),
	}
	flags.addTo(cmd)
	a.addOutput(cmd)
	return cmd
}

func (f *fitFlags) addTo(cmd *cobra.Command) {
	f.addPitch(cmd)
	f.addDriverFlange(cmd)
	f.addDrivenFlange(cmd)
	flags := cmd.Flags()
	flags.Var(&f.center, "center-tolerance", "how far the holes may be off, both ways, a `LENGTH` (0.05mm)")
	flags.Var(&f.measured, "measured", "center distance at which the belt in hand is taut, a `LENGTH`")
	flags.Int32SliceVar(&f.measuredOn, "measured-on", nil, "`TEETH,TEETH` of the pulleys it was measured on (DRIVER,DRIVEN)")
	f.addTolerances(cmd)
	flags.Float64Var(&f.stiffness, "stiffness", 0, "force in one span per unit strain in `NEWTONS`, the belt maker's value")
	flags.StringVar(&f.svg, "svg", "", "write the histogram to an SVG `FILE`")
	f.addFit(cmd)
}

// request reads SECTION DRIVER DRIVEN BELT CENTER and the flags.
func (f *fitFlags) request(cmd *cobra.Command, args []string) (*pb.AnalyzeFitRequest, error) {
	drive, center, err := readDriveAt(&f.driveFlags, args)
	if err != nil {
		return nil, err
	}
	r := &pb.AnalyzeFitRequest{
		Drive: drive, CenterDistanceMm: center,
		CenterToleranceMm: f.center.optional(), BeltLengthToleranceMm: f.belt.optional(),
		DriverPlayMm: f.driverPlay.mm, DrivenPlayMm: f.drivenPlay.mm, PulleyOversizeMm: f.oversize.mm,
		TemperatureChangeK: f.warmer, PlateExpansionPerK: f.plateExpansion, BeltExpansionPerK: f.beltExpansion,
		Limits: f.limits(cmd),
	}
	if cmd.Flags().Changed("stiffness") {
		r.StiffnessN = &f.stiffness
	}
	r.BeltMeasurement, err = f.measurement(drive)
	return r, err
}

// measurement returns the belt in hand, nil where none was measured.
func (f *fitFlags) measurement(drive *pb.Drive) (*pb.BeltMeasurement, error) {
	if !f.measured.given {
		if f.measuredOn != nil || f.uncertainty.given {
			return nil, &usageError{msg: "--measured-on and --uncertainty go with --measured: give the center distance at which the belt is taut"}
		}
		return nil, nil
	}
	m := &pb.BeltMeasurement{
		Driver: &pb.Pulley{ToothCount: drive.GetDriver().GetToothCount()}, Driven: &pb.Pulley{ToothCount: drive.GetDriven().GetToothCount()},
		CenterDistanceMm: f.measured.mm, UncertaintyMm: f.uncertainty.mm,
	}
	if f.measuredOn != nil {
		if len(f.measuredOn) != 2 {
			return nil, &usageError{msg: "--measured-on takes the teeth of two pulleys, such as 36,45"}
		}
		m.Driver.ToothCount, m.Driven.ToothCount = f.measuredOn[0], f.measuredOn[1]
	}
	return m, nil
}

// readDriveAt reads SECTION DRIVER DRIVEN BELT CENTER.
func readDriveAt(flags *driveFlags, args []string) (*pb.Drive, float64, error) {
	last := len(args) - 1
	drive, err := readDrive(flags, args[:last])
	if err != nil {
		return nil, 0, err
	}
	center, err := readLength("CENTER", args[last])
	return drive, center, err
}

func fitCaption(r *pb.AnalyzeFitRequest) string {
	d := r.GetDrive()
	belt := d.GetBeltDesignation()
	if belt == "" {
		belt = decimal(d.GetBeltToothCount()) + " teeth"
	}
	what := d.GetSection()
	if what == "" {
		what = digits(d.GetPitchMm()) + " mm pitch"
	}
	return fmt.Sprintf("%s %d:%d, belt %s, drilled at %.3f mm", what, d.GetDriver().GetToothCount(), d.GetDriven().GetToothCount(), belt, r.GetCenterDistanceMm())
}

// fit prints a fit: the shares first, then the picture and what to improve.
func (p *page) fit(r *pb.AnalyzeFitResponse, drilledMM float64) {
	d := r.GetDeviation()
	p.facts(
		fact{"good", percent(r.GetShareGood()) + "  (too loose " + percent(r.GetShareLoose()) + ", too tight " + percent(r.GetShareTight()) + ")"},
		fact{"best allowance", p.shift(r.GetBestAllowanceMm()) + ", drilled at " + p.length(r.GetExactCenterDistanceMm()+r.GetBestAllowanceMm()) +
			": " + percent(r.GetBestShareGood()) + " good"},
		fact{"allowance now", p.shift(drilledMM-r.GetExactCenterDistanceMm()) + " on the exact " + p.length(r.GetExactCenterDistanceMm())},
		fact{"deviation", "mean " + p.shift(d.GetMeanMm()) + ", 3 sigma " + p.length(3*d.GetSigmaMm()) + ", worst " + p.shift(d.GetWorstLowMm()) + " to " + p.shift(d.GetWorstHighMm())},
		fact{"stretch", fmt.Sprintf("mean %+.3f %%, worst %+.3f to %+.3f %%", r.GetStretch().GetMeanPercent(), r.GetStretch().GetWorstLowPercent(), r.GetStretch().GetWorstHighPercent())},
	)
	if t := r.GetTension(); t != nil {
		p.facts(fact{"tension", fmt.Sprintf("each span mean %+.0f N, worst %+.0f to %+.0f N, on top of that under the measuring force", t.GetMeanN(), t.GetWorstLowN(), t.GetWorstHighN())})
	}
	p.bars(r)
	p.line("")
	rows := [][]string{
		{"what to improve", "good then"},
		{"CENTER, at its best allowance", percent(r.GetBestShareGood())},
	}
	for _, l := range r.GetLevers() {
		rows = append(rows, []string{p.names.of(l.GetName()) + ", halved", percent(l.GetShareGoodIfHalved())})
	}
	p.align("lr", rows)
	p.line("")
	rows = [][]string{{"contributor", "shift " + p.unit.String(), "share of variance"}}
	for _, c := range r.GetContributors() {
		rows = append(rows, []string{p.names.of(c.GetName()), signed(p.number(c.GetShiftMm())), percent(c.GetVarianceShare())})
	}
	p.align("lrr", rows)
	p.notes(r.GetNotes())
}

// barCells is the length of the longest bar.
const barCells = 40

// barMarks are how the zones look in a terminal.
var barMarks = map[drawing.Zone]string{drawing.ZoneLoose: "-", drawing.ZoneGood: "#", drawing.ZoneTight: "+"}

// bars prints the histogram of a deviation.
func (p *page) bars(r *pb.AnalyzeFitResponse) {
	bars := drawing.FitBars(r)
	greatest := 0.0
	for _, b := range bars {
		greatest = max(greatest, b.Height())
	}
	p.line("")
	rows := [][]string{{"deviation from", "to " + p.unit.String(), "share", "- loose  # good  + tight"}}
	for _, b := range bars {
		length := int(b.Height()/greatest*barCells + 0.5)
		rows = append(rows, []string{signed(p.number(b.FromMM)), signed(p.number(b.ToMM)), percent(b.Share), strings.Repeat(barMarks[b.Zone], length)})
	}
	p.align("rrrl", rows)
}

func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }
