package web

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

const idlerHint = "b40mm is a smooth wheel on the back of the belt, d60mm a smooth one within its loop, 16 one with teeth within it"

// idlerFields are the idler that a search may put on any link.
func idlerFields() *group {
	return &group{Legend: "Idler, where belts alone do not do", Folded: true, Fields: []*field{
		{
			Name: "idler", Label: "Idler", Kind: kindText, inUnit: eachPart(wheelInUnit),
			Hint:  idlerHint + ". It lets a belt be too long for its axles, so that they stand at the wished gaps; tried only where no plan does without.",
			paths: []string{"idler", "idler.kind", "idler.tooth_count", "idler.diameter_mm", "idler.side"},
		},
		lengthField("idler_from", "Idler's center from", "up from the line through its two axles, at right angles to it; below 0 is under it; 0 where empty", "idler.from_mm"),
		lengthField("idler_to", "Idler's center up to", "how far it can be moved, such as 60mm", "idler.to_mm"),
		{Name: "idler_at", Label: "Idler's place along the line", Kind: kindNumber, Hint: "0.01 to 0.99 of the way from the axle of lower number; 0.5 where empty", paths: []string{"idler.position"}},
	}}
}

// linkIdlerFields are the idlers of a layout: each field holds one value for
// all belts or one a belt.
func linkIdlerFields() *group {
	of := func(name, label, hint string, path ...string) *field {
		return &field{Name: name, Label: label, Hint: hint, Kind: kindLengths, paths: path, each: "belt"}
	}
	const idler = "base.links.idler"
	wheels := of("idler", "Idlers", idlerHint+". One for all belts, or one a belt with commas, - for a belt without, such as b40mm, -",
		idler, idler+".kind", idler+".tooth_count", idler+".diameter_mm", idler+".side")
	wheels.Kind, wheels.inUnit = kindText, eachPart(wheelInUnit)
	at := of("idler_at", "Idlers' place along the line", "0.01 to 0.99 of the way from the axle of lower number; 0.5 where empty", idler+".position")
	at.Kind = kindText
	return &group{Legend: "Idlers", Folded: true, Fields: []*field{
		wheels,
		of("centers", "Center distance of their axles", "true, not along the rail: with an idler the belt no longer tells it; one for all, or one a belt; not for axles that are drilled", "base.links.center_distance_mm"),
		of("idler_from", "Idlers' centers from", "up from the line through the two axles, at right angles to it; below 0 is under it; 0 where empty", idler+".from_mm"),
		of("idler_to", "Idlers' centers up to", "how far they can be moved, such as 60mm", idler+".to_mm"),
		at,
		of("idler_hole", "Idlers' holes", "diameters in the plates", idler+".hole_diameter_mm"),
		of("idler_bolt", "Idlers' bolts", "as large as the idler where empty", idler+".bolt_diameter_mm"),
		of("idler_width", "Idlers' width", "that of the pulleys where empty", idler+".width_mm"),
		of("idler_flange", "Idlers' flanges", "diameter; none where empty", idler+".flange_diameter_mm"),
	}}
}

// eachPart names the unit in every part of a list with commas.
func eachPart(inUnit func(string, beltmath.Unit) string) func(string, beltmath.Unit) string {
	return func(text string, unit beltmath.Unit) string {
		parts := strings.Split(text, ",")
		for i, part := range parts {
			parts[i] = inUnit(strings.TrimSpace(part), unit)
		}
		return strings.Join(parts, ", ")
	}
}

func (f *form) readIdler(text string) (*pb.Idler, error) { return entry.ReadIdler(text, f.unit) }

// idler reads that of a search.
func (f *form) idler() *pb.Idler {
	if !f.Has("idler") {
		f.wantIdler("idler_from", "idler_to", "idler_at")
		return nil
	}
	idler := or(read(f, "idler", f.readIdler))
	if idler == nil {
		return nil // it is to be mended first
	}
	idler.FromMm, idler.ToMm, idler.Position = or(f.length("idler_from")), or(f.length("idler_to")), f.number("idler_at")
	return idler
}

// wantIdler asks for the idler whose other fields are given.
func (f *form) wantIdler(others ...string) {
	if slices.ContainsFunc(others, f.Has) {
		f.find("idler").Error = "Its place is given, but no idler: name it, such as b40mm"
	}
}

// idlers puts those of a layout on its links.
func (f *form) idlers(links []*pb.Link) {
	n := len(links)
	if n == 0 {
		return // the belts are to be mended first
	}
	centers := f.eachLength("centers", n)
	lengths := map[string][]*float64{}
	for _, name := range []string{"idler_from", "idler_to", "idler_hole", "idler_bolt", "idler_width", "idler_flange"} {
		lengths[name] = f.eachLength(name, n)
	}
	at := readEach(f, "idler_at", n, "belts", orNone(func(text string) (float64, error) {
		share, ok := entry.ReadNumber(text)
		if !ok {
			return 0, errors.New("give a plain number, such as 0.5")
		}
		return share, nil
	}))
	if !f.Has("idler") {
		f.wantIdler("centers", "idler_from", "idler_to", "idler_at", "idler_hole", "idler_bolt", "idler_width", "idler_flange")
		return
	}
	idlers := readEach(f, "idler", n, "belts", orNone(f.readIdler))
	for i, link := range links {
		d := or(of(idlers, i))
		if d == nil {
			if strings.Contains(f.text("centers"), ",") {
				link.CenterDistanceMm = of(centers, i) // which the service refuses
			}
			continue
		}
		link.CenterDistanceMm = of(centers, i)
		link.Idler = &pb.Idler{
			Kind: d.Kind, ToothCount: d.ToothCount, DiameterMm: d.DiameterMm, Side: d.Side,
			FromMm: or(of(lengths["idler_from"], i)), ToMm: or(of(lengths["idler_to"], i)), Position: of(at, i),
			HoleDiameterMm: or(of(lengths["idler_hole"], i)), BoltDiameterMm: or(of(lengths["idler_bolt"], i)),
			WidthMm: of(lengths["idler_width"], i), FlangeDiameterMm: of(lengths["idler_flange"], i),
		}
	}
}

