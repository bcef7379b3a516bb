package web

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

// rowFields describe the wheels of a side. Lists hold one value for all axles
// or one an axle.
func rowFields(prefix string) []*field {
	return []*field{
		countField("wheels", "Wheels on a side", "2 to 16", prefix+"axles"),
		{Name: "wheel", Label: "Wheel diameter", Hint: "one for all, or one an axle with commas", Kind: kindLengths, paths: []string{prefix + "axles.wheel_diameter_mm"}, each: "axle"},
		{Name: "drop", Label: "Drop", Hint: "how far an axle sits lower, such as 0, 3, 0", Kind: kindLengths, paths: []string{prefix + "axles.drop_mm"}, each: "axle"},
		{Name: "motors", Label: "Axles with a motor", Hint: "counted from 1; the middle one where empty", Kind: kindText, paths: []string{prefix + "driven_axles"}},
	}
}

// stockField takes what is on the shelf as CSV.
func stockField() *field {
	return &field{
		Name: "stock", Label: "Parts on the shelf, CSV", Kind: kindArea, paths: []string{"stock"},
		Hint: "kind,section,tooth_count,width_mm,quantity with belt or pulley as kind, the first line naming the columns",
	}
}

func baseGroups() []*group {
	counts := func(name, label, hint string) *field {
		return &field{Name: name, Label: label, Hint: hint, Kind: kindText, paths: []string{name}}
	}
	return []*group{
		{Legend: "Row of wheels", Fields: rowFields("")},
		{Legend: "Wheelbase", Fields: []*field{
			lengthField("wheelbase", "Wanted wheelbase", "first to last axle, along the rail", "target_wheelbase_mm"),
			lengthField("within", "Within", "both ways, such as 1mm; exactly that where empty", "tolerance_mm"),
			{Name: "equal", Label: "Equal gaps", Kind: kindCheck, paths: []string{"equal_gaps"}},
			lengthField("min_gap", "Wheels apart by at least", "disc to disc", "min_wheel_gap_mm"),
		}},
		{Legend: "Belts and pulleys", Fields: []*field{
			{Name: "sections", Label: "Belt sections", Hint: "such as H5M, or H5M, T5", Kind: kindText, paths: []string{"sections"}},
			counts("pulley", "Pulley teeth", "36, 32..40 or 32,36,40; only with a shelf may it be empty"),
			{Name: "standard", Label: "Standard lengths only", Kind: kindCheck, paths: []string{"standard_lengths_only"}},
			countField("belts", "Different belts, at most", "2 where empty", "max_distinct_belts"),
			lengthField("belt_width", "Belt width", "of belts on the shelf", "belt_width_mm"),
		}},
		idlerFields(),
		{Legend: "From the shelf", Folded: true, Fields: []*field{stockField(), countField("sides", "Sides", "2 where empty", "side_count", "base.side_count")}},
		{Legend: "More conditions", Folded: true, Fields: []*field{
			counts("belt", "Belt teeth", "every belt where empty"),
			lengthField("max_diff", "Gaps differ by at most", "", "max_gap_difference_mm"),
			{Name: "scrub", Label: "Scrub, at most", Suffix: "%", Hint: "how far wheels of one side may roll unequally; 0.5 where empty", Kind: kindNumber, paths: []string{"max_scrub_percent"}},
			countField("mesh", "Teeth in mesh, at least", "6 where empty", "min_meshed_tooth_count"),
			lengthField("resolution", "Finest step of drilling", "0.01 mm where empty", "resolution_mm"),
			countField("results", "Plans to show", "20 where empty", "max_results"),
		}},
	}
}

// base is the page that finds the plans of a side.
func (p *pages) base(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "Plan a side of a base"
	f := newForm(v, v.query, "Find plans", baseGroups()...)
	f.need("wheels", "wheel", "wheelbase", "sections")
	if !f.Asked {
		return !v.refused(w, "json", "csv")
	}
	response, err := p.bases.SearchBases(r.Context(), readBaseSearch(f))
	if err != nil {
		f.refuse(err)
	}
	v.Status = f.settle()
	if v.refused(w, "json", "csv") {
		return false
	}
	if f.faulty() {
		return true
	}
	switch v.format() {
	case "json":
		return p.handJSON(w, v, "plans.json", response)
	case "csv":
		hand(w, "plans.csv", csvType, rowsOf(entry.PlanRows(response)))
		return false
	}
	v.Answer = response
	return true
}

func readBaseSearch(f *form) *pb.SearchBasesRequest {
	request := &pb.SearchBasesRequest{
		Axles: readAxles(f), DrivenAxles: f.axles("motors"),
		Sections: strings.FieldsFunc(f.text("sections"), func(r rune) bool { return r == ',' || r == ' ' || r == ';' }),
		Pulley:   f.counts("pulley"), Belt: f.counts("belt"), StandardLengthsOnly: f.check("standard"),
		Stock: f.stock(), SideCount: f.count("sides"),
		TargetWheelbaseMm: or(f.length("wheelbase")), ToleranceMm: or(f.length("within")),
		EqualGaps: f.check("equal"), MaxGapDifferenceMm: f.length("max_diff"), MaxDistinctBelts: f.count("belts"),
		MaxScrubPercent: f.number("scrub"), MinWheelGapMm: or(f.length("min_gap")), MinMeshedToothCount: f.count("mesh"),
		ResolutionMm: f.length("resolution"), MaxResults: f.count("results"), BeltWidthMm: f.length("belt_width"), Idler: f.idler(),
	}
	return request
}

