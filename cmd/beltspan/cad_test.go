package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// cad is the CAD program without a window, in a directory that holds a copy of
// the macro and nothing else of ours.
type cad struct {
	program, dir string
	serving
	bases pb.BaseServiceClient
}

const plateMacro = "freecad_plate.FCMacro"

func newCAD(t *testing.T) *cad {
	t.Helper()
	program := needProgram(t, "freecadcmd", "freecad-python3")
	c := &cad{program: program, dir: copyExample(t, plateMacro), serving: startServe(t)}
	c.bases = pb.NewBaseServiceClient(dialServing(t, c.serving))
	c.write(t, "read_plate.py", readPlate)
	c.write(t, "use_dialog.py", useDialog)
	return c
}

func (c *cad) write(t *testing.T, name, text string) {
	t.Helper()
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, name), []byte(text), 0o600))
}

// run runs a file in the CAD program, which starts anew.
func (c *cad) run(t *testing.T, file string, env ...string) (exit int, out string) {
	t.Helper()
	env = append([]string{"HOME=" + c.dir, "BELTSPAN_URL=" + c.rest, "QT_QPA_PLATFORM=offscreen"}, env...)
	exit, stdout, stderr := runScript(t, c.dir, env, c.program, file)
	return exit, stdout + stderr
}

// readPlate opens plate.FCStd and tells what is in it. With BELTSPAN_ADD it
// adds a hole by hand, at the height of the second axle.
const readPlate = `
import json, os
import FreeCAD, Part, Sketcher
doc = FreeCAD.openDocument("plate.FCStd")
sketch, = doc.Objects
if os.environ.get("BELTSPAN_ADD"):
    other, = [c for c in sketch.Constraints if c.Name == "axle_2_x"]
    mine = sketch.addGeometry(Part.Circle(FreeCAD.Vector(100, 0, 0), FreeCAD.Vector(0, 0, 1), 1.5), False)
    for name, arguments in (("mine_hole", ("Diameter", mine, 3)), ("mine_x", ("DistanceX", mine, 3, 100)),
                            ("", ("Horizontal", mine, 3, other.First, 3))):
        index = sketch.addConstraint(Sketcher.Constraint(*arguments))
        if name:
            sketch.renameConstraint(index, name)
    doc.recompute()
    doc.save()
doc.recompute()
found = {"solve": sketch.solve(), "constrained": sketch.FullyConstrained, "holes": [], "arcs": [], "spans": [], "sides": 0}
found["dimensions"] = {c.Name: c.Value for c in sketch.Constraints if c.Name}
found["named"] = sum(1 for c in sketch.Constraints if c.Name)
for i, e in enumerate(sketch.Geometry):
    if isinstance(e, Part.LineSegment):
        if sketch.getConstruction(i):
            found["spans"].append([e.StartPoint.x, e.StartPoint.y, e.EndPoint.x, e.EndPoint.y])
        else:
            found["sides"] += 1
    else:
        assert sketch.getConstruction(i) == isinstance(e, Part.ArcOfCircle)
        found["arcs" if sketch.getConstruction(i) else "holes"].append([e.Center.x, e.Center.y, 2 * e.Radius])
face = Part.makeFace(sketch.Shape, "Part::FaceMakerBullseye")
found["area"], found["valid"] = face.Area, face.isValid()
found["box"] = [face.BoundBox.XMin, face.BoundBox.YMin, face.BoundBox.XMax, face.BoundBox.YMax]
json.dump(found, open("found.json", "w"))
print("ALL-READ")
`

// plate is what the CAD program finds in a document.
type plate struct {
	Solve              int
	Constrained, Valid bool
	Holes, Arcs        [][3]float64 // x, y, diameter
	Spans              [][4]float64 // x, y, x, y
	Sides, Named       int
	Dimensions         map[string]float64
	Area               float64
	Box                [4]float64
}

