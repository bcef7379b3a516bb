package server

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/demo"
)

func demoBase(t *testing.T, variant string) *pb.Base {
	t.Helper()
	r, err := demo.LayOut(variant)
	require.NoError(t, err)
	return r.Base
}

// bases are the demo bases, and some that are hard to draw.
func bases(t *testing.T) map[string]*pb.Base {
	t.Helper()
	all := map[string]*pb.Base{}
	for _, variant := range demo.Variants {
		all[variant] = demoBase(t, variant)
	}
	crowded := demoBase(t, "a")
	for i := range 10 {
		crowded.Standoffs = append(crowded.Standoffs, &pb.Standoff{
			Center: &pb.Point{XMm: 240 + 12*float64(i), YMm: 45}, DiameterMm: 8, HoleDiameterMm: 4,
		})
	}
	crowded.Standoffs = append(crowded.Standoffs, &pb.Standoff{Center: &pb.Point{XMm: 430, YMm: 30}, DiameterMm: 14})
	all["crowded"] = crowded

	long := demoBase(t, "b")
	long.Standoffs = nil
	for len(long.Axles) < 16 {
		long.Axles = append(long.Axles, &pb.Axle{WheelDiameterMm: 130, WheelWidthMm: 35, HoleDiameterMm: 8})
		link := proto.CloneOf(long.Links[0])
		link.FromAxle, link.ToAxle = int32(len(long.Axles)-2), int32(len(long.Axles)-1)
		long.Links = append(long.Links, link)
	}
	all["long"] = long

	pitch := demoBase(t, "a")
	for _, l := range pitch.Links {
		l.Drive.Section, l.Drive.PitchMm = "", new(5.0)
	}
	pitch.BeltHeightMm, pitch.ToothHeightMm, pitch.PitchLineDifferentialMm = new(3.8), new(2.1), new(0.6)
	for _, a := range pitch.Axles {
		a.HoleDiameterMm, a.BoltDiameterMm = 0, 0
	}
	pitch.PlateMarginMm = 0
	all["pitch"] = pitch
	all["idlers"] = roverOnIdlers(t)
	return all
}

var sheets = []pb.Sheet{pb.Sheet_SHEET_PLAN, pb.Sheet_SHEET_DRILL_TEMPLATE, pb.Sheet_SHEET_STACK}

func draw(t *testing.T, b *pb.Base, sheet pb.Sheet, format pb.DrawingFormat, paper pb.Paper) string {
	t.Helper()
	body, err := (&Service{}).DrawBase(context.Background(), &pb.DrawBaseRequest{Base: b, Sheet: sheet, Format: format, Paper: paper})
	require.NoError(t, err)
	return string(body.GetData())
}

func drawDXF(t *testing.T, b *pb.Base, sheet pb.Sheet) []entity {
	t.Helper()
	return readDXF(t, draw(t, b, sheet, pb.DrawingFormat_DRAWING_FORMAT_DXF, 0))
}

// entity is one shape of a DXF file, by group code.
type entity struct {
	kind   string
	values map[int]string
}

func (e entity) layer() string { return e.values[8] }

func (e entity) number(t *testing.T, code int) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(e.values[code], 64)
	require.NoError(t, err, "group %d of %s", code, e.kind)
	return v
}

// readDXF reads the entities of a file.
func readDXF(t *testing.T, text string) []entity {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	require.Zero(t, len(lines)%2)
	var all []entity
	inside := false
	for i := 0; i < len(lines); i += 2 {
		code, err := strconv.Atoi(strings.TrimSpace(lines[i]))
		require.NoError(t, err)
		value := lines[i+1]
		switch {
		case code == 2 && value == "ENTITIES":
			inside = true
		case inside && code == 0 && value == "ENDSEC":
			return all
		case inside && code == 0:
			all = append(all, entity{value, map[int]string{}})
		case inside:
			all[len(all)-1].values[code] = value
		}
	}
	return all
}

type circle struct{ x, y, r float64 }

func (c circle) near(o circle, within float64) bool {
	return math.Abs(c.x-o.x) <= within && math.Abs(c.y-o.y) <= within && math.Abs(c.r-o.r) <= within
}

