package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// pathNames are the words for the fields of a path; those of the wheels depend
// on how many there are.
func pathNames(wheels int) fieldNames {
	names := fieldNames{
		"section":                    "SECTION",
		"pitch_mm":                   "--pitch",
		"wheels":                     "WHEEL...",
		"belt_tooth_count":           "--belt",
		"belt_height_mm":             "--belt-height",
		"tooth_height_mm":            "--tooth-height",
		"pitch_line_differential_mm": "--pitch-line",
		"moving":                     "--move",
		"moving.wheel_index":         "--move",
		"moving.segment":             "--from and --to, or --pivot",
		"moving.segment.from":        "--from",
		"moving.segment.to":          "--to",
		"moving.arc.center":          "--pivot",
		"moving.arc.radius_mm":       "--radius",
		"moving.arc.from_deg":        "--from-angle",
		"moving.arc.to_deg":          "--to-angle",
	}
	for i := range wheels {
		for _, field := range []string{"kind", "tooth_count", "diameter_mm", "side"} {
			names[fmt.Sprintf("wheels[%d].%s", i, field)] = fmt.Sprintf("WHEEL %d", i+1)
		}
		names[fmt.Sprintf("wheels[%d].center", i)] = fmt.Sprintf("the place of WHEEL %d", i+1)
	}
	return names
}

// place is a flag that takes a point.
type place struct{ point *pb.Point }

func (p *place) String() string { return "" }
func (p *place) Type() string   { return "X,Y" }

func (p *place) Set(text string) error {
	point, err := entry.ReadPoint(text, beltmath.Millimeter)
	p.point = point
	return err
}

// pathFlags are what a path has besides its wheels.
type pathFlags struct {
	driveFlags
	belt, move, solution               int32
	from, to, pivot                    place
	radius                             length
	fromAngle, toAngle                 float64
	beltHeight, toothHeight, pitchLine length
	picture                            drawFlags
}

func (a *app) pathCommand() *cobra.Command {
	var flags pathFlags
	cmd := &cobra.Command{
		Use:   "path SECTION WHEEL WHEEL...",
		Short: "Find the length of a belt round many wheels, or the place of one of them",
		Long: `Find the length of a belt round 2 to 12 wheels; or, with a belt and a wheel that
may move, every place of that wheel at which the belt fits.

Each WHEEL is given in the order in which the belt meets it, either way round:
  36@0,0       a pulley of 36 teeth with its axis at x 0, y 0
  d60@170,30   a smooth wheel of 60 mm in diameter inside the loop
  b40@170,45   a smooth wheel of 40 mm on the back of the belt
Coordinates and diameters are lengths. The wheel that moves needs no place. It
goes along a line, --from to --to, or round a --pivot at a --radius,
counter-clockwise where --to-angle is the greater; wheels are counted from 1.

Where smooth wheels carry the belt depends on its heights. Those of many sections
are held; of others give --belt-height, --tooth-height and --pitch-line.`,
		Example: `  beltspan path H5M 36@0,0 36@345,0 b40@170,38
  beltspan path H5M 36@0,0 36@345,0 b40 --belt 175 --move 3 --from 170,60 --to 170,0 --svg path.svg
  beltspan path H5M 36@0,0 45@300,0 24@150,-120 --belt 190 --move 3 --pivot 0,0 --radius 190 --from-angle -80 --to-angle -10
  beltspan path --pitch 5 20@0,0 20@8in,0 20@4in,5in --units in`,
		Args: func(cmd *cobra.Command, args []string) error {
			if wheels := len(args) - map[bool]int{false: 1}[flags.pitch.given]; wheels < 2 {
				return &usageError{
					msg:  fmt.Sprintf("path takes SECTION WHEEL WHEEL...: at least 2 wheels, %d given", max(0, wheels)),
					hint: cmd.CommandPath() + " --help shows how to write a wheel",
				}
			}
			return nil
		},
		ValidArgsFunction: a.completeSection(&flags.driveFlags),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			request, err := flags.request(cmd, args)
			if err != nil {
				return err
			}
			names := pathNames(len(request.Wheels))
			var got *pb.SolvePathResponse
			err = answer(cmd, a, question[*pb.SolvePathResponse]{
				ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.SolvePathResponse, error) {
					got, err = pb.NewPathServiceClient(conn).SolvePath(ctx, request)
					return got, err
				},
				names: names,
				text:  func(p *page, r *pb.SolvePathResponse) { p.path(request, r) },
				rows:  entry.PathRows,
			})
			if err != nil {
				return err
			}
			if n := len(got.GetSolutions()); flags.picture.wanted() && (flags.solution < 1 || int(flags.solution) > n) {
				return &usageError{msg: fmt.Sprintf("--solution is %d: give 1 to %d", flags.solution, n)}
			}
			return flags.picture.write(cmd, a, names, func(ctx context.Context, conn grpc.ClientConnInterface, format pb.DrawingFormat) (*httpbody.HttpBody, error) {
				return pb.NewPathServiceClient(conn).DrawPath(ctx, &pb.DrawPathRequest{
					Path: request, SolutionIndex: flags.solution - 1, Format: format,
				})
			})
		}),
	}
	flags.addTo(cmd)
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

