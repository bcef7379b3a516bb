package drawing

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/beltmath/path"
)

func toothed(teeth int, x, y float64) path.Wheel {
	return path.Wheel{Kind: path.KindToothed, Side: path.SideInside, ToothCount: &teeth, Center: &beltmath.Point{XMM: x, YMM: y}}
}

func smooth(side path.Side, diameterMM, x, y float64) path.Wheel {
	return path.Wheel{Kind: path.KindSmooth, Side: side, DiameterMM: &diameterMM, Center: &beltmath.Point{XMM: x, YMM: y}}
}

func drawPath(t *testing.T, q path.Query, index int) *Drawing {
	t.Helper()
	a, err := path.Solve(q)
	require.NoError(t, err)
	return Path(q, a, index)
}

func drawDrive(t *testing.T, driver, driven, belt int, section string, center float64) *Drawing {
	t.Helper()
	in := beltmath.DriveInput{
		Section: section, Driver: beltmath.Pulley{ToothCount: driver, FlangeDiameterMM: new(65.0)},
		Driven: beltmath.Pulley{ToothCount: driven}, BeltToothCount: &belt,
	}
	d, err := in.Resolve()
	require.NoError(t, err)
	g, err := d.Geometry()
	require.NoError(t, err)
	if center == 0 {
		center = g.CenterDistanceMM
	}
	a, err := path.Solve(path.OfDrive(d, center))
	require.NoError(t, err)
	return Drive(g, a, center)
}

// drawings are drawings of every kind and size.
func drawings(t *testing.T) map[string]*Drawing {
	t.Helper()
	two := []path.Wheel{toothed(36, 0, 0), toothed(36, 345, 0), smooth(path.SideOutside, 40, 0, 0)}
	moving := path.Query{Section: "H5M", Wheels: two, BeltToothCount: new(177), Moving: &path.Moving{
		WheelIndex: 2, Segment: &path.Segment{From: &beltmath.Point{XMM: 120, YMM: 60}, To: &beltmath.Point{XMM: 120, YMM: -60}},
	}}
	arm := path.Query{Section: "H5M", Wheels: []path.Wheel{toothed(36, 0, 0), toothed(24, 0, 0), toothed(45, 300, 0)}, BeltToothCount: new(190)}
	arm.Moving = &path.Moving{WheelIndex: 1, Arc: &path.Arc{Center: &beltmath.Point{}, RadiusMM: 190, FromDeg: -80, ToDeg: -10}}
	ring := path.Query{Section: "H5M"}
	for i := range 12 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 12)
		w := toothed(24, 300*cos, 300*sin)
		if i%2 == 1 {
			w = smooth(path.SideOutside, 20, 250*cos, 250*sin)
		}
		ring.Wheels = append(ring.Wheels, w)
	}
	return map[string]*Drawing{
		"drive":       drawDrive(t, 36, 45, 178, "H5M", 343.7),
		"small drive": drawDrive(t, 10, 14, 60, "MXL", 0),
		"large drive": drawDrive(t, 60, 180, 400, "H14M", 0),
		"two places":  drawPath(t, moving, 1),
		"arm":         drawPath(t, arm, 0),
		"ring":        drawPath(t, ring, 0),
	}
}

// TestBeltsCloseUp: the lines and arcs of each of a belt's three lines, back,
// pitch line and tooth tips, end where another begins.
func TestBeltsCloseUp(t *testing.T) {
	for name, d := range drawings(t) {
		ends := map[Pen][]beltmath.Point{}
		for _, s := range d.shapes {
			if s.pen.Layer != Belt {
				continue
			}
			pair := []beltmath.Point{s.a, s.b}
			if s.kind == arcShape {
				pair = []beltmath.Point{polar(s.a, s.radius, s.from), polar(s.a, s.radius, s.to)}
			}
			ends[s.pen] = append(ends[s.pen], pair...)
		}
		assert.Len(t, ends, 3, name)
		for pen, points := range ends {
			for i, p := range points {
				met := 0
				for k, other := range points {
					if k != i && math.Hypot(p.XMM-other.XMM, p.YMM-other.YMM) < 1e-9 {
						met++
					}
				}
				assert.Equal(t, 1, met, "%s, %v at %v", name, pen, p)
			}
		}
	}
}

// TestTextsKeepApart: no text stands on another one.
func TestTextsKeepApart(t *testing.T) {
	for name, d := range drawings(t) {
		var texts []shape
		for _, s := range d.shapes {
			if s.kind == textShape {
				texts = append(texts, s)
			}
		}
		require.Greater(t, len(texts), 10, name)
		for i, a := range texts {
			for _, b := range texts[:i] {
				assert.False(t, meet(d.boxOf(a), d.boxOf(b)), "%s: %q on %q", name, a.text, b.text)
			}
		}
	}
}

func meet(a, b box) bool { return a.meets(b) }

func (d *Drawing) boxOf(s shape) box {
	left := s.a.XMM - []float64{0, 0.5, 1}[s.anchor]*d.TextWidth(s.text)
	return box{left, s.a.YMM, left + d.TextWidth(s.text), s.a.YMM + s.radius}
}