// readAxles reads the row of wheels.
func readAxles(f *form) []*pb.Axle {
	const most = 16 // that the service takes
	n := or(f.count("wheels"))
	if n < 1 || n > most {
		if field := f.find("wheels"); field.Error == "" {
			field.Error = fmt.Sprintf("Give a whole number from 2 to %d", most)
		}
		return nil
	}
	axles := make([]*pb.Axle, n)
	for i := range axles {
		axles[i] = &pb.Axle{}
	}
	set := func(name string, put func(*pb.Axle, float64)) {
		for i, mm := range f.lengths(name, int(n)) {
			put(axles[i], mm)
		}
	}
	set("wheel", func(a *pb.Axle, mm float64) { a.WheelDiameterMm = mm })
	set("drop", func(a *pb.Axle, mm float64) { a.DropMm = mm })
	set("wheel_width", func(a *pb.Axle, mm float64) { a.WheelWidthMm = mm })
	set("bolt", func(a *pb.Axle, mm float64) { a.BoltDiameterMm = mm })
	set("hole", func(a *pb.Axle, mm float64) { a.HoleDiameterMm = mm })
	for _, i := range f.axles("dead") {
		if int(i) < len(axles) {
			axles[i].Kind = pb.AxleKind_AXLE_KIND_DEAD
		}
	}
	return axles
}

// lengths reads a list of lengths for n axles: one for all, or one each.
func (f *form) lengths(name string, n int) []float64 {
	return readEach(f, name, n, "axles", func(text string) (float64, error) { return entry.ReadLength(text, f.unit) })
}

// readEach reads a list for n things: one value for all, or one each.
func readEach[T any](f *form, name string, n int, things string, parse func(string) (T, error)) []T {
	return or(read(f, name, func(text string) ([]T, error) {
		parts := strings.Split(text, ",")
		if len(parts) != 1 && len(parts) != n {
			return nil, fmt.Errorf("give one value for all %s, or %d with commas between them; there are %d", things, n, len(parts))
		}
		values := make([]T, n)
		for i := range values {
			var err error
			if values[i], err = parse(strings.TrimSpace(parts[min(i, len(parts)-1)])); err != nil {
				return nil, err
			}
		}
		return values, nil
	}))
}

// axles reads a list of axles, which people count from 1.
func (f *form) axles(name string) []int32 {
	list := read(f, name, func(text string) ([]int32, error) {
		var axles []int32
		for part := range strings.SplitSeq(text, ",") {
			n, err := strconv.ParseInt(strings.TrimSpace(part), 10, 32)
			if err != nil || n < 1 {
				return nil, errors.New("give axles counted from 1, such as 2 or 1, 3")
			}
			if last := or(f.count("wheels")); last > 0 && n > int64(last) {
				return nil, fmt.Errorf("there is no axle %d: give 1 to %d", n, last)
			}
			axles = append(axles, int32(n)-1)
		}
		return axles, nil
	})
	return or(list)
}

// stock reads what is on the shelf.
func (f *form) stock() *pb.Stock {
	stock := read(f, "stock", func(text string) (*pb.Stock, error) {
		stock, err := entry.ReadStock("the list", strings.NewReader(text))
		var file *entry.FileError
		if errors.As(err, &file) {
			return nil, errors.New(file.Msg)
		}
		return stock, err
	})
	return or(stock)
}

// PlanNotes are those of the search, then those of its best plan.
func (v *view) PlanNotes(r *pb.SearchBasesResponse) []said {
	notes := slices.Clone(r.GetNotes())
	if plans := r.GetPlans(); len(plans) > 0 {
		notes = append(notes, plans[0].GetNotes()...)
	}
	return v.Notes(notes)
}

// PlanPulleys are the pulleys of a plan, driver first: one pair where all are
// equal.
func (v *view) PlanPulleys(plan *pb.Plan) string {
	var pairs []string
	for _, l := range plan.GetLinks() {
		d := l.GetDrive()
		pairs = append(pairs, fmt.Sprintf("%d/%d", d.GetDriver().GetToothCount(), d.GetDriven().GetToothCount()))
	}
	return oneForAll(pairs)
}

// LayoutURL is the page that lays a plan out.
func (v *view) LayoutURL(plan *pb.Plan) string {
	var belts []string
	section := ""
	for _, l := range plan.GetLinks() {
		d := l.GetDrive()
		section = d.GetSection()
		belts = append(belts, fmt.Sprintf("%d-%d %d/%d %d", l.GetFromAxle()+1, l.GetToAxle()+1,
			d.GetDriver().GetToothCount(), d.GetDriven().GetToothCount(), d.GetBeltToothCount()))
	}
	pairs := []any{"section", section, "links", strings.Join(belts, ", ")}
	for _, name := range []string{"wheels", "wheel", "drop", "motors", "stock", "sides", "belt_width"} {
		pairs = append(pairs, name, v.Form.text(name))
	}
	pairs = append(pairs, v.idlerPairs(plan)...)
	return v.To("/base/layout", pairs...)
}