func circlesOf(t *testing.T, all []entity, layer string) []circle {
	t.Helper()
	var found []circle
	for _, e := range all {
		if e.kind == "CIRCLE" && (layer == "" || e.layer() == layer) {
			found = append(found, circle{e.number(t, 10), e.number(t, 20), e.number(t, 40)})
		}
	}
	return found
}

// TestDrillTemplateHoldsTheScenario: plate and holes are where the demo
// scenario has them, which was computed outside this code.
func TestDrillTemplateHoldsTheScenario(t *testing.T) {
	want := []circle{
		{0, 0, 4},
		{344.986956, -3, 11},
		{699.974280, 0, 4},
		{130, 40, 2.75},
		{215, 40, 2.75},
		{485, 40, 2.75},
		{570, 40, 2.75},
		{172.5, -43, 2.75},
		{527.5, -43, 2.75},
	}
	for _, sheet := range []pb.Sheet{pb.Sheet_SHEET_DRILL_TEMPLATE, pb.Sheet_SHEET_PLAN} {
		all := drawDXF(t, demoBase(t, "a"), sheet)
		got := circlesOf(t, all, "HOLES")
		require.Len(t, got, len(want))
		for i := range want {
			assert.True(t, want[i].near(got[i], 5.01e-7), "%v, not %v", got[i], want[i]) // half the last digit printed
		}
		corners := map[[2]float64]int{}
		for _, e := range all {
			if e.layer() == "PLATE" {
				require.Equal(t, "LINE", e.kind)
				corners[[2]float64{e.number(t, 10), e.number(t, 20)}]++
				corners[[2]float64{e.number(t, 11), e.number(t, 21)}]++
			}
		}
		assert.Equal(t, map[[2]float64]int{{-60, -60}: 2, {760, -60}: 2, {760, 60}: 2, {-60, 60}: 2}, corners) // 820 x 120
	}
}

// TestPlanDrawsBeltsAsTheyRun: round a loop that bulges everywhere, a line that
// lies b outside the pitch line is 2 pi b longer than it (Steiner). The belts of
// 870 and 890 mm are drawn by their back and by their tooth tips.
func TestPlanDrawsBeltsAsTheyRun(t *testing.T) {
	section, err := beltmath.FindSection("H5M")
	require.NoError(t, err)
	tooth := *section.PitchLineDifferentialMM.Value + *section.ToothHeightMM.Value
	back := *section.BeltHeightMM.Value - tooth
	lengths := map[string]float64{}
	for _, e := range drawDXF(t, demoBase(t, "a"), pb.Sheet_SHEET_PLAN) {
		if e.layer() != "BELT" {
			continue
		}
		switch e.kind {
		case "LINE":
			lengths[e.values[6]] += math.Hypot(e.number(t, 11)-e.number(t, 10), e.number(t, 21)-e.number(t, 20))
		case "ARC":
			sweep := math.Mod(e.number(t, 51)-e.number(t, 50)+360, 360)
			lengths[e.values[6]] += e.number(t, 40) * sweep * math.Pi / 180
		}
	}
	offsets := 2 * math.Pi * (back - tooth)
	assert.InDelta(t, 2*870+offsets, lengths["DASHED"], 1e-6, "inboard") // coordinates have 9 decimals
	assert.InDelta(t, 2*890+offsets, lengths[""], 1e-6, "outboard")
}

// TestStackDrawsTheScenario: the parts on the axles of the demo rover are where
// the scenario has them.
func TestStackDrawsTheScenario(t *testing.T) {
	text := draw(t, demoBase(t, "a"), pb.Sheet_SHEET_STACK, pb.DrawingFormat_DRAWING_FORMAT_SVG, 0)
	var found []string
	for _, e := range svgTexts(t, text) {
		found = append(found, e.text)
	}
	all := strings.Join(found, " ")
	for _, row := range []string{
		"1 1 spacer 0.000 4.000 4.000", "1 5 spacer 85.000 125.000 40.000", "2 2 pulley, belt 1 4.000 36.000 32.000",
		"2 4 wheel 40.000 85.000 45.000", "2 6 pulley, belt 2 89.000 121.000 32.000", "3 1 spacer 0.000 40.000 40.000",
	} {
		assert.Contains(t, all, row)
	}
}