func (f *pathFlags) addTo(cmd *cobra.Command) {
	f.addPitch(cmd)
	flags := cmd.Flags()
	flags.Int32Var(&f.belt, "belt", 0, "`TEETH` of the belt; needed with --move")
	flags.Int32Var(&f.move, "move", 0, "`NUMBER` of the wheel whose place is wanted, counted from 1")
	flags.Var(&f.from, "from", "where the way of its axis starts, `X,Y`")
	flags.Var(&f.to, "to", "where the way of its axis ends, `X,Y`")
	flags.Var(&f.pivot, "pivot", "the point `X,Y` that its axis goes round")
	flags.Var(&f.radius, "radius", "distance of its axis from --pivot, a `LENGTH`")
	flags.Float64Var(&f.fromAngle, "from-angle", 0, "`DEGREES` from the x axis where the way round --pivot starts")
	flags.Float64Var(&f.toAngle, "to-angle", 360, "`DEGREES` from the x axis where the way round --pivot ends")
	flags.Var(&f.beltHeight, "belt-height", "height of the belt, back to tooth tip, a `LENGTH`")
	flags.Var(&f.toothHeight, "tooth-height", "height of a belt tooth, a `LENGTH`")
	flags.Var(&f.pitchLine, "pitch-line", "from the outside of a pulley to the pitch line, a `LENGTH`")
	flags.Int32Var(&f.solution, "solution", 1, "`NUMBER` of the solution to draw, counted from 1")
	f.picture.addTo(cmd)
}

// request reads SECTION WHEEL WHEEL... and the flags.
func (f *pathFlags) request(cmd *cobra.Command, args []string) (*pb.SolvePathRequest, error) {
	section, rest := f.section(args)
	r := &pb.SolvePathRequest{
		Section: section, PitchMm: f.pitch.optional(),
		BeltHeightMm: f.beltHeight.optional(), ToothHeightMm: f.toothHeight.optional(), PitchLineDifferentialMm: f.pitchLine.optional(),
	}
	for i, text := range rest {
		wheel, err := entry.ReadWheel(text, beltmath.Millimeter)
		if err != nil {
			return nil, &usageError{
				msg:  fmt.Sprintf("WHEEL %d is %s: %s", i+1, quoted(text), why(err)),
				hint: "beltspan path --help tells more",
			}
		}
		r.Wheels = append(r.Wheels, wheel)
	}
	given := cmd.Flags().Changed
	if given("belt") {
		r.BeltToothCount = &f.belt
	}
	line := f.from.point != nil || f.to.point != nil
	round := f.pivot.point != nil || f.radius.given || given("from-angle") || given("to-angle")
	if !given("move") {
		if line || round {
			return nil, &usageError{msg: "a way is given, but no wheel to move along it", hint: "name it with --move, counted from 1"}
		}
		return r, nil
	}
	switch wheels := len(r.Wheels); {
	case f.move < 1 || int(f.move) > wheels:
		return nil, &usageError{msg: fmt.Sprintf("--move is %d: give the number of one of the %d wheels, counted from 1", f.move, wheels)}
	case !line && !round:
		return nil, &usageError{msg: "--move needs the way of the wheel: --from and --to, or --pivot and --radius"}
	}
	r.Moving = &pb.MovingWheel{WheelIndex: f.move - 1}
	if line {
		r.Moving.Segment = &pb.PathSegment{From: f.from.point, To: f.to.point}
	}
	if round {
		r.Moving.Arc = &pb.PathArc{Center: f.pivot.point, RadiusMm: f.radius.mm, FromDeg: f.fromAngle, ToDeg: f.toAngle}
	}
	return r, nil
}

