package server

import (
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// scrape reads the samples of the admin address, by name and labels.
func scrape(t *testing.T, s *served, authorization string) map[string]string {
	t.Helper()
	require.Eventually(t, func() bool { return len(s.lines(t, `"serving"`)) == 1 }, 10*time.Second, 5*time.Millisecond)
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+s.lines(t, `"serving"`)[0]["admin"].(string)+"/metrics", nil)
	require.NoError(t, err)
	req.Header.Set("Authorization", authorization)
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer resp.Body.Close() //nolint:errcheck // read whole
	require.Equal(t, http.StatusOK, resp.StatusCode)
	raw, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	samples := map[string]string{}
	for line := range strings.Lines(string(raw)) {
		if at := strings.LastIndexByte(line, ' '); at > 0 && line[0] != '#' {
			samples[line[:at]] = strings.TrimSpace(line[at:])
		}
	}
	return samples
}

func TestMetrics(t *testing.T) {
	s := serve(t, &Service{}, func(c *Config) { c.AdminAddr, c.MaxInFlight = "127.0.0.1:0", 4 })
	conn := s.dial(t)
	require.NoError(t, realSolve(t.Context(), conn))
	s.send(t, http.MethodGet, "/v1/sections/no-such", "")
	s.send(t, http.MethodGet, "/v1/no/such", "")
	s.send(t, http.MethodPost, "/v1/drives:searchSpacings", `{"sections":["H5M"],"driver":{"values":[36]},"driven":{"values":[36]},"standardLengthsOnly":true,"pageSize":7}`)
	_, err := pb.NewDriveServiceClient(conn).CheckDrives(t.Context(), &pb.CheckDrivesRequest{Items: []*pb.CheckItem{{}, {}}})
	require.NoError(t, err)
	stream, err := pb.NewDriveServiceClient(conn).StreamCheckDrives(t.Context())
	require.NoError(t, err)
	require.NoError(t, stream.Send(&pb.StreamCheckDrivesRequest{Items: []*pb.CheckItem{{}}}))
	_, err = stream.Recv()
	require.NoError(t, err)

	got := scrape(t, s, "")
	for sample, want := range map[string]string{
		`beltspan_requests_total{code="OK",method="GetSection"}`:               "1",
		`beltspan_requests_total{code="NotFound",method="GetSection"}`:         "1",
		`beltspan_requests_total{code="NotFound",method="none"}`:               "1",
		`beltspan_request_seconds_count{method="GetSection"}`:                  "2",
		`beltspan_results_total{method="GetSection",verdict=""}`:               "1",
		`beltspan_results_total{method="SearchSpacings",verdict=""}`:           "7",
		`beltspan_results_total{method="CheckDrives",verdict="INVALID"}`:       "2",
		`beltspan_results_total{method="StreamCheckDrives",verdict="INVALID"}`: "1",
		`beltspan_in_flight`:       "1",
		`beltspan_dear_in_flight`:  "1",
		`beltspan_in_flight_limit`: "4",
	} {
		assert.Equal(t, want, got[sample], sample)
	}
	assert.Contains(t, strings.Join(keys(got), "\n"), "go_build_info{")
	assert.Contains(t, got, "go_goroutines")

	// A refusal by a limit, by its reason.
	hold := make([]pb.DriveService_StreamCheckDrivesClient, 2)
	for i := range hold {
		hold[i], err = pb.NewDriveServiceClient(conn).StreamCheckDrives(t.Context())
		require.NoError(t, err)
		_ = hold[i].Send(&pb.StreamCheckDrivesRequest{Items: []*pb.CheckItem{{}}})
		_, err = hold[i].Recv()
	}
	require.Error(t, err)
	assert.Equal(t, "1", scrape(t, s, "")[`beltspan_refusals_total{reason="TOO_MANY_CALLS"}`])
}

func keys(m map[string]string) []string {
	var all []string
	for key := range m {
		all = append(all, key)
	}
	return all
}

// TestMetricsOfAccess: names of methods and callers that nobody knows are no
// labels.
func TestMetricsOfAccess(t *testing.T) {
	s := serveGuarded(t)
	for _, d := range s.doors(t)[:15] {
		d.open(t, "Bearer "+wrongToken)
	}
	got := scrape(t, s.served, "Bearer "+benchToken)
	assert.Equal(t, "15", got[`beltspan_refusals_total{reason="TOKEN_WRONG"}`])
	assert.Equal(t, "15", got[`beltspan_requests_total{code="Unauthenticated",method="none"}`])
}
