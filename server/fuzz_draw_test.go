package server

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/demo"
	"github.com/beltspan/beltspan/server/drawing"
)

// xmlTexts reads a whole SVG, as strictly as XML wants it, and returns what
// stands in elements of a name. No number in it may be none.
func xmlTexts(t *testing.T, raw []byte, element string) []string {
	t.Helper()
	var texts []string
	decoder := xml.NewDecoder(bytes.NewReader(raw))
	inside := false
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return texts
		}
		require.NoError(t, err, "%.300s", raw)
		switch token := token.(type) {
		case xml.StartElement:
			if inside = token.Name.Local == element; inside {
				texts = append(texts, "")
			}
			for _, a := range token.Attr {
				require.NotRegexp(t, notFinite, a.Value, "%s of %s", a.Name.Local, token.Name.Local)
			}
		case xml.EndElement:
			inside = false
		case xml.CharData:
			if inside {
				texts[len(texts)-1] += string(token)
			}
		}
	}
}

var notFinite = regexp.MustCompile(`NaN|Inf`)

// dxfTexts reads a DXF file as pairs of group code and value, checks each value
// against the range of its code, and returns those of code 1 in entities. The
// ranges are those of the published DXF reference: 0 to 9 text, 10 to 59
// floating point, 60 to 79 whole numbers.
func dxfTexts(t *testing.T, raw []byte) []string {
	t.Helper()
	require.True(t, strings.HasSuffix(string(raw), "\n  0\nEOF\n"))
	lines := strings.Split(strings.TrimSuffix(string(raw), "\n"), "\n")
	require.Zero(t, len(lines)%2, "pairs")
	var texts []string
	for i := 0; i < len(lines); i += 2 {
		code, err := strconv.Atoi(strings.TrimSpace(lines[i]))
		require.NoError(t, err)
		value := lines[i+1]
		require.Equal(t, -1, strings.IndexFunc(value, func(r rune) bool { return r < ' ' || r > '~' }), "%q", value)
		switch {
		case code >= 10 && code <= 59:
			v, err := strconv.ParseFloat(value, 64)
			require.NoError(t, err)
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0))
		case code >= 60 && code <= 79:
			_, err := strconv.Atoi(value)
			require.NoError(t, err)
		case code == 1 && i > 8: // beyond the version in the header
			texts = append(texts, value)
		default:
			require.LessOrEqual(t, code, 9)
		}
		require.Equal(t, i == len(lines)-2, code == 0 && value == "EOF")
	}
	return texts
}

var escapedDXF = regexp.MustCompile(`\\U\+[0-9A-F]{4}`)

// readDXFText undoes the escapes of a DXF text: four hexadecimal digits each.
func readDXFText(t *testing.T, text string) string {
	t.Helper()
	return escapedDXF.ReplaceAllStringFunc(text, func(escape string) string {
		r, err := strconv.ParseUint(escape[len(`\U+`):], 16, 16)
		require.NoError(t, err)
		return string(rune(r))
	})
}

// FuzzDrawing: any title and text, anywhere, is text in SVG and in DXF, and reads
// there as it was written but for characters that the format does not have.
func FuzzDrawing(f *testing.F) {
	f.Add("36 and 45 teeth", "axle 1, dia 8", 0.0, 0.0, 300.0)
	f.Add("</title><script>", "]]>&amp;\x00\r\n  0\nEOF", -1e5, 1e-9, 1e9)
	f.Add("\ufffe\ud7ff\U0001f600", `\U+0041 %%c \P {\fArial;}`, 1e6, -1e6, 0.0)
	f.Add("\xc0", "\xff\xc0\x80", 0.0, 0.0, 1.0)
	f.Add("1e999", "\U0001f600", 1e-300, -1e6, -1.0)
	f.Add("\xff\xc0", "\u2028\u00e9\u007f\u0085", 0.1, 0.2, math.Inf(1))
	f.Fuzz(func(t *testing.T, title, text string, x, y, size float64) {
		if math.IsNaN(x) || math.IsNaN(y) || math.Abs(x) > 1e6 || math.Abs(y) > 1e6 || math.IsNaN(size) {
			return // places are results of ours
		}
		d := drawing.New(title, size)
		d.Text(beltmath.Point{XMM: x, YMM: y}, drawing.Middle, text)
		legal := strings.Map(func(r rune) rune {
			// Char of XML 1.0, section 2.2.
			if r == '\t' || r == '\n' || r == '\r' || r >= ' ' && r <= 0xd7ff || r >= 0xe000 && r <= 0xfffd || r >= 0x10000 {
				return r
			}
			return '\ufffd'
		}, title)
		require.Equal(t, []string{legal}, xmlTexts(t, d.SVG(), "title"))
		require.Len(t, xmlTexts(t, d.SVG(), "text"), 1)

		spaced := strings.Map(func(r rune) rune {
			switch {
			case r < ' ' || r == 0x7f:
				return ' '
			case r > 0xffff:
				return '\ufffd'
			}
			return r
		}, text)
		texts := dxfTexts(t, d.DXF())
		require.Len(t, texts, 1)
		require.Equal(t, spaced, readDXFText(t, texts[0]))
	})
}

