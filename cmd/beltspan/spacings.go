package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// largestSpacingPage is the most spacings one call returns.
const largestSpacingPage = 10000

var spacingNames = mergeNames(
	fieldNames{
		"sections":                  "SECTION",
		"pitch_mm":                  "--pitch",
		"min_center_distance_mm":    "--from",
		"max_center_distance_mm":    "--to",
		"target_center_distance_mm": "--target",
		"tolerance_mm":              "--within",
		"min_speed_ratio":           "--ratio",
		"max_speed_ratio":           "--ratio",
		"equal_pulleys":             "--equal",
		"min_meshed_tooth_count":    "--mesh",
		"standard_lengths_only":     "--standard",
		"order_by":                  "--order",
		"page_size":                 "--limit",
	},
	countNames("driver", "DRIVER"), countNames("driven", "DRIVEN"), countNames("belt", "--belt"),
)

func mergeNames(sets ...fieldNames) fieldNames {
	all := fieldNames{}
	for _, set := range sets {
		maps.Copy(all, set)
	}
	return all
}

// spacingFlags are the conditions of a search.
type spacingFlags struct {
	driveFlags
	belt                     countsFlag
	from, to, target, within length
	ratio                    ratioFlag
	equal, standard, all     bool
	mesh, limit              int32
	order                    orderFlag
}

func (a *app) spacingsCommand() *cobra.Command {
	var flags spacingFlags
	cmd := &cobra.Command{
		Use:   "spacings SECTION DRIVER DRIVEN",
		Short: "Find every spacing that pulleys and belts of given counts make",
		Long: `Find every spacing: each combination of section, pulleys and belt whose center
distance meets the conditions.

SECTION is one section or several, as in H5M,T5. DRIVER, DRIVEN and --belt are
tooth counts: 36, a range 32..40, a range with a step 32..40/2 or a list
32,36,40. With --target the nearest come first, and the shift is the center
distance minus the target. The line shows where the listed spacings lie; a digit
stands for several in one place, + for more than 9. Exit state 1 tells that there is
none.

--all lists all that there are, any number of them, as they are found.`,
		Example: `  beltspan spacings H5M 32..40 36 --target "22 1/2in" --within 3mm
  beltspan spacings H5M,T5 36 36 --belt 100..200 --standard --csv
  beltspan spacings H5M 20..60 20..60 --from 340mm --to 350mm --ratio 1..2 --order belt
  beltspan spacings H5M 12..80 12..80 --belt 40..300 --all --csv`,
		Args: flags.check("DRIVER", "DRIVEN"),
		ValidArgsFunction: func(cmd *cobra.Command, args []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
			if len(args) > 0 || flags.pitch.given {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			return a.completeSections(cmd, args, typed)
		},
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, err := flags.request(cmd, args)
			if err != nil {
				return err
			}
			if flags.all {
				return a.streamSpacings(cmd, request)
			}
			return answer(cmd, a, question[*pb.SearchSpacingsResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SearchSpacingsResponse, error) {
					return searchSpacings(ctx, conn, request, int(flags.limit))
				},
				names: spacingNames,
				text:  func(p *page, r *pb.SearchSpacingsResponse) { p.spacings(r, request.TargetCenterDistanceMm) },
				rows:  func(r *pb.SearchSpacingsResponse) [][]string { return spacingRows(r.GetSpacings()) },
				then:  passesIf(func(r *pb.SearchSpacingsResponse) bool { return len(r.GetSpacings()) > 0 }),
			})
		}),
	}
	flags.add(cmd)
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

func (f *spacingFlags) add(cmd *cobra.Command) {
	f.addPitch(cmd)
	flags := cmd.Flags()
	flags.Var(&f.belt, "belt", "belt `TEETH`; every belt where not given")
	flags.Var(&f.target, "target", "wanted center distance, a `LENGTH`")
	flags.Var(&f.within, "within", "how far from the target, a `LENGTH`")
	flags.Var(&f.from, "from", "least center distance, a `LENGTH`")
	flags.Var(&f.to, "to", "greatest center distance, a `LENGTH`")
	flags.Var(&f.ratio, "ratio", "driven teeth over driver teeth, `RATIOS` such as 1..2")
	flags.BoolVar(&f.equal, "equal", false, "both pulleys alike")
	flags.Int32Var(&f.mesh, "mesh", 6, "least `TEETH` in mesh on the smaller pulley")
	flags.BoolVar(&f.standard, "standard", false, "only lengths of the sections' lists of standard lengths")
	flags.Var(&f.order, "order", "what comes first: shift, center or belt; `ORDER` is shift with --target, else center")
	flags.Int32Var(&f.limit, "limit", 20, "most `SPACINGS` to list")
	flags.BoolVar(&f.all, "all", false, "list all spacings, by section, pulleys and belt")
	completeWords(cmd, "order", "shift", "center", "belt")
}

