package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// format is the form of the answer that a request wants in place of a page:
// "number", "csv", "json", "svg", "dxf", or empty.
func (v *view) format() string { return v.query.Get("format") }

// refused answers a request for another form than a page that cannot be
// answered: in plain text with an error status, so that a cell or a script
// never takes it for the answer. It reports whether it did.
func (v *view) refused(w http.ResponseWriter, formats ...string) bool {
	f, format := v.Form, v.format()
	if format == "" {
		return false
	}
	var faults []string
	known := false
	for _, one := range formats {
		known = known || one == format
	}
	switch {
	case !known && len(formats) == 0:
		faults = append(faults, fmt.Sprintf("format is %q: this page has none, leave it out", format))
	case !known:
		faults = append(faults, fmt.Sprintf("format is %q: give %s", format, strings.Join(formats, ", ")))
	}
	for _, s := range v.strays() {
		faults = append(faults, s.Text)
	}
	if !f.Asked {
		faults = append(faults, "there is no question: fill in the form and take the address of its answer")
	}
	for _, field := range f.Bad() {
		faults = append(faults, field.Name+": "+field.Error)
	}
	faults = append(faults, f.Faults...)
	if len(faults) == 0 {
		return false
	}
	status := f.settle()
	if status == http.StatusOK {
		status = http.StatusBadRequest
	}
	http.Error(w, strings.Join(faults, "\n"), status)
	return true
}

// hand gives an answer as a file, or in place where it has no name.
func hand(w http.ResponseWriter, name, contentType string, body []byte) {
	w.Header().Set("Content-Type", contentType)
	if name != "" {
		w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	}
	_, _ = w.Write(body) // a caller who went away needs no answer
}

// rowsOf writes rows as CSV.
func rowsOf(rows [][]string) []byte {
	var body bytes.Buffer
	_ = csv.NewWriter(&body).WriteAll(rows) // a Buffer takes everything
	return body.Bytes()
}

const csvType = "text/csv; charset=utf-8"

// drawings are the formats of drawings by their name in a URL.
var drawings = map[string]pb.DrawingFormat{
	"svg": pb.DrawingFormat_DRAWING_FORMAT_SVG,
	"dxf": pb.DrawingFormat_DRAWING_FORMAT_DXF,
}
