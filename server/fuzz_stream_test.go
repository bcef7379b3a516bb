package server

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// streamRecorder is a recorder that lets its handler read on while it writes.
type streamRecorder struct{ *httptest.ResponseRecorder }

func (streamRecorder) EnableFullDuplex() error          { return nil }
func (streamRecorder) SetReadDeadline(time.Time) error  { return nil }
func (streamRecorder) SetWriteDeadline(time.Time) error { return nil }

// FuzzStreamLines: the lines of a stream over REST get the results that the same
// chunks get over gRPC, up to the first line that is none, which is named.
func FuzzStreamLines(f *testing.F) {
	item := `{"id":"a","drive":{"section":"H5M","driver":{"toothCount":36},"driven":{"toothCount":36},"beltToothCount":174},"centerDistanceMm":345}`
	for _, seed := range []string{
		"", "\n\n", "{}", `{"items":[` + item + `]}`, `{"items":[` + item + `],"limits":{"fitLowMm":-0.1}}` + "\r\n" + `{"items":[` + item + "," + item + "]}\n",
		`{"items":[{}]}` + "\n" + `{"items":[` + item + `]}{"items":[]}`, `{"items":[` + item + `]}` + "\nnull\n[]\n", `{"limits":{"fitLowMm":1}}`,
		`{"items":[` + item + `]}` + "\n" + `{"limits":{}}` + "\n\xff", `{"items":[{"centerDistanceMm":"NaN"}]}`, "{\"items\":[\n" + item + "]}",
	} {
		f.Add([]byte(seed))
	}
	gateway := newRealGateway(f)
	cfg := DefaultConfig()
	conn, err := newHost(cfg, &Service{}, nil, limits(cfg, newDesk(cfg), (&requestLogger{log: cfg.logger()}).link())...)
	require.NoError(f, err)
	f.Cleanup(func() { _ = conn.Close() })
	f.Fuzz(func(t *testing.T, body []byte) {
		want, fault := streamOverGRPC(t, conn, body)
		w := httptest.NewRecorder()
		r := httptest.NewRequest(http.MethodPost, "/v1/drives:streamCheck", bytes.NewReader(body))
		gateway.ServeHTTP(streamRecorder{w}, r)
		var got []string
		ended := ""
		for line := range strings.Lines(w.Body.String()) {
			require.Empty(t, ended, "nothing follows an error")
			var answer struct{ Result, Error json.RawMessage }
			require.NoError(t, json.Unmarshal([]byte(line), &answer), line)
			require.NotEqual(t, answer.Result == nil, answer.Error == nil, line)
			if answer.Error != nil {
				ended = string(answer.Error)
				continue
			}
			got = append(got, string(answer.Result))
		}
		require.Len(t, got, len(want), "%s", w.Body)
		for i := range want {
			require.JSONEq(t, want[i], got[i])
		}
		if fault == nil {
			require.Empty(t, ended)
			return
		}
		text, err := MarshalJSON(status.Convert(fault).Proto())
		require.NoError(t, err)
		require.NotEmpty(t, ended, "%v", fault)
		require.JSONEq(t, string(text), ended)
	})
}

// streamOverGRPC sends the lines as chunks, up to the first that is none.
func streamOverGRPC(t *testing.T, conn grpc.ClientConnInterface, body []byte) (results []string, fault error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	stream, err := pb.NewDriveServiceClient(conn).StreamCheckDrives(ctx)
	require.NoError(t, err)
	var malformed error
	for i, line := range bytes.Split(body, []byte("\n")) {
		if line = bytes.TrimSpace(line); len(line) == 0 {
			continue
		}
		chunk := &pb.StreamCheckDrivesRequest{}
		if err := UnmarshalJSON(line, chunk); err != nil {
			s := status.Convert(err).Proto()
			s.Message = "line " + strconv.Itoa(i+1) + " of the body: " + s.GetMessage()
			malformed = status.FromProto(s).Err()
			break
		}
		if stream.Send(chunk) != nil {
			break // receiving tells why
		}
		response, err := stream.Recv()
		if err != nil {
			return results, err
		}
		text, err := MarshalJSON(response)
		require.NoError(t, err)
		results = append(results, string(text))
	}
	require.NoError(t, stream.CloseSend())
	if _, err := stream.Recv(); malformed == nil && err != io.EOF { //nolint:errorlint // gRPC returns it bare
		return results, err
	}
	return results, malformed
}

// FuzzQuery: a question in the address gets the answer that the same question
// gets in a body.
func FuzzQuery(f *testing.F) {
	f.Add("H5M", "", "36", "345", "2", "true")
	f.Add("", "5.08", "1e1", "12.5e1", "0", "1")
	f.Add("H5M", "NaN", "0x24", "Infinity", "-1", "false")
	f.Add("\xff", "1_0", " 36", "+345.", "99999999999", "T")
	gateway := newRealGateway(f)
	f.Fuzz(func(t *testing.T, section, pitch, teeth, center, neighbors, standard string) {
		query := url.Values{"driven.tooth_count": {"45"}}
		for name, text := range map[string]string{
			"section": section, "pitch_mm": pitch, "driver.tooth_count": teeth, "center_distance_mm": center,
			"neighbor_count": neighbors, "standard_lengths_only": standard,
		} {
			if text != "" {
				query.Set(name, text)
			}
		}
		asked := getJSON(t, gateway, "/v1/drives:solveBelt?"+query.Encode())

		body := &pb.SolveBeltRequest{Section: section, Driven: &pb.Pulley{ToothCount: 45}, Driver: &pb.Pulley{}}
		number := func(text string) *float64 {
			v, err := strconv.ParseFloat(text, 64)
			if text == "" || err != nil {
				return nil
			}
			return &v
		}
		count := func(text string) *int32 {
			n, err := strconv.ParseInt(text, 10, 32)
			if text == "" || err != nil {
				return nil
			}
			return new(int32(n))
		}
		body.PitchMm, body.NeighborCount = number(pitch), count(neighbors)
		if n := count(teeth); n != nil {
			body.Driver.ToothCount = *n
		}
		if v := number(center); v != nil {
			body.CenterDistanceMm = *v
		}
		body.StandardLengthsOnly, _ = strconv.ParseBool(standard)
		text, err := MarshalJSON(body)
		if asked.Code != http.StatusOK {
			return
		}
		require.NoError(t, err)
		w := httptest.NewRecorder()
		gateway.ServeHTTP(w, httptest.NewRequest(http.MethodPost, "/v1/drives:solveBelt", bytes.NewReader(text)))
		require.Equal(t, http.StatusOK, w.Code, "%s", w.Body)
		require.JSONEq(t, w.Body.String(), asked.Body.String())
	})
}