// request reads SECTION DRIVER DRIVEN and the flags.
func (f *spacingFlags) request(cmd *cobra.Command, args []string) (*pb.SearchSpacingsRequest, error) {
	section, rest := f.section(args)
	r := &pb.SearchSpacingsRequest{
		PitchMm: f.pitch.optional(), Belt: f.belt.counts,
		MinCenterDistanceMm: f.from.optional(), MaxCenterDistanceMm: f.to.optional(),
		TargetCenterDistanceMm: f.target.optional(), ToleranceMm: f.within.optional(),
		MinSpeedRatio: f.ratio.low, MaxSpeedRatio: f.ratio.high,
		EqualPulleys: f.equal, StandardLengthsOnly: f.standard, OrderBy: f.order.order,
	}
	if section != "" {
		r.Sections = strings.Split(section, ",")
	}
	var err error
	if r.Driver, err = readCountsArgument("DRIVER", rest[0]); err != nil {
		return nil, err
	}
	if r.Driven, err = readCountsArgument("DRIVEN", rest[1]); err != nil {
		return nil, err
	}
	changed := cmd.Flags().Changed
	if changed("mesh") {
		r.MinMeshedToothCount = &f.mesh
	}
	if f.target.given && !changed("order") {
		r.OrderBy = pb.SpacingOrder_SPACING_ORDER_TARGET_SHIFT
	}
	switch {
	case f.all && (changed("order") || changed("limit")):
		return nil, &usageError{msg: "--all has neither --order nor --limit: it lists spacings as they are found"}
	case f.limit < 1:
		return nil, &usageError{msg: fmt.Sprintf("--limit is %d: give 1 or more", f.limit)}
	}
	return r, nil
}

// orderFlag is a flag that takes an order of spacings.
type orderFlag struct{ order pb.SpacingOrder }

func (f *orderFlag) String() string { return "" }
func (f *orderFlag) Type() string   { return "ORDER" }

func (f *orderFlag) Set(text string) error {
	orders := map[string]pb.SpacingOrder{
		"shift":  pb.SpacingOrder_SPACING_ORDER_TARGET_SHIFT,
		"center": pb.SpacingOrder_SPACING_ORDER_CENTER_DISTANCE,
		"belt":   pb.SpacingOrder_SPACING_ORDER_BELT_TOOTH_COUNT,
	}
	order, ok := orders[text]
	if !ok {
		return errors.New("give shift, center or belt")
	}
	f.order = order
	return nil
}

// searchSpacings asks for the first spacings, page after page.
func searchSpacings(ctx context.Context, conn grpc.ClientConnInterface, request *pb.SearchSpacingsRequest, limit int) (*pb.SearchSpacingsResponse, error) {
	var all *pb.SearchSpacingsResponse
	for {
		left := limit - len(all.GetSpacings())
		request.PageSize = new(int32(min(left, largestSpacingPage)))
		r, err := pb.NewDriveServiceClient(conn).SearchSpacings(ctx, request)
		if err != nil {
			return nil, err
		}
		if all == nil {
			all = r
		} else {
			all.Spacings = append(all.Spacings, r.GetSpacings()...)
			all.NextPageToken = r.GetNextPageToken()
		}
		if len(all.GetSpacings()) >= limit || all.GetNextPageToken() == "" || len(r.GetSpacings()) == 0 {
			return all, nil
		}
		request.PageToken = all.NextPageToken
	}
}

// spacingHead are the heads of a table of spacings, wide enough for all that
// stands below them.
func (p *page) spacingHead(shifts bool) (head []string) {
	unit := " " + p.unit.String()
	head = []string{"section", "driver", "driven", "belt", "center distance" + unit}
	if shifts {
		head = append(head, "shift"+unit)
	}
	return append(head, "speed ratio", "in mesh", "standard")
}

func (p *page) spacingRow(s *pb.Spacing, shifts bool) []string {
	row := []string{
		s.GetSection(), decimal(s.GetDriverToothCount()), decimal(s.GetDrivenToothCount()), decimal(s.GetBeltToothCount()),
		p.number(s.GetCenterDistanceMm()),
	}
	if shifts {
		row = append(row, signed(p.number(s.GetTargetShiftMm())))
	}
	standard := "no"
	if s.GetStandardLength() {
		standard = "yes"
	}
	return append(row, fmt.Sprintf("%.4f", s.GetSpeedRatio()), decimal(s.GetMeshedToothCount()), standard)
}

// spacings prints a page of spacings, with a picture of where they lie.
func (p *page) spacings(r *pb.SearchSpacingsResponse, target *float64) {
	found := r.GetSpacings()
	if len(found) == 0 {
		p.line("no spacing meets the conditions: allow more tooth counts, a wider window or other sections")
		p.notes(r.GetNotes())
		return
	}
	shifts := target != nil
	rows := [][]string{p.spacingHead(shifts)}
	for _, s := range found {
		rows = append(rows, p.spacingRow(s, shifts))
	}
	p.align("lrrrrrrrl"[:len(rows[0])], rows)
	p.numberLine(found, target)
	p.line("")
	switch total := int(r.GetTotalSize()); {
	case total > len(found):
		p.line("%d of %d spacings: --limit lists more, --all all of them", len(found), total)
	case total == 1:
		p.line("1 spacing")
	default:
		p.line("%d spacings", total)
	}
	p.notes(r.GetNotes())
}

func spacingRows(spacings []*pb.Spacing) [][]string {
	rows := [][]string{entry.SpacingColumns}
	for _, s := range spacings {
		rows = append(rows, entry.SpacingRow(s))
	}
	return rows
}
