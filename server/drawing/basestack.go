package drawing

import (
	"fmt"
	"math"
	"strconv"

	"github.com/beltspan/beltspan/beltmath/base"
	"github.com/beltspan/beltspan/beltmath/path"
)

// sectionsPerRow is how many sections stand side by side.
const sectionsPerRow = 4

// BaseStack draws a section through each axle, from the inner plate on the
// left to the outer one, and tells its parts in a table.
func BaseStack(s *Side) (*Drawing, error) {
	width := s.Base.CavityWidthMM + 2*s.Base.PlateThicknessMM
	posts := s.posts()
	count := min(len(posts), sectionsPerRow)
	d := New(s.title("Sections through the axles"), 1.25*width*float64(count))
	gap := math.Max(0.2*width, 8*d.TextHeight())
	top := 0.0
	for i := range posts {
		if i%sectionsPerRow == 0 && i > 0 {
			top = d.box.bottom - 4*d.TextHeight()
		}
		if err := d.section(s, &posts[i], float64(i%sectionsPerRow)*(width+gap), top); err != nil {
			return nil, err
		}
	}
	d.ScaleBar()
	d.paragraph(d.Title + ". Inner plate on the left, lengths along the axle true; the diameters of spacers are free, and flanges are drawn as lines.")
	d.wrapped(s.stackRows())
	d.footer()
	return d, nil
}

// post is what stands across the cavity: an axle, or the bolt of an idler.
type post struct {
	name, table    string
	axle           int // of an axle
	link           int // of an idler, else -1
	largestMM      float64
	fromEdge       float64
	boltMM, holeMM float64
	boltIsFixed    bool
	parts          []base.StackPart
}

// posts are the axles, then the idlers.
func (s *Side) posts() []post {
	var all []post
	for i, a := range s.Base.Axles {
		all = append(all, post{
			name:  fmt.Sprintf("axle %d, %s", i+1, map[bool]string{true: "dead", false: "live"}[a.Kind == base.AxleKindDead]),
			table: strconv.Itoa(i + 1), axle: i, link: -1, largestMM: a.WheelDiameterMM, fromEdge: s.Layout.Axles[i].FromEdgeMM,
			boltMM: a.BoltDiameterMM, holeMM: a.HoleDiameterMM, boltIsFixed: a.Kind == base.AxleKindDead, parts: s.Layout.Stacks[i].Parts,
		})
	}
	for i := range s.Layout.Links {
		if o := s.Layout.Links[i].Idler; o != nil {
			d := s.Base.Links[i].Idler
			all = append(all, post{
				name: idlerName(i), table: idlerName(i), link: i, largestMM: 2 * o.Path.Wheels[2].PitchRadiusMM, fromEdge: o.FromEdgeMM,
				boltMM: d.BoltDiameterMM, holeMM: d.HoleDiameterMM, boltIsFixed: true, parts: o.Stack.Parts,
			})
		}
	}
	return all
}

// section draws the section through one axle or idler, the outside of its inner
// plate at left, its highest point at top.
func (d *Drawing) section(s *Side, o *post, left, top float64) error {
	b := &s.Base
	height := d.TextHeight()
	high := math.Max(o.largestMM, b.PlateHeightMM) / 2
	if o.link >= 0 { // off the middle of the plate
		high = math.Max(o.largestMM/2, b.PlateHeightMM-o.fromEdge)
	}
	y := top - high - 5*height // of the axis
	zero := left + b.PlateThicknessMM
	plateBottom := y - o.fromEdge
	for _, z := range []float64{-b.PlateThicknessMM, b.CavityWidthMM} {
		d.Block(Pen{Layer: Plate, Weight: Medium}, at(zero+z, plateBottom), at(zero+z+b.PlateThicknessMM, plateBottom+b.PlateHeightMM))
	}
	d.pin(s, o, zero, y)
	lowest := plateBottom
	parts := o.parts
	bottoms := make([]float64, len(parts))
	for i, part := range parts {
		var err error
		if bottoms[i], err = d.stackPart(s, o, part, zero, y); err != nil {
			return err
		}
		lowest = math.Min(lowest, bottoms[i])
	}
	d.numberParts(s, parts, bottoms, zero, lowest-2.2*height)
	d.Line(Pen{Layer: Notes, Dash: Chain}, at(left-2*height, y), at(zero+b.CavityWidthMM+b.PlateThicknessMM+2*height, y))
	head := y + high + 1.2*height
	d.Across(at(zero, plateBottom+b.PlateHeightMM), at(zero+b.CavityWidthMM, plateBottom+b.PlateHeightMM), head, "cavity "+short(b.CavityWidthMM))
	d.Text(at(zero+b.CavityWidthMM/2, head+2*height), Middle, o.name)
	return nil
}

