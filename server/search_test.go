package server

import (
	"bufio"
	"context"
	"encoding/base64"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func spacingsRequest() *pb.SearchSpacingsRequest {
	return &pb.SearchSpacingsRequest{
		Sections: []string{"H5M", "T5"},
		Driver:   &pb.ToothCounts{Min: proto.Int32(20), Max: proto.Int32(40)}, Driven: &pb.ToothCounts{Values: []int32{36, 24}},
		TargetCenterDistanceMm: proto.Float64(350), ToleranceMm: proto.Float64(2),
		OrderBy: pb.SpacingOrder_SPACING_ORDER_TARGET_SHIFT,
	}
}

func searchAll(t *testing.T, client pb.DriveServiceClient, req *pb.SearchSpacingsRequest) (all []*pb.Spacing) {
	t.Helper()
	for req = proto.CloneOf(req); ; {
		resp, err := client.SearchSpacings(t.Context(), req)
		require.NoError(t, err)
		all = append(all, resp.Spacings...)
		if resp.NextPageToken == "" {
			require.Len(t, all, int(resp.TotalSize))
			return all
		}
		require.Len(t, resp.Spacings, int(req.GetPageSize()))
		req.PageToken = resp.NextPageToken
	}
}

func requireSameSpacings(t *testing.T, want, got []*pb.Spacing) {
	t.Helper()
	require.Len(t, got, len(want))
	for i := range want {
		require.True(t, proto.Equal(want[i], got[i]), "spacing %d is %v, want %v", i, got[i], want[i])
	}
}

func TestSearchSpacings(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	req := spacingsRequest()
	req.PageSize = proto.Int32(10_000)
	whole := searchAll(t, client, req)
	require.Greater(t, len(whole), 30)
	for _, size := range []int32{1, 7, int32(len(whole)) - 1, int32(len(whole)), int32(len(whole)) + 1} {
		req.PageSize = proto.Int32(size)
		requireSameSpacings(t, whole, searchAll(t, client, req))
	}
	// The size of a page may change on the way.
	req.PageSize = proto.Int32(3)
	first, err := client.SearchSpacings(t.Context(), req)
	require.NoError(t, err)
	req.PageSize, req.PageToken = proto.Int32(5), first.NextPageToken
	second, err := client.SearchSpacings(t.Context(), req)
	require.NoError(t, err)
	requireSameSpacings(t, whole[3:8], second.Spacings)
	// T5's pulleys are cleared by an unverified differential.
	reasons := map[string]int{}
	for _, n := range first.Notes {
		reasons[n.Reason]++
		assert.Equal(t, "sections", n.Field)
	}
	assert.Equal(t, 1, reasons["OUTSIDE_DIAMETER_UNVERIFIED"])
}

// The demo rover's main drive: 36 and 36 teeth, H5M, 174 belt teeth, 345 mm.
func TestSearchSpacingsKnownDrive(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	resp, err := pb.NewDriveServiceClient(conn).SearchSpacings(t.Context(), &pb.SearchSpacingsRequest{
		Sections: []string{"H5M"}, Driver: &pb.ToothCounts{Values: []int32{36}}, Driven: &pb.ToothCounts{Values: []int32{36}},
		MinCenterDistanceMm: proto.Float64(345), MaxCenterDistanceMm: proto.Float64(345),
	})
	require.NoError(t, err)
	require.Equal(t, int32(1), resp.TotalSize)
	require.True(t, proto.Equal(&pb.Spacing{
		Section: "H5M", DriverToothCount: 36, DrivenToothCount: 36, BeltToothCount: 174,
		CenterDistanceMm: 345, SpeedRatio: 1, MeshedToothCount: 18, StandardLength: true, // C = 5 (2 174 - 72)/4
	}, resp.Spacings[0]), "%v", resp.Spacings[0])
	require.Equal(t, "LENGTH_UNVERIFIED", resp.Notes[0].Reason)
}

// The same question by GET, POST and gRPC has the same answer.
func TestSearchSpacingsREST(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	got := ask(t, http.MethodGet, baseURL+"/v1/drives:searchSpacings?sections=H5M&sections=T5&driver.min=20&driver.max=40"+
		"&driven.values=36&driven.values=24&targetCenterDistanceMm=350&toleranceMm=2&orderBy=SPACING_ORDER_TARGET_SHIFT", "")
	posted := ask(t, http.MethodPost, baseURL+"/v1/drives:searchSpacings", `{"sections": ["H5M", "T5"], "driver": {"min": 20, "max": 40},
		"driven": {"values": [36, 24]}, "targetCenterDistanceMm": 350, "toleranceMm": 2, "orderBy": "SPACING_ORDER_TARGET_SHIFT"}`)
	direct, err := pb.NewDriveServiceClient(conn).SearchSpacings(t.Context(), spacingsRequest())
	require.NoError(t, err)
	want, err := MarshalJSON(direct)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, got.status)
	require.Equal(t, got, posted)
	require.JSONEq(t, string(want), got.body)
}

