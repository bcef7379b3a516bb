package server

import (
	"context"
	"encoding/xml"
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

func drawnDrive() *pb.DrawDriveRequest {
	return &pb.DrawDriveRequest{Drive: &pb.Drive{
		Section: "H5M", Driver: &pb.Pulley{ToothCount: 36}, Driven: &pb.Pulley{ToothCount: 36}, BeltToothCount: new(int32(174)),
	}}
}

func drawnPath() *pb.DrawPathRequest {
	wheel := func(x float64) *pb.Wheel {
		return &pb.Wheel{
			Kind: pb.WheelKind_WHEEL_KIND_TOOTHED, Side: pb.WrapSide_WRAP_SIDE_INSIDE,
			ToothCount: new(int32(36)), Center: &pb.Point{XMm: x},
		}
	}
	return &pb.DrawPathRequest{Path: &pb.SolvePathRequest{Section: "H5M", Wheels: []*pb.Wheel{wheel(0), wheel(345)}}}
}

// TestDrawings: both methods answer both formats, over gRPC and REST alike, and
// REST sends the file itself.
func TestDrawings(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	for format, kind := range map[pb.DrawingFormat]string{
		pb.DrawingFormat_DRAWING_FORMAT_UNSPECIFIED: "image/svg+xml",
		pb.DrawingFormat_DRAWING_FORMAT_SVG:         "image/svg+xml",
		pb.DrawingFormat_DRAWING_FORMAT_DXF:         "image/vnd.dxf",
	} {
		drive, path := drawnDrive(), drawnPath()
		drive.Format, path.Format = format, format
		drawing, err := pb.NewDriveServiceClient(conn).DrawDrive(context.Background(), drive)
		require.NoError(t, err)
		assert.Equal(t, kind, drawing.GetContentType())
		body, err := MarshalJSON(drive)
		require.NoError(t, err)
		assert.Equal(t, string(drawing.GetData()), fetch(t, baseURL+"/v1/drives:draw", string(body), kind))
		checkDrawing(t, kind, drawing.GetData(), "174 teeth")

		drawing, err = pb.NewPathServiceClient(conn).DrawPath(context.Background(), path)
		require.NoError(t, err)
		body, err = MarshalJSON(path)
		require.NoError(t, err)
		assert.Equal(t, string(drawing.GetData()), fetch(t, baseURL+"/v1/paths:draw", string(body), kind))
		checkDrawing(t, kind, drawing.GetData(), "174.0000 teeth")
	}
}

func checkDrawing(t *testing.T, kind string, raw []byte, text string) {
	t.Helper()
	assert.Contains(t, string(raw), text)
	if kind == "image/svg+xml" {
		assert.NoError(t, xml.Unmarshal(raw, new(struct{})))
		return
	}
	assert.True(t, strings.HasSuffix(string(raw), "  0\nEOF\n"))
}

// fetch posts a body and returns the file that comes back.
func fetch(t *testing.T, url, body, kind string) string {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, url, strings.NewReader(body))
	require.NoError(t, err)
	response, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer response.Body.Close() //nolint:errcheck // read to its end
	raw, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	assert.Equal(t, http.StatusOK, response.StatusCode, string(raw))
	assert.Equal(t, kind, response.Header.Get("Content-Type"))
	return string(raw)
}

func TestDrawingsAreRefused(t *testing.T) {
	conn, _ := startService(t, DefaultConfig())
	drives := pb.NewDriveServiceClient(conn)
	paths := pb.NewPathServiceClient(conn)
	askDrive := func(change func(*pb.DrawDriveRequest)) error {
		r := drawnDrive()
		change(r)
		_, err := drives.DrawDrive(context.Background(), r)
		return err
	}
	askPath := func(change func(*pb.DrawPathRequest)) error {
		r := drawnPath()
		change(r)
		_, err := paths.DrawPath(context.Background(), r)
		return err
	}
	tests := []struct {
		name, field, reason string
		err                 error
	}{
		{"no drive", "drive.section", "EXACTLY_ONE", askDrive(func(r *pb.DrawDriveRequest) { r.Drive = nil })},
		{"short belt", "drive.belt_tooth_count", "PULLEYS_TOUCH", askDrive(func(r *pb.DrawDriveRequest) { *r.Drive.BeltToothCount = 40 })},
		{"touching", "center_distance_mm", "PULLEYS_TOUCH", askDrive(func(r *pb.DrawDriveRequest) { r.CenterDistanceMm = new(50.0) })},
		{"zero is not the exact one", "center_distance_mm", "OUT_OF_RANGE", askDrive(func(r *pb.DrawDriveRequest) { r.CenterDistanceMm = new(0.0) })},
		{"format", "format", "OUT_OF_RANGE", askDrive(func(r *pb.DrawDriveRequest) { r.Format = 9 })},
		{"no path", "path.section", "EXACTLY_ONE", askPath(func(r *pb.DrawPathRequest) { r.Path = nil })},
		{"a wheel", "path.wheels[1].tooth_count", "OUT_OF_RANGE", askPath(func(r *pb.DrawPathRequest) { *r.Path.Wheels[1].ToothCount = 5 })},
		{"a lost wheel", "path.wheels[1].side", "MISSING", askPath(func(r *pb.DrawPathRequest) { r.Path.Wheels[1] = &pb.Wheel{} })},
		{"overlap", "path.wheels[1].center", "WHEELS_OVERLAP", askPath(func(r *pb.DrawPathRequest) { r.Path.Wheels[1].Center.XMm = 10 })},
		{"solution", "solution_index", "OUT_OF_RANGE", askPath(func(r *pb.DrawPathRequest) { r.SolutionIndex = 1 })},
		{"no solution", "solution_index", "OUT_OF_RANGE", askPath(func(r *pb.DrawPathRequest) { r.SolutionIndex = -1 })},
		{"format of a path", "format", "OUT_OF_RANGE", askPath(func(r *pb.DrawPathRequest) { r.Format = -1 })},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			require.Error(t, tt.err)
			var fields, reasons []string
			for _, detail := range status.Convert(tt.err).Details() {
				if bad, ok := detail.(*errdetails.BadRequest); ok {
					for _, v := range bad.GetFieldViolations() {
						fields, reasons = append(fields, v.GetField()), append(reasons, v.GetReason())
					}
				}
			}
			require.NotEmpty(t, fields)
			assert.Equal(t, tt.field, fields[0])
			assert.Equal(t, tt.reason, reasons[0])
		})
	}
}
