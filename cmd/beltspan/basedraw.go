package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// baseDrawFlags say what to draw, and where to.
type baseDrawFlags struct {
	sourceFlags
	sheet, paper, out string
}

var (
	sheetWords = map[string]pb.Sheet{
		"plan": pb.Sheet_SHEET_PLAN, "drill": pb.Sheet_SHEET_DRILL_TEMPLATE, "stack": pb.Sheet_SHEET_STACK,
	}
	paperWords = map[string]pb.Paper{"": pb.Paper_PAPER_UNSPECIFIED, "a4": pb.Paper_PAPER_A4, "letter": pb.Paper_PAPER_LETTER}
)

func (a *app) baseDrawCommand() *cobra.Command {
	var flags baseDrawFlags
	cmd := &cobra.Command{
		Use:   "draw [FILE]",
		Short: "Draw a base: side view, drill template, sections through the axles",
		Long: `Draw the base of a layout file in its true size, with dimensions, tables and a bar
of 100 mm.

  plan   the side view: rail, wheels, belts as they run, standoffs, holes
  drill  the plate and its holes, to lay on the plate or to cut from
  stack  a section through each axle: spacers, pulleys, lanes and wheel

The ending of --out is the format: .svg for a browser or a vector program, .dxf
for CAD and sheet cutters (release 12, millimeters), .html for paper: with --paper
the drawing comes on pages to print and join. Print at 100 %, "actual size", and
measure the bar before you drill.`,
		Example: `  beltspan base draw --demo --out plan.svg
  beltspan base draw base.json --sheet drill --out plate.dxf
  beltspan base draw base.json --sheet drill --paper letter --out drill.html
  beltspan base draw base.json --sheet stack --out stack.svg`,
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			return a.baseDraw(cmd, args, &flags)
		}),
	}
	flags.add(cmd)
	f := cmd.Flags()
	f.SortFlags = false
	f.StringVar(&flags.sheet, "sheet", "plan", "what to draw: plan, drill or stack; `SHEET`")
	f.StringVar(&flags.paper, "paper", "", "print on pages of `PAPER` a4 or letter")
	f.StringVar(&flags.out, "out", "", "`FILE` to write, ending in .svg, .dxf or .html")
	a.output.add(f)
	completeWords(cmd, "sheet", "plan", "drill", "stack")
	completeWords(cmd, "paper", "a4", "letter")
	return cmd
}

func (a *app) baseDraw(cmd *cobra.Command, args []string, flags *baseDrawFlags) error {
	held, err := a.readLayout(cmd, args, &flags.sourceFlags)
	if err != nil {
		return err
	}
	request := &pb.DrawBaseRequest{Base: held.GetBase()}
	if err := flags.fill(request); err != nil {
		return err
	}
	if flags.request {
		return a.printRequest(request)
	}
	conn, hangUp, err := a.connect()
	if err != nil {
		return err
	}
	defer hangUp()
	ctx, cancel := context.WithTimeout(cmd.Context(), callTimeout)
	defer cancel()
	body, err := pb.NewBaseServiceClient(conn).DrawBase(ctx, request)
	if err != nil {
		return newRefusal(err, nil, &a.output.remoteFlags)
	}
	if err := writeWhole(flags.out, body.GetData()); err != nil {
		return err
	}
	return a.print(fmt.Sprintf("wrote %s, %d bytes: print it at 100 %% and measure the 100 mm bar before you drill\n", flags.out, len(body.GetData())))
}

// fill reads sheet, paper and format.
func (f *baseDrawFlags) fill(r *pb.DrawBaseRequest) error {
	var ok bool
	if r.Sheet, ok = sheetWords[f.sheet]; !ok {
		return &usageError{msg: "--sheet is " + quoted(f.sheet) + ": give plan, drill or stack"}
	}
	if r.Paper, ok = paperWords[f.paper]; !ok {
		return &usageError{msg: "--paper is " + quoted(f.paper) + ": give a4 or letter"}
	}
	switch ending := strings.ToLower(filepath.Ext(f.out)); {
	case f.out == "" && f.request:
	case f.out == "":
		return &usageError{msg: "--out is needed: a file such as " + f.sheet + ".svg or " + f.sheet + ".dxf"}
	case ending == ".html" && f.paper == "":
		return &usageError{msg: "--out is " + quoted(f.out) + ": pages need --paper a4 or --paper letter"}
	case f.paper != "" && ending != ".html":
		return &usageError{msg: "--out is " + quoted(f.out) + ": with --paper it ends in .html"}
	case ending == ".svg", ending == ".html":
		r.Format = pb.DrawingFormat_DRAWING_FORMAT_SVG
	case ending == ".dxf":
		r.Format = pb.DrawingFormat_DRAWING_FORMAT_DXF
	default:
		return &usageError{msg: "--out is " + quoted(f.out) + ": end it in .svg, .dxf or .html"}
	}
	return nil
}