func TestSearchSpacingsTokens(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	req := spacingsRequest()
	req.PageSize = proto.Int32(2)
	first, err := client.SearchSpacings(t.Context(), req)
	require.NoError(t, err)
	token := first.NextPageToken
	raw, err := base64.RawURLEncoding.DecodeString(token)
	require.NoError(t, err)
	altered := append([]byte(nil), raw...)
	altered[len(altered)-1]++
	foreign := func(position []byte) string {
		what, err := searchName(spacingsRequest())
		require.NoError(t, err)
		return writeToken(position, what)
	}
	tokens := map[string]string{
		"no token":          "not a token",
		"altered":           base64.RawURLEncoding.EncodeToString(altered),
		"cut":               token[:len(token)-4],
		"lengthened":        token + "AAAA",
		"a list's":          writeToken(make([]byte, 8), "sections"),
		"no such spacing":   foreign([]byte{0, 0, 0, 20, 0, 24, 0, 7}),
		"no such section":   foreign([]byte{0, 9, 0, 20, 0, 24, 0, 160}),
		"position too long": foreign(make([]byte, 9)),
		"no position":       foreign(nil),
	}
	for name, bad := range tokens {
		req := spacingsRequest()
		req.PageToken = bad
		_, err := client.SearchSpacings(t.Context(), req)
		requireViolations(t, err, "BAD_PAGE_TOKEN", "page_token")
		require.Contains(t, err.Error(), "next_page_token", name)
	}
	for name, change := range map[string]func(*pb.SearchSpacingsRequest){
		"sections": func(r *pb.SearchSpacingsRequest) { r.Sections = r.Sections[:1] },
		"driver":   func(r *pb.SearchSpacingsRequest) { r.Driver.Max = proto.Int32(41) },
		"driven":   func(r *pb.SearchSpacingsRequest) { r.Driven.Values = append(r.Driven.Values, 25) },
		"belt": func(r *pb.SearchSpacingsRequest) {
			r.Belt = &pb.ToothCounts{Min: proto.Int32(7), Max: proto.Int32(5000)}
		},
		"target":    func(r *pb.SearchSpacingsRequest) { r.TargetCenterDistanceMm = proto.Float64(350.001) },
		"tolerance": func(r *pb.SearchSpacingsRequest) { r.ToleranceMm = proto.Float64(3) },
		"ratio":     func(r *pb.SearchSpacingsRequest) { r.MaxSpeedRatio = proto.Float64(100) },
		"mesh":      func(r *pb.SearchSpacingsRequest) { r.MinMeshedToothCount = proto.Int32(5) },
		"standard":  func(r *pb.SearchSpacingsRequest) { r.StandardLengthsOnly = true },
		"order":     func(r *pb.SearchSpacingsRequest) { r.OrderBy = pb.SpacingOrder_SPACING_ORDER_BELT_TOOTH_COUNT },
		"equal":     func(r *pb.SearchSpacingsRequest) { r.EqualPulleys = true },
	} {
		t.Run(name, func(t *testing.T) {
			req := spacingsRequest()
			req.PageToken = token
			_, err := client.SearchSpacings(t.Context(), req)
			require.NoError(t, err)
			change(req)
			_, err = client.SearchSpacings(t.Context(), req)
			requireViolations(t, err, "BAD_PAGE_TOKEN", "page_token")
		})
	}
}

func requireViolations(t *testing.T, err error, reason string, fields ...string) {
	t.Helper()
	require.Equal(t, codes.InvalidArgument, status.Code(err), "%v", err)
	var got []string
	for _, detail := range status.Convert(err).Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			require.Equal(t, reason, d.Reason)
		case *errdetails.BadRequest:
			for _, v := range d.FieldViolations {
				got = append(got, v.Field)
			}
		}
	}
	require.Equal(t, fields, got)
}

