package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/demo"
	"github.com/beltspan/beltspan/server/entry"
)

// baseSearchFlags are the conditions of a search, on top of those of its file.
type baseSearchFlags struct {
	sourceFlags
	wheels, drops                                          lengthsFlag
	sections                                               []string
	pulley, belt                                           countsFlag
	standard, equalGaps                                    bool
	stock                                                  string
	width, target, tolerance, wheelGap, spread, resolution length
	sides, distinct, mesh, limit                           int32
	scrub, idlerAt                                         float64
	idler                                                  string
	idlerFrom, idlerTo                                     length
	plan                                                   int
	write, from                                            string
	given                                                  func(name string) bool
}

func (a *app) baseSearchCommand() *cobra.Command {
	var flags baseSearchFlags
	cmd := &cobra.Command{
		Use:   "search [FILE]",
		Short: "Find the belts that reach a wheelbase",
		Long: `Find section, pulleys and belts for a row of wheels whose wheelbase comes nearest
to a target, best first. Where there is no plan, the answer says which condition
keeps which plan out, and the exit state is 1.

The conditions come from a search file, from --demo, from flags, or from a file
with flags over it. Counts are written 36, 32..40, 32..40/2 or 32,36,40. The
positions printed are those of the best plan, or of --plan. Plans that differ in
the wheelbase by less than --resolution count as equally near.

With --idler, where no plan does without, plans are tried whose axles stand at the
wished gaps, else equally far apart, and whose belts may be too long: an idler in
the range --idler-from to --idler-to, measured up from the line of centers, takes
that up. It is written as a wheel of ` + "`path`" + `: 16 has teeth, d60 is smooth, b40 stands
on the back of the belt.

--write turns the plan into a layout file. What a search does not know - plates,
cavity, standoffs, members - it takes from the layout file named by --from; with
--demo from the demo. Without these the file has a line for each of them, 0 so
far, and what is to be filled in is told; its axles are AXLE_KIND_LIVE until you
write AXLE_KIND_DEAD for those that stand still. It replaces no file but the one
of --from.

` + stockHelp,
		Example: `  beltspan base search --demo
  # No plan: exit state 1, and what keeps it out
  beltspan base search --demo --equal-gaps
  beltspan base search --demo --equal-gaps --pulley 32..40
  beltspan base search --demo=d --wheelbase 26.6in --pulley 18,20,22,24 --units in
  beltspan base search --wheels 160mm,160mm,160mm --drops 0,3mm,0 --section H5M --pulley 36 --standard --wheelbase 700mm --tolerance 1mm
  beltspan base search --demo --equal-gaps --idler b40 --idler-from 0 --idler-to 60mm
  beltspan base search wish.json --stock bin.csv --from base.json --write base.json`,
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			flags.given = cmd.Flags().Changed
			return a.baseSearch(cmd, args, &flags)
		}),
	}
	flags.add(cmd)
	_ = cmd.RegisterFlagCompletionFunc("section", a.completeSections)
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

