package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

var rateNames = mergeNames(driveNames, fieldNames{
	"belt_width_mm":     "WIDTH",
	"torque_nm":         "--torque",
	"power_w":           "--power",
	"speed_rpm":         "--speed",
	"service_factor":    "--service-factor",
	"working_tension_n": "--working-tension",
	"base_width_mm":     "--base-width",
	"mass_kg_per_m":     "--mass",
	"wheel_diameter_mm": "--wheel",
})

// rateFlags are the load of a drive and the maker's values of its belt.
type rateFlags struct {
	driveFlags
	torque, power, speed, service, tension, mass float64
	baseWidth, wheel                             length
}

func (a *app) rateCommand() *cobra.Command {
	var flags rateFlags
	cmd := &cobra.Command{
		Use:   "rate SECTION DRIVER DRIVEN BELT CENTER WIDTH",
		Short: "Compare the pull on a belt with what it carries",
		Long: `Compare the pull on a belt with what it carries, and tell the tension to set, two
ways to measure it, the load on the shafts and the speeds.

CENTER is the center distance as built, WIDTH the belt width. The pull comes from
--torque, or --power and --speed, on the driver. Where no rating is held for a
section, give the belt maker's --working-tension at --base-width: none is guessed.

Rate for the greatest torque that can occur: a motor that stalls or a wheel that
strikes can pull many times the usual, and a slack belt skips teeth then. Guard
what turns; local codes and licensed practice come before these numbers.

Exit state 1 tells that the belt is overloaded, or that it does not fit at CENTER,
so that the numbers do not hold.`,
		Example: `  beltspan rate H5M 36 36 174 345mm 25mm --torque 5.5 --speed 45 --wheel 160mm
  beltspan rate L 22 22 86 12in 1in --power 250 --speed 600
  beltspan rate AT5 36 36 174 345mm 16mm --torque 8 --working-tension 2240 --base-width 16mm`,
		Args:              flags.check("DRIVER", "DRIVEN", "BELT", "CENTER", "WIDTH"),
		ValidArgsFunction: a.completeSection(&flags.driveFlags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, err := flags.request(cmd, args)
			if err != nil {
				return err
			}
			return answer(cmd, a, question[*pb.RateDriveResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.RateDriveResponse, error) {
					return pb.NewDriveServiceClient(conn).RateDrive(ctx, request)
				},
				names: rateNames,
				text:  (*page).rating,
				then: passesIf(func(r *pb.RateDriveResponse) bool {
					unsound, _ := entry.RatingNotes(r)
					return unsound == nil && !entry.Overloaded(r)
				}),
			})
		}),
	}
	flags.addTo(cmd)
	a.addOutput(cmd)
	return cmd
}

func (f *rateFlags) addTo(cmd *cobra.Command) {
	f.addPitch(cmd)
	f.addDriverFlange(cmd)
	f.addDrivenFlange(cmd)
	flags := cmd.Flags()
	flags.Float64Var(&f.torque, "torque", 0, "torque on the driver in `NM`")
	flags.Float64Var(&f.power, "power", 0, "power in `WATTS`, in place of --torque; needs --speed")
	flags.Float64Var(&f.speed, "speed", 0, "speed of the driver in `RPM`")
	flags.Float64Var(&f.service, "service-factor", 1.5, "`FACTOR` on the pull for shocks and running time")
	flags.Float64Var(&f.tension, "working-tension", 0, "the belt maker's allowable tension in `NEWTONS`, at --base-width")
	flags.Var(&f.baseWidth, "base-width", "belt width of --working-tension and --mass, a `LENGTH`")
	flags.Float64Var(&f.mass, "mass", 0, "the belt maker's mass in `KG/M`")
	flags.Var(&f.wheel, "wheel", "diameter of a wheel on the driven axle, a `LENGTH`")
}

// request reads SECTION DRIVER DRIVEN BELT CENTER WIDTH and the flags.
func (f *rateFlags) request(cmd *cobra.Command, args []string) (*pb.RateDriveRequest, error) {
	last := len(args) - 1
	drive, center, err := readDriveAt(&f.driveFlags, args[:last])
	if err != nil {
		return nil, err
	}
	width, err := readLength("WIDTH", args[last])
	if err != nil {
		return nil, err
	}
	given := func(flag string, value *float64) *float64 {
		if !cmd.Flags().Changed(flag) {
			return nil
		}
		return value
	}
	return &pb.RateDriveRequest{
		Drive: drive, CenterDistanceMm: center, BeltWidthMm: width,
		TorqueNm: given("torque", &f.torque), PowerW: given("power", &f.power), SpeedRpm: f.speed,
		ServiceFactor: given("service-factor", &f.service), WorkingTensionN: given("working-tension", &f.tension),
		BaseWidthMm: f.baseWidth.optional(), MassKgPerM: given("mass", &f.mass), WheelDiameterMm: f.wheel.optional(),
	}, nil
}

// rating prints the load first, then how to set and check the drive; before
// both, that the numbers do not hold.
func (p *page) rating(r *pb.RateDriveResponse) {
	unsound, notes := entry.RatingNotes(r)
	if unsound != nil {
		p.note(unsound)
		p.line("")
	}
	utilization := "nothing is left of the rating: overloaded"
	if r.Utilization != nil {
		utilization = fmt.Sprintf("%.0f %% of what the belt may carry", 100*r.GetUtilization())
		if entry.Overloaded(r) {
			utilization += ": overloaded"
		}
	}
	p.facts(
		fact{"utilization", utilization},
		fact{"pull", fmt.Sprintf("%.1f N before the service factor, %.1f N allowed  (tooth factor %.2f, width factor %.3f)",
			r.GetEffectiveTensionN(), r.GetAllowableTensionN(), r.GetMeshedToothFactor(), r.GetWidthFactor())},
	)
	p.line("")
	frequency := "no mass is held for this belt: give --mass"
	if r.SpanFrequencyHz != nil {
		frequency = fmt.Sprintf("%.1f Hz when a span is plucked", r.GetSpanFrequencyHz())
	}
	facts := []fact{
		{"set tension", fmt.Sprintf("%.1f N in each span at rest", r.GetStaticTensionN())},
		{"by frequency", frequency},
		{"by deflection", fmt.Sprintf("%.2f N press the middle of a span by %s", r.GetDeflectionForceN(), p.length(r.GetDeflectionMm()))},
		{"shaft load", fmt.Sprintf("%.1f N on either shaft, %.1f deg from the line of centers", r.GetShaftLoadN(), r.GetShaftLoadDirectionDeg())},
		{"belt speed", fmt.Sprintf("%.3f m/s", r.GetBeltSpeedMPerS())},
	}
	if r.CentrifugalTensionN != nil {
		facts = append(facts, fact{"its own pull", fmt.Sprintf("%.2f N centrifugal", r.GetCentrifugalTensionN())})
	}
	if r.VehicleSpeedMPerS != nil {
		facts = append(facts, fact{"vehicle speed", fmt.Sprintf("%.3f m/s", r.GetVehicleSpeedMPerS())})
	}
	p.facts(facts...)
	p.notes(notes)
}