// svgText is a text of a picture and the room it takes in a usual font.
type svgText struct {
	text                     string
	left, bottom, right, top float64
}

var textElement = regexp.MustCompile(`<text x="([^"]+)" y="([^"]+)" font-size="([^"]+)" text-anchor="([a-z]+)"[^>]*>([^<]*)</text>`)

func svgTexts(t *testing.T, picture string) []svgText {
	t.Helper()
	var all []svgText
	for _, m := range textElement.FindAllStringSubmatch(picture, -1) {
		var v [3]float64
		for i := range v {
			var err error
			v[i], err = strconv.ParseFloat(m[i+1], 64)
			require.NoError(t, err)
		}
		// Measured on a common sans-serif font: the mean letter is 0.55 of the
		// size wide, capitals are 0.73 of it high.
		width := 0.55 * v[2] * float64(len(m[5]))
		left := v[0] - map[string]float64{"start": 0, "middle": 0.5, "end": 1}[m[4]]*width
		all = append(all, svgText{m[5], left, -v[1], left + width, -v[1] + 0.73*v[2]})
	}
	return all
}

// TestBaseSheetsAreReadable: each sheet is a whole picture in real millimeters,
// holds all of its texts, puts none on another, and has the bar, the caution
// and the words it needs.
func TestBaseSheetsAreReadable(t *testing.T) {
	viewBox := regexp.MustCompile(`^<svg [^>]*width="([0-9.]+)mm" height="([0-9.]+)mm" viewBox="([-0-9.]+) ([-0-9.]+) ([0-9.]+) ([0-9.]+)"`)
	for name, b := range bases(t) {
		for _, sheet := range sheets {
			picture := draw(t, b, sheet, pb.DrawingFormat_DRAWING_FORMAT_SVG, 0)
			label := fmt.Sprint(name, " ", sheet)
			require.NoError(t, xml.Unmarshal([]byte(picture), new(struct{})), label)
			assert.NotContains(t, picture, "NaN")
			m := viewBox.FindStringSubmatch(picture)
			require.NotNil(t, m, label)
			assert.Equal(t, []string{m[1], m[2]}, []string{m[5], m[6]}, label)
			number := func(i int) float64 { v, _ := strconv.ParseFloat(m[i], 64); return v }
			texts := svgTexts(t, picture)
			require.Greater(t, len(texts), 15, label)
			for i, a := range texts {
				assert.True(t, a.left >= number(3) && a.right <= number(3)+number(5) && -a.top >= number(4) && -a.bottom <= number(4)+number(6),
					"%s: %q reaches out", label, a.text)
				for _, o := range texts[:i] {
					assert.False(t, a.left < o.right && o.left < a.right && a.bottom < o.top && o.bottom < a.top, "%s: %q on %q", label, a.text, o.text)
				}
			}
			words := strings.Join(strings.Fields(textElement.ReplaceAllString(picture, "$5 ")), " ")
			assert.Contains(t, words, "100 mm", label)
			assert.Contains(t, words, "turning wheels", label)
			if sheet == pb.Sheet_SHEET_DRILL_TEMPLATE {
				assert.Contains(t, words, "THIS SIDE UP", label)
				assert.Contains(t, words, "True size", label)
			}
		}
	}
}