func (f *baseSearchFlags) add(cmd *cobra.Command) {
	f.sourceFlags.add(cmd)
	flags := cmd.Flags()
	flags.Var(&f.wheels, "wheels", "wheel diameters from the first axle on, `LENGTHS` such as 160mm,160mm,160mm")
	flags.Var(&f.drops, "drops", "how far each axle is dropped, `LENGTHS` such as 0,3mm,0")
	flags.StringSliceVar(&f.sections, "section", nil, "belt `SECTIONS` to try, such as H5M,T5")
	flags.Var(&f.pulley, "pulley", "pulley `TEETH` to try")
	flags.Var(&f.belt, "belt", "belt `TEETH` to try; every belt where not given")
	flags.BoolVar(&f.standard, "standard", false, "only lengths of the sections' lists of standard lengths")
	flags.StringVar(&f.stock, "stock", "", "take only what is on the shelf: a CSV `FILE`")
	flags.Var(&f.width, "belt-width", "take only belts of this width from --stock, a `LENGTH`; --write notes it")
	flags.Int32Var(&f.sides, "sides", 2, "`COUNT` of equal sides to build from --stock")
	flags.Var(&f.target, "wheelbase", "wanted distance from the first axle to the last along the rail, a `LENGTH`")
	flags.Var(&f.tolerance, "tolerance", "how far from --wheelbase, both ways, a `LENGTH`")
	flags.BoolVar(&f.equalGaps, "equal-gaps", false, "all axles equally far apart")
	flags.Var(&f.spread, "max-gap-difference", "greatest difference of two rail spacings, a `LENGTH`")
	flags.Int32Var(&f.distinct, "max-belts", 2, "most different `BELTS` in a plan")
	flags.Float64Var(&f.scrub, "max-scrub", 0.5, "greatest scrub of two wheels in `PERCENT`")
	flags.Var(&f.wheelGap, "min-wheel-gap", "least distance between wheels, a `LENGTH`")
	flags.Int32Var(&f.mesh, "mesh", 6, "least `TEETH` in mesh on the smaller pulley")
	flags.Var(&f.resolution, "resolution", "what drilling can tell apart, a `LENGTH` (0.01mm)")
	flags.StringVar(&f.idler, "idler", "", "let an idler take up belts that are too long: a `WHEEL` as of path, such as b40, d60 or 16")
	flags.Var(&f.idlerFrom, "idler-from", "where the range of the idler's center starts, a `LENGTH` up from the line of centers")
	flags.Var(&f.idlerTo, "idler-to", "where the range of the idler's center ends, a `LENGTH` up from the line of centers")
	flags.Float64Var(&f.idlerAt, "idler-at", 0.5, "where along the line of centers the idler stands, a `SHARE` of it")
	flags.Int32Var(&f.limit, "limit", 20, "most `PLANS` to list")
	flags.IntVar(&f.plan, "plan", 1, "the `NUMBER` of the plan to print in full and to write")
	flags.StringVar(&f.write, "write", "", "write the plan as a layout `FILE`")
	flags.StringVar(&f.from, "from", "", "layout `FILE` that --write takes plates, standoffs and members from")
}

func (a *app) baseSearch(cmd *cobra.Command, args []string, flags *baseSearchFlags) error {
	request, names, err := a.baseSearchRequest(cmd, args, flags)
	if err != nil {
		return err
	}
	if flags.plan < 1 {
		return &usageError{msg: fmt.Sprintf("--plan is %d: plans are counted from 1", flags.plan)}
	}
	if flags.request {
		return a.printRequest(request)
	}
	frame, err := a.layoutFrame(flags)
	if err != nil {
		return err
	}
	return answer(cmd, a, question[*pb.SearchBasesResponse]{
		ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SearchBasesResponse, error) {
			return pb.NewBaseServiceClient(conn).SearchBases(ctx, request)
		},
		names: names,
		text:  func(p *page, r *pb.SearchBasesResponse) { p.basePlans(r, flags.plan) },
		rows:  entry.PlanRows,
		then: func(r *pb.SearchBasesResponse) error {
			return a.keepPlan(cmd, request, r, frame, flags)
		},
	})
}

// baseSearchRequest reads the file or the demo, and the flags over it. The
// names are those of the flags in use; what came from a file keeps its path.
func (a *app) baseSearchRequest(cmd *cobra.Command, args []string, f *baseSearchFlags) (*pb.SearchBasesRequest, fieldNames, error) {
	path, err := f.path(cmd, args)
	if err != nil {
		return nil, nil, err
	}
	r := &pb.SearchBasesRequest{}
	switch {
	case f.demo != "":
		if r, err = demo.Search(f.demo); err != nil {
			err = &usageError{msg: err.Error()}
		}
	case path != "":
		err = a.readBaseFile(path, r)
	case !f.given("wheels"):
		err = &usageError{msg: "a FILE, --demo or --wheels is needed", hint: "beltspan base search --help shows examples"}
	}
	if err != nil {
		return nil, nil, err
	}
	names, err := f.overlay(r, path != "")
	if err == nil && f.demo+path == "" {
		err = f.needed()
	}
	return r, names, err
}

