package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

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
	paths                   []string // of the request, whose faults are shown here
	each                    string   // what one of its values is, where it holds a list
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
	names  []string // of further parameters that belong to it
}

// newForm fills a form from the values of a request. The form is asked as soon
// as one of its visible fields is given.
func newForm(v *view, values url.Values, button string, groups ...*group) *form {
	f := &form{Groups: groups, Button: button, unit: v.Unit, names: []string{"units", "format"}}
	for field := range f.fields() {
		f.names = append(f.names, field.Name)
		given, ok := values[field.Name]
		if !ok {
			continue
		}
		field.Value = strings.TrimSpace(given[0])
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

func (f *form) find(name string) *field {
	for field := range f.fields() {
		if field.Name == name {
			return field
		}
	}
	return nil
}

// unknown lists the parameters that the form has not.
func (f *form) unknown(values url.Values) []string {
	var unknown []string
	for name := range values {
		if !slices.Contains(f.names, name) {
			unknown = append(unknown, name)
		}
	}
	slices.Sort(unknown)
	return unknown
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

// has tells whether a field was given.
func (f *form) has(name string) bool { return f.text(name) != "" }

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

// refuse shows an error of the service beside the fields it is about. Faults
// that the form found before stay.
func (f *form) refuse(err error) {
	s := status.Convert(err)
	f.code = s.Code()
	shown := false
	for _, detail := range s.Details() {
		request, ok := detail.(*errdetails.BadRequest)
		if !ok {
			continue
		}
		for _, violation := range request.GetFieldViolations() {
			f.show(violation.GetField(), violation.GetDescription())
			shown = true
		}
	}
	if !shown {
		f.Faults = append(f.Faults, sentence(s.Message()))
	}
}

// show puts a fault beside the field that a path belongs to.
func (f *form) show(path, description string) {
	field := f.owner(path)
	text := f.reword(description)
	if rest, ok := strings.CutPrefix(description, path+" is "); ok && field != nil {
		text = f.reword(withoutValue(rest))
	}
	if field == nil || field.Kind != kindCount && field.Kind != kindNumber {
		text = f.inMM(text)
	}
	if field != nil && field.each != "" {
		if index := listIndex.FindStringSubmatch(path); index != nil {
			n, _ := strconv.Atoi(index[1]) // the pattern has digits only
			text = fmt.Sprintf("%s %d: %s", field.each, n+1, text)
		}
	}
	text = sentence(text)
	switch {
	case field == nil:
		f.Faults = append(f.Faults, text)
	case field.Error == "":
		field.Error = text
	}
}

// owner finds the field of a path: the one that names most of it, with or
// without its places in lists.
func (f *form) owner(path string) *field {
	plain := listIndex.ReplaceAllString(path, "")
	within := func(path, p string) bool { return path == p || strings.HasPrefix(path, p+".") }
	var best *field
	longest := 0
	for field := range f.fields() {
		for _, p := range field.paths {
			if (within(plain, p) || within(path, p)) && len(p) > longest {
				best, longest = field, len(p)
			}
		}
	}
	return best
}

var listIndex = regexp.MustCompile(`\[([0-9]+)\]`)

// withoutValue drops the value from "36: give more", for it stands in its
// field.
func withoutValue(text string) string {
	if quoted, err := strconv.QuotedPrefix(text); err == nil {
		text = strings.TrimPrefix(text, quoted)
	}
	if _, rest, ok := strings.Cut(text, ": "); ok {
		return rest
	}
	return text
}

// reword puts the labels of the form where text names fields of the request.
func (f *form) reword(text string) string {
	for field := range f.fields() {
		for _, path := range field.paths {
			last := path[strings.LastIndexByte(path, '.')+1:]
			if strings.Contains(last, "_") {
				text = regexp.MustCompile(`\b(?:[a-z_]+\.)*`+last+`\b`).ReplaceAllLiteralString(text, "“"+field.Label+"”")
			}
		}
	}
	return text
}

// hasBareLengths tells whether a text of the service may hold lengths without
// their unit, which are millimeters, on a page in inches.
func (f *form) hasBareLengths(text string) bool {
	return f.unit == beltmath.Inch && strings.ContainsAny(text, "0123456789") && !strings.Contains(text, " mm")
}

// inMM says so where it matters.
func (f *form) inMM(text string) string {
	if f.hasBareLengths(text) {
		text += " (lengths here are in millimeters)"
	}
	return text
}

// settle marks the first field at fault and returns the status of the page.
func (f *form) settle() int {
	if bad := f.Bad(); len(bad) > 0 {
		bad[0].Focus = true
	}
	switch {
	case !f.faulty():
		return http.StatusOK
	case f.code == codes.OK || f.code == codes.InvalidArgument || f.code == codes.NotFound:
		return http.StatusBadRequest
	}
	return runtime.HTTPStatusFromCode(f.code)
}