// pin draws the bolt of a dead axle, or the holes of a live one.
func (d *Drawing) pin(s *Side, o *post, zero, y float64) {
	b := &s.Base
	if o.boltIsFixed && o.boltMM > 0 {
		d.Rect(Pen{Layer: Holes, Weight: Medium},
			at(zero-b.PlateThicknessMM, y-o.boltMM/2), at(zero+b.CavityWidthMM+b.PlateThicknessMM, y+o.boltMM/2))
		return
	}
	if o.holeMM == 0 {
		return
	}
	for _, z := range []float64{-b.PlateThicknessMM, b.CavityWidthMM} {
		for _, side := range []float64{-1, 1} {
			edge := y + side*o.holeMM/2
			d.Line(Pen{Layer: Holes, Weight: Medium}, at(zero+z, edge), at(zero+z+b.PlateThicknessMM, edge))
		}
	}
}

// stackPart draws one part and returns its lowest point.
func (d *Drawing) stackPart(s *Side, o *post, part base.StackPart, zero, y float64) (bottom float64, err error) {
	from, to := zero+part.StartMM, zero+part.EndMM
	switch {
	case part.Part == base.PartKindWheel:
		d.Block(Pen{Layer: Wheels, Weight: Medium}, at(from, y-o.largestMM/2), at(to, y+o.largestMM/2))
		return y - o.largestMM/2, nil
	case part.Link == nil:
		radius := math.Max(o.boltMM, o.holeMM)/2 + 2
		d.Rect(Pen{Layer: Wheels, Weight: Thin}, at(from, y-radius), at(to, y+radius))
		return y - radius, nil
	}
	_, solved, err := s.beltPath(*part.Link)
	if err != nil {
		return 0, err
	}
	l := &s.Layout.Links[*part.Link]
	index, flange, outside := 0, l.Geometry.Drive.Driver.FlangeDiameterMM, false
	switch {
	case o.link >= 0:
		idler := s.Base.Links[o.link].Idler
		index, flange, outside = 2, idler.FlangeDiameterMM, idler.Side == path.SideOutside
	case o.axle == l.ToAxle:
		index, flange = 1, l.Geometry.Drive.Driven.FlangeDiameterMM
	}
	if outside {
		solved.BackMM, solved.ToothSideMM = solved.ToothSideMM, solved.BackMM
	}
	return d.rimSection(s, index, flange, solved, [2]float64{from, to}, y), nil
}

// rimSection draws a wheel of a belt with its flanges, and the belt on it.
func (d *Drawing) rimSection(s *Side, index int, flange *float64, solved path.Answer, ends [2]float64, y float64) (bottom float64) {
	w := solved.Solutions[0].Wheels[index]
	rim := w.RimRadiusMM
	d.Rect(Pen{Layer: Wheels, Weight: Medium}, at(ends[0], y-rim), at(ends[1], y+rim))
	bottom = y - rim
	if flange != nil {
		for _, z := range ends {
			d.Line(Pen{Layer: Wheels, Weight: Thick}, at(z, y-*flange/2), at(z, y+*flange/2))
		}
		bottom = y - *flange/2
	}
	if solved.BackMM == nil || solved.ToothSideMM == nil {
		return bottom
	}
	middle, half := (ends[0]+ends[1])/2, s.Base.BeltWidthMM/2
	inner, outer := w.PitchRadiusMM-*solved.ToothSideMM, w.PitchRadiusMM+*solved.BackMM
	for _, side := range []float64{-1, 1} {
		d.Block(Pen{Layer: Belt, Weight: Medium}, at(middle-half, y+side*inner), at(middle+half, y+side*outer))
	}
	return math.Min(bottom, y-outer)
}

// numberParts writes the numbers of the parts under a section, staggered where
// they are close, each with a line up to its part; and the lanes under them.
func (d *Drawing) numberParts(s *Side, parts []base.StackPart, bottoms []float64, zero, y float64) {
	height := d.TextHeight()
	last, down := math.Inf(-1), 0.0
	for i, part := range parts {
		x := zero + (part.StartMM+part.EndMM)/2
		text := strconv.Itoa(i + 1)
		if x-last < d.TextWidth(text)+height && down == 0 {
			down = 1.6 * height
		} else {
			down = 0
		}
		last = x
		d.Text(at(x, y-down), Middle, text)
		d.Line(fine, at(x, y-down+1.2*height), at(x, bottoms[i]))
		if part.Link != nil {
			d.Text(at(x, y-3.2*height), Middle, laneName(s.Layout.Links[*part.Link].Lane))
		}
	}
}

func (s *Side) stackRows() [][]string {
	rows := [][]string{{"Axle", "No.", "Part", "From", "To", "Length"}}
	for _, o := range s.posts() {
		for k, part := range o.parts {
			rows = append(rows, []string{o.table, strconv.Itoa(k + 1), partName(part), mm(part.StartMM), mm(part.EndMM), mm(part.EndMM - part.StartMM)})
		}
	}
	return rows
}

func partName(part base.StackPart) string {
	switch {
	case part.Part == base.PartKindWheel:
		return "wheel"
	case part.Link == nil:
		return "spacer"
	case part.Part == base.PartKindIdler:
		return fmt.Sprintf("idler, belt %d", *part.Link+1)
	}
	return fmt.Sprintf("pulley, belt %d", *part.Link+1)
}