// FuzzLayOutBase: a base of any numbers is refused by field, or laid out so that
// its parts agree with each other, and drawn in every form.
func FuzzLayOutBase(f *testing.F) {
	f.Add(160.0, 3.0, 45.0, 125.0, 120.0, 60.0, 61.0, 130.0, 40.0, 14.0, 2.5, 2000.0, 1.0, 40.0, int32(174), int32(36), int32(4), int32(2), "cross member")
	f.Add(200.0, -5.0, 0.0, 90.0, 500.0, 0.0, 0.5, 0.0, 0.0, 500.0, 0.0, 0.0, 0.0, -1e9, int32(100), int32(10), int32(1000), int32(1), "\xff<&>")
	f.Add(math.NaN(), math.Inf(1), -1.0, 1e308, 5e-324, 1.0, 1e9, -1e9, 1e-9, 0.0, 100.0, 1e-3, 1e4, 0.0, int32(-1), int32(0), int32(2000), int32(100), "")
	f.Fuzz(func(t *testing.T, wheel, drop, width, cavity, height, margin, flange, x, y, diameter, kerf, stock, roundUp, line float64, belt, teeth, quantity, sides int32, name string) {
		q, err := demo.LayOut("a")
		require.NoError(t, err)
		b := q.Base
		b.Axles[1].WheelDiameterMm, b.Axles[1].DropMm, b.Axles[1].WheelWidthMm = wheel, drop, width
		b.CavityWidthMm, b.PlateHeightMm, b.PlateMarginMm = cavity, height, margin
		b.Links[0].Drive.Driver.FlangeDiameterMm, b.Links[0].Drive.BeltToothCount = &flange, &belt
		b.Links[0].Drive.Driver.ToothCount, b.Links[0].Drive.Driven.ToothCount = teeth, teeth
		b.Standoffs[0] = &pb.Standoff{Center: &pb.Point{XMm: x, YMm: y}, DiameterMm: diameter}
		b.KerfMm, b.RoundUpMm, b.SideCount = kerf, roundUp, &sides
		b.Members[0].Quantity, b.Members[0].StockLengthMm = quantity, stock
		b.Members[0].Name = strings.ToValidUTF8(name, "\ufffd") // as it comes through every door
		q.StandoffLinesMm[0], q.StandoffDiameterMm = line, diameter
		s := &Service{}
		l, err := s.LayOutBase(t.Context(), q)
		requireExplained(t, err)
		if err == nil {
			requireLayout(t, q, l)
		}
		for _, sheet := range []pb.Sheet{pb.Sheet_SHEET_PLAN, pb.Sheet_SHEET_DRILL_TEMPLATE, pb.Sheet_SHEET_STACK} {
			svg, svgErr := s.DrawBase(t.Context(), &pb.DrawBaseRequest{Base: b, Sheet: sheet})
			dxf, dxfErr := s.DrawBase(t.Context(), &pb.DrawBaseRequest{Base: b, Sheet: sheet, Format: pb.DrawingFormat_DRAWING_FORMAT_DXF})
			requireExplained(t, svgErr)
			require.Equal(t, svgErr == nil, dxfErr == nil)
			if err == nil {
				require.NoError(t, svgErr, "what is laid out is drawn")
			}
			if svgErr == nil {
				require.NotEmpty(t, xmlTexts(t, svg.Data, "text"))
				require.NotEmpty(t, dxfTexts(t, dxf.Data))
			}
		}
	})
}

// requireExplained checks that an error, if there is one, blames fields of the
// request.
func requireExplained(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		require.NotEmpty(t, violations(err), "%v", err)
	}
}