// path prints the paths, what is asked for first.
func (p *page) path(q *pb.SolvePathRequest, r *pb.SolvePathResponse) {
	for i, s := range r.GetSolutions() {
		if i > 0 {
			p.line("")
		}
		if m := q.GetMoving(); m != nil {
			at := wheelAt(s, int(m.GetWheelIndex()))
			p.facts(
				fact{fmt.Sprintf("position %d of %d", i+1, len(r.GetSolutions())), fmt.Sprintf("wheel %d at x %s, y %s", m.GetWheelIndex()+1, p.length(at.GetXMm()), p.length(at.GetYMm()))},
				fact{"along its way", p.length(s.GetPositionMm())},
				fact{"belt", fmt.Sprintf("%d teeth, %s", q.GetBeltToothCount(), p.length(s.GetBeltLengthMm()))},
				fact{"one " + p.unit.String() + " farther", fmt.Sprintf("the path grows by %+.4f %s", s.GetLengthPerMm(), p.unit)},
			)
		} else {
			p.facts(
				fact{"exact length", fmt.Sprintf("%.4f teeth", s.GetExactToothCount())},
				fact{"belt length", p.length(s.GetBeltLengthMm())},
			)
		}
		p.line("")
		p.wheels(q, s)
	}
	p.notes(r.GetNotes())
}

func wheelAt(s *pb.PathSolution, index int) *pb.Point {
	if index < 0 || index >= len(s.GetWheels()) {
		return nil
	}
	return s.GetWheels()[index].GetCenter()
}

func (p *page) wheels(q *pb.SolvePathRequest, s *pb.PathSolution) {
	unit := " " + p.unit.String()
	rows := [][]string{{"wheel", "rim", "center x" + unit, "y" + unit, "wrap deg", "in mesh", "span to next" + unit}}
	for i, w := range s.GetWheels() {
		rim, mesh := "", ""
		if i < len(q.GetWheels()) {
			rim, mesh = p.rim(q.GetWheels()[i]), "-"
			if q.GetWheels()[i].GetKind() == pb.WheelKind_WHEEL_KIND_TOOTHED {
				mesh = decimal(w.GetMeshedToothCount())
			}
		}
		span := ""
		if i < len(s.GetSpans()) {
			span = p.number(s.GetSpans()[i].GetLengthMm())
		}
		rows = append(rows, []string{
			fmt.Sprint(i + 1), rim, p.number(w.GetCenter().GetXMm()), p.number(w.GetCenter().GetYMm()),
			fmt.Sprintf("%.2f", w.GetWrapAngleDeg()), mesh, span,
		})
	}
	p.align("rlrrrrr", rows)
}

// rim describes a wheel.
func (p *page) rim(w *pb.Wheel) string {
	switch {
	case w.GetKind() == pb.WheelKind_WHEEL_KIND_TOOTHED:
		return decimal(w.GetToothCount()) + " teeth"
	case w.GetSide() == pb.WrapSide_WRAP_SIDE_OUTSIDE:
		return p.length(w.GetDiameterMm()) + " on the back"
	}
	return p.length(w.GetDiameterMm()) + " smooth"
}
