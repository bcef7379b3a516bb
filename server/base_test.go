package server

import (
	"context"
	"math"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func sixWheels() *pb.SearchBasesRequest {
	return &pb.SearchBasesRequest{
		Axles: []*pb.Axle{
			{Kind: pb.AxleKind_AXLE_KIND_DEAD, WheelDiameterMm: 160, WheelWidthMm: 45, BoltDiameterMm: 8},
			{WheelDiameterMm: 160, WheelWidthMm: 45, DropMm: 3, HoleDiameterMm: 22},
			{Kind: pb.AxleKind_AXLE_KIND_DEAD, WheelDiameterMm: 160, WheelWidthMm: 45, BoltDiameterMm: 8},
		},
		Sections: []string{"H5M"}, Pulley: &pb.ToothCounts{Values: []int32{36}}, StandardLengthsOnly: true,
		TargetWheelbaseMm: 700, ToleranceMm: 1, MinWheelGapMm: 12,
	}
}

// TestSearchBases asks for the side of the demo rover by gRPC and REST. The
// numbers are those of the length equation with 40 digits.
func TestSearchBases(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewBaseServiceClient(conn)
	both := func(req *pb.SearchBasesRequest) *pb.SearchBasesResponse {
		resp, err := client.SearchBases(context.Background(), req)
		require.NoError(t, err)
		body, err := MarshalJSON(req)
		require.NoError(t, err)
		want, err := MarshalJSON(resp)
		require.NoError(t, err)
		assert.JSONEq(t, string(want), ask(t, http.MethodPost, baseURL+"/v1/bases:search", string(body)).body)
		return resp
	}

	resp := both(sixWheels())
	require.Len(t, resp.Plans, 6)
	assert.False(t, resp.Truncated)
	assert.Equal(t, int64(49*49), resp.SearchedCount) // lengths in the list, a gap each
	first := resp.Plans[0]
	assert.Equal(t, int32(174), first.Links[0].Drive.GetBeltToothCount())
	assert.Equal(t, int32(178), first.Links[1].Drive.GetBeltToothCount())
	assert.Equal(t, int32(1), first.Links[0].FromAxle)
	assert.Equal(t, int32(0), first.Links[0].ToAxle)
	assert.InDelta(t, 345, first.Links[0].CenterDistanceMm, 0)           // whole
	assert.InDelta(t, 344.986956, first.Links[0].RailSpacingMm, 5.01e-7) // half of the last digit
	assert.InDelta(t, 699.974280, first.WheelbaseMm, 5.01e-7)
	assert.InDelta(t, -3, first.AxlePositions[1].YMm, 0)
	assert.True(t, first.MirroredToo)

	req := sixWheels()
	req.EqualGaps = true
	resp = both(req)
	assert.Empty(t, resp.Plans)
	require.NotEmpty(t, resp.Exclusions)
	assert.Equal(t, "tolerance_mm", resp.Exclusions[0].Field)
	assert.True(t, resp.Exclusions[0].Sufficient)
	assert.InDelta(t, 709.974647, resp.Exclusions[0].Nearest.WheelbaseMm, 5.01e-7)

	req = sixWheels()
	req.Pulley, req.Stock, req.BeltWidthMm = nil, demoStock(t), new(25.0)
	assert.Len(t, both(req).Plans, 6)
}

func TestSearchBasesRefusals(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	for _, tt := range []struct {
		reason, field string
		change        func(*pb.SearchBasesRequest)
	}{
		{"OUT_OF_RANGE", "axles", func(r *pb.SearchBasesRequest) { r.Axles = r.Axles[:1] }},
		{"NOT_FINITE", "axles[1].wheel_diameter_mm", func(r *pb.SearchBasesRequest) { r.Axles[1].WheelDiameterMm = math.NaN() }},
		{"OUT_OF_RANGE", "axles[0].kind", func(r *pb.SearchBasesRequest) { r.Axles[0].Kind = 7 }},
		{"OUT_OF_RANGE", "driven_axles[0]", func(r *pb.SearchBasesRequest) { r.DrivenAxles = []int32{3} }},
		{"UNKNOWN_SECTION", "sections[0]", func(r *pb.SearchBasesRequest) { r.Sections = []string{"H6M"} }},
		{"OUT_OF_RANGE", "pulley.values[0]", func(r *pb.SearchBasesRequest) { r.Pulley.Values[0] = 5 }},
		{"OUT_OF_RANGE", "target_wheelbase_mm", func(r *pb.SearchBasesRequest) { r.TargetWheelbaseMm = 0 }},
		{"EXACTLY_ONE", "gaps[1].target_mm", func(r *pb.SearchBasesRequest) {
			r.Gaps = []*pb.Gap{{}, {TargetMm: new(350.0), MaxMm: new(360.0)}}
		}},
		{"OUT_OF_RANGE", "max_gap_difference_mm", func(r *pb.SearchBasesRequest) { r.MaxGapDifferenceMm = new(-1.0) }},
		{"OUT_OF_RANGE", "stock.pulleys[0].quantity", func(r *pb.SearchBasesRequest) {
			r.Stock = &pb.Stock{Pulleys: []*pb.StockItem{{Section: "H5M", ToothCount: 36, WidthMm: 25, Quantity: -1}}}
		}},
		{"WHEELS_TOUCH", "target_wheelbase_mm", func(r *pb.SearchBasesRequest) { r.TargetWheelbaseMm = 300 }},
	} {
		t.Run(tt.field, func(t *testing.T) {
			req := sixWheels()
			tt.change(req)
			_, err := pb.NewBaseServiceClient(conn).SearchBases(context.Background(), req)
			wantRefusal(t, err, tt.reason, tt.field)
		})
	}
}
