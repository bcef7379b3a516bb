package web

import (
	"context"
	"net/http"
	"strconv"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// sectionAnswer is one section with its standard lengths.
type sectionAnswer struct {
	*pb.Section
	Lengths []*pb.BeltLength
}

// failed shows an error of the service on a page that has no form of its own.
func (v *view) failed(err error) bool {
	newForm(v, nil, "").refuse(err)
	v.Status = v.Form.settle()
	return true
}

// sectionList is the page of all sections.
func (p *pages) sectionList(_ http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "Belt sections"
	request := &pb.ListSectionsRequest{PageSize: new(int32(1000))}
	response, err := p.sections.ListSections(r.Context(), request)
	if err != nil {
		return v.failed(err)
	}
	v.Answer = response
	return true
}

// section is the page of one section.
func (p *pages) section(w http.ResponseWriter, r *http.Request, v *view) bool {
	name := r.PathValue("section")
	v.Title = "Section " + name
	newForm(v, nil, "").Asked = true
	response, err := p.sections.GetSection(r.Context(), &pb.GetSectionRequest{Section: name})
	a := &sectionAnswer{Section: response.GetSection()}
	if err == nil {
		a.Lengths, err = p.lengths(r.Context(), name)
	}
	if err != nil {
		v.failed(err)
		if status.Code(err) == codes.NotFound {
			v.Status = http.StatusNotFound
		}
		return true
	}
	if v.format() == "csv" {
		hand(w, name+"-lengths.csv", csvType, rowsOf(lengthRows(a.Lengths)))
		return false
	}
	v.Answer = a
	return true
}

// lengths lists all standard lengths of a section.
func (p *pages) lengths(ctx context.Context, name string) ([]*pb.BeltLength, error) {
	request := &pb.ListBeltLengthsRequest{Section: name, PageSize: new(int32(1000))}
	var all []*pb.BeltLength
	for {
		page, err := p.sections.ListBeltLengths(ctx, request)
		if err != nil {
			return nil, err
		}
		all = append(all, page.GetBeltLengths()...)
		if page.GetNextPageToken() == "" {
			return all, nil
		}
		request.PageToken = page.GetNextPageToken()
	}
}

func lengthRows(lengths []*pb.BeltLength) [][]string {
	rows := [][]string{{"designation", "tooth_count", "belt_length_mm", "source", "verified"}}
	for _, l := range lengths {
		rows = append(rows, []string{
			l.GetDesignation(), strconv.Itoa(int(l.GetToothCount())), exact(l.GetBeltLengthMm()), l.GetSource(), strconv.FormatBool(l.GetVerified()),
		})
	}
	return rows
}

// sourcesAnswer is where everything comes from.
type sourcesAnswer struct {
	Formulas []beltmath.Formula
	Sources  []beltmath.Source
}

// sources is the page of sources.
func (p *pages) sources(_ http.ResponseWriter, _ *http.Request, v *view) bool {
	v.Title = "Sources"
	v.Answer = sourcesAnswer{beltmath.Formulas(), beltmath.Sources()}
	return true
}

// tableValue is a value of a table, with what it is.
type tableValue struct {
	View   *view
	Name   string
	Value  *pb.Value
	Length bool
}

// Value prepares a value that is no length for its template.
func (v *view) Value(name string, value *pb.Value) tableValue {
	return tableValue{v, name, value, false}
}

// Length prepares a length for its template.
func (v *view) Length(name string, value *pb.Value) tableValue {
	return tableValue{v, name, value, true}
}
