package web

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
	"github.com/beltspan/beltspan/server/entry"
)

// pathAnswer is the way of a belt round many wheels.
type pathAnswer struct {
	*pb.SolvePathResponse
	Request *pb.SolvePathRequest
	Shown   int // index of the solution that is drawn
	Drawing template.HTML
}

// Solution is the one that is drawn.
func (a *pathAnswer) Solution() *pb.PathSolution { return a.GetSolutions()[a.Shown] }

// pathWheel is a wheel with its place in the answer.
type pathWheel struct {
	*pb.PathWheel
	Asked *pb.Wheel
	Span  float64 // to the next wheel
}

// Toothed tells whether teeth are in mesh with it.
func (w pathWheel) Toothed() bool { return w.Asked.GetKind() == pb.WheelKind_WHEEL_KIND_TOOTHED }

// OnBack tells whether it runs on the back of the belt.
func (w pathWheel) OnBack() bool { return w.Asked.GetSide() == pb.WrapSide_WRAP_SIDE_OUTSIDE }

// Wheels are those of the solution that is drawn.
func (a *pathAnswer) Wheels() []pathWheel {
	var wheels []pathWheel
	s := a.Solution()
	for i, w := range s.GetWheels() {
		wheels = append(wheels, pathWheel{w, a.Request.GetWheels()[i], s.GetSpans()[i].GetLengthMm()})
	}
	return wheels
}

// Moved is where the wheel that moves stands in a solution.
func (a *pathAnswer) Moved(s *pb.PathSolution) *pb.Point {
	return s.GetWheels()[a.Request.GetMoving().GetWheelIndex()].GetCenter()
}

// heightFields are the heights of a belt that is in no table; prefix leads to
// them.
func heightFields(prefix string) *group {
	return &group{Legend: "Heights of the belt, where none are held", Folded: true, Fields: []*field{
		lengthField("belt_height", "Belt height", "back to tooth tip", prefix+"belt_height_mm"),
		lengthField("tooth_height", "Tooth height", "", prefix+"tooth_height_mm"),
		lengthField("pitch_line", "Pitch line differential", "from a pulley's outside to the pitch line", prefix+"pitch_line_differential_mm"),
	}}
}

func pathGroups() []*group {
	point := func(name, label, hint string, paths ...string) *field {
		return &field{Name: name, Label: label, Hint: hint, Kind: kindLengths, paths: paths}
	}
	return []*group{
		{Legend: "Belt", Fields: []*field{
			sectionField(), pitchField(),
			countField("belt", "Belt teeth", "compared with the length; needed where a wheel moves", "belt_tooth_count"),
		}},
		{Legend: "Wheels", Fields: []*field{
			{
				Name: "wheels", Label: "Wheels", Kind: kindArea, paths: []string{"wheels"},
				each: "wheel", inUnit: eachLine(wheelInUnit),
				Hint: "one a line, in the order in which the belt meets them: 36@0,0 is a pulley of 36 teeth at x 0, y 0; d60@170,30 a smooth wheel of diameter 60 inside the loop; b40@170,45 one on its back. A wheel that moves needs no place.",
			},
		}},
		{Legend: "A wheel that moves", Folded: true, Fields: []*field{
			countField("move", "Which wheel", "counted from 1", "moving.wheel_index", "moving"),
			point("from", "Along a line from x, y", "such as 170, 60", "moving.segment.from", "moving.segment"),
			point("to", "To x, y", "", "moving.segment.to"),
			point("pivot", "Or round x, y", "in place of a line", "moving.arc.center", "moving.arc"),
			lengthField("radius", "At a radius of", "", "moving.arc.radius_mm"),
			numberField("from_angle", "From the angle", "degrees", "counter-clockwise from the x axis", "moving.arc.from_deg"),
			numberField("to_angle", "To the angle", "degrees", "", "moving.arc.to_deg"),
		}},
		heightFields(""),
	}
}

// wheelInUnit names the unit of the lengths of a wheel that have none.
func wheelInUnit(line string, unit beltmath.Unit) string {
	rim, at, placed := strings.Cut(line, "@")
	if rim = strings.TrimSpace(rim); rim != "" && (rim[0] == 'd' || rim[0] == 'b') {
		rim = rim[:1] + withUnit(rim[1:], unit)
	}
	if !placed {
		return rim
	}
	return rim + "@" + withUnit(at, unit)
}