// TestSVGIsInMillimeters: one unit of the picture is one millimeter, everything
// is inside, and the bar is 100 mm long.
func TestSVGIsInMillimeters(t *testing.T) {
	for name, d := range drawings(t) {
		root := readDrawing(t, d.SVG())
		view := strings.Fields(root["viewBox"])
		require.Len(t, view, 4, name)
		assert.Equal(t, view[2]+"mm", root["width"], name)
		assert.Equal(t, view[3]+"mm", root["height"], name)
		number := func(i int) float64 {
			v, err := strconv.ParseFloat(view[i], 64)
			require.NoError(t, err)
			return v
		}
		assert.Less(t, number(0), d.box.left)
		assert.Greater(t, number(0)+number(2), d.box.right)
		assert.Less(t, number(1), -d.box.top)
		assert.Greater(t, number(1)+number(3), -d.box.bottom)
		bars := 0
		for _, s := range d.shapes {
			if s.kind == lineShape && s.pen.Layer == Notes && s.pen.Weight == Medium && s.a.YMM == s.b.YMM && math.Abs(s.b.XMM-s.a.XMM-100) < 1e-12 {
				bars++
			}
		}
		assert.Equal(t, 1, bars, name)
	}
}

// readDrawing reads a whole SVG and returns the attributes of its root.
func readDrawing(t *testing.T, raw []byte) map[string]string {
	t.Helper()
	root := map[string]string{}
	decoder := xml.NewDecoder(bytes.NewReader(raw))
	for {
		token, err := decoder.Token()
		if err == io.EOF { //nolint:errorlint // as io.Reader promises
			return root
		}
		require.NoError(t, err)
		if start, ok := token.(xml.StartElement); ok && start.Name.Local == "svg" {
			for _, a := range start.Attr {
				root[a.Name.Local] = a.Value
			}
		}
	}
}

// TestForeignTextIsHarmless: what people write stays text.
func TestForeignTextIsHarmless(t *testing.T) {
	const nasty = "a<b>&\"'</text><script>\x00\n  0\nEOF\u00e9\u2028"
	d := New(nasty, 100)
	d.Text(beltmath.Point{}, Middle, nasty)
	readDrawing(t, d.SVG())
	assert.NotContains(t, string(d.SVG()), "<script>")
	assert.NotContains(t, string(d.SVG()), "\x00")
	assert.Equal(t, 1, strings.Count(string(d.DXF()), "\nEOF\n"))
	assert.Contains(t, string(d.DXF()), `EOF\U+00E9\U+2028`)
	for _, b := range d.DXF() {
		assert.Less(t, b, byte(0x7f))
	}
}

// python is an interpreter that has ezdxf, a reader of DXF made by others.
func python(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"python3", "/usr/bin/python3"} {
		if exec.CommandContext(t.Context(), name, "-c", "import ezdxf").Run() == nil { //nolint:gosec // two fixed names
			return name
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("python3 with ezdxf is needed: apt-get install python3-ezdxf")
	}
	t.Skip("python3 with ezdxf is not installed here: apt-get install python3-ezdxf")
	return ""
}

// readDXF prints what ezdxf finds in a file.
const readDXF = `
import sys, ezdxf
doc = ezdxf.readfile(sys.argv[1])
audit = doc.audit()
print(doc.dxfversion, doc.units, len(audit.errors), len(audit.fixes))
print(*sorted(l.dxf.name for l in doc.layers if l.dxf.name not in ("0", "Defpoints")))
for e in doc.modelspace():
    if e.dxftype() == "CIRCLE":
        print("%s %.6f %.6f %.6f" % (e.dxf.layer, e.dxf.center.x, e.dxf.center.y, e.dxf.radius))
length = 0
for e in doc.modelspace().query('LINE ARC[layer=="BELT"]'):
    if e.dxf.layer == "BELT" and e.dxf.linetype == "CENTER":
        if e.dxftype() == "LINE":
            length += (e.dxf.end - e.dxf.start).magnitude
        else:
            length += e.dxf.radius * ((e.dxf.end_angle - e.dxf.start_angle) % 360) * 3.141592653589793 / 180
print("%.3f" % length)
`

// TestDXFReadsElsewhere lets a reader made by others audit the files, and
// measure the belt in one.
func TestDXFReadsElsewhere(t *testing.T) {
	interpreter := python(t)
	for name, d := range drawings(t) {
		file := filepath.Join(t.TempDir(), "drawing.dxf")
		require.NoError(t, os.WriteFile(file, d.DXF(), 0o600))
		out, err := exec.CommandContext(t.Context(), interpreter, "-c", readDXF, file).CombinedOutput() //nolint:gosec // our own script
		require.NoError(t, err, "%s: %s", name, out)
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		assert.Equal(t, "AC1009 4 0 0", lines[0], name) // release 12, millimeters, no error, nothing to mend
		assert.Equal(t, "BELT HOLES NOTES PLATE STANDOFFS WHEELS", lines[1], name)
		if name == "drive" {
			// 36 and 45 teeth of 5 mm, 2a = 1.143; flange 65.
			assert.Contains(t, lines, "WHEELS 0.000000 0.000000 32.500000")
			assert.Contains(t, lines, "WHEELS 0.000000 0.000000 28.076390") // 180 / (2 pi) - 0.5715
			assert.Contains(t, lines, "WHEELS 343.700000 0.000000 35.238362")
			// 0.0246 mm farther apart than the belt of 890 mm wants.
			assert.Equal(t, "890.049", lines[len(lines)-1])
		}
	}
}
