// Package drawing turns results into pictures: drawings to scale, in
// millimeters, written as SVG or DXF, and histograms. Everything in it is a pure
// function of a result.
//
// A Drawing is a list of lines, arcs, circles and texts on layers; x points to
// the right, y up. It is made to be read in black and white.
package drawing

import (
	"math"

	"github.com/beltspan/beltspan/beltmath"
)

// Layer is where a shape belongs.
type Layer string

// The layers of every drawing, in the order in which they are painted.
const (
	Plate     Layer = "PLATE"
	Wheels    Layer = "WHEELS"
	Holes     Layer = "HOLES"
	Standoffs Layer = "STANDOFFS"
	Belt      Layer = "BELT"
	Notes     Layer = "NOTES"
)

var layers = []Layer{Plate, Wheels, Holes, Standoffs, Belt, Notes}

// Dash is how a line is broken.
type Dash int

// The kinds of lines.
const (
	Solid  Dash = iota // an edge
	Dashed             // hidden, or elsewhere
	Chain              // a center line or a pitch line
)

// Weight is how thick a line is.
type Weight int

// The weights of lines.
const (
	Thin   Weight = iota // dimensions and center lines
	Medium               // edges
	Thick                // what the drawing is about
)

// Pen is how a line is drawn.
type Pen struct {
	Layer  Layer
	Dash   Dash
	Weight Weight
}

// Anchor says which part of a text stands at its point.
type Anchor int

// The anchors of texts.
const (
	Left Anchor = iota
	Middle
	Right
)

type kind int

const (
	lineShape kind = iota
	arcShape
	circleShape
	rectShape
	textShape
)

type shape struct {
	kind
	pen      Pen
	a, b     beltmath.Point // ends of a line, corners of a rectangle; center or place of the others
	radius   float64        // or the height of a text
	from, to float64        // angles of an arc, counter-clockwise
	filled   bool
	anchor   Anchor
	text     string
}

// Drawing is a drawing as it grows.
type Drawing struct {
	// Title says what it shows, for those who cannot see it.
	Title string
	// Scale is the factor by which texts and lines are larger than on a
	// drawing as wide as a hand; see Fit.
	Scale float64

	shapes []shape
	box    box
}

// New returns an empty drawing whose texts suit a subject of the given size.
func New(title string, sizeMM float64) *Drawing {
	const usualMM, least, most = 280, 0.75, 1000
	return &Drawing{Title: title, Scale: math.Max(least, math.Min(most, sizeMM/usualMM)), box: emptyBox()}
}

// TextHeight is the height of capitals in millimeters.
func (d *Drawing) TextHeight() float64 { return 3 * d.Scale }

// Line draws a straight line.
func (d *Drawing) Line(pen Pen, a, b beltmath.Point) {
	d.add(shape{kind: lineShape, pen: pen, a: a, b: b})
	d.box.hold(a, 0)
	d.box.hold(b, 0)
}

// Circle draws a circle.
func (d *Drawing) Circle(pen Pen, center beltmath.Point, radius float64) {
	d.add(shape{kind: circleShape, pen: pen, a: center, radius: radius})
	d.box.hold(center, radius)
}

// Disc draws a circle that is tinted where the format can.
func (d *Drawing) Disc(pen Pen, center beltmath.Point, radius float64) {
	d.Circle(pen, center, radius)
	d.shapes[len(d.shapes)-1].filled = true
}

// Rect draws an upright rectangle between two of its corners.
func (d *Drawing) Rect(pen Pen, a, b beltmath.Point) {
	low := beltmath.Point{XMM: math.Min(a.XMM, b.XMM), YMM: math.Min(a.YMM, b.YMM)}
	high := beltmath.Point{XMM: math.Max(a.XMM, b.XMM), YMM: math.Max(a.YMM, b.YMM)}
	d.add(shape{kind: rectShape, pen: pen, a: low, b: high})
	d.box.hold(low, 0)
	d.box.hold(high, 0)
}

// Block draws a rectangle that is tinted where the format can.
func (d *Drawing) Block(pen Pen, a, b beltmath.Point) {
	d.Rect(pen, a, b)
	d.shapes[len(d.shapes)-1].filled = true
}

// Arc draws an arc from one angle counter-clockwise to another, in radians.
func (d *Drawing) Arc(pen Pen, center beltmath.Point, radius, from, to float64) {
	const turn = 2 * math.Pi
	sweep := math.Mod(to-from, turn)
	if sweep < 0 {
		sweep += turn
	}
	d.add(shape{kind: arcShape, pen: pen, a: center, radius: radius, from: from, to: from + sweep})
	d.box.hold(polar(center, radius, from), 0)
	d.box.hold(polar(center, radius, from+sweep), 0)
	for quarter := math.Ceil(from / (math.Pi / 2)); quarter*math.Pi/2 < from+sweep; quarter++ {
		d.box.hold(polar(center, radius, quarter*math.Pi/2), 0)
	}
}

// Text writes a line of text of usual height, its foot at the given height.
func (d *Drawing) Text(at beltmath.Point, anchor Anchor, text string) {
	d.add(shape{kind: textShape, pen: Pen{Layer: Notes}, a: at, radius: d.TextHeight(), anchor: anchor, text: text})
	d.box.join(d.textBox(at, anchor, text))
}

// textBox is the room that a text takes.
func (d *Drawing) textBox(at beltmath.Point, anchor Anchor, text string) box {
	height, width := d.TextHeight(), d.TextWidth(text)
	left := at.XMM - []float64{0, 0.5, 1}[anchor]*width
	return box{left, at.YMM - 0.3*height, left + width, at.YMM + height}
}

// TextWidth is about how wide a text is; fonts differ.
func (d *Drawing) TextWidth(text string) float64 {
	return 0.82 * d.TextHeight() * float64(len([]rune(text)))
}

func (d *Drawing) add(s shape) { d.shapes = append(d.shapes, s) }

func polar(center beltmath.Point, radius, angle float64) beltmath.Point {
	sin, cos := math.Sincos(angle)
	return beltmath.Point{XMM: center.XMM + radius*cos, YMM: center.YMM + radius*sin}
}

// box is the rectangle that holds a drawing.
type box struct{ left, bottom, right, top float64 }

func emptyBox() box { return box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)} }

func (b *box) hold(p beltmath.Point, radius float64) {
	b.left, b.right = math.Min(b.left, p.XMM-radius), math.Max(b.right, p.XMM+radius)
	b.bottom, b.top = math.Min(b.bottom, p.YMM-radius), math.Max(b.top, p.YMM+radius)
}

func (b *box) join(o box) {
	b.hold(beltmath.Point{XMM: o.left, YMM: o.bottom}, 0)
	b.hold(beltmath.Point{XMM: o.right, YMM: o.top}, 0)
}

func (b box) meets(o box) bool {
	return b.left < o.right && o.left < b.right && b.bottom < o.top && o.bottom < b.top
}
