package main

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// largestPage is the most rows one call lists.
const largestPage = 1000

var sectionNames = fieldNames{"section": "SECTION"}

func (a *app) sectionsCommand() *cobra.Command {
	var lengths bool
	cmd := &cobra.Command{
		Use:   "sections [SECTION]",
		Short: "List belt sections, or one section's values or belt lengths",
		Long: `List the belt sections that are held; with SECTION tell one with the source of
each value; with --lengths list its standard belt lengths.

A value marked * is not verified: it was seen in one source only or is from
memory. Check it against your supplier's table before you rely on it.`,
		Example: `  beltspan sections
  beltspan sections H5M --units in
  beltspan sections H5M --lengths --csv`,
		Args: func(_ *cobra.Command, args []string) error {
			switch {
			case len(args) > 1:
				return &usageError{msg: "sections takes one SECTION, " + strconv.Itoa(len(args)) + " given"}
			case lengths && len(args) == 0:
				return &usageError{msg: "--lengths needs a SECTION", hint: "beltspan sections H5M --lengths"}
			}
			return nil
		},
		ValidArgsFunction: a.completeSection(&driveFlags{}),
		RunE: a.begin(func(cmd *cobra.Command, args []string) error {
			switch {
			case lengths:
				return answer(cmd, a, lengthsQuestion(args[0]))
			case len(args) == 1:
				return answer(cmd, a, sectionQuestion(args[0]))
			}
			return answer(cmd, a, sectionsQuestion())
		}),
	}
	cmd.Flags().BoolVar(&lengths, "lengths", false, "list the section's standard belt lengths")
	a.addOutput(cmd)
	a.addCSV(cmd)
	return cmd
}

func sectionsQuestion() question[*pb.ListSectionsResponse] {
	return question[*pb.ListSectionsResponse]{
		ask:  listSections,
		text: (*page).sections,
		rows: func(r *pb.ListSectionsResponse) [][]string { return sectionRows(r.Sections...) },
	}
}

// listSections asks for all sections, page after page.
func listSections(ctx context.Context, conn grpc.ClientConnInterface) (*pb.ListSectionsResponse, error) {
	all, token := &pb.ListSectionsResponse{}, ""
	for {
		r, err := pb.NewSectionServiceClient(conn).ListSections(ctx,
			&pb.ListSectionsRequest{PageSize: new(int32(largestPage)), PageToken: token})
		if err != nil {
			return nil, err
		}
		all.Sections = append(all.Sections, r.Sections...)
		if token = r.NextPageToken; token == "" {
			return all, nil
		}
	}
}

func sectionQuestion(section string) question[*pb.GetSectionResponse] {
	return question[*pb.GetSectionResponse]{
		ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.GetSectionResponse, error) {
			return pb.NewSectionServiceClient(conn).GetSection(ctx, &pb.GetSectionRequest{Section: section})
		},
		names: sectionNames,
		text:  func(p *page, r *pb.GetSectionResponse) { p.section(r.Section) },
		rows:  func(r *pb.GetSectionResponse) [][]string { return sectionRows(r.Section) },
	}
}

func lengthsQuestion(section string) question[*pb.ListBeltLengthsResponse] {
	return question[*pb.ListBeltLengthsResponse]{
		ask: func(ctx context.Context, conn grpc.ClientConnInterface) (*pb.ListBeltLengthsResponse, error) {
			return listLengths(ctx, conn, section)
		},
		names: sectionNames,
		text:  (*page).beltLengths,
		rows:  lengthRows,
	}
}

// listLengths asks for all standard lengths of a section, page after page.
func listLengths(ctx context.Context, conn grpc.ClientConnInterface, section string) (*pb.ListBeltLengthsResponse, error) {
	all, token := &pb.ListBeltLengthsResponse{}, ""
	for {
		r, err := pb.NewSectionServiceClient(conn).ListBeltLengths(ctx,
			&pb.ListBeltLengthsRequest{Section: section, PageSize: new(int32(largestPage)), PageToken: token})
		if err != nil {
			return nil, err
		}
		all.BeltLengths = append(all.BeltLengths, r.BeltLengths...)
		if token = r.NextPageToken; token == "" {
			return all, nil
		}
	}
}

func (p *page) sections(r *pb.ListSectionsResponse) {
	unit := " " + p.unit.String()
	rows := [][]string{{"section", "system", "pitch" + unit, "pitch line differential" + unit, "least teeth"}}
	for _, s := range r.Sections {
		rows = append(rows, []string{
			s.GetSection(), s.GetSystem(), p.value(s.GetPitchMm(), p.number), p.value(s.GetPitchLineDifferentialMm(), p.number),
			p.value(s.GetMinToothCount(), digits),
		})
	}
	p.align("llrrr", rows)
	p.unverified()
}

