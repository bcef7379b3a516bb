package server

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// streamLine is one line of an answer.
type streamLine struct {
	Result json.RawMessage `json:"result"`
	Error  *struct {
		Code    int    `json:"code"`
		Message string `json:"message"`
		Details []struct {
			Type   string `json:"@type"`
			Reason string `json:"reason"`
		} `json:"details"`
	} `json:"error"`
}

// postLines sends lines, one after another, while it reads the answer.
func postLines(t testing.TB, baseURL string, count int, line func(i int) string) (status int, lines []streamLine) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	body, pipe := io.Pipe()
	go func() { // ends when the lines do or the server takes no more
		out := bufio.NewWriter(pipe)
		for i := range count {
			if _, err := out.WriteString(line(i) + "\n"); err != nil {
				return
			}
		}
		_ = out.Flush()
		_ = pipe.Close()
	}()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, baseURL+"/v1/drives:streamCheck", body)
	require.NoError(t, err)
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer resp.Body.Close() //nolint:errcheck // only read
	in := bufio.NewReader(resp.Body)
	for {
		raw, err := in.ReadBytes('\n')
		if err == io.EOF && len(raw) == 0 {
			return resp.StatusCode, lines
		}
		require.NoError(t, err, "the last line ends like all others")
		var one streamLine
		require.NoError(t, json.Unmarshal(raw, &one), "%s", raw)
		lines = append(lines, one)
	}
}

func chunkLine(t testing.TB, items ...*pb.CheckItem) string {
	t.Helper()
	raw, err := protojson.Marshal(&pb.StreamCheckDrivesRequest{Items: items})
	require.NoError(t, err)
	return string(raw)
}

func TestStreamRouteDemo(t *testing.T) {
	conn, baseURL := startService(t, DefaultConfig())
	items, want := demoBatch(t)
	status, lines := postLines(t, baseURL, len(items), func(i int) string { return chunkLine(t, items[i]) })
	assert.Equal(t, http.StatusOK, status)
	require.Len(t, lines, len(items))
	var results []*pb.CheckResult
	for _, line := range lines {
		resp := new(pb.StreamCheckDrivesResponse)
		require.NoError(t, protojson.Unmarshal(line.Result, resp))
		results = append(results, resp.Results...)
	}
	checkDemoResults(t, want, results)

	// The same over gRPC and in one call.
	streamed, err := streamCheck(pb.NewDriveServiceClient(conn), nil, items)
	require.NoError(t, err)
	require.Len(t, streamed, 1)
	for i, r := range streamed[0].Results {
		assert.True(t, proto.Equal(r, results[i]), "%v\n%v", r, results[i])
	}
	whole, err := MarshalJSON(&pb.CheckDrivesRequest{Items: items})
	require.NoError(t, err)
	answer := ask(t, http.MethodPost, baseURL+"/v1/drives:check", string(whole))
	resp := new(pb.CheckDrivesResponse)
	require.NoError(t, protojson.Unmarshal([]byte(answer.body), resp))
	checkDemoResults(t, want, resp.Results)
}

// TestStreamRouteWhole: every line comes back, in order, be they few or many.
func TestStreamRouteWhole(t *testing.T) {
	_, baseURL := startService(t, DefaultConfig())
	for _, count := range []int{0, 1, 100, 100_000} {
		if testing.Short() && count > 1000 {
			continue
		}
		template := chunkLine(t, plainItem("ID"))
		status, lines := postLines(t, baseURL, count, func(i int) string { return strings.Replace(template, "ID", fmt.Sprint("part-", i), 1) })
		assert.Equal(t, http.StatusOK, status)
		require.Len(t, lines, count)
		for i, line := range lines {
			var result struct {
				Results []struct{ ID, Verdict string }
			}
			require.Nil(t, line.Error)
			require.NoError(t, json.Unmarshal(line.Result, &result))
			require.Len(t, result.Results, 1)
			require.Equal(t, fmt.Sprint("part-", i), result.Results[0].ID)
			require.Equal(t, "VERDICT_FITS", result.Results[0].Verdict)
		}
	}
}

