package server

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// fake is an implementation of the API whose methods a test sets.
type fake struct {
	pb.UnimplementedDriveServiceServer
	pb.UnimplementedPathServiceServer
	pb.UnimplementedSectionServiceServer
	center  func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error)
	section func(context.Context, *pb.GetSectionRequest) (*pb.GetSectionResponse, error)
	stream  func(grpc.ServerStream) error
}

func (f *fake) Register(r grpc.ServiceRegistrar) {
	pb.RegisterDriveServiceServer(r, f)
	pb.RegisterPathServiceServer(r, f)
	pb.RegisterSectionServiceServer(r, f)
	r.RegisterService(&streamDesc, f)
}

func (f *fake) SolveCenterDistance(ctx context.Context, req *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
	if f.center == nil {
		// Echoes, so that a test sees what arrived.
		return &pb.SolveCenterDistanceResponse{
			Geometry:              &pb.DriveGeometry{Drive: req.GetDrive()},
			DrillCenterDistanceMm: req.GetAllowanceMm(),
		}, nil
	}
	return f.center(ctx, req)
}

func (f *fake) GetSection(ctx context.Context, req *pb.GetSectionRequest) (*pb.GetSectionResponse, error) {
	if f.section == nil {
		return &pb.GetSectionResponse{Section: &pb.Section{Section: req.GetSection()}}, nil
	}
	return f.section(ctx, req)
}

func (f *fake) ListSections(_ context.Context, req *pb.ListSectionsRequest) (*pb.ListSectionsResponse, error) {
	return &pb.ListSectionsResponse{NextPageToken: req.GetPageToken()}, nil
}

// streamDesc is a service of one bidirectional stream, which the API has not
// yet: messages of type Note both ways.
var streamDesc = grpc.ServiceDesc{
	ServiceName: "beltspan.v1.StreamTest",
	HandlerType: (*any)(nil),
	Streams: []grpc.StreamDesc{{
		StreamName: "Talk", ServerStreams: true, ClientStreams: true,
		Handler: func(srv any, stream grpc.ServerStream) error { return srv.(*fake).stream(stream) },
	}},
}

const talk = "/beltspan.v1.StreamTest/Talk"

// ended is a server that run serves, with the means to end it.
type served struct {
	grpcAddr, url string
	log           *lockedBuffer
	stop          context.CancelFunc
	done          chan error
}

// serve runs services on two free ports of the loopback until the test ends.
func serve(t testing.TB, services api, change func(*Config)) *served {
	t.Helper()
	s := &served{log: &lockedBuffer{}, done: make(chan error, 1)}
	cfg := DefaultConfig()
	cfg.Logger = slog.New(slog.NewJSONHandler(s.log, nil))
	if change != nil {
		change(&cfg)
	}
	cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
	l, err := Listen(cfg)
	require.NoError(t, err)
	s.grpcAddr, s.url = l.GRPC.Addr().String(), "http://"+l.HTTP.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	s.stop = cancel
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		s.done <- run(ctx, cfg, services, l)
	}()
	t.Cleanup(func() {
		cancel()
		<-ended
	})
	return s
}

// dial connects over the network.
func (s *served) dial(t testing.TB) *grpc.ClientConn {
	t.Helper()
	conn, err := grpc.NewClient(s.grpcAddr, grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// lines are the log's lines that hold a text.
func (s *served) lines(t testing.TB, text string) []map[string]any {
	t.Helper()
	var found []map[string]any
	for line := range strings.Lines(s.log.String()) {
		if strings.Contains(line, text) {
			var fields map[string]any
			require.NoError(t, json.Unmarshal([]byte(line), &fields))
			found = append(found, fields)
		}
	}
	return found
}

// answer is an HTTP answer, read.
type answer struct {
	code   int
	header http.Header
	body   map[string]any
}

// reason is the reason word of the error in the answer.
func (a answer) reason() any {
	for _, detail := range a.details("google.rpc.ErrorInfo") {
		return detail["reason"]
	}
	return nil
}

func (a answer) details(kind string) []map[string]any {
	var found []map[string]any
	list, _ := a.body["details"].([]any)
	for _, one := range list {
		if detail, ok := one.(map[string]any); ok && detail["@type"] == "type.googleapis.com/"+kind {
			found = append(found, detail)
		}
	}
	return found
}

// fields are the fields of the violations in the answer.
func (a answer) fields() []string {
	var fields []string
	for _, detail := range a.details("google.rpc.BadRequest") {
		violations, _ := detail["fieldViolations"].([]any)
		for _, one := range violations {
			field, _ := one.(map[string]any)["field"].(string)
			fields = append(fields, field)
		}
	}
	return fields
}

func (a answer) message() string {
	message, _ := a.body["message"].(string)
	return message
}

// send sends one HTTP request; an empty body sends none.
func (s *served) send(t testing.TB, method, path, body string, header ...string) answer {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, method, s.url+path, nil)
	require.NoError(t, err)
	if body != "" {
		req.Body = io.NopCloser(strings.NewReader(body))
		req.ContentLength = int64(len(body))
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer resp.Body.Close() //nolint:errcheck // read to its end
	a := answer{code: resp.StatusCode, header: resp.Header}
	raw, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(raw, &a.body), "body %q", raw)
	return a
}

// lockedBuffer is a bytes.Buffer that goroutines may share.
type lockedBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}

var _ net.Addr = localAddr{}
