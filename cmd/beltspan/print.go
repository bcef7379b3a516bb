package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server"
	"github.com/beltspan/beltspan/server/entry"
)

// outputFlags say who answers and in which form.
type outputFlags struct {
	remoteFlags
	json, csv bool
	units     unitFlag
}

// addOutput adds the flags of a command that answers.
func (a *app) addOutput(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.SortFlags = false
	flags.BoolVar(&a.output.json, "json", false, "print the JSON that REST returns, errors too, to stdout")
	flags.Var(&a.output.units, "units", "print lengths in `mm|in`")
	completeWords(cmd, "units", "mm", "in")
	a.output.add(flags)
}

// addCSV adds --csv to a command whose answer is rows.
func (a *app) addCSV(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&a.output.csv, "csv", false, "print rows in millimeters, all digits")
}

// print writes an answer, and fails where it cannot be written.
func (a *app) print(text string) error {
	_, err := io.WriteString(a.stdout, text)
	return err
}

func (a *app) printJSON(m proto.Message) error {
	text, err := server.MarshalJSON(m)
	if err != nil {
		return err
	}
	return a.print(string(text) + "\n")
}

func (a *app) printCSV(rows [][]string) error {
	return csv.NewWriter(a.stdout).WriteAll(rows)
}

// digits writes a number with all its digits.
func digits(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func decimal(n int32) string { return strconv.Itoa(int(n)) }

// page is an answer for people as it grows.
type page struct {
	strings.Builder
	unit  beltmath.Unit
	names fieldNames
}

func (p *page) line(format string, args ...any) { _, _ = fmt.Fprintf(p, format+"\n", args...) }

// length writes a length with its unit.
func (p *page) length(mm float64) string { return beltmath.FormatLength(mm, p.unit) }

// number writes a length without its unit, for tables whose heads name it.
func (p *page) number(mm float64) string {
	return strings.TrimSuffix(p.length(mm), " "+p.unit.String())
}

// shift writes a signed length with its unit.
func (p *page) shift(mm float64) string { return signed(p.length(mm)) }

func signed(text string) string {
	if strings.HasPrefix(text, "-") {
		return text
	}
	return "+" + text
}

// drillLength writes a length that a hole is set out by. In inches it adds the
// nearest 1/64 and how far off that is: a rule is seldom good enough.
func (p *page) drillLength(mm float64) string {
	text := p.length(mm)
	if p.unit != beltmath.Inch {
		return text
	}
	fraction := beltmath.FormatInchFraction(mm)
	back, err := beltmath.ReadLengthMM(fraction)
	if err != nil {
		return text
	}
	off := strings.TrimPrefix(p.length(back-mm), "-")
	switch {
	case off == p.length(0):
		return text + "  (" + fraction + ")"
	case back < mm:
		return text + "  (" + fraction + " is " + off + " short)"
	}
	return text + "  (" + fraction + " is " + off + " long)"
}

// inUnit puts the lengths of a text, which the service writes in millimeters,
// into the unit asked for: "820 x 120 x 6 mm" too. A bound is rounded to its
// safe side.
func (p *page) inUnit(text string) string {
	if p.unit == beltmath.Millimeter {
		return text
	}
	return lengthsInText.ReplaceAllStringFunc(text, func(found string) string {
		bound := ""
		for _, b := range []string{"at least ", "at most "} {
			if rest, ok := strings.CutPrefix(found, b); ok {
				bound, found = b, rest
			}
		}
		sizes := strings.Split(strings.TrimSuffix(found, " mm"), " x ")
		for i, text := range sizes {
			mm, _ := strconv.ParseFloat(text, 64)
			sizes[i] = p.bounded(mm, bound)
		}
		return bound + strings.Join(sizes, " x ") + " " + p.unit.String()
	})
}

var lengthsInText = regexp.MustCompile(`(at least |at most )?([0-9.]+ x )*[0-9]+(\.[0-9]+)? mm\b`)

// bounded writes a length without needless zeros and, as a bound, no less than
// it is or no more.
func (p *page) bounded(mm float64, bound string) string {
	text := p.number(mm)
	back, err := beltmath.ReadLengthMM(text + p.unit.String())
	last, errLast := beltmath.ReadLengthMM("0.00001" + p.unit.String())
	switch {
	case err != nil || errLast != nil:
	case bound == "at least " && back < mm:
		text = p.number(mm + last)
	case bound == "at most " && back > mm:
		text = p.number(max(0, mm-last))
	}
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

// fact is a labeled value.
type fact struct{ label, value string }

// facts prints labeled values below each other.
func (p *page) facts(facts ...fact) {
	rows := make([][]string, len(facts))
	for i, f := range facts {
		rows[i] = []string{f.label, f.value}
	}
	p.align("", rows)
}

// align prints rows in columns, two spaces apart. sides has a letter a column,
// l for left and r for right; columns beyond it are left.
func (p *page) align(sides string, rows [][]string) {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, row := range rows {
		var line strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell))
			if i < len(sides) && sides[i] == 'r' {
				cell, pad = pad+cell, ""
			}
			line.WriteString(cell + pad + "  ")
		}
		p.line("%s", strings.TrimRight(line.String(), " "))
	}
}

// notes prints what deserves a look, below a blank line.
func (p *page) notes(notes []*pb.Note) {
	if len(notes) > 0 {
		p.line("")
	}
	for _, n := range notes {
		p.note(n)
	}
}

func (p *page) note(n *pb.Note) {
	kind := "note"
	if n.GetSeverity() == pb.Severity_SEVERITY_CAUTION {
		kind = "caution"
	}
	about := ""
	if n.GetField() != "" {
		about = p.names.of(n.GetField()) + ": "
	}
	p.line("%s: %s%s", kind, about, p.names.reword(n.GetMessage()))
}

// beltName writes a belt as its teeth and, where its section is known, as it
// is printed.
func beltName(drive *pb.Drive) string {
	teeth := decimal(drive.GetBeltToothCount()) + " teeth"
	if designation := entry.BeltDesignation(drive); designation != "" {
		return teeth + ", " + designation
	}
	return teeth
}