// needed refuses wheels alone: what a search cannot do without.
func (f *baseSearchFlags) needed() error {
	var missing []string
	for _, flag := range []string{"section", "wheelbase", "pulley"} {
		if !f.given(flag) && (flag != "pulley" || !f.given("stock")) {
			missing = append(missing, "--"+flag)
		}
	}
	if len(missing) == 0 {
		return nil
	}
	return &usageError{msg: "with --wheels are needed: " + strings.Join(missing, ", "), hint: "beltspan base search --help shows examples"}
}

// overlay puts the flags that were given over a request.
func (f *baseSearchFlags) overlay(r *pb.SearchBasesRequest, fromFile bool) (fieldNames, error) {
	var first error
	names := fieldNames{}
	set := func(flag, path string, put func()) {
		if f.given(flag) {
			put()
		}
		if f.given(flag) || !fromFile {
			names[path] = "--" + flag
		}
	}
	set("wheels", "axles", func() { r.Axles = withDiameters(r.Axles, f.wheels.mm) })
	set("drops", "axles.drop_mm", func() { first = setDrops(r.Axles, f.drops.mm) })
	set("section", "sections", func() { r.Sections = f.sections })
	for _, field := range []string{"values", "min", "max", "step"} {
		set("pulley", "pulley."+field, func() {})
		set("belt", "belt."+field, func() {})
	}
	set("pulley", "pulley", func() { r.Pulley = f.pulley.counts })
	set("belt", "belt", func() { r.Belt = f.belt.counts })
	set("standard", "standard_lengths_only", func() { r.StandardLengthsOnly = f.standard })
	set("belt-width", "belt_width_mm", func() { r.BeltWidthMm = &f.width.mm })
	set("sides", "side_count", func() { r.SideCount = &f.sides })
	set("wheelbase", "target_wheelbase_mm", func() { r.TargetWheelbaseMm = f.target.mm })
	set("tolerance", "tolerance_mm", func() { r.ToleranceMm = f.tolerance.mm })
	set("equal-gaps", "equal_gaps", func() { r.EqualGaps = f.equalGaps })
	set("max-gap-difference", "max_gap_difference_mm", func() { r.MaxGapDifferenceMm = &f.spread.mm })
	set("max-belts", "max_distinct_belts", func() { r.MaxDistinctBelts = &f.distinct })
	set("max-scrub", "max_scrub_percent", func() { r.MaxScrubPercent = &f.scrub })
	set("min-wheel-gap", "min_wheel_gap_mm", func() { r.MinWheelGapMm = f.wheelGap.mm })
	set("mesh", "min_meshed_tooth_count", func() { r.MinMeshedToothCount = &f.mesh })
	set("resolution", "resolution_mm", func() { r.ResolutionMm = &f.resolution.mm })
	set("limit", "max_results", func() { r.MaxResults = &f.limit })
	set("idler", "idler", func() {
		idler, err := entry.ReadIdler(f.idler, beltmath.Millimeter)
		if err != nil {
			err = &usageError{msg: "--idler is " + quoted(f.idler) + ": " + why(err)}
		}
		r.Idler, first = idler, errors.Join(first, err)
	})
	if first != nil {
		return nil, first
	}
	if r.Idler == nil && (f.given("idler-from") || f.given("idler-to") || f.given("idler-at")) {
		return nil, &usageError{msg: "the place of an idler is given, but no idler", hint: "name it with --idler, such as b40"}
	}
	if f.given("idler") && !f.given("idler-from") && !f.given("idler-to") {
		return nil, &usageError{msg: "--idler needs its range: --idler-from and --idler-to, up from the line of centers"}
	}
	set("idler-from", "idler.from_mm", func() { r.Idler.FromMm = f.idlerFrom.mm })
	set("idler-to", "idler.to_mm", func() { r.Idler.ToMm = f.idlerTo.mm })
	set("idler-at", "idler.position", func() { r.Idler.Position = &f.idlerAt })
	for _, field := range []string{"kind", "tooth_count", "diameter_mm", "side"} {
		if f.given("idler") {
			names["idler."+field] = "--idler"
		}
	}
	set("stock", "stock", func() {
		stock, err := readStock(f.stock)
		r.Stock, first = stock, errors.Join(first, err)
	})
	if f.width.given && r.Stock == nil && f.write == "" {
		return nil, &usageError{msg: "--belt-width chooses from --stock, which is not given: without it the width of a belt bears on no plan"}
	}
	return names, first
}

