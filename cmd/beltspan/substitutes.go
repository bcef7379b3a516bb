package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

var substituteNames = mergeNames(
	fieldNames{
		"drive.section":              "SECTION",
		"drive.pitch_mm":             "--pitch",
		"drive.driver.tooth_count":   "DRIVER",
		"drive.driven.tooth_count":   "DRIVEN",
		"drive.belt_tooth_count":     "BELT",
		"drive.belt_designation":     "BELT",
		"drilled_center_distance_mm": "--drilled",
		"standard_lengths_only":      "--standard",
		"stock":                      "--stock",
		"needed_quantity":            "--needed",
		"max_ratio_change_percent":   "--max-ratio-change",
		"max_results":                "--limit",
		"belt_width_mm":              "--belt-width",
	},
	countNames("driver", "--driver"), countNames("driven", "--driven"), countNames("belt", "--belt"), limitNames,
)

// substituteFlags say what may stand in for a drive.
type substituteFlags struct {
	driveFlags
	limitFlags
	drilled, width       length
	driver, driven, belt countsFlag
	standard             bool
	stock                string
	needed, limit        int32
	ratioChange          float64
	all                  bool
}

func (a *app) substitutesCommand() *cobra.Command {
	var flags substituteFlags
	cmd := &cobra.Command{
		Use:   "substitutes SECTION DRIVER DRIVEN BELT",
		Short: "Find what else fits holes that are drilled",
		Long: `Find which other belts and pulleys fit holes that are drilled, and which fit
after the least move of one hole.

SECTION, DRIVER, DRIVEN and BELT are the drive as it was planned, its belt the
one to replace. Those that fit the holes as they are come first. The deviation is
the drilled minus the exact center distance, above 0 tight; the move of a hole is
above 0 where the axles go apart. Those that want a hole moved are listed where
none fits, or with --all; --json and --csv have them always. --driver, --driven
and --belt are the tooth counts to try, such as 36, 32..40 or 174,178.

--stock takes only what is on the shelf, in the number --needed; where that is
too few, you are told how many there are.

` + stockHelp + `

Exit state 1 tells that nothing fits the holes as they are.`,
		Example: `  beltspan substitutes H5M 36 36 178 --drilled 355mm
  beltspan substitutes H5M 36 36 178 --drilled 355mm --stock bin.csv --needed 3 --belt-width 25mm
  # One belt too few on the shelf: exit state 1, and what a moved hole would take
  beltspan substitutes H5M 36 36 178 --drilled 355mm --stock bin.csv --needed 4 --belt-width 25mm
  beltspan substitutes L 22 22 "322 L" --drilled 12in --driver 20..24 --driven 20..24`,
		Args:              flags.check("DRIVER", "DRIVEN", "BELT"),
		ValidArgsFunction: a.completeSection(&flags.driveFlags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, err := flags.request(cmd, args)
			if err != nil {
				return err
			}
			return answer(cmd, a, question[*pb.SearchSubstitutesResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SearchSubstitutesResponse, error) {
					return pb.NewDriveServiceClient(conn).SearchSubstitutes(ctx, request)
				},
				names: substituteNames,
				text:  func(p *page, r *pb.SearchSubstitutesResponse) { p.substitutes(r, flags.all) },
				rows:  entry.SubstituteRows,
				then:  passesIf(func(r *pb.SearchSubstitutesResponse) bool { return len(onSameHoles(r)) > 0 }),
			})
		}),
	}
	flags.addTo(cmd)
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

