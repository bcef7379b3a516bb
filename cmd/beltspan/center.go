package main

import (
	"context"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"
	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

var centerNames = fieldNames{
	"drive.section":                   "SECTION",
	"drive.pitch_mm":                  "--pitch",
	"drive.driver.tooth_count":        "DRIVER",
	"drive.driver.flange_diameter_mm": "--driver-flange",
	"drive.driven.tooth_count":        "DRIVEN",
	"drive.driven.flange_diameter_mm": "--driven-flange",
	"drive.belt_tooth_count":          "BELT",
	"drive.belt_designation":          "BELT",
	"allowance_mm":                    "--allowance",
}

func (a *app) centerCommand() *cobra.Command {
	var flags driveFlags
	var allowance length
	var picture drawFlags
	cmd := &cobra.Command{
		Use:   "center SECTION DRIVER DRIVEN BELT",
		Short: "Find the center distance of two pulleys and a belt",
		Long: `Find the center distance at which a belt fits two pulleys, and where to drill.

DRIVER and DRIVEN are pulley teeth, BELT is belt teeth or the belt as printed,
length and section. The center distance is exact for the nominal belt; what you
add when drilling is the allowance, above 0 tight, below 0 slack.`,
		Example: `  beltspan center H5M 36 36 174
  beltspan center H5M 36 36 "870 H5M" --allowance 0.05mm
  beltspan center H5M 36 45 178 --svg drive.svg --dxf drive.dxf
  beltspan center L 22 22 "322 L" --units in
  beltspan center --pitch 5 36 45 169 --driver-flange 61mm --json`,
		Args:              flags.check("DRIVER", "DRIVEN", "BELT"),
		ValidArgsFunction: a.completeSection(&flags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			drive, err := readDrive(&flags, args)
			if err != nil {
				return err
			}
			request := &pb.SolveCenterDistanceRequest{Drive: drive, AllowanceMm: allowance.mm}
			var got *pb.SolveCenterDistanceResponse
			err = answer(cmd, a, question[*pb.SolveCenterDistanceResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SolveCenterDistanceResponse, error) {
					got, err = pb.NewDriveServiceClient(conn).SolveCenterDistance(ctx, request)
					return got, err
				},
				names: centerNames,
				text: func(p *page, r *pb.SolveCenterDistanceResponse) {
					p.center(r, allowance.mm)
				},
			})
			if err != nil {
				return err
			}
			return picture.write(cmd, a, centerNames, func(ctx context.Context, conn grpc.ClientConnInterface, format pb.DrawingFormat) (*httpbody.HttpBody, error) {
				return pb.NewDriveServiceClient(conn).DrawDrive(ctx, &pb.DrawDriveRequest{
					Drive: drive, CenterDistanceMm: new(got.GetDrillCenterDistanceMm()), Format: format,
				})
			})
		}),
	}
	flags.addPitch(cmd)
	flags.addDriverFlange(cmd)
	flags.addDrivenFlange(cmd)
	cmd.Flags().Var(&allowance, "allowance", "`LENGTH` added to the exact center distance when drilling")
	picture.addTo(cmd)
	a.addOutput(cmd)
	return cmd
}

// readDrive reads SECTION DRIVER DRIVEN BELT.
func readDrive(flags *driveFlags, args []string) (*pb.Drive, error) {
	section, rest := flags.section(args)
	driver, err := readPulley("DRIVER", rest[0], &flags.driverFlange)
	if err != nil {
		return nil, err
	}
	driven, err := readPulley("DRIVEN", rest[1], &flags.drivenFlange)
	if err != nil {
		return nil, err
	}
	drive := &pb.Drive{Section: section, PitchMm: flags.pitch.optional(), Driver: driver, Driven: driven}
	if _, err := strconv.ParseFloat(rest[2], 64); err != nil && rest[2] != "" {
		drive.BeltDesignation = rest[2]
		return drive, nil
	}
	teeth, err := readCount("BELT", rest[2])
	drive.BeltToothCount = &teeth
	return drive, err
}

// center prints a solved drive, the number to drill by first.
func (p *page) center(r *pb.SolveCenterDistanceResponse, allowanceMM float64) {
	g := r.GetGeometry()
	places := []fact{{"center distance", p.drillLength(g.GetCenterDistanceMm())}}
	if allowanceMM != 0 {
		places = append(places, fact{"drill at", p.drillLength(r.GetDrillCenterDistanceMm()) + "  (allowance " + p.shift(allowanceMM) + ")"})
	}
	p.facts(places...)
	p.line("")
	s := g.GetSensitivity()
	p.facts(
		fact{"belt", beltName(g.GetDrive())},
		fact{"belt length", p.length(g.GetBeltLengthMm()) + "  (pitch " + p.length(g.GetPitchMm()) + ")"},
		fact{"span length", p.length(g.GetSpanLengthMm())},
		fact{"speed ratio", fmt.Sprintf("%.4f  (driven teeth / driver teeth)", g.GetSpeedRatio())},
		fact{"one tooth more", fmt.Sprintf("center distance about %s for the belt, %s for the driver, %s for the driven pulley",
			p.shift(s.GetPerBeltToothMm()), p.shift(s.GetPerDriverToothMm()), p.shift(s.GetPerDrivenToothMm()))},
	)
	p.line("")
	unit := " " + p.unit.String()
	p.align("lrrrrr", [][]string{
		{"pulley", "teeth", "pitch diameter" + unit, "outside diameter" + unit, "wrap deg", "teeth in mesh"},
		p.pulleyRow("driver", g.GetDriver()), p.pulleyRow("driven", g.GetDriven()),
	})
	p.notes(r.GetNotes())
}

func (p *page) pulleyRow(name string, g *pb.PulleyGeometry) []string {
	outside := "not held"
	if g != nil && g.OutsideDiameterMm != nil {
		outside = p.number(*g.OutsideDiameterMm)
	}
	return []string{
		name, decimal(g.GetToothCount()), p.number(g.GetPitchDiameterMm()), outside, fmt.Sprintf("%.2f", g.GetWrapAngleDeg()), decimal(g.GetMeshedToothCount()),
	}
}