// path is the page of a belt round many wheels.
func (p *pages) path(w http.ResponseWriter, r *http.Request, v *view) bool {
	v.Title = "A belt round many wheels"
	f := newForm(v, v.query, "Find the path", pathGroups()...)
	f.names = append(f.names, "solution")
	formats := []string{"csv", "svg", "dxf"}
	if !f.Asked {
		return !v.refused(w, formats...)
	}
	a := &pathAnswer{Request: readPath(f)}
	var err error
	if a.SolvePathResponse, err = p.paths.SolvePath(r.Context(), a.Request); err != nil {
		f.refuse(err)
	}
	if text := v.query.Get("solution"); text != "" && err == nil {
		n, ok := entry.ReadCount(text)
		if a.Shown = int(n) - 1; !ok || a.Shown < 0 || a.Shown >= len(a.GetSolutions()) {
			f.Faults = append(f.Faults, fmt.Sprintf("There is no solution %s: give 1 to %d", entry.Quoted(text), len(a.GetSolutions())))
		}
	}
	v.Status = f.settle()
	if v.refused(w, formats...) {
		return false
	}
	if f.faulty() {
		return true
	}
	if v.format() == "csv" {
		hand(w, "path.csv", csvType, rowsOf(entry.PathRows(a.SolvePathResponse)))
		return false
	}
	drawn, err := p.paths.DrawPath(r.Context(), &pb.DrawPathRequest{
		Path: a.Request, SolutionIndex: int32(a.Shown), Format: drawings[v.format()],
	})
	if err != nil {
		f.refuse(err)
		v.Status = f.settle()
		return !v.refused(w, formats...)
	}
	if v.format() != "" {
		hand(w, "path."+v.format(), drawn.GetContentType(), drawn.GetData())
		return false
	}
	a.Drawing = template.HTML(drawn.GetData()) //nolint:gosec // our own drawing, its texts escaped
	v.Answer = a
	return true
}

func readPath(f *form) *pb.SolvePathRequest {
	request := &pb.SolvePathRequest{
		Section: f.text("section"), PitchMm: f.length("pitch"), Wheels: f.wheels("wheels"), BeltToothCount: f.count("belt"),
		BeltHeightMm: f.length("belt_height"), ToothHeightMm: f.length("tooth_height"), PitchLineDifferentialMm: f.length("pitch_line"),
	}
	line := f.Has("from") || f.Has("to")
	round := f.Has("pivot") || f.Has("radius") || f.Has("from_angle") || f.Has("to_angle")
	if !line && !round && !f.Has("move") {
		return request
	}
	if !f.Has("move") {
		f.find("move").Error = "A way is given, but no wheel to move along it: tell which, counted from 1"
	}
	move, n := or(f.count("move")), len(request.Wheels)
	if n == 0 {
		return request // the wheels are to be mended first
	}
	if field := f.find("move"); field.Error == "" && (move < 1 || int(move) > n) {
		field.Error = fmt.Sprintf("Give 1 to %d: the wheels are counted from 1", n)
	}
	if line == round {
		f.find("from").Error = "Give a line, from and to, or a point to go round with its radius: one of the two"
	}
	request.Moving = &pb.MovingWheel{WheelIndex: move - 1}
	if line {
		request.Moving.Segment = &pb.PathSegment{From: f.point("from"), To: f.point("to")}
	}
	if round {
		request.Moving.Arc = &pb.PathArc{
			Center: f.point("pivot"), RadiusMm: or(f.length("radius")), FromDeg: or(f.number("from_angle")), ToDeg: or(f.number("to_angle")),
		}
		if !f.Has("to_angle") {
			request.Moving.Arc.ToDeg = 360
		}
	}
	return request
}

// point reads one point.
func (f *form) point(name string) *pb.Point {
	return or(read(f, name, func(text string) (*pb.Point, error) { return entry.ReadPoint(text, f.unit) }))
}

// wheels reads a wheel a line.
func (f *form) wheels(name string) []*pb.Wheel {
	return readLines(f, name, func(line string) (*pb.Wheel, error) { return entry.ReadWheel(line, f.unit) })
}

// readLines reads a value a line; empty lines do not count.
func readLines[T any](f *form, name string, parse func(line string) (T, error)) []T {
	return or(read(f, name, func(text string) ([]T, error) {
		var values []T
		for line := range strings.Lines(text) {
			if line = strings.TrimSpace(line); line == "" {
				continue
			}
			value, err := parse(line)
			if err != nil {
				return nil, errors.New(entry.Quoted(line) + ": " + entry.Why(err))
			}
			values = append(values, value)
		}
		return values, nil
	}))
}