func (f *substituteFlags) addTo(cmd *cobra.Command) {
	f.addPitch(cmd)
	flags := cmd.Flags()
	flags.Var(&f.drilled, "drilled", "center distance of the drilled holes, a `LENGTH`; needed")
	flags.StringVar(&f.stock, "stock", "", "take only what is on the shelf: a CSV `FILE`")
	flags.Int32Var(&f.needed, "needed", 1, "`COUNT` of drives of this kind to replace")
	flags.Var(&f.width, "belt-width", "take only belts of this width from --stock, a `LENGTH`")
	flags.BoolVar(&f.standard, "standard", false, "only lengths of the section's list of standard lengths")
	flags.Var(&f.driver, "driver", "driver `TEETH` to try")
	flags.Var(&f.driven, "driven", "driven `TEETH` to try")
	flags.Var(&f.belt, "belt", "belt `TEETH` to try")
	flags.Float64Var(&f.ratioChange, "max-ratio-change", 1, "greatest change of the speed ratio in `PERCENT`")
	flags.Int32Var(&f.limit, "limit", 20, "most `SUBSTITUTES` to list")
	flags.BoolVar(&f.all, "all", false, "list those that want a hole moved, too")
	f.add(cmd)
}

// request reads SECTION DRIVER DRIVEN BELT and the flags.
func (f *substituteFlags) request(cmd *cobra.Command, args []string) (*pb.SearchSubstitutesRequest, error) {
	drive, err := readDrive(&f.driveFlags, args)
	if err != nil {
		return nil, err
	}
	if !f.drilled.given {
		return nil, &usageError{msg: "--drilled is needed: the center distance of the holes, such as 355mm"}
	}
	r := &pb.SearchSubstitutesRequest{
		Drive: drive, DrilledCenterDistanceMm: f.drilled.mm, Limits: f.limits(cmd),
		Driver: f.driver.counts, Driven: f.driven.counts, Belt: f.belt.counts,
		StandardLengthsOnly: f.standard, BeltWidthMm: f.width.optional(),
	}
	changed := cmd.Flags().Changed
	if changed("needed") {
		r.NeededQuantity = &f.needed
	}
	if changed("max-ratio-change") {
		r.MaxRatioChangePercent = &f.ratioChange
	}
	if changed("limit") {
		r.MaxResults = &f.limit
	}
	if f.stock == "" && (changed("needed") || f.width.given) {
		return nil, &usageError{msg: "--needed and --belt-width choose from --stock, which is not given"}
	}
	if f.stock != "" {
		r.Stock, err = readStock(f.stock)
	}
	return r, err
}

// onSameHoles are the substitutes that fit the holes as they are.
func onSameHoles(r *pb.SearchSubstitutesResponse) []*pb.Substitute {
	var fitting []*pb.Substitute
	for _, s := range r.GetSubstitutes() {
		if s.GetSameHoles() {
			fitting = append(fitting, s)
		}
	}
	return fitting
}

// substitutes prints what fits the holes as they are; what wants one moved where
// nothing fits, or with all.
func (p *page) substitutes(r *pb.SearchSubstitutesResponse, all bool) {
	shown, fitting := r.GetSubstitutes(), onSameHoles(r)
	switch {
	case len(fitting) == 0:
		p.line("nothing fits the holes as they are")
		if len(shown) > 0 {
			p.line("\nWith one hole moved")
		}
	case !all:
		shown = fitting
	}
	if len(shown) > 0 {
		p.substituteTable(shown)
	}
	if hidden := len(r.GetSubstitutes()) - len(shown); hidden > 0 {
		p.line("\n%d more with one hole moved: --all lists them", hidden)
	}
	p.notes(r.GetNotes())
}

func (p *page) substituteTable(substitutes []*pb.Substitute) {
	unit := " " + p.unit.String()
	rows := [][]string{{
		"belt", "driver", "driven", "standard", "on these holes", "move a hole" + unit, "center distance" + unit, "deviation" + unit, "ratio change %",
	}}
	for _, s := range substitutes {
		d := s.GetDrive()
		move := "-"
		if !s.GetSameHoles() {
			move = signed(p.number(s.GetHoleMoveMm()))
		}
		rows = append(rows, []string{
			beltName(d), decimal(d.GetDriver().GetToothCount()), decimal(d.GetDriven().GetToothCount()), yesNo(s.GetStandardLength()),
			strings.ToLower(verdictWord(s.GetVerdict())), move, p.number(s.GetCenterDistanceMm()), signed(p.number(s.GetDeviationMm())),
			signed(fmt.Sprintf("%.2f", s.GetRatioChangePercent())),
		})
	}
	p.align("lrrllrrrr", rows)
}