// withDiameters are the axles with other wheels; more or fewer of them are
// axles of wheels only.
func withDiameters(axles []*pb.Axle, diameters []float64) []*pb.Axle {
	if len(axles) != len(diameters) {
		axles = make([]*pb.Axle, len(diameters))
		for i := range axles {
			axles[i] = &pb.Axle{}
		}
	}
	for i, mm := range diameters {
		axles[i].WheelDiameterMm = mm
	}
	return axles
}

func setDrops(axles []*pb.Axle, drops []float64) error {
	if len(axles) != len(drops) {
		return &usageError{msg: fmt.Sprintf("--drops is a row of %d: give a length for each wheel, %d", len(drops), len(axles))}
	}
	for i, mm := range drops {
		axles[i].DropMm = mm
	}
	return nil
}

// layoutFrame returns the layout that --write fills a plan into; nil without
// --write.
func (a *app) layoutFrame(f *baseSearchFlags) (*pb.LayOutBaseRequest, error) {
	switch {
	case f.write == "" && f.from != "":
		return nil, &usageError{msg: "--from goes with --write"}
	case f.write == "":
		return nil, nil
	}
	if _, err := os.Stat(f.write); !errors.Is(err, fs.ErrNotExist) && f.write != f.from {
		return nil, &usageError{
			msg:  f.write + " is there already: --write does not replace it",
			hint: "name another file, or take its plates and standoffs over with --from " + f.write,
		}
	}
	frame := &pb.LayOutBaseRequest{}
	switch {
	case f.from != "":
		return frame, a.readBaseFile(f.from, frame)
	case f.demo != "":
		return demo.LayOut(f.demo)
	}
	return frame, nil
}

// keepPlan writes the plan, where one is to be written, and makes the exit
// state.
func (a *app) keepPlan(cmd *cobra.Command, request *pb.SearchBasesRequest, r *pb.SearchBasesResponse, frame *pb.LayOutBaseRequest, f *baseSearchFlags) error {
	switch plans := len(r.GetPlans()); {
	case plans == 0:
		return errAllSaid
	case f.plan < 1 || f.plan > plans:
		return &failure{errors.New("--plan is " + decimal(int32(f.plan)) + ": the search found " + decimal(int32(plans))), ""}
	case frame == nil:
		return nil
	}
	form := givenOnly
	if frame.Base == nil {
		form = toFillIn
	}
	layout := plannedLayout(request, r.GetPlans()[f.plan-1], frame)
	if err := writeBaseFile(f.write, layout, form); err != nil {
		return err
	}
	a.complain("", "wrote plan "+decimal(int32(f.plan))+" to "+f.write)
	a.tellBlanks(cmd, layout, f.write)
	return nil
}

// lengthsFlag is a flag that takes several lengths.
type lengthsFlag struct{ mm []float64 }

func (f *lengthsFlag) String() string { return "" }
func (f *lengthsFlag) Type() string   { return "LENGTHS" }

func (f *lengthsFlag) Set(text string) error {
	f.mm = nil
	for part := range strings.SplitSeq(text, ",") {
		mm, err := beltmath.ReadLengthMM(strings.TrimSpace(part))
		if err != nil {
			return err
		}
		f.mm = append(f.mm, mm)
	}
	return nil
}
