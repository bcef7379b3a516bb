package drawing

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// marginMM is the white edge round a drawing.
const marginMM = 5

// SVG writes the drawing with real millimeters as its size, so that it prints
// in its true size where the printer is told not to fit it to the page.
func (d *Drawing) SVG() []byte {
	margin := marginMM * math.Max(1, d.Scale)
	left, top := d.box.left-margin, -d.box.top-margin
	width, height := d.box.right-d.box.left+2*margin, d.box.top-d.box.bottom+2*margin
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="%s %s %s %s" role="img">`+"\n",
		number(width), number(height), number(left), number(top), number(width), number(height))
	fmt.Fprintf(&out, "<title>%s</title>\n", escaped(d.Title))
	fmt.Fprintf(&out, `<rect x="%s" y="%s" width="%s" height="%s" fill="#fff"/>`+"\n", number(left), number(top), number(width), number(height))
	d.writeLayers(&out)
	out.WriteString("</svg>\n")
	return out.Bytes()
}

// strokes are the colors of the layers: dark enough to print in black and
// white, and blue against orange, which nearly everybody tells apart. What a
// line means never hangs on its color.
var strokes = map[Layer]string{
	Plate: "#1b1b1b", Wheels: "#5a5a5a", Holes: "#1b1b1b", Standoffs: "#a34700", Belt: "#00508c", Notes: "#1b1b1b",
}

func (d *Drawing) writeLayers(out *bytes.Buffer) {
	for _, layer := range layers {
		fmt.Fprintf(out, `<g id="%s" fill="none" stroke="%s" stroke-linecap="round" font-family="sans-serif">`+"\n", layer, strokes[layer])
		for i := range d.shapes {
			if d.shapes[i].pen.Layer == layer {
				d.writeSVG(out, &d.shapes[i])
			}
		}
		out.WriteString("</g>\n")
	}
}

func (d *Drawing) writeSVG(out *bytes.Buffer, s *shape) {
	x, y := number(s.a.XMM), number(-s.a.YMM)
	switch s.kind {
	case lineShape:
		fmt.Fprintf(out, `<path d="M%s %sL%s %s"%s/>`, x, y, number(s.b.XMM), number(-s.b.YMM), d.stroke(s))
	case circleShape:
		fmt.Fprintf(out, `<circle cx="%s" cy="%s" r="%s"%s/>`, x, y, number(s.radius), d.stroke(s))
	case rectShape:
		fmt.Fprintf(out, `<rect x="%s" y="%s" width="%s" height="%s"%s/>`,
			x, number(-s.b.YMM), number(s.b.XMM-s.a.XMM), number(s.b.YMM-s.a.YMM), d.stroke(s))
	case arcShape:
		from, to := polar(s.a, s.radius, s.from), polar(s.a, s.radius, s.to)
		large := 0
		if s.to-s.from > math.Pi {
			large = 1
		}
		r := number(s.radius)
		fmt.Fprintf(out, `<path d="M%s %sA%s %s 0 %d 0 %s %s"%s/>`,
			number(from.XMM), number(-from.YMM), r, r, large, number(to.XMM), number(-to.YMM), d.stroke(s))
	case textShape:
		// A font is some 1.4 times as high as its capitals.
		fmt.Fprintf(out, `<text x="%s" y="%s" font-size="%s" text-anchor="%s" fill="#1b1b1b" stroke="none">%s</text>`,
			x, y, number(1.4*s.radius), [...]string{"start", "middle", "end"}[s.anchor], escaped(s.text))
	}
	out.WriteByte('\n')
}

// stroke is the attributes of a line.
func (d *Drawing) stroke(s *shape) string {
	scale := d.Scale
	text := fmt.Sprintf(` stroke-width="%s"`, number([...]float64{0.18, 0.35, 0.7}[s.pen.Weight]*scale))
	switch s.pen.Dash {
	case Dashed:
		text += fmt.Sprintf(` stroke-dasharray="%s %s"`, number(2.5*scale), number(1.5*scale))
	case Chain:
		text += fmt.Sprintf(` stroke-dasharray="%s %s %s %s"`, number(6*scale), number(1.2*scale), number(0.8*scale), number(1.2*scale))
	}
	if s.filled {
		text += ` fill="#ececec"`
	}
	return text
}

// number writes a coordinate to a tenth of a micrometer.
func number(v float64) string { return decimals(v, 4) }

func decimals(v float64, places int) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	if text == "-0" {
		return "0"
	}
	return text
}

func escaped(text string) string {
	var out strings.Builder
	_ = xml.EscapeText(&out, []byte(text)) // a strings.Builder never fails
	return out.String()
}
