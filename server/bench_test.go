package server

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// implementation is what in-process registration needs.
type implementation interface {
	api
	pb.DriveServiceServer
	pb.SectionServiceServer
}

// The requests of the benchmarks: one is answered with about 200 bytes, the
// other with the whole geometry of a drive.
var (
	smallRequest = []byte("GET /v1/sections/H5M/beltLengths?page_size=1 HTTP/1.1\r\nHost: localhost\r\n\r\n")
	fullBody     = `{"drive":{"section":"H8M","driver":{"toothCount":24},"driven":{"toothCount":36},"beltToothCount":140}}`
	fullRequest  = fmt.Appendf(nil, "POST %s HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s",
		centerPath, len(fullBody), fullBody)
)

// A round gives each server benchTurns turns.
const (
	benchRounds = 5
	benchTurns  = 10
	benchTurn   = 30 * time.Millisecond
)

var benchCallers = []int{1, 16, 64}

// BenchmarkREST compares REST as Run serves it, every interceptor and the log
// on, with a bare handler of net/http and encoding/json that gives the same
// answer, and with in-process registration, which has the same JSON but no
// interceptors, no check of the query and no streams.
func BenchmarkREST(b *testing.B) {
	for _, size := range []struct {
		name    string
		request []byte
		bare    func(b *testing.B, answer []byte) http.Handler
	}{
		{"small", smallRequest, bareLengths},
		{"full", fullRequest, bareCenter},
	} {
		b.Run(size.name, func(b *testing.B) {
			services := &Service{}
			ours := serve(b, services, func(c *Config) { c.Logger = slog.New(slog.NewJSONHandler(io.Discard, nil)) }).url[len("http://"):]
			answer := newRawClient(b, ours, size.request).call(b)
			b.ReportMetric(float64(len(answer)), "bytes")
			compare(b, callREST(size.request),
				server{"ours", ours},
				server{"registered", serveHandler(b, registered(b, services))},
				server{"bare", serveHandler(b, size.bare(b, answer))})
		})
	}
}

// BenchmarkGRPC compares gRPC as Run serves it with the same service on a
// server without interceptors.
func BenchmarkGRPC(b *testing.B) {
	services := &Service{}
	ours := serve(b, services, func(c *Config) { c.Logger = slog.New(slog.NewJSONHandler(io.Discard, nil)) })
	plain := grpc.NewServer()
	services.Register(plain)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(b, err)
	go plain.Serve(listener) //nolint:errcheck // ends with the Stop below
	b.Cleanup(plain.Stop)
	compare(b, callGRPC, server{"ours", ours.grpcAddr}, server{"plain", listener.Addr().String()})
}

// server is one side of a comparison.
type server struct{ name, addr string }

// caller opens a connection and returns what calls once.
type caller func(b *testing.B, addr string) func(*testing.B)

// compare reports, for each number of callers, the median over the rounds of
// the first server's calls a second divided by each other's. A round gives the
// servers many short turns, so that what else the machine does falls on all.
func compare(b *testing.B, call caller, servers ...server) {
	for _, callers := range benchCallers {
		ready := make([][]func(*testing.B), len(servers))
		for i, s := range servers {
			for range callers {
				ready[i] = append(ready[i], call(b, s.addr))
			}
		}
		var own []float64
		ratios := make([][]float64, len(servers))
		for round := range benchRounds {
			calls := make([]float64, len(servers))
			for turn := range benchTurns {
				for i := range servers {
					i = (i + turn + round) % len(servers)
					calls[i] += float64(callAll(b, ready[i]))
				}
			}
			own = append(own, calls[0]/(benchTurns*benchTurn.Seconds()))
			for i := range servers {
				ratios[i] = append(ratios[i], calls[0]/calls[i])
			}
		}
		b.ReportMetric(median(own), fmt.Sprintf("calls/s@%d", callers))
		for i, other := range servers[1:] {
			b.ReportMetric(median(ratios[i+1]), fmt.Sprintf("x_%s@%d", other.name, callers))
		}
	}
	b.ReportMetric(0, "ns/op") // says nothing here
}

func median(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	return sorted[len(sorted)/2]
}

// callAll lets every caller call for one turn and returns how many calls were
// done.
func callAll(b *testing.B, ready []func(*testing.B)) int {
	var wg sync.WaitGroup
	counts := make([]int, len(ready))
	start := time.Now()
	for i, call := range ready {
		wg.Go(func() {
			for time.Since(start) < benchTurn {
				call(b)
				counts[i]++
			}
		})
	}
	wg.Wait()
	total := 0
	for _, n := range counts {
		total += n
	}
	return total
}

func callREST(request []byte) caller {
	return func(b *testing.B, addr string) func(*testing.B) {
		c := newRawClient(b, addr, request)
		return func(b *testing.B) { c.call(b) }
	}
}