func TestStreamRouteErrors(t *testing.T) {
	_, baseURL := startService(t, DefaultConfig())
	good := chunkLine(t, plainItem("a"))
	tests := []struct {
		name   string
		lines  []string
		status int
		good   int // results before the error
		reason string
		text   string
	}{
		{"unknown field", []string{good, good, `{"itmes":[]}`, good}, 200, 2, reasonUnknownField, "line 3 of the body"},
		{"no JSON, first", []string{`{"items":`}, 400, 0, reasonMalformedJSON, "line 1 of the body"},
		{"no JSON after empty lines", []string{good, "", " ", "x", good}, 200, 1, reasonMalformedJSON, "line 4 of the body"},
		{"limits too late", []string{good, `{"items":[],"limits":{}}`, good}, 200, 1, "ONLY_FIRST_CHUNK", "limits is given again"},
		{"bad limits", []string{`{"limits":{"fitLowMm":11}}`, good}, 400, 0, "OUT_OF_RANGE", "limits.fit_low_mm is 11"},
		{"a line too long", []string{good, good + strings.Repeat(" ", 1<<20), good}, 200, 1, reasonBodyTooLarge, "line 2 of the body"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			status, lines := postLines(t, baseURL, len(tt.lines), func(i int) string { return tt.lines[i] })
			assert.Equal(t, tt.status, status)
			require.Len(t, lines, tt.good+1)
			for _, line := range lines[:tt.good] {
				assert.NotNil(t, line.Result)
				assert.Nil(t, line.Error)
			}
			last := lines[tt.good].Error
			require.NotNil(t, last)
			assert.Contains(t, last.Message, tt.text)
			require.NotEmpty(t, last.Details)
			assert.Equal(t, tt.reason, last.Details[0].Reason)
		})
	}
}

// TestStreamRouteAnswersAtOnce: each line is answered before the next is sent.
func TestStreamRouteAnswersAtOnce(t *testing.T) {
	_, baseURL := startService(t, DefaultConfig())
	conn, err := net.Dial("tcp", strings.TrimPrefix(baseURL, "http://"))
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the test is over
	require.NoError(t, conn.SetDeadline(time.Now().Add(20*time.Second)))
	_, err = fmt.Fprintf(conn, "POST /v1/drives:streamCheck HTTP/1.1\r\nHost: test\r\nTransfer-Encoding: chunked\r\n\r\n")
	require.NoError(t, err)
	line := chunkLine(t, plainItem("a")) + "\n"
	in := bufio.NewReader(conn)
	for range 5 {
		_, err = fmt.Fprintf(conn, "%x\r\n%s\r\n", len(line), line)
		require.NoError(t, err)
		for {
			text, err := in.ReadString('\n')
			require.NoError(t, err)
			if strings.HasPrefix(text, `{"result":`) {
				break
			}
		}
	}
}

// TestStreamRouteIdle: a caller who falls silent is told and let go.
func TestStreamRouteIdle(t *testing.T) {
	cfg := DefaultConfig()
	cfg.StreamIdleTimeout = 300 * time.Millisecond
	_, baseURL := startService(t, cfg)
	conn, err := net.Dial("tcp", strings.TrimPrefix(baseURL, "http://"))
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the test is over
	require.NoError(t, conn.SetDeadline(time.Now().Add(20*time.Second)))
	line := chunkLine(t, plainItem("a")) + "\n"
	_, err = fmt.Fprintf(conn, "POST /v1/drives:streamCheck HTTP/1.1\r\nHost: test\r\nTransfer-Encoding: chunked\r\n\r\n%x\r\n%s\r\n", len(line), line)
	require.NoError(t, err)
	answer, err := io.ReadAll(conn) // until the server closes
	require.NoError(t, err)
	assert.Contains(t, string(answer), `{"result":`)
	assert.Contains(t, string(answer), `{"error":`)
}
