package main

import (
	"context"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

var beltNames = fieldNames{
	"section":                   "SECTION",
	"pitch_mm":                  "--pitch",
	"driver.tooth_count":        "DRIVER",
	"driver.flange_diameter_mm": "--driver-flange",
	"driven.tooth_count":        "DRIVEN",
	"driven.flange_diameter_mm": "--driven-flange",
	"center_distance_mm":        "CENTER",
	"neighbor_count":            "--neighbors",
	"standard_lengths_only":     "--standard",
}

func (a *app) beltCommand() *cobra.Command {
	var flags driveFlags
	var neighbors int32
	var standard bool
	cmd := &cobra.Command{
		Use:   "belt SECTION DRIVER DRIVEN CENTER",
		Short: "Find the belts for two pulleys at a center distance",
		Long: `Find the belts whose length comes nearest to two pulleys at a center distance.

DRIVER and DRIVEN are pulley teeth, CENTER is the center distance. The shift is
the belt's own center distance minus CENTER: above 0 the belt hangs slack on
your centers, below 0 it is tight.`,
		Example: `  beltspan belt H5M 36 36 345mm
  beltspan belt H5M 36 45 "13 1/2in" --neighbors 3 --units in
  beltspan belt L 22 22 12in --standard --csv
  beltspan belt --pitch 5 36 36 345`,
		Args:              flags.check("DRIVER", "DRIVEN", "CENTER"),
		ValidArgsFunction: a.completeSection(&flags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, err := readBeltRequest(&flags, args)
			if err != nil {
				return err
			}
			request.StandardLengthsOnly = standard
			if cmd.Flags().Changed("neighbors") {
				request.NeighborCount = &neighbors
			}
			return answer(cmd, a, question[*pb.SolveBeltResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SolveBeltResponse, error) {
					return pb.NewDriveServiceClient(conn).SolveBelt(ctx, request)
				},
				names: beltNames,
				text:  (*page).belts,
				rows:  beltRows,
			})
		}),
	}
	flags.addPitch(cmd)
	flags.addDriverFlange(cmd)
	flags.addDrivenFlange(cmd)
	cmd.Flags().Int32Var(&neighbors, "neighbors", 1, "`COUNT` of belts on each side of the exact length")
	cmd.Flags().BoolVar(&standard, "standard", false, "only lengths of the section's list of standard lengths")
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

// readBeltRequest reads SECTION DRIVER DRIVEN CENTER.
func readBeltRequest(flags *driveFlags, args []string) (*pb.SolveBeltRequest, error) {
	section, rest := flags.section(args)
	driver, err := readPulley("DRIVER", rest[0], &flags.driverFlange)
	if err != nil {
		return nil, err
	}
	driven, err := readPulley("DRIVEN", rest[1], &flags.drivenFlange)
	if err != nil {
		return nil, err
	}
	center, err := readLength("CENTER", rest[2])
	return &pb.SolveBeltRequest{
		Section: section, PitchMm: flags.pitch.optional(), Driver: driver, Driven: driven, CenterDistanceMm: center,
	}, err
}

func (p *page) belts(r *pb.SolveBeltResponse) {
	p.facts(fact{"exact length", fmt.Sprintf("%.4f teeth, %s", r.GetExactToothCount(), p.length(r.GetBeltLengthMm()))})
	p.line("")
	unit := " " + p.unit.String()
	rows := [][]string{{"belt", "standard", "center distance" + unit, "shift" + unit, "in mesh: driver", "driven"}}
	for _, c := range r.GetCandidates() {
		g := c.GetGeometry()
		listed := "no"
		if c.GetStandardLength() {
			listed = "yes"
		}
		rows = append(rows, []string{
			beltName(g.GetDrive()), listed, p.number(g.GetCenterDistanceMm()), signed(p.number(c.GetCenterShiftMm())),
			decimal(g.GetDriver().GetMeshedToothCount()), decimal(g.GetDriven().GetMeshedToothCount()),
		})
	}
	p.align("llrrrr", rows)
	p.notes(r.GetNotes())
}

func beltRows(r *pb.SolveBeltResponse) [][]string {
	rows := [][]string{{
		"belt_tooth_count", "belt_designation", "belt_length_mm", "center_distance_mm", "center_shift_mm",
		"driver_meshed_tooth_count", "driven_meshed_tooth_count", "standard_length",
	}}
	for _, c := range r.GetCandidates() {
		g := c.GetGeometry()
		rows = append(rows, []string{
			decimal(g.GetDrive().GetBeltToothCount()), entry.BeltDesignation(g.GetDrive()), digits(g.GetBeltLengthMm()), digits(g.GetCenterDistanceMm()),
			digits(c.GetCenterShiftMm()), decimal(g.GetDriver().GetMeshedToothCount()), decimal(g.GetDriven().GetMeshedToothCount()),
			strconv.FormatBool(c.GetStandardLength()),
		})
	}
	return rows
}