// requireLayout checks a layout against itself: what is said twice agrees, and
// nothing is lost.
func requireLayout(t *testing.T, q *pb.LayOutBaseRequest, l *pb.LayOutBaseResponse) {
	t.Helper()
	text, err := MarshalJSON(l)
	require.NoError(t, err)
	require.NotContains(t, string(text), `"NaN"`)
	require.NotContains(t, string(text), `Infinity"`)
	wire, err := proto.Marshal(l)
	require.NoError(t, err, "texts are UTF-8")
	require.NoError(t, proto.Unmarshal(wire, &pb.LayOutBaseResponse{}))

	const within = 1e-8 // of lengths of meters: some hundred units in the last place
	for _, link := range l.Links {
		from, to := l.Axles[link.FromAxle].Center, l.Axles[link.ToAxle].Center
		require.InDelta(t, link.Geometry.CenterDistanceMm, math.Hypot(to.XMm-from.XMm, to.YMm-from.YMm), within)
		require.InDelta(t, link.RailSpacingMm, math.Abs(to.XMm-from.XMm), within)
	}
	for _, stack := range l.Stacks {
		at := 0.0
		for _, part := range stack.Parts {
			require.InDelta(t, at, part.StartMm, within, "no gap between parts")
			require.GreaterOrEqual(t, part.EndMm, part.StartMm)
			at = part.EndMm
		}
		require.InDelta(t, q.Base.CavityWidthMm, at, within)
	}
	cut, planned := int32(0), 0
	for _, c := range l.Cuts {
		require.Positive(t, c.LengthMm)
		if c.StockLengthMm > 0 {
			cut += c.Quantity
		}
	}
	for _, plan := range l.CutPlans {
		for _, bar := range plan.Bars {
			used := bar.RestMm
			for _, piece := range bar.Pieces {
				used += piece.LengthMm
			}
			require.GreaterOrEqual(t, bar.RestMm, 0.0)
			require.LessOrEqual(t, used, plan.StockLengthMm+within)
			planned += len(bar.Pieces)
		}
	}
	require.Equal(t, int(cut), planned, "each piece comes from a bar")
}

// FuzzDrawDrive: a drive or a path of any numbers is refused by field, or drawn in
// both forms wherever it is solved.
func FuzzDrawDrive(f *testing.F) {
	f.Add("H5M", int32(36), int32(45), int32(178), 343.7, 61.0, 170.0, 45.0, 40.0, int32(2))
	f.Add("MXL", int32(6), int32(600), int32(5000), 1e5, 1e4, -1e5, 1e5, 1e4, int32(1))
	f.Add("XXH", int32(600), int32(6), int32(700), math.NaN(), 5e-324, 0.0, 0.0, 0.0, int32(-1))
	f.Fuzz(func(t *testing.T, section string, driver, driven, belt int32, center, flange, x, y, diameter float64, side int32) {
		s := &Service{}
		drive := &pb.Drive{
			Section: section, Driver: &pb.Pulley{ToothCount: driver, FlangeDiameterMm: &flange}, Driven: &pb.Pulley{ToothCount: driven}, BeltToothCount: &belt,
		}
		path := &pb.SolvePathRequest{Section: section, Wheels: []*pb.Wheel{
			{Kind: pb.WheelKind_WHEEL_KIND_TOOTHED, Side: pb.WrapSide_WRAP_SIDE_INSIDE, ToothCount: &driver, Center: &pb.Point{}},
			{Kind: pb.WheelKind_WHEEL_KIND_TOOTHED, Side: pb.WrapSide_WRAP_SIDE_INSIDE, ToothCount: &driven, Center: &pb.Point{XMm: center}},
			{Kind: pb.WheelKind_WHEEL_KIND_SMOOTH, Side: pb.WrapSide(side), DiameterMm: &diameter, Center: &pb.Point{XMm: x, YMm: y}},
		}}
		_, solved := s.SolvePath(t.Context(), path)
		requireExplained(t, solved)
		for _, format := range []pb.DrawingFormat{pb.DrawingFormat_DRAWING_FORMAT_SVG, pb.DrawingFormat_DRAWING_FORMAT_DXF} {
			one, err := s.DrawDrive(t.Context(), &pb.DrawDriveRequest{Drive: drive, CenterDistanceMm: &center, Format: format})
			requireExplained(t, err)
			other, err2 := s.DrawPath(t.Context(), &pb.DrawPathRequest{Path: path, Format: format})
			require.Equal(t, solved == nil, err2 == nil, "%v, %v", solved, err2)
			for _, drawn := range [][]byte{one.GetData(), other.GetData()} {
				switch {
				case drawn == nil:
				case format == pb.DrawingFormat_DRAWING_FORMAT_SVG:
					require.NotEmpty(t, xmlTexts(t, drawn, "text"))
				default:
					require.NotEmpty(t, dxfTexts(t, drawn))
				}
			}
		}
	})
}
