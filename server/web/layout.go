package web

import (
	"cmp"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// layoutAnswer is the layout of a base.
type layoutAnswer struct {
	*pb.LayOutBaseResponse
	Base    *pb.Base
	Drawing template.HTML
}

// CenterDistance is that of the axles of a belt: what it wants, or what its
// idler is set for.
func (a *layoutAnswer) CenterDistance(l *pb.LinkLayout) float64 {
	if l.GetIdler() != nil {
		return l.GetIdler().GetCenterDistanceMm()
	}
	return l.GetGeometry().GetCenterDistanceMm()
}

// HasIdler tells whether a belt of the base has one, in place or not.
func (a *layoutAnswer) HasIdler(belt int) bool { return a.Base.GetLinks()[belt].GetIdler() != nil }

// HasPull tells whether the pull of the belts is known.
func (a *layoutAnswer) HasPull() bool {
	return slices.ContainsFunc(a.GetLinks(), func(l *pb.LinkLayout) bool { return l.EffectiveTensionN != nil })
}

// TooClose counts the clearances that will not do.
func (a *layoutAnswer) TooClose() int {
	n := 0
	for _, c := range a.GetClearances() {
		if !c.GetClear() {
			n++
		}
	}
	return n
}

// OnDrilled tells whether the plates are drilled already.
func (a *layoutAnswer) OnDrilled() bool {
	return slices.ContainsFunc(a.GetLinks(), func(l *pb.LinkLayout) bool { return l.GetDrilled() != nil })
}

// sheets are the drawings of a base by their name in a URL.
var sheets = map[string]pb.Sheet{
	"": pb.Sheet_SHEET_PLAN, "plan": pb.Sheet_SHEET_PLAN,
	"drill": pb.Sheet_SHEET_DRILL_TEMPLATE, "stack": pb.Sheet_SHEET_STACK,
}

// papers are the formats of drawings in true size on pages.
var papers = map[string]pb.Paper{"a4": pb.Paper_PAPER_A4, "letter": pb.Paper_PAPER_LETTER}

func layoutGroups() []*group {
	row := rowFields("base.")
	row = append(row,
		&field{Name: "wheel_width", Label: "Wheel width", Kind: kindLengths, Hint: "one for all, or one an axle", paths: []string{"base.axles.wheel_width_mm"}, each: "axle"},
		&field{Name: "hole", Label: "Axle holes", Kind: kindLengths, Hint: "diameters in the plates", paths: []string{"base.axles.hole_diameter_mm"}, each: "axle"},
		&field{Name: "dead", Label: "Dead axles", Kind: kindText, Hint: "bolts that stand still, such as 1, 3", paths: []string{"base.axles.kind"}},
		&field{Name: "bolt", Label: "Bolts of dead axles", Kind: kindLengths, Hint: "diameters; one for all axles, or one an axle", paths: []string{"base.axles.bolt_diameter_mm"}, each: "axle"},
	)
	section, pitch := sectionField(), pitchField()
	section.paths, pitch.paths = []string{"base.links.drive.section"}, []string{"base.links.drive.pitch_mm"}
	return []*group{
		{Legend: "Row of wheels", Fields: row},
		{Legend: "Belts", Fields: []*field{
			section, pitch,
			{Name: "links", Label: "Belts", Hint: "from axle - to axle, driver/driven teeth, belt teeth, with commas: 2-1 36/36 174, 2-3 36/36 178", Kind: kindText, paths: []string{"base.links", "base.links.drive.belt_tooth_count", "base.links.drive.belt_designation"}, words: []string{"", "teeth", "what is printed on it,"}, each: "belt"},
			lengthField("belt_width", "Belt width", "", "base.belt_width_mm"),
			lengthField("pulley_width", "Pulley width over flanges", "", "base.pulley_width_mm"),
			lengthField("flange", "Flange diameter", "of all pulleys", "base.links.drive.driver.flange_diameter_mm", "base.links.drive.driven.flange_diameter_mm"),
		}},
		linkIdlerFields(),
		{Legend: "Plates and cavity", Fields: []*field{
			lengthField("cavity", "Cavity width", "clear distance of the plates; pulleys and wheel of an axle and a gap beside each must fit in", "base.cavity_width_mm"),
			lengthField("gap", "Gap beside a pulley", "across the cavity", "base.pulley_gap_mm"),
			lengthField("plate", "Plate thickness", "", "base.plate_thickness_mm"),
			lengthField("height", "Plate height", "", "base.plate_height_mm"),
			lengthField("margin", "Plate beyond the end axles", "from the center of an end axle to the end of the plate", "base.plate_margin_mm"),
			lengthField("round_up", "Round plate length up to", "", "base.round_up_mm"),
		}},
		heightFields("base."),
		{Legend: "Standoffs", Folded: true, Fields: []*field{
			{Name: "standoffs", Label: "Standoffs, x and y", Kind: kindArea, Hint: "one a line: 130, 40", paths: []string{"base.standoffs"}, each: "standoff", inUnit: eachLine(withUnit)},
			lengthField("standoff", "Standoff diameter", "over corners", "base.standoffs.diameter_mm", "standoff_diameter_mm"),
			lengthField("standoff_hole", "Standoff hole", "", "base.standoffs.hole_diameter_mm"),
			lengthField("clearance", "Clearance of standoffs", "wanted to wheels, pulleys and belts", "base.standoff_clearance_mm"),
			lengthField("standoff_stock", "Length of standoff bar", "", "base.standoff_stock_length_mm"),
			{Name: "lines", Label: "Look for room at these heights", Kind: kindLengths, Hint: "y, with commas", paths: []string{"standoff_lines_mm"}},
		}},
		{Legend: "Frame and saw", Folded: true, Fields: []*field{
			lengthField("track", "Track width", "", "base.track_width_mm"),
			{
				Name: "members", Label: "Bars of the frame", Kind: kindArea, paths: []string{"base.members"}, each: "member", inUnit: eachLine(memberInUnit),
				Hint: "one a line: name, quantity, length, stock length, such as skirt, 2, 820, 2000. With “ends 0” as length it runs from side to side and that far beyond the plates.",
			},
			lengthField("kerf", "Kerf of the saw", "", "base.kerf_mm"),
			countField("sides", "Sides", "2 where empty", "base.side_count"),
		}},
		baseFitFields(),
		{Legend: "What counts as fitting", Folded: true, Fields: limitFields()},
		{Legend: "Load, shelf, drilled plates", Folded: true, Fields: []*field{
			{Name: "slip", Label: "Greatest push of one side", Suffix: "N", Kind: kindNumber, Hint: "weight on the side times grip", paths: []string{"base.side_slip_force_n"}},
			{Name: "torque", Label: "Or torque of a motor axle", Suffix: "Nm", Kind: kindNumber, paths: []string{"base.axle_torque_nm"}},
			stockField(),
			{Name: "drilled", Label: "Axles as drilled, x and y", Kind: kindArea, Hint: "one a line, only for plates that are drilled already", paths: []string{"base.axle_positions"}, each: "axle", inUnit: eachLine(withUnit)},
		}},
	}
}

// layoutNeeds are the fields without which there is nothing to lay out.
var layoutNeeds = []string{"wheels", "wheel", "wheel_width", "section", "links", "belt_width", "pulley_width", "cavity", "plate", "height"}

// Missing lists what is still to be given before a base can be laid out.
func (v *view) Missing() []*field {
	var missing []*field
	for _, name := range layoutNeeds {
		field := v.Form.find(name)
		if field.Value == "" && (name != "section" || !v.Form.Has("pitch")) {
			missing = append(missing, field)
		}
	}
	return missing
}

// layout is the page that lays a side out.
func (p *pages) layout(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "Lay out a side of a base"
	f := newForm(v, v.query, "Lay out", layoutGroups()...)
	f.names = append(f.names, "sheet")
	f.need(slices.DeleteFunc(slices.Clone(layoutNeeds), func(name string) bool { return name == "section" })...)
	formats := []string{"json", "csv", "svg", "dxf", "a4", "letter"}
	if len(v.Missing()) > 0 {
		f.Asked = f.Asked && v.format() == ""
		return !v.refused(w, formats...)
	}
	sheet, known := sheets[v.query.Get("sheet")]
	if !known {
		f.Faults = append(f.Faults, "There is no such sheet: give plan, drill or stack")
	}
	request := readLayout(f)
	response, err := p.bases.LayOutBase(r.Context(), request)
	var drawn *httpbody.HttpBody
	if err == nil {
		drawn, err = p.bases.DrawBase(r.Context(), &pb.DrawBaseRequest{
			Base: request.GetBase(), Format: drawings[v.format()], Sheet: sheet, Paper: papers[v.format()],
		})
	}
	if err != nil {
		f.refuse(err)
	}
	v.Status = f.settle()
	if v.refused(w, formats...) {
		return false
	}
	if f.faulty() {
		return true
	}
	switch v.format() {
	case "":
		v.Answer = &layoutAnswer{response, request.GetBase(), template.HTML(drawn.GetData())} //nolint:gosec // our own drawing, its texts escaped
		return true
	case "json":
		return p.handJSON(w, v, "layout.json", response)
	case "csv":
		hand(w, "parts.csv", csvType, rowsOf(partRows(response)))
		return false
	}
	hand(w, v.drawingName(), drawn.GetContentType(), drawn.GetData())
	return false
}

// drawingName is the name of a drawing as a file.
func (v *view) drawingName() string {
	name := "base-" + cmp.Or(v.query.Get("sheet"), "plan")
	if _, pages := papers[v.format()]; pages {
		return name + "-" + v.format() + ".html"
	}
	return name + "." + v.format()
}

func (p *pages) handJSON(w http.ResponseWriter, v *view, name string, m proto.Message) bool {
	body, err := p.JSON(m)
	if err != nil {
		return v.failed(err)
	}
	hand(w, name, "application/json", body)
	return false
}

func readLayout(f *form) *pb.LayOutBaseRequest {
	b := &pb.Base{
		Axles: readAxles(f), DrivenAxles: f.axles("motors"), Links: f.links("links"),
		CavityWidthMm: or(f.length("cavity")), PlateThicknessMm: or(f.length("plate")), PlateMarginMm: or(f.length("margin")),
		PlateHeightMm: or(f.length("height")), PulleyWidthMm: or(f.length("pulley_width")), BeltWidthMm: or(f.length("belt_width")),
		PulleyGapMm: or(f.length("gap")), StandoffClearanceMm: or(f.length("clearance")), StandoffStockLengthMm: or(f.length("standoff_stock")),
		TrackWidthMm: or(f.length("track")), KerfMm: or(f.length("kerf")), RoundUpMm: or(f.length("round_up")),
		SideCount: f.count("sides"), SideSlipForceN: f.number("slip"), AxleTorqueNm: f.number("torque"),
		AxlePositions: f.points("drilled"),
		BeltHeightMm:  f.length("belt_height"), ToothHeightMm: f.length("tooth_height"), PitchLineDifferentialMm: f.length("pitch_line"),
		Members: readLines(f, "members", f.member),
	}
	for _, center := range f.points("standoffs") {
		b.Standoffs = append(b.Standoffs, &pb.Standoff{
			Center: center, DiameterMm: or(f.length("standoff")), HoleDiameterMm: or(f.length("standoff_hole")),
		})
	}
	f.idlers(b.GetLinks())
	request := &pb.LayOutBaseRequest{Base: b, Stock: f.stock(), Fit: f.baseFit(b.GetLinks()), Limits: readLimits(f)}
	if text := f.text("lines"); text != "" {
		request.StandoffLinesMm = f.lengths("lines", 1+strings.Count(text, ","))
		request.StandoffDiameterMm = or(f.length("standoff"))
	}
	return request
}

var linkPattern = regexp.MustCompile(`^(\d+)\s*-\s*(\d+)\s+(\d+)\s*/\s*(\d+)\s+(\d+)$`)

// links reads belts such as "2-1 36/36 174".
func (f *form) links(name string) []*pb.Link {
	links := read(f, name, func(text string) ([]*pb.Link, error) {
		var links []*pb.Link
		for part := range strings.SplitSeq(text, ",") {
			m := linkPattern.FindStringSubmatch(strings.TrimSpace(part))
			var n [5]int32
			for i := range n {
				if m == nil {
					break
				}
				v, err := strconv.ParseInt(m[i+1], 10, 32)
				if err != nil {
					m = nil
				}
				n[i] = int32(v)
			}
			if m == nil {
				return nil, fmt.Errorf("%s is no belt: write from-to axle, driver/driven teeth and belt teeth, such as 2-1 36/36 174", entry.Quoted(strings.TrimSpace(part)))
			}
			if last := or(f.count("wheels")); last > 0 && (n[0] < 1 || n[1] < 1 || max(n[0], n[1]) > last) {
				return nil, fmt.Errorf("%s: the axles are counted from 1 to %d", entry.Quoted(strings.TrimSpace(part)), last)
			}
			flange := f.length("flange")
			links = append(links, &pb.Link{FromAxle: n[0] - 1, ToAxle: n[1] - 1, Drive: &pb.Drive{
				Section: f.text("section"), PitchMm: f.length("pitch"), BeltToothCount: &n[4],
				Driver: &pb.Pulley{ToothCount: n[2], FlangeDiameterMm: flange}, Driven: &pb.Pulley{ToothCount: n[3], FlangeDiameterMm: flange},
			}})
		}
		return links, nil
	})
	return or(links)
}

// points reads a point a line.
func (f *form) points(name string) []*pb.Point {
	return readLines(f, name, func(line string) (*pb.Point, error) { return entry.ReadPoint(line, f.unit) })
}

// memberInUnit names the unit of the lengths of a member that have none.
func memberInUnit(line string, unit beltmath.Unit) string {
	const first = 2 // name and quantity are no lengths
	parts := strings.Split(line, ",")
	for i := first; i < len(parts); i++ {
		part := strings.TrimSpace(parts[i])
		if text, ends := strings.CutPrefix(part, "ends "); ends {
			parts[i] = " ends " + withUnit(text, unit)
			continue
		}
		parts[i] = " " + withUnit(part, unit)
	}
	return strings.Join(parts, ",")
}

// member reads a bar of the frame.
func (f *form) member(line string) (*pb.Member, error) {
	advice := errors.New("write name, quantity, length and, if you like, stock length, such as skirt, 2, 820, 2000")
	parts := strings.Split(line, ",")
	if len(parts) < 3 || len(parts) > 4 {
		return nil, advice
	}
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	quantity, ok := entry.ReadCount(parts[1])
	if !ok {
		return nil, advice
	}
	m := &pb.Member{Name: parts[0], Quantity: quantity}
	text, ends := strings.CutPrefix(parts[2], "ends ")
	length, err := entry.ReadLength(text, f.unit)
	if err != nil {
		return nil, advice
	}
	if ends {
		m.EndAllowanceMm = &length
	} else {
		m.LengthMm = &length
	}
	if len(parts) == 4 {
		if m.StockLengthMm, err = entry.ReadLength(parts[3], f.unit); err != nil {
			return nil, advice
		}
	}
	return m, nil
}

// partRows are the parts as CSV.
func partRows(response *pb.LayOutBaseResponse) [][]string {
	rows := [][]string{{"kind", "designation", "needed_quantity", "quantity"}}
	for _, part := range response.GetParts() {
		rows = append(rows, []string{
			word(part.GetKind()), part.GetDesignation(), strconv.Itoa(int(part.GetNeededQuantity())), strconv.Itoa(int(part.GetQuantity())),
		})
	}
	return rows
}

// stackTable is a stack, and of what it is.
type stackTable struct {
	View *view
	Of   string
	*pb.Stack
}

// Stack prepares a stack for its template.
func (v *view) Stack(of string, s *pb.Stack) stackTable { return stackTable{v, of, s} }

// Width is how wide a part of a stack is.
func (v *view) Width(part *pb.StackPart) string { return v.Num(part.GetEndMm() - part.GetStartMm()) }
