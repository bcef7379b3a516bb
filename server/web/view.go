package web

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// view is what a template shows.
type view struct {
	Title  string
	Path   string
	Unit   beltmath.Unit
	Form   *form
	Answer any // of the page; nil where nothing was asked or it was refused
	Status int
	Strays []stray // what the address holds beside the question
	site   string  // scheme and host
	query  url.Values
	// unreadable tells that the query is broken, so that some of it is missing.
	unreadable bool
}

func newView(r *http.Request) *view {
	v := &view{
		Path: r.URL.Path, query: r.URL.Query(), Status: http.StatusOK, site: "http://" + r.Host,
		unreadable: !readable(r.URL.RawQuery),
	}
	if r.TLS != nil {
		v.site = "https://" + r.Host
	}
	if v.query.Get("units") == "in" {
		v.Unit = beltmath.Inch
	}
	return v
}

// helpers are the functions of the templates beside the view's methods.
var helpers = template.FuncMap{
	"fixed":    func(decimals int, v float64) string { return strconv.FormatFloat(v, 'f', decimals, 64) },
	"signed":   signed,
	"percent":  func(v float64) string { return fmt.Sprintf("%.1f", 100*v) },
	"exact":    exact,
	"word":     word,
	"printed":  entry.BeltDesignation,
	"add":      func(a, b int) int { return a + b },
	"sum":      func(a, b float64) float64 { return a + b },
	"axle":     func(i int32) int32 { return i + 1 },
	"explain":  beltmath.ExplainSource,
	"sentence": sentence,
	"prose":    prose,
}

// signed is a number with its sign, which 0 has not.
func signed(decimals int, v float64) string {
	text := fmt.Sprintf("%+.*f", decimals, v)
	if strings.Trim(text, "+-0.") == "" {
		return text[1:]
	}
	return text
}

// word is the last part of an enum value, for people: VERDICT_FITS is "fits".
func word(v fmt.Stringer) string {
	name := v.String()
	for _, prefix := range []string{
		"VERDICT_", "PART_KIND_", "CLEARANCE_KIND_", "LANE_", "STANDOFF_", "MINIMUM_PROOF_", "SEVERITY_",
	} {
		name = strings.TrimPrefix(name, prefix)
	}
	return strings.ReplaceAll(strings.ToLower(strings.TrimPrefix(name, "VERDICT_")), "_", " ")
}

// exact is a number with all its digits.
func exact(v float64) string { return entry.Optional(&v) }

// sentence begins a text with a capital, unless its first word is the name of
// a column.
func sentence(text string) string {
	if first, _, _ := strings.Cut(text, " "); text == "" || strings.Contains(first, "_") {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// Len is a length with its unit.
func (v *view) Len(mm float64) string { return beltmath.FormatLength(mm, v.Unit) }

// Num is a length without its unit, which stands elsewhere.
func (v *view) Num(mm float64) string {
	return strings.TrimSuffix(v.Len(mm), " "+v.Unit.String())
}

// Shift is a difference of lengths without its unit, with its sign.
func (v *view) Shift(mm float64) string {
	text := v.Num(mm)
	if mm > 0 && strings.Trim(text, "0.") != "" {
		return "+" + text
	}
	return text
}

// Fraction is a length in the nearest 1/64 in, in inches only.
func (v *view) Fraction(mm float64) string {
	if v.Unit != beltmath.Inch {
		return ""
	}
	return beltmath.FormatInchFraction(mm)
}

// Inches tells whether lengths are in inches.
func (v *view) Inches() bool { return v.Unit == beltmath.Inch }

// Minus is a difference of lengths.
func (v *view) Minus(a, b float64) float64 { return a - b }

// To is the URL of a page with parameters, name and value by turns, and the
// unit of this one. Empty values are left out.
func (v *view) To(path string, pairs ...any) string {
	q := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		if value := fmt.Sprint(pairs[i+1]); value != "" {
			q.Set(fmt.Sprint(pairs[i]), value)
		}
	}
	return v.url(path, q)
}

// With is the URL of this question with other parameters; empty ones are left
// out.
func (v *view) With(pairs ...any) string {
	q := url.Values{}
	for name, values := range v.query {
		q[name] = values
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		q.Set(fmt.Sprint(pairs[i]), fmt.Sprint(pairs[i+1]))
	}
	for name, values := range q {
		if len(values) == 0 || values[0] == "" {
			delete(q, name)
		}
	}
	return v.url(v.Path, q)
}

func (v *view) url(path string, q url.Values) string {
	if v.Unit == beltmath.Inch {
		q.Set("units", "in")
	}
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

// Absolute is a URL of this site with scheme and host.
func (v *view) Absolute(path string) string { return v.site + path }

// InUnit is the URL of this question in another unit. Lengths that were typed
// without a unit get the one they were meant in.
func (v *view) InUnit(unit string) string {
	q := url.Values{}
	for name, values := range v.query {
		q[name] = values
		if v.Form == nil || len(values) == 0 {
			continue
		}
		switch f := v.Form.find(name); {
		case f == nil:
		case f.inUnit != nil:
			q.Set(name, f.inUnit(values[0], v.Unit))
		case f.Kind == kindLength || f.Kind == kindLengths:
			q.Set(name, withUnit(values[0], v.Unit))
		}
	}
	q.Del("units")
	if unit == "in" {
		q.Set("units", "in")
	}
	if len(q) == 0 {
		return v.Path
	}
	return v.Path + "?" + q.Encode()
}

// withUnit names the unit of every length of a list that has none.
func withUnit(text string, unit beltmath.Unit) string {
	parts := strings.Split(text, ",")
	for i, part := range parts {
		part = strings.TrimSpace(part)
		if strings.ContainsAny(part, "0123456789") && strings.Trim(part, "0123456789. /+-") == "" {
			part += unit.String()
		}
		parts[i] = part
	}
	return strings.Join(parts, ", ")
}

// eachLine does so with the parts of every line that hold lengths.
func eachLine(lengths func(line string, unit beltmath.Unit) string) func(string, beltmath.Unit) string {
	return func(text string, unit beltmath.Unit) string {
		var lines []string
		for line := range strings.Lines(text) {
			lines = append(lines, lengths(strings.TrimSpace(line), unit))
		}
		return strings.Join(lines, "\n")
	}
}
