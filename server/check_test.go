package server

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// readRows reads a CSV file as one map a row.
func readRows(t testing.TB, path string) []map[string]string {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close() //nolint:errcheck // only read
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := make(map[string]string)
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

func optionalNumber(t testing.TB, text string) *float64 {
	t.Helper()
	if text == "" {
		return nil
	}
	return new(number(t, text))
}

// demoBatch is the design batch with its expected results, but for the row
// whose center distance is no number, which only a file can hold.
func demoBatch(t testing.TB) (items []*pb.CheckItem, want []map[string]string) {
	t.Helper()
	want = readRows(t, "../testdata/demo/design_batch_expected.csv")
	for i, row := range readRows(t, "../testdata/demo/design_batch.csv") {
		require.Equal(t, row["id"], want[i]["id"])
		if row["center_distance_mm"] == "abc" {
			continue
		}
		count := func(name string) int32 { return int32(number(t, row[name])) }
		items = append(items, &pb.CheckItem{
			Id: row["id"],
			Drive: &pb.Drive{
				Section:        row["section"],
				Driver:         &pb.Pulley{ToothCount: count("driver_tooth_count")},
				Driven:         &pb.Pulley{ToothCount: count("driven_tooth_count")},
				BeltToothCount: new(count("belt_tooth_count")),
			},
			CenterDistanceMm:   number(t, row["center_distance_mm"]),
			BeltWidthMm:        optionalNumber(t, row["belt_width_mm"]),
			TorqueNm:           optionalNumber(t, row["torque_nm"]),
			HeightDifferenceMm: optionalNumber(t, row["height_difference_mm"]),
		})
	}
	for i, row := range want {
		if row["id"] == "E08" {
			return items, append(want[:i:i], want[i+1:]...)
		}
	}
	return items, want
}

// checkDemoResults compares with numbers of a 40-digit bisection of the length
// equation, see testdata/README.md.
func checkDemoResults(t *testing.T, want []map[string]string, got []*pb.CheckResult) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, row := range want {
		r := got[i]
		assert.Equal(t, row["id"], r.Id)
		assert.Equal(t, "VERDICT_"+row["verdict"], r.Verdict.String(), row["id"])
		var reasons []string
		for _, note := range r.Notes {
			reasons = append(reasons, note.Reason)
		}
		assert.ElementsMatch(t, strings.Fields(row["notes"]), reasons, "%s: %v", row["id"], r.Notes)
		assert.Equal(t, row["error_reason"], r.GetError().GetReason(), row["id"])
		assert.Equal(t, row["error_field"], r.GetError().GetField(), row["id"])
		if row["verdict"] == "INVALID" {
			assert.Nil(t, r.CenterDistanceMm)
			assert.Nil(t, r.DeviationMm)
			assert.Nil(t, r.StretchPercent)
			continue
		}
		// The center distance is good to 0.51 ulp, below 3e-13 at 2085 mm; the
		// expected one has 15 digits; the deviation has an ulp of the stated
		// distance besides.
		assert.InDelta(t, number(t, row["center_distance_mm"]), *r.CenterDistanceMm, 1e-12, row["id"])
		assert.InDelta(t, number(t, row["deviation_mm"]), *r.DeviationMm, 1e-12, row["id"])
		assert.InDelta(t, number(t, row["stretch_percent"]), *r.StretchPercent, 1e-12, row["id"])
	}
}

func TestCheckDemoBatch(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	items, want := demoBatch(t)
	require.Len(t, items, 32)

	resp, err := client.CheckDrives(context.Background(), &pb.CheckDrivesRequest{Items: items})
	require.NoError(t, err)
	checkDemoResults(t, want, resp.Results)
	wantSummary := &pb.CheckSummary{Fits: 15, Marginal: 3, Rejected: 11, Invalid: 3} // counted in the table by hand
	assert.True(t, proto.Equal(wantSummary, resp.Summary), "%v", resp.Summary)

	streamed, err := streamCheck(client, nil, items[:20], items[20:])
	require.NoError(t, err)
	require.Len(t, streamed, 2)
	checkDemoResults(t, want, append(streamed[0].Results, streamed[1].Results...))
}

// streamCheck sends chunks while it reads and returns one response a chunk.
func streamCheck(client pb.DriveServiceClient, limits *pb.FitLimits, chunks ...[]*pb.CheckItem) ([]*pb.StreamCheckDrivesResponse, error) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	stream, err := client.StreamCheckDrives(ctx)
	if err != nil {
		return nil, err
	}
	go func() { // ends with the chunks or with the stream
		for i, items := range chunks {
			req := &pb.StreamCheckDrivesRequest{Items: items}
			if i == 0 {
				req.Limits = limits
			}
			if stream.Send(req) != nil {
				return
			}
		}
		_ = stream.CloseSend() // its failure shows in Recv
	}()
	var responses []*pb.StreamCheckDrivesResponse
	for {
		resp, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return responses, nil
		}
		if err != nil {
			return responses, err
		}
		responses = append(responses, resp)
	}
}

