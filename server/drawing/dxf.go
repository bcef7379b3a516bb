package drawing

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"github.com/beltspan/beltspan/beltmath"
)

// layerColors are the color numbers of the layers: 7 is black on white and white
// on black, 8 gray, 30 orange, 150 blue. They are told apart as those of strokes.
var layerColors = map[Layer]int{Plate: 7, Wheels: 8, Holes: 7, Standoffs: 30, Belt: 150, Notes: 8}

// DXF writes the drawing as Drawing Exchange Format of release 12, AC1009, in
// millimeters. Every text editor reads it, and nearly every CAD program.
func (d *Drawing) DXF() []byte {
	w := &dxfWriter{}
	w.section("HEADER")
	w.pairs(9, "$ACADVER", 1, "AC1009")
	w.pairs(9, "$INSUNITS", 70, 4, 9, "$MEASUREMENT", 70, 1) // millimeters, metric
	w.pairs(9, "$EXTMIN", 10, d.box.left, 20, d.box.bottom, 9, "$EXTMAX", 10, d.box.right, 20, d.box.top)
	w.pairs(0, "ENDSEC")
	w.section("TABLES")
	d.writeLineTypes(w)
	w.pairs(0, "TABLE", 2, "LAYER", 70, len(layers))
	for _, layer := range layers {
		w.pairs(0, "LAYER", 2, string(layer), 70, 0, 62, layerColors[layer], 6, "CONTINUOUS")
	}
	w.pairs(0, "ENDTAB", 0, "ENDSEC")
	w.section("ENTITIES")
	for i := range d.shapes {
		w.entity(&d.shapes[i])
	}
	w.pairs(0, "ENDSEC", 0, "EOF")
	return w.Bytes()
}

var lineTypes = [...]string{Solid: "CONTINUOUS", Dashed: "DASHED", Chain: "CENTER"}

func (d *Drawing) writeLineTypes(w *dxfWriter) {
	w.pairs(0, "TABLE", 2, "LTYPE", 70, len(lineTypes))
	for dash, parts := range [...][]float64{Solid: nil, Dashed: {2.5, -1.5}, Chain: {6, -1.2, 0.8, -1.2}} {
		length := 0.0
		for _, part := range parts {
			length += math.Abs(part) * d.Scale
		}
		w.pairs(0, "LTYPE", 2, lineTypes[dash], 70, 0, 3, "", 72, 65, 73, len(parts), 40, length)
		for _, part := range parts {
			w.pairs(49, part*d.Scale)
		}
	}
	w.pairs(0, "ENDTAB")
}

type dxfWriter struct{ bytes.Buffer }

func (w *dxfWriter) section(name string) { w.pairs(0, "SECTION", 2, name) }

// pairs writes group codes, each with its value.
func (w *dxfWriter) pairs(codesAndValues ...any) {
	for i := 0; i+1 < len(codesAndValues); i += 2 {
		value := codesAndValues[i+1]
		if f, ok := value.(float64); ok {
			text := decimals(f, 9)
			if !strings.Contains(text, ".") {
				text += ".0"
			}
			value = text
		}
		_, _ = fmt.Fprintf(w, "%3d\n%v\n", codesAndValues[i], value) // a buffer never fails
	}
}

func (w *dxfWriter) entity(s *shape) {
	head := func(name string) {
		w.pairs(0, name, 8, string(s.pen.Layer))
		if s.pen.Dash != Solid {
			w.pairs(6, lineTypes[s.pen.Dash])
		}
	}
	switch s.kind {
	case lineShape:
		head("LINE")
		w.pairs(10, s.a.XMM, 20, s.a.YMM, 30, 0.0, 11, s.b.XMM, 21, s.b.YMM, 31, 0.0)
	case circleShape:
		head("CIRCLE")
		w.pairs(10, s.a.XMM, 20, s.a.YMM, 30, 0.0, 40, s.radius)
	case rectShape:
		corners := [...]beltmath.Point{s.a, {XMM: s.b.XMM, YMM: s.a.YMM}, s.b, {XMM: s.a.XMM, YMM: s.b.YMM}}
		for i, from := range corners {
			w.entity(&shape{kind: lineShape, pen: s.pen, a: from, b: corners[(i+1)%len(corners)]})
		}
	case arcShape:
		head("ARC")
		w.pairs(10, s.a.XMM, 20, s.a.YMM, 30, 0.0, 40, s.radius, 50, degrees(s.from), 51, degrees(s.to))
	case textShape:
		head("TEXT")
		w.pairs(10, s.a.XMM, 20, s.a.YMM, 30, 0.0, 40, s.radius, 1, dxfText(s.text))
		if s.anchor != Left {
			w.pairs(72, int(s.anchor), 11, s.a.XMM, 21, s.a.YMM, 31, 0.0)
		}
	}
}

// degrees are those of an angle, 0 to 360.
func degrees(rad float64) float64 {
	d := math.Mod(rad*180/math.Pi, 360)
	if d < 0 {
		d += 360
	}
	return d
}

// dxfText makes a text safe: one line of ASCII, other characters by their
// number in four digits, which is all that readers take.
func dxfText(text string) string {
	const most = 0xffff
	var out strings.Builder
	for _, r := range text {
		switch {
		case r < ' ' || r == 0x7f:
			out.WriteByte(' ')
		case r > most:
			fmt.Fprintf(&out, `\U+%04X`, utf8.RuneError)
		case r > 0x7f || r == '\\': // which begins such a number
			fmt.Fprintf(&out, `\U+%04X`, r)
		default:
			out.WriteRune(r)
		}
	}
	return out.String()
}
