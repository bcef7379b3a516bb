package drawing

import (
	"fmt"
	"math"
	"strings"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/base"
	"github.com/beltspan/beltspan/beltmath/path"
)

// Side is a side of a base to draw: as described, and as laid out.
type Side struct {
	Base   base.Base
	Layout base.Layout
}

// care stands under every drawing of a base.
const care = "Guard the places where belts and wheels run on; keep hands, hair and sleeves off turning wheels. Belts on fixed centers are under tension: " +
	"put them on together with their pulleys, and turn everything by hand before power. Local rules and licensed practice come first."

func at(x, y float64) beltmath.Point { return beltmath.Point{XMM: x, YMM: y} }

// mm writes a length for the workshop.
func mm(v float64) string {
	text := fmt.Sprintf("%.3f", v)
	if strings.Trim(text, "-0.") == "" {
		return "0.000"
	}
	return text
}

// short writes a length without zeros at its end.
func short(v float64) string { return decimals(v, 3) }

// plate returns the corners of the plate: left and bottom, right and top.
func (s *Side) plate() (low, high beltmath.Point) {
	first := s.Layout.Axles[0]
	low = at(first.Center.XMM-first.FromEndMM, first.Center.YMM-first.FromEdgeMM)
	plates := s.plates()
	return low, at(low.XMM+plates.LengthMM, low.YMM+s.Base.PlateHeightMM)
}

// plates is how the plates are cut.
func (s *Side) plates() base.Cut {
	for _, c := range s.Layout.Cuts {
		if c.Kind == base.PartKindPlate {
			return c
		}
	}
	return base.Cut{} // cannot happen: every base has plates
}

// hole is a hole of the plates.
type hole struct {
	name              string
	center            beltmath.Point
	diameterMM        float64 // 0 is not given
	fromEnd, fromEdge float64
}

func (h *hole) diameter() string {
	if h.diameterMM == 0 {
		return "not given"
	}
	return short(h.diameterMM)
}

// holes are those of the axles, of the standoffs and of the idlers.
func (s *Side) holes() []hole {
	var all []hole
	for i, a := range s.Layout.Axles {
		all = append(all, hole{fmt.Sprintf("axle %d", i+1), a.Center, a.HoleDiameterMM, a.FromEndMM, a.FromEdgeMM})
	}
	for i, o := range s.Layout.Standoffs {
		all = append(all, hole{fmt.Sprintf("S%d", i+1), o.Center, o.HoleDiameterMM, o.FromEndMM, o.FromEdgeMM})
	}
	for i := range s.Layout.Links {
		if o := s.Layout.Links[i].Idler; o != nil {
			all = append(all, hole{idlerName(i), o.Center, o.HoleDiameterMM, o.FromEndMM, o.FromEdgeMM})
		}
	}
	return all
}

// idlerName is the idler of a belt.
func idlerName(link int) string { return fmt.Sprintf("idler %d", link+1) }

// drawHoles draws the holes in their true size.
func (d *Drawing) drawHoles(holes []hole) {
	for _, h := range holes {
		if h.diameterMM > 0 {
			d.Circle(Pen{Layer: Holes, Weight: Medium}, h.center, h.diameterMM/2)
		}
	}
}

func holeRows(holes []hole) [][]string {
	rows := [][]string{{"Hole", "From end", "Lower edge", "Diameter", "x", "y"}}
	for i := range holes {
		h := &holes[i]
		rows = append(rows, []string{h.name, mm(h.fromEnd), mm(h.fromEdge), h.diameter(), mm(h.center.XMM), mm(h.center.YMM)})
	}
	return rows
}

// beltPath is the path of a link as it runs on its axles.
func (s *Side) beltPath(link int) (path.Query, path.Answer, error) {
	if o := s.Layout.Links[link].Idler; o != nil {
		return path.Query{Wheels: o.Wheels}, path.Answer{Solutions: []path.Solution{o.Path}, ToothSideMM: o.ToothSideMM, BackMM: o.BackMM}, nil
	}
	g := s.Layout.Links[link].Geometry
	q := path.OfDrive(g.Drive, g.CenterDistanceMM)
	q.Wheels[0].Center, q.Wheels[1].Center = &g.Driver.Center, &g.Driven.Center
	q.BeltHeightMM, q.ToothHeightMM, q.PitchLineDifferentialMM = s.Base.BeltHeightMM, s.Base.ToothHeightMM, s.Base.PitchLineDifferentialMM
	a, err := path.Solve(q)
	return q, a, err
}

// beltName is a belt as people order it.
func beltName(d beltmath.Drive) string {
	if d.Section == nil {
		return fmt.Sprintf("%d teeth", d.BeltToothCount)
	}
	return fmt.Sprintf("%s, %d teeth", d.Section.BeltDesignation(d.BeltToothCount), d.BeltToothCount)
}

func laneName(l base.Lane) string {
	if l == base.LaneInboard {
		return "inboard"
	}
	return "outboard"
}

// centerDistance is that of the axles of a link: what its belt wants, or what
// its idler is set for.
func (s *Side) centerDistance(link int) float64 {
	if o := s.Layout.Links[link].Idler; o != nil {
		return o.CenterDistanceMM
	}
	return s.Layout.Links[link].Geometry.CenterDistanceMM
}

// title says what a sheet shows.
func (s *Side) title(what string) string {
	return fmt.Sprintf("%s of a base of %d axles, wheelbase %s mm", what, len(s.Layout.Axles), mm(s.Layout.WheelbaseMM))
}

// footer writes what stands under every sheet of a base.
func (d *Drawing) footer() {
	d.paragraph(toScale)
	d.paragraph(care)
}

// paragraph writes a text under everything drawn so far, broken to its width.
func (d *Drawing) paragraph(text string) {
	width := math.Max(d.box.right-d.box.left, 40*d.TextHeight())
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && d.TextWidth(line+" "+word) > width {
			lines = append(lines, line)
			line = ""
		}
		line = strings.TrimPrefix(line+" "+word, " ")
	}
	d.Below(append(lines, line)...)
}

// wrapped puts rows of a table side by side where the drawing has room; the
// first row is the head.
func (d *Drawing) wrapped(rows [][]string) {
	head, body := rows[0], rows[1:]
	room := d.box.right - d.box.left
	groups := int(math.Max(1, math.Floor((room+3*d.TextHeight())/(d.tableWidth(rows)+3*d.TextHeight()))))
	each := (len(body) + groups - 1) / groups
	all := make([][]string, each+1)
	for start := 0; start < len(body); start += each {
		if start > 0 {
			for i := range all {
				all[i] = append(all[i], "")
			}
		}
		all[0] = append(all[0], head...)
		for i := range each {
			if start+i < len(body) {
				all[i+1] = append(all[i+1], body[start+i]...)
			}
		}
	}
	d.Table(all)
}

func (d *Drawing) tableWidth(rows [][]string) float64 {
	sum := 0.0
	for _, width := range d.columnWidths(rows) {
		sum += width
	}
	return sum
}