func plainItem(id string) *pb.CheckItem {
	return &pb.CheckItem{
		Id: id, CenterDistanceMm: 345,
		Drive: &pb.Drive{
			Section: "H5M", Driver: &pb.Pulley{ToothCount: 36}, Driven: &pb.Pulley{ToothCount: 36}, BeltToothCount: new(int32(174)),
		},
	}
}

func TestCheckItemErrors(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	change := func(f func(*pb.CheckItem)) *pb.CheckItem {
		item := plainItem("bad")
		f(item)
		return item
	}
	tests := []struct {
		item          *pb.CheckItem
		reason, field string
	}{
		{&pb.CheckItem{Id: "bad"}, "EXACTLY_ONE", "drive.section"},
		{change(func(i *pb.CheckItem) { i.Drive.PitchMm = new(5.0) }), "EXACTLY_ONE", "drive.section"},
		{change(func(i *pb.CheckItem) { i.Drive.Section = ""; i.Drive.PitchMm = new(101.0) }), "OUT_OF_RANGE", "drive.pitch_mm"},
		{change(func(i *pb.CheckItem) { i.Drive.Driver = nil }), "OUT_OF_RANGE", "drive.driver.tooth_count"},
		{change(func(i *pb.CheckItem) { i.Drive.Driven.ToothCount = 601 }), "OUT_OF_RANGE", "drive.driven.tooth_count"},
		{change(func(i *pb.CheckItem) { i.Drive.Driven.FlangeDiameterMm = new(math.NaN()) }), "NOT_FINITE", "drive.driven.flange_diameter_mm"},
		{change(func(i *pb.CheckItem) { i.Drive.BeltToothCount = new(int32(6)) }), "OUT_OF_RANGE", "drive.belt_tooth_count"},
		{change(func(i *pb.CheckItem) { i.Drive.BeltDesignation = "870 H5M" }), "EXACTLY_ONE", "drive.belt_tooth_count"},
		{change(func(i *pb.CheckItem) { i.Drive.BeltToothCount = nil; i.Drive.BeltDesignation = "871 H5M" }), "UNKNOWN_DESIGNATION", "drive.belt_designation"},
		{change(func(i *pb.CheckItem) { i.CenterDistanceMm = 0 }), "OUT_OF_RANGE", "center_distance_mm"},
		{change(func(i *pb.CheckItem) { i.CenterDistanceMm = math.Inf(1) }), "NOT_FINITE", "center_distance_mm"},
		{change(func(i *pb.CheckItem) { i.CenterDistanceMm = 250000.1 }), "OUT_OF_RANGE", "center_distance_mm"},
		{change(func(i *pb.CheckItem) { i.BeltWidthMm = new(0.0) }), "OUT_OF_RANGE", "belt_width_mm"},
		{change(func(i *pb.CheckItem) { i.TorqueNm = new(-1.0) }), "OUT_OF_RANGE", "torque_nm"},
		{change(func(i *pb.CheckItem) { i.HeightDifferenceMm = new(10000.5) }), "OUT_OF_RANGE", "height_difference_mm"},
		{change(func(i *pb.CheckItem) { i.Id = strings.Repeat("x", 257) }), "OUT_OF_RANGE", "id"},
	}
	var items []*pb.CheckItem
	for i, tt := range tests { // good items between the bad ones
		items = append(items, plainItem(fmt.Sprint("good ", i)), tt.item)
	}
	resp, err := client.CheckDrives(context.Background(), &pb.CheckDrivesRequest{Items: items})
	require.NoError(t, err)
	require.Len(t, resp.Results, len(items))
	for i, tt := range tests {
		good, bad := resp.Results[2*i], resp.Results[2*i+1]
		assert.Equal(t, fmt.Sprint("good ", i), good.Id)
		assert.Equal(t, pb.Verdict_VERDICT_FITS, good.Verdict)
		assert.Equal(t, tt.item.Id, bad.Id)
		assert.Equal(t, pb.Verdict_VERDICT_INVALID, bad.Verdict)
		assert.Equal(t, tt.reason, bad.GetError().GetReason(), "%v", bad.Error)
		assert.Equal(t, tt.field, bad.GetError().GetField())
		assert.Contains(t, bad.GetError().GetMessage(), tt.field+" is ")
	}
}

func wantRefusal(t *testing.T, err error, reason, field string) {
	t.Helper()
	s := status.Convert(err)
	require.Equal(t, codes.InvalidArgument, s.Code(), "%v", err)
	for _, detail := range s.Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			assert.Equal(t, reason, d.Reason)
		case *errdetails.BadRequest:
			assert.Equal(t, field, d.FieldViolations[0].Field)
		}
	}
}

