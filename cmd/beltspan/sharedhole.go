package main

import (
	"context"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

var sharedHoleNames = mergeNames(limitNames, fieldNames{
	"drives[0].section":            "SECTION",
	"drives[0].pitch_mm":           "--pitch",
	"drives[0].driver.tooth_count": "DRIVER",
	"drives[0].driven.tooth_count": "DRIVEN",
	"drives[0].belt_tooth_count":   "BELT",
	"drives[0].belt_designation":   "BELT",
	"drives[1].section":            "SECTION",
	"drives[1].pitch_mm":           "--pitch",
	"drives[1].driver.tooth_count": "DRIVER2",
	"drives[1].driven.tooth_count": "DRIVEN2",
	"drives[1].belt_tooth_count":   "BELT2",
	"drives[1].belt_designation":   "BELT2",
})

func (a *app) sharedHoleCommand() *cobra.Command {
	var flags struct {
		driveFlags
		limitFlags
	}
	cmd := &cobra.Command{
		Use:   "shared-hole SECTION DRIVER DRIVEN BELT DRIVER2 DRIVEN2 BELT2",
		Short: "Find one hole, or the slot, for a belt now and another later",
		Long: `Find the one hole that serves two drives on the same axles, a belt now and its
substitute later, or the slot that serves both.

The hole is in the middle of all center distances at which both deviations fit.
Where there are none, the slot's ends are where each belt has the middle of the
deviations that fit. An axle in a slot needs a stop at each end: clamping alone
slips under shocks. Exit state 1 tells that a drive is rejected for its few teeth in
mesh; a slot is an answer.`,
		Example: `  beltspan shared-hole H5M 36 36 178 32 32 174
  beltspan shared-hole H5M 36 36 "890 H5M" 36 36 "900 H5M"
  beltspan shared-hole --pitch 5 36 45 178 37 45 178 --fit-low=-0.7 --fit-high 0.8`,
		Args:              flags.check("DRIVER", "DRIVEN", "BELT", "DRIVER2", "DRIVEN2", "BELT2"),
		ValidArgsFunction: a.completeSection(&flags.driveFlags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			first, second := args[:len(args)-3], append(args[:len(args)-6:len(args)-6], args[len(args)-3:]...)
			request := &pb.SolveSharedHoleRequest{Limits: flags.limits(cmd)}
			for _, words := range [][]string{first, second} {
				drive, err := readDrive(&flags.driveFlags, words)
				if err != nil {
					return err
				}
				request.Drives = append(request.Drives, drive)
			}
			return answer(cmd, a, question[*pb.SolveSharedHoleResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SolveSharedHoleResponse, error) {
					return pb.NewDriveServiceClient(conn).SolveSharedHole(ctx, request)
				},
				names: sharedHoleNames,
				text:  (*page).sharedHole,
				then: passesIf(func(r *pb.SolveSharedHoleResponse) bool {
					return !slices.ContainsFunc(r.GetFits(), func(f *pb.SharedHoleFit) bool { return failing(f.GetVerdict()) })
				}),
			})
		}),
	}
	flags.addPitch(cmd)
	flags.add(cmd)
	a.addOutput(cmd)
	return cmd
}

// sharedHole prints where to drill, then how each drive sits there.
func (p *page) sharedHole(r *pb.SolveSharedHoleResponse) {
	if r.DrillCenterDistanceMm != nil {
		p.facts(fact{"drill at", p.drillLength(r.GetDrillCenterDistanceMm()) + "  (one hole serves both)"})
	} else {
		p.facts(
			fact{"slot from", p.drillLength(r.GetSlotFromMm())},
			fact{"slot to", p.drillLength(r.GetSlotToMm()) + "  (no one hole serves both: " + p.length(r.GetSlotToMm()-r.GetSlotFromMm()) + " of travel)"},
		)
	}
	p.line("")
	unit := " " + p.unit.String()
	rows := [][]string{{"drive", "exact" + unit, "deviation" + unit, "verdict"}}
	names := []string{"first", "second"}
	for i, f := range r.GetFits() {
		rows = append(rows, []string{
			names[min(i, 1)], p.number(f.GetCenterDistanceMm()), signed(p.number(f.GetDeviationMm())), strings.ToLower(verdictWord(f.GetVerdict())),
		})
	}
	p.align("lrrl", rows)
	p.notes(r.GetNotes())
}