func TestSearchSpacingsRefusals(t *testing.T) {
	cfg := DefaultConfig()
	cfg.MaxResults = 20
	conn, _ := startService(t, cfg)
	client := pb.NewDriveServiceClient(conn)
	for name, tt := range map[string]struct {
		change func(*pb.SearchSpacingsRequest)
		reason string
		fields []string
	}{
		"too many results": {func(*pb.SearchSpacingsRequest) {}, "TOO_MANY_RESULTS", []string{"tolerance_mm"}},
		"reversed range":   {func(r *pb.SearchSpacingsRequest) { r.Driver.Max = proto.Int32(19) }, "REVERSED_RANGE", []string{"driver.max"}},
		"empty range":      {func(r *pb.SearchSpacingsRequest) { r.Driver = &pb.ToothCounts{} }, "EXACTLY_ONE", []string{"driver"}},
		"no tolerance":     {func(r *pb.SearchSpacingsRequest) { r.ToleranceMm = nil }, "NOT_GIVEN", []string{"tolerance_mm"}},
		"two windows":      {func(r *pb.SearchSpacingsRequest) { r.MinCenterDistanceMm = proto.Float64(1) }, "EXACTLY_ONE", []string{"min_center_distance_mm"}},
		"no bound at all": {func(r *pb.SearchSpacingsRequest) {
			r.TargetCenterDistanceMm, r.ToleranceMm, r.OrderBy = nil, nil, 0
		}, "NOT_GIVEN", []string{"belt"}},
		"page too large, with more": {func(r *pb.SearchSpacingsRequest) {
			r.PageSize, r.Sections = proto.Int32(10_001), []string{"T5", "T6"}
		}, "UNKNOWN_SECTION", []string{"sections[1]", "page_size"}},
		"page of 0": {func(r *pb.SearchSpacingsRequest) { r.PageSize = proto.Int32(0) }, "OUT_OF_RANGE", []string{"page_size"}},
	} {
		t.Run(name, func(t *testing.T) {
			req := spacingsRequest()
			tt.change(req)
			_, err := client.SearchSpacings(t.Context(), req)
			requireViolations(t, err, tt.reason, tt.fields...)
		})
	}
	_, err := client.SearchSpacings(t.Context(), spacingsRequest())
	require.ErrorContains(t, err, "more than 20 spacings")
	require.ErrorContains(t, err, "narrow")
}

func streamRequest() *pb.StreamSpacingsRequest {
	r := spacingsRequest()
	return &pb.StreamSpacingsRequest{
		Sections: r.Sections, Driver: r.Driver, Driven: r.Driven,
		TargetCenterDistanceMm: r.TargetCenterDistanceMm, ToleranceMm: r.ToleranceMm,
	}
}

// TestStreamSpacingsNotes: the same notes as those of the whole search on one
// page, each once.
func TestStreamSpacingsNotes(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	some := &pb.ToothCounts{Min: proto.Int32(20), Max: proto.Int32(24)}
	request := &pb.SearchSpacingsRequest{
		Sections: []string{"XL", "T5", "L"}, Driver: some, Driven: some,
		Belt: &pb.ToothCounts{Min: proto.Int32(60), Max: proto.Int32(130)}, PageSize: proto.Int32(10_000),
	}
	page, err := client.SearchSpacings(t.Context(), request)
	require.NoError(t, err)
	require.Empty(t, page.NextPageToken)
	require.Greater(t, len(page.Notes), 2) // lengths of XL, T5 and L, diameters of T5
	stream, err := client.StreamSpacings(t.Context(), &pb.StreamSpacingsRequest{
		Sections: request.Sections, Driver: some, Driven: some, Belt: request.Belt,
	})
	require.NoError(t, err)
	want, got := map[string]int{}, map[string]int{}
	for _, n := range page.Notes {
		want[n.Message]++
	}
	for {
		one, err := stream.Recv()
		if err != nil {
			require.ErrorIs(t, err, io.EOF)
			break
		}
		for _, n := range one.Notes {
			got[n.Message]++
		}
	}
	assert.Equal(t, want, got)
}