func TestCheckWholeRequestErrors(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	tooMany := make([]*pb.CheckItem, 10001)
	for i := range tooMany {
		tooMany[i] = plainItem("")
	}
	one := []*pb.CheckItem{plainItem("")}
	badLimits := &pb.FitLimits{FitLowMm: new(0.2)}

	_, err := client.CheckDrives(context.Background(), &pb.CheckDrivesRequest{Items: tooMany})
	wantRefusal(t, err, "OUT_OF_RANGE", "items")
	_, err = client.CheckDrives(context.Background(), &pb.CheckDrivesRequest{Items: one, Limits: badLimits})
	wantRefusal(t, err, "OUT_OF_RANGE", "limits.fit_low_mm")
	_, err = streamCheck(client, badLimits, one)
	wantRefusal(t, err, "OUT_OF_RANGE", "limits.fit_low_mm")

	for _, tt := range []struct {
		reason, field string
		bad           *pb.StreamCheckDrivesRequest
	}{
		{"ONLY_FIRST_CHUNK", "limits", &pb.StreamCheckDrivesRequest{Items: one, Limits: &pb.FitLimits{}}},
		{"OUT_OF_RANGE", "items", &pb.StreamCheckDrivesRequest{Items: tooMany}},
	} {
		stream, err := client.StreamCheckDrives(context.Background())
		require.NoError(t, err)
		require.NoError(t, stream.Send(&pb.StreamCheckDrivesRequest{Items: one}))
		require.NoError(t, stream.Send(tt.bad))
		resp, err := stream.Recv()
		require.NoError(t, err, "the chunk before the bad one is answered")
		assert.Len(t, resp.Results, 1)
		_, err = stream.Recv()
		wantRefusal(t, err, tt.reason, tt.field)
	}
}

func TestStreamCheckKeepsOrder(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	var chunks [][]*pb.CheckItem
	for c := range 200 {
		var items []*pb.CheckItem
		for i := range 1 + (c*37)%90 { // uneven, so that chunks would overtake each other
			items = append(items, plainItem(fmt.Sprintf("%d/%d", c, i)))
		}
		chunks = append(chunks, items)
	}
	responses, err := streamCheck(client, nil, chunks...)
	require.NoError(t, err)
	require.Len(t, responses, len(chunks))
	for c, resp := range responses {
		require.Len(t, resp.Results, len(chunks[c]))
		for i, r := range resp.Results {
			require.Equal(t, fmt.Sprintf("%d/%d", c, i), r.Id)
		}
	}
}

func TestStreamCheckRepeatedIDs(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	client := pb.NewDriveServiceClient(conn)
	responses, err := streamCheck(client, nil,
		[]*pb.CheckItem{plainItem("a"), plainItem("b"), plainItem("")},
		[]*pb.CheckItem{plainItem(""), plainItem("a")})
	require.NoError(t, err)
	require.Len(t, responses, 2)
	for _, r := range append(responses[0].Results, responses[1].Results[0]) {
		assert.Empty(t, r.Notes)
	}
	notes := responses[1].Results[1].Notes
	require.Len(t, notes, 1)
	assert.Equal(t, "REPEATED_ID", notes[0].Reason)
	assert.Equal(t, "id", notes[0].Field)
	assert.Contains(t, notes[0].Message, "the item 4 before")
	assert.Contains(t, notes[0].Message, "10000")
}

// brokenStream is a caller who goes away, or a chunk that does not decode.
type brokenStream struct {
	memoryStream
	recvFails, sendFails int // at which chunk; 0 is never
}

var errBroken = status.Error(codes.Unavailable, "broken")

func (b *brokenStream) Recv() (*pb.StreamCheckDrivesRequest, error) {
	if b.recvFails > 0 && b.next+1 == b.recvFails {
		return nil, errBroken
	}
	return b.memoryStream.Recv()
}

func (b *brokenStream) Send(resp *pb.StreamCheckDrivesResponse) error {
	b.sendFails--
	if b.sendFails == 0 {
		return errBroken
	}
	return b.memoryStream.Send(resp)
}

// TestStreamCheckEnds: whatever breaks, the method says so, what came before is
// answered, and no goroutine stays behind.
func TestStreamCheckEnds(t *testing.T) {
	chunks := encodedChunks(t, 4, 50)
	before := runtime.NumGoroutine()
	for range 50 {
		recv := &brokenStream{memoryStream: memoryStream{chunks: chunks, most: 1000}, recvFails: 7}
		require.ErrorIs(t, (&Service{}).StreamCheckDrives(recv), errBroken)
		require.Equal(t, 6*50, recv.verdicts)

		send := &brokenStream{memoryStream: memoryStream{chunks: chunks, most: 1000}, sendFails: 3}
		require.ErrorIs(t, (&Service{}).StreamCheckDrives(send), errBroken)
		require.Equal(t, 2*50, send.verdicts)
	}
	for end := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > before && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
	assert.LessOrEqual(t, runtime.NumGoroutine(), before)
}

// TestStreamCheckCanceled: a caller who cancels ends the stream.
func TestStreamCheckCanceled(t *testing.T) {
	conn, _ := startService(t, DefaultConfig()) // whose end fails if the method goes on
	ctx, cancel := context.WithCancel(context.Background())
	stream, err := pb.NewDriveServiceClient(conn).StreamCheckDrives(ctx)
	require.NoError(t, err)
	require.NoError(t, stream.Send(&pb.StreamCheckDrivesRequest{Items: []*pb.CheckItem{plainItem("a")}}))
	_, err = stream.Recv()
	require.NoError(t, err)
	cancel()
	_, err = stream.Recv()
	assert.Equal(t, codes.Canceled, status.Code(err))
}
