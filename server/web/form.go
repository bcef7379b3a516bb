package web

import (
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// The kinds of fields.
const (
	kindText    = "text"
	kindCount   = "count"   // a whole number
	kindNumber  = "number"  // a plain number
	kindLength  = "length"  // a length in the page's unit, or with its own
	kindLengths = "lengths" // one for all axles, or one an axle, with commas
	kindSelect  = "select"
	kindCheck   = "check"
	kindArea    = "area" // text of several lines
	kindHidden  = "hidden"
	kindFile    = "file"
)

// field is one input of a form.
type field struct {
	Name, Label, Hint, Kind string
	Suffix                  string // unit behind the label, where it is no length
	Value, Error            string
	Options                 []option
	Focus                   bool     // the first at fault
	Needed                  bool     // nothing can be asked without it
	paths                   []string // of the request, whose faults are shown here
	each                    string   // what one of its values is, where it holds a list
	counted                 []int    // which of its values went into the request, where not all did
	words                   []string // for each of its paths in texts, in place of its label
	// inUnit names the unit of the lengths in it that have none; nil where it
	// holds no length, or one alone.
	inUnit func(string, beltmath.Unit) string
}

type option struct{ Value, Label, Group string }

// group is fields that belong together; one that is Folded opens on demand.
type group struct {
	Legend string
	Folded bool
	Fields []*field
}

// Open tells whether a folded group holds something worth seeing.
func (g *group) Open() bool {
	return slices.ContainsFunc(g.Fields, func(f *field) bool { return f.Value != "" || f.Error != "" })
}

// form is the question of a page.
type form struct {
	Groups []*group
	Button string
	Faults []string // that belong to no single field
	Asked  bool     // whether there is a question
	unit   beltmath.Unit
	code   codes.Code
	names  []string // of all parameters that belong to it
	given  url.Values
}

// newForm fills a form from the values of a request. The form is asked as soon
// as one of its visible fields is given.
func newForm(v *view, values url.Values, button string, groups ...*group) *form {
	f := &form{Groups: groups, Button: button, unit: v.Unit, names: []string{"units", "format"}, given: values}
	for field := range f.fields() {
		f.names = append(f.names, field.Name)
		given, ok := values[field.Name]
		if !ok {
			continue
		}
		field.Value = strings.TrimSpace(given[0])
		if field.Kind == kindCheck && field.Value != "" && field.Value != "1" {
			field.Error = "Give 1 for yes, or leave it out"
		}
		f.Asked = f.Asked || field.Kind != kindHidden
	}
	v.Form = f
	return f
}

// fields ranges over all fields.
func (f *form) fields() func(func(*field) bool) {
	return func(yield func(*field) bool) {
		for _, g := range f.Groups {
			for _, field := range g.Fields {
				if !yield(field) {
					return
				}
			}
		}
	}
}

// need marks fields without which nothing can be asked.
func (f *form) need(names ...string) {
	for _, name := range names {
		f.find(name).Needed = true
	}
}

func (f *form) find(name string) *field {
	for field := range f.fields() {
		if field.Name == name {
			return field
		}
	}
	return nil
}

// Bad lists the fields at fault.
func (f *form) Bad() []*field {
	var bad []*field
	for field := range f.fields() {
		if field.Error != "" {
			bad = append(bad, field)
		}
	}
	return bad
}

// faulty tells whether there is anything to mend.
func (f *form) faulty() bool { return len(f.Bad()) > 0 || len(f.Faults) > 0 }

// Has tells whether a field was given.
func (f *form) Has(name string) bool { return f.text(name) != "" }

func (f *form) text(name string) string {
	if field := f.find(name); field != nil {
		return field.Value
	}
	return ""
}

func (f *form) check(name string) bool { return f.text(name) != "" }

// read reads an optional value, and keeps what is wrong with it.
func read[T any](f *form, name string, parse func(string) (T, error)) *T {
	field := f.find(name)
	if field == nil || field.Value == "" {
		return nil
	}
	value, err := parse(field.Value)
	if err != nil {
		field.Error = sentence(entry.Why(err))
		return nil
	}
	return &value
}

func (f *form) count(name string) *int32 {
	return read(f, name, func(text string) (int32, error) {
		n, ok := entry.ReadCount(text)
		if !ok {
			return 0, errors.New("give a whole number, such as 36")
		}
		return n, nil
	})
}

func (f *form) number(name string) *float64 {
	return read(f, name, func(text string) (float64, error) {
		n, ok := entry.ReadNumber(text)
		if !ok {
			return 0, errors.New("give a plain number, such as 5.5")
		}
		return n, nil
	})
}

func (f *form) length(name string) *float64 {
	return read(f, name, func(text string) (float64, error) { return entry.ReadLength(text, f.unit) })
}

func (f *form) counts(name string) *pb.ToothCounts {
	counts := read(f, name, entry.ReadCounts)
	if counts == nil {
		return nil
	}
	if c := *counts; c.Min != nil && c.Max != nil && c.GetMax() < c.GetMin() {
		f.find(name).Error = fmt.Sprintf("Write the lesser number first: %d..%d", c.GetMax(), c.GetMin())
	}
	return *counts
}

// or is a value, or nothing at all where it was not given.
func or[T any](value *T) T {
	if value == nil {
		var none T
		return none
	}
	return *value
}