// TestBasePages: every page shows its part in true size, has its own bar, and
// every hole is whole on one of them.
func TestBasePages(t *testing.T) {
	papers := map[pb.Paper]struct {
		long, short float64
		pages       int // of the demo's plate of 820 mm
	}{
		pb.Paper_PAPER_A4:     {297, 210, 3},
		pb.Paper_PAPER_LETTER: {279.4, 215.9, 4},
	}
	page := regexp.MustCompile(`<svg class="page" width="([0-9.]+)mm" height="([0-9.]+)mm" viewBox="0 0 ([0-9.]+) ([0-9.]+)"[^>]*>\s*<svg x="[0-9]+" y="[0-9]+" width="([0-9.]+)" height="([0-9.]+)" viewBox="([-0-9.]+) ([-0-9.]+) ([-0-9.]+) ([-0-9.]+)">`)
	for paper, want := range papers {
		for name, b := range bases(t) {
			text := draw(t, b, pb.Sheet_SHEET_DRILL_TEMPLATE, 0, paper)
			pages := page.FindAllStringSubmatch(text, -1)
			require.NotEmpty(t, pages)
			assert.Equal(t, len(pages), strings.Count(text, `data-mm="100"`))
			if name == "a" {
				assert.Len(t, pages, want.pages, paper)
			}
			var windows [][]float64
			for _, m := range pages {
				var v []float64
				for _, s := range m[1:] {
					number, err := strconv.ParseFloat(s, 64)
					require.NoError(t, err)
					v = append(v, number)
				}
				assert.Equal(t, v[0:2], v[2:4], "millimeters")
				assert.Equal(t, v[4:6], v[8:10], "true size")
				assert.InDelta(t, want.long*want.short, v[0]*v[1], 1e-9)
				windows = append(windows, v[6:10])
			}
			for _, c := range circlesOf(t, drawDXF(t, b, pb.Sheet_SHEET_DRILL_TEMPLATE), "HOLES") {
				whole := 0
				for _, w := range windows {
					if c.x-c.r >= w[0] && c.x+c.r <= w[0]+w[2] && -c.y-c.r >= w[1] && -c.y+c.r <= w[1]+w[3] {
						whole++
					}
				}
				assert.Positive(t, whole, "%s: %v is cut", name, c)
			}
		}
	}
}

func TestBaseDrawingsAreRefused(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewBaseServiceClient(conn)
	ask := func(change func(*pb.DrawBaseRequest)) error {
		r := &pb.DrawBaseRequest{Base: demoBase(t, "a")}
		change(r)
		_, err := client.DrawBase(context.Background(), r)
		return err
	}
	for name, err := range map[string]error{
		"sheet is 9":               ask(func(r *pb.DrawBaseRequest) { r.Sheet = 9 }),
		"paper is 9":               ask(func(r *pb.DrawBaseRequest) { r.Paper = 9 }),
		"format is 9":              ask(func(r *pb.DrawBaseRequest) { r.Format = 9 }),
		"a DXF file has no pages":  ask(func(r *pb.DrawBaseRequest) { r.Paper, r.Format = 1, 2 }),
		"base.cavity_width_mm is ": ask(func(r *pb.DrawBaseRequest) { r.Base.CavityWidthMm = 121 }),
		"base.axles":               ask(func(r *pb.DrawBaseRequest) { r.Base = nil }),
	} {
		require.Error(t, err, name)
		assert.Contains(t, err.Error(), name)
	}
	body, err := MarshalJSON(&pb.DrawBaseRequest{Base: demoBase(t, "a"), Paper: pb.Paper_PAPER_A4})
	require.NoError(t, err)
	assert.Contains(t, fetch(t, baseURL+"/v1/bases:draw", string(body), "text/html; charset=utf-8"), "<!DOCTYPE html>")
}

// cadScript lets a CAD program open files and tell their circles. It ends with a
// word that stands for success, for that program exits with 0 whatever happens.
const cadScript = `
import json, os
import FreeCAD, Import, Part
found = {}
for path in json.load(open(os.environ["BELTSPAN_FILES"])):
    doc = FreeCAD.newDocument("d")
    Import.readDXF(path, doc.Name)
    doc.recompute()
    circles = []
    for o in doc.Objects:
        shape = getattr(o, "Shape", None)
        if shape is None:
            continue
        for e in shape.Edges:
            if isinstance(e.Curve, Part.Circle) and e.isClosed():
                circles.append([e.Curve.Center.x, e.Curve.Center.y, e.Curve.Radius])
    found[path] = circles
    FreeCAD.closeDocument(doc.Name)
json.dump(found, open(os.environ["BELTSPAN_FOUND"], "w"))
print("ALL-READ")
`

// holesOf are the holes of a base as laid out, with all digits.
func holesOf(t *testing.T, b *pb.Base) []circle {
	t.Helper()
	l, err := (&Service{}).LayOutBase(context.Background(), &pb.LayOutBaseRequest{Base: b})
	require.NoError(t, err)
	var all []circle
	for _, a := range l.Axles {
		all = append(all, circle{a.Center.XMm, a.Center.YMm, a.HoleDiameterMm / 2})
	}
	for _, s := range l.Standoffs {
		all = append(all, circle{s.Center.XMm, s.Center.YMm, s.HoleDiameterMm / 2})
	}
	return slices.DeleteFunc(all, func(c circle) bool { return c.r == 0 }) // not given, not drawn
}