func TestStreamSpacings(t *testing.T) {
	cfg := DefaultConfig()
	conn, baseURL := startService(t, cfg)
	client := pb.NewDriveServiceClient(conn)
	want := map[string]bool{}
	req := spacingsRequest()
	req.PageSize = proto.Int32(10_000)
	for _, one := range searchAll(t, client, req) {
		want[one.String()] = true
	}
	stream, err := client.StreamSpacings(t.Context(), streamRequest())
	require.NoError(t, err)
	var got []*pb.Spacing
	for {
		resp, err := stream.Recv()
		if err == io.EOF { //nolint:errorlint // Recv gives it as it is
			break
		}
		require.NoError(t, err)
		require.True(t, want[resp.Spacing.String()], "%v", resp.Spacing)
		got = append(got, resp.Spacing)
	}
	require.Len(t, got, len(want))
	require.Equal(t, "H5M", got[0].Section)
	require.Equal(t, "T5", got[len(got)-1].Section)

	bad, err := client.StreamSpacings(t.Context(), &pb.StreamSpacingsRequest{})
	require.NoError(t, err)
	_, err = bad.Recv()
	requireViolations(t, err, "EXACTLY_ONE", "driver", "driven", "sections")

	// Over REST, one object a line.
	body := `{"sections": ["H5M", "T5"], "driver": {"min": 20, "max": 40}, "driven": {"values": [24, 36]},
		"targetCenterDistanceMm": 350, "toleranceMm": 2}`
	resp := postStream(t, t.Context(), baseURL, body)
	defer resp.Body.Close() //nolint:errcheck // read to its end
	require.Equal(t, http.StatusOK, resp.StatusCode)
	lines := bufio.NewScanner(resp.Body)
	count := 0
	for ; lines.Scan(); count++ {
		var line struct {
			Result struct {
				Spacing struct {
					Section          string
					BeltToothCount   int
					CenterDistanceMm float64
				}
			}
		}
		require.NoError(t, json.Unmarshal(lines.Bytes(), &line), lines.Text())
		require.Equal(t, got[count].Section, line.Result.Spacing.Section)
		require.Equal(t, int(got[count].BeltToothCount), line.Result.Spacing.BeltToothCount)
		require.Equal(t, got[count].CenterDistanceMm, line.Result.Spacing.CenterDistanceMm) // JSON keeps every bit
	}
	require.NoError(t, lines.Err())
	require.Equal(t, len(got), count)
}

func postStream(t *testing.T, ctx context.Context, baseURL, body string) *http.Response {
	t.Helper()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, baseURL+"/v1/drives:streamSpacings", strings.NewReader(body))
	require.NoError(t, err)
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	return resp
}

// watched is the service, with word of when a stream ends.
type watched struct {
	*Service
	ended chan time.Time
}

func (w *watched) Register(r grpc.ServiceRegistrar) {
	pb.RegisterDriveServiceServer(r, w)
	pb.RegisterSectionServiceServer(r, w)
}

func (w *watched) StreamSpacings(req *pb.StreamSpacingsRequest, stream grpc.ServerStreamingServer[pb.StreamSpacingsResponse]) error {
	defer func() { w.ended <- time.Now() }()
	return w.Service.StreamSpacings(req, stream)
}

// A stream of some thousand million spacings ends soon after its caller left,
// by gRPC and by REST, whether the caller reads on till then or not.
func TestStreamSpacingsCallerLeaves(t *testing.T) {
	cfg := DefaultConfig()
	cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
	l, err := Listen(cfg)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	service := &watched{&Service{}, make(chan time.Time, 1)}
	done := make(chan error, 1)
	go func() { done <- run(ctx, cfg, service, l) }()
	defer func() {
		stop()
		require.NoError(t, <-done)
	}()
	conn, err := grpc.NewClient(l.GRPC.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the test is over

	all := &pb.ToothCounts{Min: proto.Int32(6), Max: proto.Int32(600)}
	endsSoon := func(t *testing.T, left time.Time) {
		t.Helper()
		select {
		case end := <-service.ended:
			t.Logf("ended %v after the caller left", end.Sub(left))
			require.Less(t, end.Sub(left), 100*time.Millisecond)
		case <-time.After(10 * time.Second):
			t.Fatal("the stream goes on")
		}
	}
	for _, read := range []int{1, 20_000} {
		call, leave := context.WithCancel(t.Context())
		stream, err := pb.NewDriveServiceClient(conn).StreamSpacings(call, &pb.StreamSpacingsRequest{PitchMm: proto.Float64(5), Driver: all, Driven: all})
		require.NoError(t, err)
		for range read {
			_, err := stream.Recv()
			require.NoError(t, err)
		}
		leave()
		endsSoon(t, time.Now())
	}
	t.Run("REST", func(t *testing.T) {
		call, leave := context.WithCancel(t.Context())
		resp := postStream(t, call, "http://"+l.HTTP.Addr().String(), `{"pitchMm": 5, "driver": {"min": 6, "max": 600}, "driven": {"min": 6, "max": 600}}`)
		defer resp.Body.Close() //nolint:errcheck // left on purpose
		_, err := bufio.NewReader(resp.Body).ReadString('\n')
		require.NoError(t, err)
		leave()
		endsSoon(t, time.Now())
	})
}
