package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// spacingsAnswer is a page of spacings.
type spacingsAnswer struct {
	*pb.SearchSpacingsResponse
	Ruler    template.HTML
	Target   *float64
	Sections bool // whether there is more than one
	First    int  // how many stand on the pages before
	More     string
}

// mostDownloaded is how many spacings go into one file: the command writes any
// number.
const mostDownloaded = 200_000

var spacingOrders = []option{
	{Value: "", Label: "nearest to the target, or least center distance"},
	{Value: "center", Label: "least center distance"},
	{Value: "belt", Label: "fewest belt teeth"},
}

func spacingGroups() []*group {
	counts := func(name, label, hint string) *field {
		return &field{Name: name, Label: label, Hint: hint, Kind: kindText, paths: []string{name}}
	}
	return []*group{
		{Legend: "What to try", Fields: []*field{
			{Name: "page", Kind: kindHidden, paths: []string{"page_token"}},
			{Name: "sections", Label: "Belt sections", Hint: "such as H5M, or H5M, T5", Kind: kindText, paths: []string{"sections"}},
			{Name: "pitch", Label: "Other pitch", Kind: kindLength, Hint: "only in place of sections", paths: []string{"pitch_mm"}},
			counts("driver", "Driver teeth", "36, 32..40, 32..40/2 or 32,36,40"),
			counts("driven", "Driven teeth", "in the same way"),
			counts("belt", "Belt teeth", "every belt where empty"),
			{Name: "standard", Label: "Standard lengths only", Kind: kindCheck, paths: []string{"standard_lengths_only"}},
			{Name: "equal", Label: "Both pulleys alike", Kind: kindCheck, paths: []string{"equal_pulleys"}},
		}},
		{Legend: "Where", Fields: []*field{
			lengthField("target", "Target center distance", "", "target_center_distance_mm"),
			lengthField("within", "Within", "this far from the target, both ways", "tolerance_mm"),
			lengthField("min", "Or at least", "in place of a target", "min_center_distance_mm"),
			lengthField("max", "And at most", "", "max_center_distance_mm"),
		}},
		{Legend: "More conditions", Folded: true, Fields: []*field{
			{Name: "ratio", Label: "Speed ratio", Hint: "driven / driver teeth: 1..2, 1.5, 0.5.. or ..2", Kind: kindText, paths: []string{"min_speed_ratio", "max_speed_ratio"}},
			countField("mesh", "Teeth in mesh, at least", "6 where empty", "min_meshed_tooth_count"),
			{Name: "order", Label: "Order", Kind: kindSelect, Options: spacingOrders, paths: []string{"order_by"}},
			countField("size", "Rows a page", "100 where empty, at most 10000", "page_size"),
		}},
	}
}

// spacings is the page of spacings.
func (p *pages) spacings(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "Spacings of two pulleys"
	f := newForm(v, v.query, "Search", spacingGroups()...)
	if !f.Asked {
		return !v.refused(w, "csv")
	}
	request := readSpacings(f)
	if v.format() == "csv" {
		request.PageSize, request.PageToken = new(int32(10_000)), ""
	}
	response, err := p.drives.SearchSpacings(r.Context(), request)
	if err != nil {
		f.refuse(err)
	}
	if err == nil && v.format() == "csv" && response.GetTotalSize() > mostDownloaded {
		f.Faults = append(f.Faults, fmt.Sprintf("%d spacings are too many for a download, at most %d: narrow the search, or use beltspan spacings --csv", response.GetTotalSize(), mostDownloaded))
	}
	v.Status = f.settle()
	if v.refused(w, "csv") {
		return false
	}
	if f.faulty() {
		return true
	}
	if v.format() == "csv" {
		p.spacingFile(r.Context(), w, request, response)
		return false
	}
	a := &spacingsAnswer{SearchSpacingsResponse: response, Target: request.TargetCenterDistanceMm, Sections: len(request.GetSections()) > 1}
	a.Ruler = newRuler(v, request, response.GetSpacings()).draw()
	if token := response.GetNextPageToken(); token != "" {
		a.More = v.With("page", token)
	}
	v.Answer = a
	return true
}

func readSpacings(f *form) *pb.SearchSpacingsRequest {
	request := &pb.SearchSpacingsRequest{
		Sections: strings.FieldsFunc(f.text("sections"), func(r rune) bool { return r == ',' || r == ' ' || r == ';' }),
		PitchMm:  f.length("pitch"),
		Driver:   f.counts("driver"), Driven: f.counts("driven"), Belt: f.counts("belt"),
		TargetCenterDistanceMm: f.length("target"), ToleranceMm: f.length("within"),
		MinCenterDistanceMm: f.length("min"), MaxCenterDistanceMm: f.length("max"),
		EqualPulleys: f.check("equal"), StandardLengthsOnly: f.check("standard"),
		MinMeshedToothCount: f.count("mesh"), PageSize: f.count("size"), PageToken: f.text("page"),
	}
	if field := f.find("ratio"); field.Value != "" {
		var err error
		if request.MinSpeedRatio, request.MaxSpeedRatio, err = entry.ReadRatios(field.Value); err != nil {
			field.Error = sentence(err.Error())
		}
	}
	order := f.find("order")
	if !slices.ContainsFunc(order.Options, func(o option) bool { return o.Value == order.Value }) {
		order.Error = "Choose one of the list"
	}
	switch order := order.Value; {
	case order == "belt":
		request.OrderBy = pb.SpacingOrder_SPACING_ORDER_BELT_TOOTH_COUNT
	case order == "" && request.TargetCenterDistanceMm != nil:
		request.OrderBy = pb.SpacingOrder_SPACING_ORDER_TARGET_SHIFT
	default:
		request.OrderBy = pb.SpacingOrder_SPACING_ORDER_CENTER_DISTANCE
	}
	return request
}

// spacingFile writes all pages as CSV, or nothing where one of them fails.
func (p *pages) spacingFile(ctx context.Context, w http.ResponseWriter, request *pb.SearchSpacingsRequest, page *pb.SearchSpacingsResponse) {
	rows := [][]string{entry.SpacingColumns}
	for {
		for _, s := range page.GetSpacings() {
			rows = append(rows, entry.SpacingRow(s))
		}
		if page.GetNextPageToken() == "" {
			break
		}
		request.PageToken = page.GetNextPageToken()
		var err error
		if page, err = p.drives.SearchSpacings(ctx, request); err != nil {
			http.Error(w, err.Error(), http.StatusServiceUnavailable)
			return
		}
	}
	hand(w, "spacings.csv", csvType, rowsOf(rows))
}

// SpacingURL is the page of a spacing's drive.
func (v *view) SpacingURL(s *pb.Spacing) string {
	return v.To("/drive", "section", s.GetSection(), "pitch", v.query.Get("pitch"),
		"driver", s.GetDriverToothCount(), "driven", s.GetDrivenToothCount(), "belt", s.GetBeltToothCount())
}
