package server

import (
	"context"
	"math"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/beltmath"
)

// roverOnIdlers is the demo rover with equal gaps: a belt of 890 mm where 880 mm
// are wanted on both sides, taken up by an idler on its back and by one inside
// that is as large as the pulleys.
func roverOnIdlers(t *testing.T) *pb.Base {
	t.Helper()
	b := demoBase(t, "a")
	b.PlateHeightMm, b.Standoffs = 180, nil
	for i, l := range b.Links {
		l.Drive.BeltToothCount, l.CenterDistanceMm = new(int32(178)), new(math.Hypot(350, 3))
		l.Idler = []*pb.Idler{
			{Kind: pb.WheelKind_WHEEL_KIND_SMOOTH, DiameterMm: new(40.0), Side: pb.WrapSide_WRAP_SIDE_OUTSIDE, ToMm: 60, HoleDiameterMm: 8, BoltDiameterMm: 8},
			{Kind: pb.WheelKind_WHEEL_KIND_TOOTHED, ToothCount: new(int32(36)), Side: pb.WrapSide_WRAP_SIDE_INSIDE, FromMm: -80, FlangeDiameterMm: new(61.0), HoleDiameterMm: 10},
		}[i]
	}
	return b
}

func TestLayOutBaseWithIdlers(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewBaseServiceClient(conn)
	resp := layOutBoth(t, client, baseURL, &pb.LayOutBaseRequest{Base: roverOnIdlers(t), Fit: &pb.BaseFit{}})

	assert.InDelta(t, 700, resp.WheelbaseMm, 1e-9)
	d := resp.Links[1].Idler
	require.NotNil(t, d)
	// Three equal wheels: 890 less a rim of 180 are the triangle of their centers.
	c := math.Hypot(350, 3)
	h := -math.Sqrt((355 - c) * 355) // (355 - c/2)^2 - (c/2)^2
	assert.InDelta(t, h, d.Place.OffsetMm, 1e-9)
	assert.InDelta(t, c, d.CenterDistanceMm, 1e-9)
	assert.InDelta(t, d.Place.Center.XMm+60, d.FromEndMm, 1e-9)
	assert.InDelta(t, d.Place.Center.YMm+90, d.FromEdgeMm, 1e-9)
	assert.InDelta(t, 10, d.HoleDiameterMm, 0)
	assert.InDelta(t, 80+h, d.Place.LongerTravelMm, 1e-9)
	assert.InDelta(t, 890, d.Place.Path.BeltLengthMm, 1e-9)
	assert.Equal(t, int32(1), d.Place.PositionCount)
	require.Len(t, d.Place.Path.Wheels, 3)
	assert.InDelta(t, 2*math.Atan(-2*h/c)*180/math.Pi, d.Place.Path.Wheels[2].WrapAngleDeg, 1e-9)
	require.Len(t, d.Stack.Parts, 3)
	assert.Equal(t, pb.PartKind_PART_KIND_IDLER, d.Stack.Parts[1].Part)
	assert.Equal(t, int32(1), d.Stack.Parts[1].GetLink())
	kinds := map[pb.ClearanceKind]int{}
	for _, gap := range resp.Clearances {
		kinds[gap.Kind]++
	}
	for _, kind := range []pb.ClearanceKind{
		pb.ClearanceKind_CLEARANCE_KIND_IDLER_WHEEL, pb.ClearanceKind_CLEARANCE_KIND_IDLER_BELT, pb.ClearanceKind_CLEARANCE_KIND_IDLER_PULLEY,
	} {
		assert.Equal(t, 2, kinds[kind], kind)
	}
	last := resp.Parts[len(resp.Parts)-1]
	assert.Equal(t, pb.PartKind_PART_KIND_IDLER, last.Kind)
	assert.Equal(t, int32(2), last.NeededQuantity)
	assert.Len(t, resp.Fit.Links, 2)
}

func TestSearchBasesWithIdlers(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewBaseServiceClient(conn)
	req := sixWheels()
	req.EqualGaps = true
	without, err := client.SearchBases(context.Background(), req)
	require.NoError(t, err)
	require.Empty(t, without.Plans)
	req.Idler = roverOnIdlers(t).Links[1].Idler
	resp, err := client.SearchBases(context.Background(), req)
	require.NoError(t, err)
	body, err := MarshalJSON(req)
	require.NoError(t, err)
	want, err := MarshalJSON(resp)
	require.NoError(t, err)
	assert.JSONEq(t, string(want), ask(t, http.MethodPost, baseURL+"/v1/bases:search", string(body)).body)
	require.Len(t, resp.Plans, 1)
	assert.Empty(t, resp.Exclusions)
	l := resp.Plans[0].Links[0]
	assert.Equal(t, int32(178), l.Drive.GetBeltToothCount())
	assert.InDelta(t, 350, l.RailSpacingMm, 0)
	assert.Negative(t, l.Idler.OffsetMm)
	assert.Equal(t, "PLAN_USES_IDLER", resp.Notes[0].Reason)
	assert.Equal(t, "idler", resp.Notes[0].Field)

	// Plain plans come without idlers.
	req.EqualGaps = false
	plain, err := client.SearchBases(context.Background(), req)
	require.NoError(t, err)
	require.Len(t, plain.Plans, 6)
	assert.Nil(t, plain.Plans[0].Links[0].Idler)

	req.Idler.Side = pb.WrapSide_WRAP_SIDE_OUTSIDE
	_, err = client.SearchBases(context.Background(), req)
	assert.ErrorContains(t, err, "idler.side is outside: the back of the belt has no teeth")
}

