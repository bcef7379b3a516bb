package server

import (
	"context"
	"encoding/json"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// roverSide is the demo rover; its numbers are those of the scenario.
func roverSide() *pb.LayOutBaseRequest {
	pulley := func() *pb.Pulley { return &pb.Pulley{ToothCount: 36, FlangeDiameterMm: new(61.0)} }
	link := func(from, to, belt int32) *pb.Link {
		return &pb.Link{FromAxle: from, ToAxle: to, Drive: &pb.Drive{
			Section: "H5M", Driver: pulley(), Driven: pulley(), BeltToothCount: &belt,
		}}
	}
	dead := func() *pb.Axle {
		return &pb.Axle{Kind: pb.AxleKind_AXLE_KIND_DEAD, WheelDiameterMm: 160, WheelWidthMm: 45, HoleDiameterMm: 8, BoltDiameterMm: 8}
	}
	return &pb.LayOutBaseRequest{
		Base: &pb.Base{
			Axles:         []*pb.Axle{dead(), {Kind: pb.AxleKind_AXLE_KIND_LIVE, WheelDiameterMm: 160, WheelWidthMm: 45, DropMm: 3, HoleDiameterMm: 22}, dead()},
			Links:         []*pb.Link{link(1, 0, 174), link(1, 2, 178)},
			CavityWidthMm: 125, PlateThicknessMm: 6, PlateMarginMm: 60, PlateHeightMm: 120, PulleyWidthMm: 32, BeltWidthMm: 25, PulleyGapMm: 4,
			Standoffs:           []*pb.Standoff{{Center: &pb.Point{XMm: 130, YMm: 40}, DiameterMm: 14, HoleDiameterMm: 5.5}, {Center: &pb.Point{XMm: 172.5}, DiameterMm: 14}},
			StandoffClearanceMm: 3, StandoffStockLengthMm: 1000, TrackWidthMm: 520, KerfMm: 2.5, RoundUpMm: 1,
			SideSlipForceN: new(0.7 * 40 * 9.81 / 2),
			Members: []*pb.Member{
				{Name: "cross member", Quantity: 4, EndAllowanceMm: new(0.0), StockLengthMm: 2000},
				{Name: "skirt", Quantity: 2, LengthMm: new(820.0), StockLengthMm: 2000},
			},
		},
		StandoffLinesMm: []float64{0, 40}, StandoffDiameterMm: 14,
	}
}

// layOutBoth asks gRPC and REST, which answer alike.
func layOutBoth(t *testing.T, client pb.BaseServiceClient, baseURL string, req *pb.LayOutBaseRequest) *pb.LayOutBaseResponse {
	t.Helper()
	resp, err := client.LayOutBase(t.Context(), req)
	require.NoError(t, err)
	body, err := MarshalJSON(req)
	require.NoError(t, err)
	want, err := MarshalJSON(resp)
	require.NoError(t, err)
	answer := ask(t, http.MethodPost, baseURL+"/v1/bases:layOut", string(body))
	assert.Equal(t, http.StatusOK, answer.status)
	assert.JSONEq(t, string(want), answer.body, "gRPC and REST differ")
	return resp
}

func TestLayOutBase(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewBaseServiceClient(conn)
	both := func(req *pb.LayOutBaseRequest) *pb.LayOutBaseResponse { return layOutBoth(t, client, baseURL, req) }

	resp := both(roverSide())
	const half = 5.01e-7 // of the last digit the scenario prints
	assert.InDelta(t, 344.986956, resp.Axles[1].Center.XMm, half)
	assert.InDelta(t, 404.986956, resp.Axles[1].FromEndMm, half)
	assert.InDelta(t, 57, resp.Axles[1].FromEdgeMm, 0)
	assert.InDelta(t, 22, resp.Axles[1].HoleDiameterMm, 0)
	assert.InDelta(t, 699.974280, resp.WheelbaseMm, half)
	assert.InDelta(t, -83, resp.FloorYMm, 0)
	link := resp.Links[0]
	assert.Equal(t, []int32{1, 0, 1}, []int32{link.FromAxle, link.ToAxle, link.DownstreamWheelCount})
	assert.Equal(t, pb.Lane_LANE_INBOARD, link.Lane)
	assert.InDelta(t, 383.5, link.GetEffectiveTensionN(), 0.05)
	assert.InDelta(t, 344.986956, link.Geometry.Driver.Center.XMm, half) // in the frame of the base
	assert.InDelta(t, -3, link.Geometry.Driver.Center.YMm, 0)
	assert.Nil(t, link.Drilled)
	assert.Equal(t, pb.StandoffVerdict_STANDOFF_VERDICT_CLEAR, resp.Standoffs[0].Verdict)
	assert.InDelta(t, 4.333, resp.Standoffs[0].GapMm, 5.01e-4)
	assert.Equal(t, "belt 1", resp.Standoffs[0].Nearest)
	assert.Equal(t, []bool{false, true}, []bool{resp.Standoffs[0].InsideLoop, resp.Standoffs[1].InsideLoop})
	assert.Equal(t, []string{"wheel 1", "wheel 2"}, resp.Clearances[0].Between)
	assert.Equal(t, pb.ClearanceKind_CLEARANCE_KIND_WHEEL_WHEEL, resp.Clearances[0].Kind)
	require.Len(t, resp.Stacks[1].Parts, 7)
	assert.Equal(t, pb.PartKind_PART_KIND_PULLEY, resp.Stacks[1].Parts[5].Part)
	assert.Equal(t, int32(1), resp.Stacks[1].Parts[5].GetLink())
	require.Len(t, resp.StandoffZones, 4)
	assert.InDelta(t, 255.037, resp.StandoffZones[0].ToMm, 5.01e-4)
	assert.Equal(t, pb.MinimumProof_MINIMUM_PROOF_BOUND, resp.CutPlans[0].Proof)
	assert.Equal(t, "870 H5M, 174 teeth, 25 mm wide", resp.Parts[0].Designation)
	assert.Equal(t, int32(2), resp.Parts[0].NeededQuantity)
	assert.Equal(t, "GUARD_NIP_POINTS", resp.Notes[0].Reason)

	// Belt 178 is sold out and the holes are there.
	req := roverSide()
	for _, a := range resp.Axles {
		req.Base.AxlePositions = append(req.Base.AxlePositions, a.Center)
	}
	req.Stock = demoStock(t)
	for _, item := range req.Stock.Belts {
		if item.ToothCount == 178 {
			item.Quantity = 0
		}
	}
	drilled := both(req).Links[1].Drilled
	require.NotNil(t, drilled)
	assert.Equal(t, pb.Verdict_VERDICT_FITS, drilled.Verdict)
	require.NotEmpty(t, drilled.Substitutes)
	first := drilled.Substitutes[0]
	assert.Equal(t, int32(180), first.Substitute.Drive.GetBeltToothCount())
	assert.InDelta(t, 5, first.Substitute.HoleMoveMm, 1e-9)
	assert.Equal(t, int32(2), first.MoveAxle)
}

func TestLayOutBaseRefusals(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	client := pb.NewBaseServiceClient(conn)
	for _, tt := range []struct {
		reason string
		fields []string
		change func(*pb.LayOutBaseRequest)
	}{
		{"OUT_OF_RANGE", []string{"base.cavity_width_mm", "standoff_lines_mm[0]"}, func(r *pb.LayOutBaseRequest) {
			r.Base.CavityWidthMm, r.StandoffLinesMm[0] = 0, 70
		}},
		{"LINK_TO_ITSELF", []string{"base.links[1].to_axle"}, func(r *pb.LayOutBaseRequest) { r.Base.Links[1].ToAxle = 1 }},
		{"UNKNOWN_SECTION", []string{"base.links[0].drive.section"}, func(r *pb.LayOutBaseRequest) { r.Base.Links[0].Drive.Section = "H6M" }},
		{"BELT_TOO_SHORT", []string{"base.links[0].drive.belt_tooth_count"}, func(r *pb.LayOutBaseRequest) { r.Base.Links[0].Drive.BeltToothCount = new(int32(30)) }},
		{"CAVITY_TOO_NARROW", []string{"base.cavity_width_mm"}, func(r *pb.LayOutBaseRequest) { r.Base.CavityWidthMm = 121 }},
		{"OUTSIDE_PLATE", []string{"base.standoffs[0].center"}, func(r *pb.LayOutBaseRequest) { r.Base.Standoffs[0].Center.YMm = 55 }},
		{"OUT_OF_RANGE", []string{"base.members[0].quantity"}, func(r *pb.LayOutBaseRequest) { r.Base.Members[0].Quantity = 0 }},
		{"EXACTLY_ONE", []string{"base.axle_torque_nm"}, func(r *pb.LayOutBaseRequest) { r.Base.AxleTorqueNm = new(11.0) }},
		{"WRONG_LENGTH", []string{"base.axle_positions"}, func(r *pb.LayOutBaseRequest) { r.Base.AxlePositions = []*pb.Point{{}} }},
	} {
		req := proto.CloneOf(roverSide())
		tt.change(req)
		_, err := client.LayOutBase(context.Background(), req)
		s := status.Convert(err)
		require.Equal(t, codes.InvalidArgument, s.Code(), "%v", err)
		var fields []string
		for _, detail := range s.Details() {
			switch d := detail.(type) {
			case *errdetails.ErrorInfo:
				assert.Equal(t, tt.reason, d.Reason)
			case *errdetails.BadRequest:
				for _, v := range d.FieldViolations {
					fields = append(fields, v.Field)
				}
			}
		}
		assert.Equal(t, tt.fields, fields)
		body, err := MarshalJSON(req)
		require.NoError(t, err)
		assert.Equal(t, http.StatusBadRequest, ask(t, http.MethodPost, baseURL+"/v1/bases:layOut", string(body)).status)
	}
	empty := ask(t, http.MethodPost, baseURL+"/v1/bases:layOut", "{}")
	assert.Equal(t, http.StatusBadRequest, empty.status)
	unknown := ask(t, http.MethodPost, baseURL+"/v1/bases:layOut", `{"base": {"cavityWidth": 1}}`)
	assert.Equal(t, http.StatusBadRequest, unknown.status)
	assert.True(t, json.Valid([]byte(unknown.body)))
}