func (c *cad) read(t *testing.T, env ...string) plate {
	t.Helper()
	exit, out := c.run(t, "read_plate.py", env...)
	require.Zero(t, exit, out)
	require.Contains(t, out, "ALL-READ") // it ends with 0 whatever happens
	raw, err := os.ReadFile(filepath.Join(c.dir, "found.json"))
	require.NoError(t, err)
	require.NoError(t, os.Remove(filepath.Join(c.dir, "found.json")))
	var p plate
	require.NoError(t, json.Unmarshal(raw, &p))
	return p
}

// wish is the question that the macro has on its first page, asked by us.
func wish(target float64) *pb.SearchBasesRequest {
	axle := func(drop, hole float64) *pb.Axle {
		return &pb.Axle{WheelDiameterMm: 160, WheelWidthMm: 45, DropMm: drop, HoleDiameterMm: hole}
	}
	return &pb.SearchBasesRequest{
		Axles: []*pb.Axle{axle(0, 8), axle(3, 22), axle(0, 8)}, Sections: []string{"H5M"}, Pulley: &pb.ToothCounts{Values: []int32{36}},
		StandardLengthsOnly: true, TargetWheelbaseMm: target, ToleranceMm: 15,
	}
}

// layOut is the service's answer to a wish, standoffs included.
func (c *cad) layOut(t *testing.T, w *pb.SearchBasesRequest, plan int) *pb.LayOutBaseResponse {
	t.Helper()
	found, err := c.bases.SearchBases(t.Context(), w)
	require.NoError(t, err)
	base := &pb.Base{
		Axles: w.Axles, CavityWidthMm: 125, PlateThicknessMm: 6, PlateMarginMm: 60, PlateHeightMm: 120,
		PulleyWidthMm: 32, BeltWidthMm: 25, PulleyGapMm: 4, StandoffClearanceMm: 3,
	}
	for _, l := range found.Plans[plan].Links {
		l.Drive.Driver.FlangeDiameterMm, l.Drive.Driven.FlangeDiameterMm = new(61.0), new(61.0)
		base.Links = append(base.Links, &pb.Link{FromAxle: l.FromAxle, ToAxle: l.ToAxle, Drive: l.Drive})
	}
	lines := []float64{40, -43}
	room, err := c.bases.LayOutBase(t.Context(), &pb.LayOutBaseRequest{Base: base, StandoffLinesMm: lines, StandoffDiameterMm: 14})
	require.NoError(t, err)
	for _, y := range lines {
		for i := range len(room.Axles) - 1 {
			if x := nearestToMiddle(room.StandoffZones, y, room.Axles[i].Center.XMm, room.Axles[i+1].Center.XMm); !math.IsInf(x, 0) {
				base.Standoffs = append(base.Standoffs, &pb.Standoff{Center: &pb.Point{XMm: x, YMm: y}, DiameterMm: 14, HoleDiameterMm: 5.5})
			}
		}
	}
	answer, err := c.bases.LayOutBase(t.Context(), &pb.LayOutBaseRequest{Base: base})
	require.NoError(t, err)
	for _, s := range answer.Standoffs {
		assert.Equal(t, pb.StandoffVerdict_STANDOFF_VERDICT_CLEAR, s.Verdict)
	}
	return answer
}

// nearestToMiddle is where on a line there is room for a standoff between two
// axles, infinite where there is none.
func nearestToMiddle(zones []*pb.StandoffZone, y, left, right float64) float64 {
	middle, best := (left+right)/2, math.Inf(1)
	for _, z := range zones {
		x := max(z.FromMm, min(z.ToMm, middle))
		if z.YMm == y && x > left && x < right && math.Abs(x-middle) < math.Abs(best-middle) {
			best = x
		}
	}
	return best
}

// near is how well the file has to agree with the service, in millimeters.
const near = 1e-6

