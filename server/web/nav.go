package web

import (
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// link is a way to another page or question.
type link struct {
	Label, URL string
	Here       bool
}

// Menu is the way to every page.
func (v *view) Menu() []link {
	var menu []link
	for _, page := range []struct{ label, path string }{
		{"Drive", "/drive"},
		{"Spacings", "/spacings"},
		{"Base", "/base"},
		{"Path", "/path"},
		{"Fit", "/fit"},
		{"Load", "/load"},
		{"Substitutes", "/substitutes"},
		{"Batch", "/batch"},
		{"Sections", "/sections"},
		{"API", "/api"},
	} {
		here := v.Path == page.path || strings.HasPrefix(v.Path, page.path+"/")
		menu = append(menu, link{page.label, v.To(page.path), here})
	}
	return menu
}

// Tabs are the questions of pages that have several. What was typed goes along
// where the other question takes it.
func (v *view) Tabs() []link {
	switch v.Path {
	case "/drive":
		var tabs []link
		for _, tab := range []struct{ label, find string }{
			{"Center distance", findCenter}, {"Belt", findBelt}, {"Driven pulley", findPulley},
		} {
			tabs = append(tabs, link{tab.label, v.With("find", tab.find, "format", ""), v.Form.text("find") == tab.find})
		}
		return tabs
	case "/base", "/base/layout":
		shared := []string{"wheels", "wheel", "drop", "motors", "stock", "sides", "belt_width"}
		return []link{v.tab("Find a plan", "/base", shared), v.tab("Lay it out", "/base/layout", shared)}
	case "/substitutes", "/substitutes/shared-hole":
		shared := []string{"section", "pitch", "belt", "driver", "driven"}
		for _, f := range limitFields() {
			shared = append(shared, f.Name)
		}
		return []link{v.tab("For holes that are drilled", "/substitutes", shared), v.tab("One hole for two belts", "/substitutes/shared-hole", shared)}
	}
	return nil
}

// tab leads to another question, with what both take; the one that is shown
// stays as it is.
func (v *view) tab(label, path string, shared []string) link {
	if path == v.Path {
		return link{label, v.With("format", ""), true}
	}
	var pairs []any
	for _, name := range shared {
		pairs = append(pairs, name, v.query.Get(name))
	}
	return link{label, v.To(path, pairs...), false}
}

// Fresh is the page without a question.
func (v *view) Fresh() string { return v.To(v.Path, "find", v.query.Get("find")) }

// Typed is a length as a form takes it.
func (v *view) Typed(mm float64) string { return strings.ReplaceAll(v.Len(mm), " ", "") }

// Allowance is the allowance of the question in millimeters.
func (v *view) Allowance() float64 { return or(v.Form.length("allowance")) }

// input is a field with the unit it is read in.
type input struct {
	Field *field
	Unit  string
}

// Input prepares a field for its template.
func (v *view) Input(f *field) input {
	unit := f.Suffix
	if f.Kind == kindLength || f.Kind == kindLengths {
		unit = v.Unit.String()
	}
	return input{f, unit}
}

// given is what was typed into one field.
type given struct{ Label, Value string }

// Given is the question of an answer, for paper, where no form is. A text as
// long as a file is left out.
func (v *view) Given() []given {
	if v.Answer == nil || v.Form == nil || !v.Form.Asked {
		return nil
	}
	const most = 1000
	var out []given
	for f := range v.Form.fields() {
		value := f.Value
		switch {
		case value == "" || len(value) > most || f.Kind == kindHidden || f.Kind == kindFile:
			continue
		case f.Kind == kindCheck:
			value = "yes"
		case f.inUnit != nil:
			value = f.inUnit(value, v.Unit)
		case f.Kind == kindLength || f.Kind == kindLengths:
			value = withUnit(value, v.Unit)
		case f.Suffix != "":
			value += " " + f.Suffix
		}
		out = append(out, given{f.Label, value})
	}
	return out
}

// pulleyRow is one pulley in the table of a drive.
type pulleyRow struct {
	View   *view
	Name   string
	Pulley *pb.PulleyGeometry
}

// Row prepares a pulley for its template.
func (v *view) Row(name string, p *pb.PulleyGeometry) pulleyRow { return pulleyRow{v, name, p} }

// optionGroup is options under one label.
type optionGroup struct {
	Label   string
	Options []option
}

// Grouped are the options of a field under their labels, in their order.
func (f *field) Grouped() []optionGroup {
	var groups []optionGroup
	for _, o := range f.Options {
		if len(groups) == 0 || groups[len(groups)-1].Label != o.Group {
			groups = append(groups, optionGroup{Label: o.Group})
		}
		last := &groups[len(groups)-1]
		last.Options = append(last.Options, o)
	}
	return groups
}

// findSection is a section of the tables, or nil.
func findSection(designation string) *beltmath.Section {
	s, ok := beltmath.SectionByName(designation)
	if !ok {
		return nil
	}
	return s
}

// Short is a length of a table without its unit and without closing zeros.
func (v *view) Short(mm float64) string {
	return strings.TrimSuffix(strings.TrimRight(v.Num(mm), "0"), ".")
}

// said is a note in the words of a page.
type said struct {
	Caution bool
	Text    string
}

// Notes puts notes into the words of the page.
func (v *view) Notes(notes []*pb.Note) []said {
	var out []said
	bare := false
	for _, n := range notes {
		bare = bare || v.Form.hasBareLengths(n.GetMessage())
		text := n.GetMessage()
		if field := v.Form.owner(n.GetField()); field != nil {
			text = field.reword(text)
		}
		out = append(out, said{n.GetSeverity() == pb.Severity_SEVERITY_CAUTION, sentence(v.Form.reword(text))})
	}
	if bare {
		out = append(out, said{Text: "Lengths in these notes are in millimeters"})
	}
	return out
}

// Say puts a text of the service into the words of the page.
func (v *view) Say(text string) string { return sentence(v.Form.inMM(v.Form.reword(text))) }

// Pieces are the pieces of a bar, equal ones counted.
func (v *view) Pieces(bar *pb.Bar) []string {
	var pieces []string
	count, last := 0, ""
	flush := func() {
		switch {
		case count == 1:
			pieces = append(pieces, last)
		case count > 1:
			pieces = append(pieces, strconv.Itoa(count)+" of "+last)
		}
	}
	for _, p := range bar.GetPieces() {
		text := p.GetName() + " " + v.Num(p.GetLengthMm())
		if text != last {
			flush()
			count, last = 0, text
		}
		count++
	}
	flush()
	return pieces
}

// sheetRow is a drawing of a base with its files.
type sheetRow struct {
	View        *view
	Label, Name string
}

// Sheet prepares a drawing for its template.
func (v *view) Sheet(label, name string) sheetRow { return sheetRow{v, label, name} }