// value writes a table value, with a mark where it is not verified.
func (p *page) value(v *pb.Value, write func(float64) string) string {
	switch {
	case v == nil || v.Value == nil:
		return "- "
	case v.Verified:
		return write(*v.Value) + " "
	}
	return write(*v.Value) + "*"
}

// unverified explains the mark.
func (p *page) unverified() {
	p.line("\n* not verified: check it against your supplier's table before you rely on it")
}

func (p *page) section(s *pb.Section) {
	var legend sourceLegend
	row := func(label string, v *pb.Value, write func(float64) string) []string {
		return []string{label, p.value(v, write), legend.shorten(v.GetSource())}
	}
	newtons := func(v float64) string { return digits(v) + " N" }
	mass := func(v float64) string { return digits(v) + " kg/m" }
	p.facts(fact{"section", s.GetSection()}, fact{"system", s.GetSystem()}, fact{"standard", s.GetStandard()})
	p.line("")
	rows := [][]string{
		{"", "value ", "source"},
		row("pitch", s.GetPitchMm(), p.length),
		row("pitch line differential, radial", s.GetPitchLineDifferentialMm(), p.length),
		row("least recommended pulley teeth", s.GetMinToothCount(), digits),
		row("belt height, back to tooth tip", s.GetBeltHeightMm(), p.length),
		row("tooth height", s.GetToothHeightMm(), p.length),
	}
	for _, width := range s.GetWidthsMm() {
		rows = append(rows, row("usual belt width", width, p.length))
	}
	rows = append(rows,
		row("rating: base width", s.GetRating().GetBaseWidthMm(), p.length),
		row("rating: working tension", s.GetRating().GetWorkingTensionN(), newtons),
		row("rating: mass", s.GetRating().GetMassKgPerM(), mass),
	)
	p.align("lr", rows)
	p.line("")
	p.align("", legend)
	p.unverified()
}

// sourceLegend holds the titles that were cut out of sources, each behind its
// tag.
type sourceLegend [][]string

// shorten leaves the tags of a source and moves their titles to the legend.
func (l *sourceLegend) shorten(source string) string {
	for _, s := range beltmath.Sources() {
		explained := beltmath.ExplainSource(s.Tag)
		if !strings.Contains(source, explained) {
			continue
		}
		source = strings.ReplaceAll(source, explained, s.Tag)
		row := []string{s.Tag, s.Title}
		if !slices.ContainsFunc(*l, func(r []string) bool { return r[0] == s.Tag }) {
			*l = append(*l, row)
		}
	}
	return source
}

func (p *page) beltLengths(r *pb.ListBeltLengthsResponse) {
	if len(r.BeltLengths) == 0 {
		p.line("no standard lengths are held for this section")
		return
	}
	rows := [][]string{{"belt", "teeth", "pitch length " + p.unit.String() + " "}}
	for _, b := range r.BeltLengths {
		length := &pb.Value{Value: &b.BeltLengthMm, Verified: b.Verified}
		rows = append(rows, []string{b.Designation, decimal(b.ToothCount), p.value(length, p.number)})
	}
	p.align("lrr", rows)
	p.unverified()
}

func sectionRows(sections ...*pb.Section) [][]string {
	rows := [][]string{{
		"section", "system", "standard", "pitch_mm", "pitch_mm_verified", "pitch_line_differential_mm",
		"pitch_line_differential_mm_verified", "min_tooth_count", "min_tooth_count_verified", "widths_mm",
	}}
	for _, s := range sections {
		row := []string{s.GetSection(), s.GetSystem(), s.GetStandard()}
		for _, v := range []*pb.Value{s.GetPitchMm(), s.GetPitchLineDifferentialMm(), s.GetMinToothCount()} {
			row = append(row, plain(v), strconv.FormatBool(v.GetVerified()))
		}
		var widths []string
		for _, w := range s.GetWidthsMm() {
			widths = append(widths, plain(w))
		}
		rows = append(rows, append(row, strings.Join(widths, " ")))
	}
	return rows
}

// plain writes a table value with all digits, nothing where none is held.
func plain(v *pb.Value) string {
	if v == nil || v.Value == nil {
		return ""
	}
	return digits(*v.Value)
}

func lengthRows(r *pb.ListBeltLengthsResponse) [][]string {
	rows := [][]string{{"belt_designation", "belt_tooth_count", "belt_length_mm", "source", "verified"}}
	for _, b := range r.BeltLengths {
		rows = append(rows, []string{
			b.Designation, decimal(b.ToothCount), digits(b.BeltLengthMm), b.Source, strconv.FormatBool(b.Verified),
		})
	}
	return rows
}