// compare holds every hole, tangent line and pitch circle of a plate to the
// service's answer, one to one.
func (p plate) compare(t *testing.T, l *pb.LayOutBaseResponse, added int) {
	t.Helper()
	assert.Zero(t, p.Solve)
	assert.True(t, p.Constrained)
	assert.Equal(t, 4, p.Sides)
	holes := make([][3]float64, 0, len(l.Axles)+len(l.Standoffs))
	for i, a := range l.Axles {
		holes = append(holes, [3]float64{a.Center.XMm, a.Center.YMm, a.HoleDiameterMm})
		p.named(t, "axle_"+strconv.Itoa(i+1), holes[len(holes)-1])
	}
	for i, s := range l.Standoffs {
		holes = append(holes, [3]float64{s.Center.XMm, s.Center.YMm, s.HoleDiameterMm})
		p.named(t, "standoff_"+strconv.Itoa(i+1), holes[len(holes)-1])
	}
	var arcs [][3]float64
	var spans [][4]float64
	for i, link := range l.Links {
		for end, q := range map[string]*pb.PulleyGeometry{"driver": link.Geometry.Driver, "driven": link.Geometry.Driven} {
			arcs = append(arcs, [3]float64{q.Center.XMm, q.Center.YMm, q.PitchDiameterMm})
			assert.InDelta(t, q.PitchDiameterMm, p.Dimensions["belt_"+strconv.Itoa(i+1)+"_"+end+"_diameter"], near)
		}
		d, e := link.Geometry.Driver, link.Geometry.Driven
		spans = append(spans, [4]float64{d.UpperTangent.XMm, d.UpperTangent.YMm, e.UpperTangent.XMm, e.UpperTangent.YMm},
			[4]float64{d.LowerTangent.XMm, d.LowerTangent.YMm, e.LowerTangent.XMm, e.LowerTangent.YMm})
	}
	assert.Len(t, p.Holes, len(holes)+added)
	assert.Len(t, p.Arcs, len(arcs))
	assert.Len(t, p.Spans, len(spans))
	allThere(t, "hole", holes, p.Holes, func(a, b [3]float64) bool { return nearAll(a[:], b[:]) })
	allThere(t, "arc", arcs, p.Arcs, func(a, b [3]float64) bool { return nearAll(a[:], b[:]) })
	allThere(t, "span", spans, p.Spans, func(a, b [4]float64) bool { return nearAll(a[:], b[:]) })
	assert.Len(t, p.Dimensions, p.Named) // no name twice
	assert.True(t, p.Valid)
	if added == 0 {
		p.compareFace(t, l, holes)
	}
}

// compareFace takes the outline less the holes for the plate that is cut.
func (p plate) compareFace(t *testing.T, l *pb.LayOutBaseResponse, holes [][3]float64) {
	t.Helper()
	length := math.NaN()
	for _, cut := range l.Cuts {
		if cut.Kind == pb.PartKind_PART_KIND_PLATE {
			length = cut.LengthMm
		}
	}
	area := length * 120
	for _, h := range holes {
		area -= math.Pi * h[2] * h[2] / 4
	}
	assert.InDelta(t, area, p.Area, 1e-3) // mm^2; CAD's own area of a face of curved edges
	for i, want := range []float64{-60, -60, length - 60, 60} {
		assert.InDelta(t, want, p.Box[i], near)
	}
}

func (p plate) named(t *testing.T, name string, want [3]float64) {
	t.Helper()
	for i, part := range []string{"_x", "_y", "_hole"} {
		got, ok := p.Dimensions[name+part]
		assert.True(t, ok && math.Abs(got-want[i]) < near, "%s is %v, want %v", name+part, got, want[i])
	}
}

func nearAll(a, b []float64) bool {
	for i := range a {
		if !(math.Abs(a[i]-b[i]) < near) {
			return false
		}
	}
	return true
}

func allThere[T any](t *testing.T, what string, want, got []T, same func(a, b T) bool) {
	t.Helper()
	left := slices.Clone(got)
	for _, w := range want {
		i := slices.IndexFunc(left, func(g T) bool { return same(w, g) })
		if assert.GreaterOrEqual(t, i, 0, "%s %v is not among %v", what, w, left) {
			left = slices.Delete(left, i, i+1)
		}
	}
}

func (c *cad) file(t *testing.T) []byte {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(c.dir, "plate.FCStd"))
	require.NoError(t, err)
	return raw
}
