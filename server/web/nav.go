package web

import (
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
		{"Drive", "/drive"}, {"Spacings", "/spacings"}, {"Base", "/base"}, {"Fit", "/fit"}, {"Batch", "/batch"},
		{"Sections", "/sections"}, {"API", "/api"},
	} {
		here := v.Path == page.path || strings.HasPrefix(v.Path, page.path+"/")
		menu = append(menu, link{page.label, v.To(page.path), here})
	}
	return menu
}

// Tabs are the three questions of the page of a drive. What was typed goes
// along.
func (v *view) Tabs() []link {
	var tabs []link
	for _, tab := range []struct{ label, find string }{
		{"Center distance", findCenter}, {"Belt", findBelt}, {"Driven pulley", findPulley},
	} {
		tabs = append(tabs, link{tab.label, v.With("find", tab.find, "format", ""), v.Form.text("find") == tab.find})
	}
	return tabs
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