// TestBaseDXFInCAD opens the drawings in a CAD program: it finds every hole of
// the layout and every circle of the file at its center and radius, and no other
// one.
func TestBaseDXFInCAD(t *testing.T) {
	program, err := exec.LookPath("freecadcmd")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("freecadcmd is needed: apt-get install freecad-python3")
		}
		t.Skip("freecadcmd is not installed here: apt-get install freecad-python3")
	}
	dir := t.TempDir()
	want, holes := map[string][]circle{}, map[string][]circle{}
	var files []string
	for name, b := range bases(t) {
		for _, sheet := range sheets {
			text := draw(t, b, sheet, pb.DrawingFormat_DRAWING_FORMAT_DXF, 0)
			file := filepath.Join(dir, fmt.Sprintf("%s-%d.dxf", name, sheet))
			require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
			files = append(files, file)
			want[file] = circlesOf(t, readDXF(t, text), "")
			if sheet != pb.Sheet_SHEET_STACK {
				holes[file] = holesOf(t, b)
			}
		}
	}
	list, err := json.Marshal(files)
	require.NoError(t, err)
	for file, content := range map[string][]byte{"files.json": list, "read_drawings.py": []byte(cadScript)} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), content, 0o600))
	}
	cad := exec.CommandContext(t.Context(), program, filepath.Join(dir, "read_drawings.py"))
	cad.Dir = dir
	cad.Env = append(os.Environ(), "BELTSPAN_FILES="+filepath.Join(dir, "files.json"), "BELTSPAN_FOUND="+filepath.Join(dir, "found.json"), "HOME="+dir)
	out, err := cad.CombinedOutput()
	require.NoError(t, err, string(out))
	require.Contains(t, string(out), "ALL-READ")
	raw, err := os.ReadFile(filepath.Join(dir, "found.json"))
	require.NoError(t, err)
	var found map[string][][3]float64
	require.NoError(t, json.Unmarshal(raw, &found))
	total := 0
	for file, circles := range want {
		require.Len(t, found[file], len(circles), file)
		for _, c := range append(circles, holes[file]...) {
			met := 0
			for _, f := range found[file] {
				if c.near(circle{f[0], f[1], f[2]}, 1e-6) {
					met++
				}
			}
			assert.Positive(t, met, "%s: %v is not there", file, c)
			total++
		}
	}
	assert.Greater(t, total, 100)
}

// TestSVGInARenderer: a renderer made by others takes the sheets for as large as
// they are, 96 dots an inch, and finds ink on them.
func TestSVGInARenderer(t *testing.T) {
	program, err := exec.LookPath("rsvg-convert")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("rsvg-convert is needed: apt-get install librsvg2-bin")
		}
		t.Skip("rsvg-convert is not installed here: apt-get install librsvg2-bin")
	}
	for _, sheet := range sheets {
		text := draw(t, demoBase(t, "a"), sheet, pb.DrawingFormat_DRAWING_FORMAT_SVG, 0)
		file := filepath.Join(t.TempDir(), "sheet.svg")
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		out, err := exec.CommandContext(t.Context(), program, "--dpi-x", "96", "--dpi-y", "96", file).Output() //nolint:gosec // our own file
		require.NoError(t, err)
		picture, err := png.Decode(bytes.NewReader(out))
		require.NoError(t, err)
		size := regexp.MustCompile(`width="([0-9.]+)mm" height="([0-9.]+)mm"`).FindStringSubmatch(text)
		for i, dots := range []int{picture.Bounds().Dx(), picture.Bounds().Dy()} {
			mm, err := strconv.ParseFloat(size[i+1], 64)
			require.NoError(t, err)
			assert.InDelta(t, mm/25.4*96, dots, 1, sheet) // whole dots
		}
		dark := 0
		for y := range picture.Bounds().Dy() {
			for x := range picture.Bounds().Dx() {
				if r, _, _, _ := picture.At(x, y).RGBA(); r < 0x8000 {
					dark++
				}
			}
		}
		assert.Greater(t, dark, 10000, sheet)
	}
}
