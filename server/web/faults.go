package web

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"github.com/beltspan/beltspan/beltmath"
)

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
	text := description
	if rest, ok := strings.CutPrefix(description, path+" is "); ok && field != nil {
		text = withoutValue(rest)
	}
	if field != nil {
		text = field.reword(text)
	}
	text = f.reword(text)
	switch {
	case field != nil && field.Kind == kindLength && field.Value == "" && strings.HasPrefix(text, "give a number"):
		text = "give a length"
	case field == nil || field.inUnit != nil || slices.Contains([]string{kindLength, kindLengths, kindArea}, field.Kind):
		text = f.inMM(text)
	}
	if field != nil && field.each != "" {
		if index := listIndex.FindStringSubmatch(path); index != nil {
			n, _ := strconv.Atoi(index[1]) // the pattern has digits only
			if n < len(field.counted) {
				n = field.counted[n]
			}
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

// labelOf is the label of the field of a path.
func (f *form) labelOf(path string) string {
	if field := f.owner(path); field != nil {
		return field.Label
	}
	return path
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
		text = field.reword(text)
	}
	return text
}

// reword puts the label of a field where text names its fields of the request.
func (f *field) reword(text string) string {
	for i, path := range f.paths {
		last := path[strings.LastIndexByte(path, '.')+1:]
		if !strings.Contains(last, "_") {
			continue
		}
		words := "“" + f.Label + "”"
		if i < len(f.words) {
			words = f.words[i]
		}
		text = regexp.MustCompile(`\b(?:[a-z_]+\.)*`+last+`\b`).ReplaceAllLiteralString(text, words)
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