// of is a value of a list, or nothing where there is no list.
func of[T any](list []*T, i int) *T {
	if i >= len(list) {
		return nil
	}
	return list[i]
}

// none stands in a list for a belt without the value.
const none = "-"

// orNone reads a value, or nothing where none is written.
func orNone[T any](parse func(string) (T, error)) func(string) (*T, error) {
	return func(text string) (*T, error) {
		if text == none {
			return nil, nil
		}
		value, err := parse(text)
		return &value, err
	}
}

// eachLength reads lengths of n belts, of which some may have none.
func (f *form) eachLength(name string, n int) []*float64 {
	return readEach(f, name, n, "belts", orNone(func(text string) (float64, error) { return entry.ReadLength(text, f.unit) }))
}

// idlerPairs are the parameters of a layout for the idlers of a plan.
func (v *view) idlerPairs(plan *pb.Plan) []any {
	var wheels, centers []string
	for _, l := range plan.GetLinks() {
		wheel, center := none, none
		if l.GetIdler() != nil {
			wheel, center = v.Form.text("idler"), exact(l.GetCenterDistanceMm())+"mm"
		}
		wheels, centers = append(wheels, wheel), append(centers, center)
	}
	if !v.HasIdlers([]*pb.Plan{plan}) {
		return nil
	}
	pairs := []any{"idler", oneForAll(wheels), "centers", oneForAll(centers)}
	for _, name := range []string{"idler_from", "idler_to", "idler_at"} {
		pairs = append(pairs, name, v.Form.text(name))
	}
	return pairs
}

// oneForAll writes a list: one value where all are equal.
func oneForAll(values []string) string {
	if len(slices.Compact(slices.Clone(values))) == 1 {
		return values[0]
	}
	return strings.Join(values, ", ")
}

// IdlersOn are the belts of a plan that have an idler.
func (v *view) IdlersOn(plan *pb.Plan) string {
	var belts []string
	for i, l := range plan.GetLinks() {
		if l.GetIdler() != nil {
			belts = append(belts, strconv.Itoa(i+1))
		}
	}
	return strings.Join(belts, ", ")
}

// OffLine tells where an idler stands.
func (v *view) OffLine(at *pb.IdlerPlace) string {
	side := "above"
	if at.GetOffsetMm() < 0 {
		side = "below"
	}
	return v.Len(math.Abs(at.GetOffsetMm())) + " " + side + " the line of centers"
}

// HasIdlers tells whether a plan uses idlers.
func (v *view) HasIdlers(plans []*pb.Plan) bool { return entry.PlansHaveIdlers(plans) }

// idlerRow is an idler in the table of its kind.
type idlerRow struct {
	Belt  int // counted from 1
	Rim   string
	Place *pb.IdlerPlace
}

// Turns are the wheels of the belt: both pulleys, then the idler.
func (r idlerRow) Turns() []*pb.PathWheel { return r.Place.GetPath().GetWheels() }

// idlerTable is a table of idlers.
type idlerTable struct {
	View *view
	Rows []idlerRow
}

// PlanIdlers are those of a plan.
func (v *view) PlanIdlers(plan *pb.Plan) idlerTable {
	var rows []idlerRow
	idler, err := v.Form.readIdler(v.Form.text("idler"))
	for i, l := range plan.GetLinks() {
		if l.GetIdler() != nil && err == nil {
			rows = append(rows, idlerRow{i + 1, v.rim(idler), l.GetIdler()})
		}
	}
	return idlerTable{v, rows}
}

// LaidIdlers are those of a layout.
func (v *view) LaidIdlers(a *layoutAnswer) idlerTable {
	var rows []idlerRow
	for i, l := range a.GetLinks() {
		if l.GetIdler() != nil {
			rows = append(rows, idlerRow{i + 1, v.rim(a.Base.GetLinks()[i].GetIdler()), l.GetIdler().GetPlace()})
		}
	}
	return idlerTable{v, rows}
}

// rim describes an idler.
func (v *view) rim(d *pb.Idler) string {
	switch {
	case d.ToothCount != nil:
		return fmt.Sprintf("%d teeth", d.GetToothCount())
	case d.GetSide() == pb.WrapSide_WRAP_SIDE_OUTSIDE:
		return v.Len(d.GetDiameterMm()) + " smooth, on the back"
	}
	return v.Len(d.GetDiameterMm()) + " smooth, within the loop"
}