func callGRPC(b *testing.B, addr string) func(*testing.B) {
	conn, err := grpc.NewClient(addr, grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(b, err)
	b.Cleanup(func() { _ = conn.Close() })
	client := pb.NewDriveServiceClient(conn)
	belt := int32(140)
	request := &pb.SolveCenterDistanceRequest{Drive: &pb.Drive{
		Section: "H8M", Driver: &pb.Pulley{ToothCount: 24}, Driven: &pb.Pulley{ToothCount: 36}, BeltToothCount: &belt,
	}}
	return func(b *testing.B) {
		if _, err := client.SolveCenterDistance(context.Background(), request); err != nil {
			b.Error(err)
		}
	}
}

// rawClient sends the same bytes again and again on one connection and reads
// no more of an answer than it must, so that the server's work is measured.
type rawClient struct {
	conn    net.Conn
	reader  *bufio.Reader
	request []byte
	body    []byte
}

func newRawClient(b *testing.B, addr string, request []byte) *rawClient {
	b.Helper()
	conn, err := net.Dial("tcp", addr)
	require.NoError(b, err)
	b.Cleanup(func() { _ = conn.Close() })
	return &rawClient{conn: conn, reader: bufio.NewReader(conn), request: request}
}

func (c *rawClient) call(b *testing.B) []byte {
	if _, err := c.conn.Write(c.request); err != nil {
		b.Error(err)
		return nil
	}
	length := -1
	for first := true; ; first = false {
		line, err := c.reader.ReadSlice('\n')
		if err != nil || first && !bytes.HasPrefix(line, []byte("HTTP/1.1 200")) {
			b.Errorf("%q, %v", line, err)
			return nil
		}
		if len(line) == len("\r\n") {
			break
		}
		if value, ok := bytes.CutPrefix(line, []byte("Content-Length: ")); ok {
			length, _ = strconv.Atoi(string(bytes.TrimSpace(value)))
		}
	}
	c.body = slices.Grow(c.body[:0], max(length, 0))[:max(length, 0)]
	if _, err := io.ReadFull(c.reader, c.body); length < 0 || err != nil {
		b.Errorf("body of %d bytes: %v", length, err)
	}
	return c.body
}

func serveHandler(b *testing.B, handler http.Handler) string {
	b.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(b, err)
	web := &http.Server{Handler: handler} //nolint:gosec // no stranger calls it
	go web.Serve(listener)                //nolint:errcheck // ends with the Close below
	b.Cleanup(func() { _ = web.Close() })
	return listener.Addr().String()
}

func registered(b *testing.B, services implementation) http.Handler {
	b.Helper()
	mux := runtime.NewServeMux(muxOptions()...)
	require.NoError(b, pb.RegisterDriveServiceHandlerServer(b.Context(), mux, services))
	require.NoError(b, pb.RegisterSectionServiceHandlerServer(b.Context(), mux, services))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Body != http.NoBody {
			r.Body = limitBody(w, r, DefaultConfig().MaxBody)
		}
		mux.ServeHTTP(w, r)
	})
}

// bareLengths answers as ListBeltLengths does, without looking anything up.
func bareLengths(b *testing.B, answer []byte) http.Handler {
	b.Helper()
	type length struct {
		Designation  string  `json:"designation"`
		ToothCount   int     `json:"toothCount"`
		BeltLengthMM float64 `json:"beltLengthMm"`
		Source       string  `json:"source"`
		Verified     bool    `json:"verified"`
	}
	var out struct {
		BeltLengths   []length `json:"beltLengths"`
		NextPageToken string   `json:"nextPageToken"`
	}
	require.NoError(b, json.Unmarshal(answer, &out))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if n, err := strconv.Atoi(r.URL.Query().Get("page_size")); err != nil || n < 1 {
			http.Error(w, "page_size", http.StatusBadRequest)
			return
		}
		writeBare(w, out)
	})
}

// bareCenter answers as SolveCenterDistance does, without computing anything.
func bareCenter(b *testing.B, answer []byte) http.Handler {
	b.Helper()
	type pulley struct {
		ToothCount int `json:"toothCount"`
	}
	type drive struct {
		Section         string `json:"section"`
		Driver          pulley `json:"driver"`
		Driven          pulley `json:"driven"`
		BeltToothCount  int    `json:"beltToothCount"`
		BeltDesignation string `json:"beltDesignation"`
	}
	type point struct {
		X float64 `json:"xMm"`
		Y float64 `json:"yMm"`
	}
	type pulleyGeometry struct {
		ToothCount       int      `json:"toothCount"`
		PitchDiameterMM  float64  `json:"pitchDiameterMm"`
		OutsideDiameter  *float64 `json:"outsideDiameterMm,omitempty"`
		WrapAngleDeg     float64  `json:"wrapAngleDeg"`
		MeshedToothCount int      `json:"meshedToothCount"`
		Center           point    `json:"center"`
		UpperTangent     point    `json:"upperTangent"`
		LowerTangent     point    `json:"lowerTangent"`
	}
	var out struct {
		Geometry struct {
			Drive            drive              `json:"drive"`
			PitchMM          float64            `json:"pitchMm"`
			BeltLengthMM     float64            `json:"beltLengthMm"`
			CenterDistanceMM float64            `json:"centerDistanceMm"`
			SpanLengthMM     float64            `json:"spanLengthMm"`
			SpeedRatio       float64            `json:"speedRatio"`
			Sensitivity      map[string]float64 `json:"sensitivity"`
			Driver           pulleyGeometry     `json:"driver"`
			Driven           pulleyGeometry     `json:"driven"`
		} `json:"geometry"`
		Drill float64          `json:"drillCenterDistanceMm"`
		Notes []map[string]any `json:"notes"`
	}
	require.NoError(b, json.Unmarshal(answer, &out))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var in struct {
			Drive       drive   `json:"drive"`
			AllowanceMM float64 `json:"allowanceMm"`
		}
		if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		writeBare(w, out)
	})
}

func writeBare(w http.ResponseWriter, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(body)
}
