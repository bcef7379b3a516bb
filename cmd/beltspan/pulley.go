package main

import (
	"context"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

var pulleyNames = fieldNames{
	"section":                   "SECTION",
	"pitch_mm":                  "--pitch",
	"driver.tooth_count":        "DRIVER",
	"driver.flange_diameter_mm": "--driver-flange",
	"belt_tooth_count":          "BELT",
	"center_distance_mm":        "CENTER",
	"neighbor_count":            "--neighbors",
}

func (a *app) pulleyCommand() *cobra.Command {
	var flags driveFlags
	var neighbors int32
	cmd := &cobra.Command{
		Use:   "pulley SECTION DRIVER BELT CENTER",
		Short: "Find the driven pulleys for a belt at a center distance",
		Long: `Find the driven pulleys with which a belt and a known pulley come nearest to a
center distance.

DRIVER is the teeth of the known pulley, BELT is belt teeth or the belt as
printed, CENTER the center distance. The shift is the center distance with that
pulley minus CENTER: above 0 the belt hangs slack on your centers, below 0 it is
tight.`,
		Example: `  beltspan pulley H5M 36 174 345mm
  beltspan pulley H5M 36 "870 H5M" 345mm
  beltspan pulley H5M 36 169 "12 5/8in" --neighbors 2 --units in
  beltspan pulley --pitch 5 36 174 345 --csv`,
		Args:              flags.check("DRIVER", "BELT", "CENTER"),
		ValidArgsFunction: a.completeSection(&flags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, err := readPulleyRequest(&flags, args)
			if err != nil {
				return err
			}
			if cmd.Flags().Changed("neighbors") {
				request.NeighborCount = &neighbors
			}
			return answer(cmd, a, question[*pb.SolvePulleyResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SolvePulleyResponse, error) {
					return pb.NewDriveServiceClient(conn).SolvePulley(ctx, request)
				},
				names: pulleyNames,
				text:  (*page).pulleys,
				rows:  pulleyRows,
			})
		}),
	}
	flags.addPitch(cmd)
	flags.addDriverFlange(cmd)
	cmd.Flags().Int32Var(&neighbors, "neighbors", 1, "`COUNT` of pulleys on each side of the exact count")
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

// readPulleyRequest reads SECTION DRIVER BELT CENTER.
func readPulleyRequest(flags *driveFlags, args []string) (*pb.SolvePulleyRequest, error) {
	section, rest := flags.section(args)
	driver, err := readPulley("DRIVER", rest[0], &flags.driverFlange)
	if err != nil {
		return nil, err
	}
	belt, err := readBeltTeeth(section, rest[1])
	if err != nil {
		return nil, err
	}
	center, err := readLength("CENTER", rest[2])
	return &pb.SolvePulleyRequest{
		Section: section, PitchMm: flags.pitch.optional(), Driver: driver, BeltToothCount: belt, CenterDistanceMm: center,
	}, err
}

// readBeltTeeth reads BELT where its teeth alone are asked for: a count, or a
// belt of the section as printed.
func readBeltTeeth(section, text string) (int32, error) {
	held, err := beltmath.FindSection(section)
	if _, notCount := strconv.ParseFloat(text, 64); notCount == nil || err != nil || text == "" {
		return readCount("BELT", text)
	}
	teeth, err := held.ReadBeltDesignation(text)
	if err != nil {
		return 0, &usageError{msg: "BELT is " + quoted(text) + ": " + why(err)}
	}
	return int32(teeth), nil //nolint:gosec // its range is for the service to judge
}

func (p *page) pulleys(r *pb.SolvePulleyResponse) {
	p.facts(fact{"exact count", fmt.Sprintf("%.4f driven teeth", r.GetExactToothCount())})
	p.line("")
	unit := " " + p.unit.String()
	rows := [][]string{{"driven teeth", "center distance" + unit, "shift" + unit, "speed ratio", "in mesh: driver", "driven"}}
	for _, c := range r.GetCandidates() {
		g := c.GetGeometry()
		rows = append(rows, []string{
			decimal(g.GetDriven().GetToothCount()), p.number(g.GetCenterDistanceMm()), signed(p.number(c.GetCenterShiftMm())),
			fmt.Sprintf("%.4f", g.GetSpeedRatio()), decimal(g.GetDriver().GetMeshedToothCount()), decimal(g.GetDriven().GetMeshedToothCount()),
		})
	}
	p.align("rrrrrr", rows)
	p.notes(r.GetNotes())
}

func pulleyRows(r *pb.SolvePulleyResponse) [][]string {
	rows := [][]string{{
		"driven_tooth_count", "center_distance_mm", "center_shift_mm", "speed_ratio",
		"driver_meshed_tooth_count", "driven_meshed_tooth_count",
	}}
	for _, c := range r.GetCandidates() {
		g := c.GetGeometry()
		rows = append(rows, []string{
			decimal(g.GetDriven().GetToothCount()), digits(g.GetCenterDistanceMm()), digits(c.GetCenterShiftMm()), digits(g.GetSpeedRatio()),
			decimal(g.GetDriver().GetMeshedToothCount()), decimal(g.GetDriven().GetMeshedToothCount()),
		})
	}
	return rows
}