func TestIdlerRefusals(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewBaseServiceClient(conn)
	for _, tt := range []struct {
		reason, field, text string
		change              func(*pb.Link)
	}{
		{"EXACTLY_ONE", "base.links[0].center_distance_mm", "axle_positions", func(l *pb.Link) { l.CenterDistanceMm = nil }},
		{"REVERSED_RANGE", "base.links[0].idler.to_mm", "more than from_mm", func(l *pb.Link) { l.Idler.ToMm = -1 }},
		{"OUT_OF_RANGE", "base.links[0].idler.position", "0.01 to 0.99", func(l *pb.Link) { l.Idler.Position = new(0.0) }},
		{"OUT_OF_RANGE", "base.links[0].idler.width_mm", "belt_width_mm", func(l *pb.Link) { l.Idler.WidthMm = new(10.0) }},
		{"MISSING", "base.links[0].idler.diameter_mm", "rim", func(l *pb.Link) { l.Idler.DiameterMm = nil }},
		{"NO_POSITION_FITS", "base.links[0].drive.belt_tooth_count", "a belt of", func(l *pb.Link) { l.Drive.BeltToothCount = new(int32(200)) }},
		{"NO_POSITION_FITS", "base.links[0].idler.from_mm", "hold 8.19", func(l *pb.Link) { l.Idler.FromMm, l.Idler.ToMm = 55, 80 }},
	} {
		req := &pb.LayOutBaseRequest{Base: roverOnIdlers(t)}
		tt.change(req.Base.Links[0])
		_, err := client.LayOutBase(context.Background(), req)
		s := status.Convert(err)
		require.Equal(t, codes.InvalidArgument, s.Code(), tt.field)
		var fields []string
		reason := ""
		for _, detail := range s.Details() {
			switch d := detail.(type) {
			case *errdetails.BadRequest:
				for _, v := range d.FieldViolations {
					fields = append(fields, v.Field)
				}
			case *errdetails.ErrorInfo:
				reason = d.Reason
			}
		}
		assert.Equal(t, tt.reason, reason, tt.field)
		assert.Equal(t, []string{tt.field}, fields)
		assert.Contains(t, s.Message(), tt.text)
	}
}

// TestPlanDrawsBeltsOverIdlers: a line that lies b outside a pitch line that
// turns once in all is 2 pi b longer than it, whether or not an idler on the
// back makes it bulge inward; both belts are of 890 mm.
func TestPlanDrawsBeltsOverIdlers(t *testing.T) {
	section, err := beltmath.FindSection("H5M")
	require.NoError(t, err)
	tooth := *section.PitchLineDifferentialMM.Value + *section.ToothHeightMM.Value
	back := *section.BeltHeightMM.Value - tooth
	lengths := map[string]float64{}
	all := drawDXF(t, roverOnIdlers(t), pb.Sheet_SHEET_PLAN)
	for _, e := range all {
		switch {
		case e.layer() != "BELT":
		case e.kind == "LINE":
			lengths[e.values[6]] += math.Hypot(e.number(t, 11)-e.number(t, 10), e.number(t, 21)-e.number(t, 20))
		case e.kind == "ARC":
			lengths[e.values[6]] += e.number(t, 40) * math.Mod(e.number(t, 51)-e.number(t, 50)+360, 360) * math.Pi / 180
		}
	}
	offsets := 2 * math.Pi * (back - tooth)
	assert.InDelta(t, 2*890+offsets, lengths["DASHED"], 1e-6, "inboard") // coordinates have 9 decimals
	assert.InDelta(t, 2*890+offsets, lengths[""], 1e-6, "outboard")

	holes := circlesOf(t, drawDXF(t, roverOnIdlers(t), pb.Sheet_SHEET_DRILL_TEMPLATE), "HOLES")
	require.Len(t, holes, 5) // three axles, two idlers
	resp, err := (&Service{}).LayOutBase(context.Background(), &pb.LayOutBaseRequest{Base: roverOnIdlers(t)})
	require.NoError(t, err)
	for i, l := range resp.Links {
		at := l.Idler.Place.Center
		assert.True(t, circle{at.XMm, at.YMm, []float64{4, 5}[i]}.near(holes[3+i], 5.01e-7))
	}
	text := draw(t, roverOnIdlers(t), pb.Sheet_SHEET_STACK, pb.DrawingFormat_DRAWING_FORMAT_SVG, 0)
	var found []string
	for _, e := range svgTexts(t, text) {
		found = append(found, e.text)
	}
	for _, row := range []string{"idler 1 2 idler, belt 1 4.000 36.000 32.000", "idler 2 1 spacer 0.000 89.000 89.000"} {
		assert.Contains(t, strings.Join(found, " "), row)
	}
}
