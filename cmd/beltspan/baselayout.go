package main

import (
	"context"
	"slices"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/demo"
)

// baseLayoutFlags are what is asked beside the base of a layout file.
type baseLayoutFlags struct {
	sourceFlags
	limitFlags
	fit      baseFitFlags
	stock    string
	lines    lengthsFlag
	diameter length
	all      bool
}

func (a *app) baseLayoutCommand() *cobra.Command {
	var flags baseLayoutFlags
	cmd := &cobra.Command{
		Use:   "layout [FILE]",
		Short: "Tell holes, stacks, clearances, cuts and parts of a base",
		Long: `Lay a base out: where to drill, what sits on each axle, what is too close, where
standoffs have room, what to cut and what to buy.

FILE is a layout file. Holes are dimensioned from the end of the plate at the
first axle and from its lower edge; x and y are from the first axle. Clearances
are listed where they are too small; --all lists every one. --csv prints the
holes. With axle_positions in the file, holes that are drilled already, each belt
is judged on them and what fits in its place is named. --fit, or a tolerance,
tells how likely each belt is good, and all of the base together: belts on one
axle share its hole. --measured puts the belt in your hand in place of its table.

Exit state 1 tells that something is not clear, that a belt does not fit or that,
within the tolerances, it is likelier bad than good.

` + stockHelp + " Parts are then given less what it holds.",
		Example: `  beltspan base layout --demo
  beltspan base layout base.json --stock bin.csv
  beltspan base layout base.json --line 40mm,-45mm --standoff-diameter 14mm
  beltspan base layout base.json --hole-tolerance 0.02mm --measured 1:344.98mm --measured 2:355.01mm
  beltspan base layout base.json --csv > holes.csv`,
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, names, err := a.baseLayoutRequest(cmd, args, &flags)
			if err != nil {
				return err
			}
			if flags.request {
				return a.printRequest(request)
			}
			return answer(cmd, a, question[*pb.LayOutBaseResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.LayOutBaseResponse, error) {
					return pb.NewBaseServiceClient(conn).LayOutBase(ctx, request)
				},
				names: names,
				text:  func(p *page, r *pb.LayOutBaseResponse) { p.baseLayout(request, r, flags.all) },
				rows:  holeRows,
				then:  passesIf(layoutDoes),
			})
		}),
	}
	flags.sourceFlags.add(cmd)
	f := cmd.Flags()
	f.StringVar(&flags.stock, "stock", "", "what is on the shelf: a CSV `FILE`")
	f.Var(&flags.lines, "line", "heights y on which to look for room for standoffs, `LENGTHS` such as 40mm,-45mm")
	f.Var(&flags.diameter, "standoff-diameter", "diameter of the standoffs to find room for, a `LENGTH`")
	f.BoolVar(&flags.all, "all", false, "list every clearance")
	flags.fit.add(cmd)
	flags.limitFlags.add(cmd)
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

// readLayout reads the layout file, or the demo's.
func (a *app) readLayout(cmd *cobra.Command, args []string, f *sourceFlags) (*pb.LayOutBaseRequest, error) {
	path, err := f.path(cmd, args)
	if err != nil {
		return nil, err
	}
	r := &pb.LayOutBaseRequest{}
	switch {
	case f.demo != "":
		if r, err = demo.LayOut(f.demo); err != nil {
			err = &usageError{msg: err.Error()}
		}
	case path == "":
		err = &usageError{msg: "a layout FILE or --demo is needed", hint: "`beltspan base search --write` makes a layout file; `" + cmd.CommandPath() + " --demo --request` prints one"}
	default:
		err = a.readBaseFile(path, r)
	}
	return r, err
}

// baseLayoutRequest reads the base, and the flags over it.
func (a *app) baseLayoutRequest(cmd *cobra.Command, args []string, f *baseLayoutFlags) (*pb.LayOutBaseRequest, fieldNames, error) {
	r, err := a.readLayout(cmd, args, &f.sourceFlags)
	if err != nil {
		return nil, nil, err
	}
	names := fieldNames{}
	changed := cmd.Flags().Changed
	if changed("line") {
		r.StandoffLinesMm = f.lines.mm
		names["standoff_lines_mm"] = "--line"
	}
	if f.diameter.given {
		r.StandoffDiameterMm = f.diameter.mm
		names["standoff_diameter_mm"] = "--standoff-diameter"
	}
	held := r.Limits
	for path, flag := range limitNames {
		if changed(flag[len("--"):]) {
			r.Limits = f.limits(cmd)
		}
		if held == nil || changed(flag[len("--"):]) {
			names[path] = flag
		}
	}
	if held == nil {
		names["limits"] = "--fit-low, --fit-high"
	}
	if err := f.fit.overlay(cmd, r, names); err != nil {
		return nil, nil, err
	}
	if f.stock != "" {
		r.Stock, err = readStock(f.stock)
		names["stock"] = "--stock"
	}
	return r, names, err
}

// layoutDoes tells whether all is clear and all belts fit.
func layoutDoes(r *pb.LayOutBaseResponse) bool {
	return !slices.ContainsFunc(r.GetClearances(), func(c *pb.Clearance) bool { return !c.GetClear() }) &&
		!slices.ContainsFunc(r.GetLinks(), func(l *pb.LinkLayout) bool { return failing(l.GetDrilled().GetVerdict()) }) &&
		!slices.ContainsFunc(r.GetFit().GetLinks(), func(l *pb.LinkFitShares) bool { return !likelyGood(l) })
}
