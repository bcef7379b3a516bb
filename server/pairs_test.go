package server

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/code"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/testdata/pairs"
)

// startService runs the real service on two ports of this machine until the
// test ends.
func startService(t testing.TB, cfg Config) (conn *grpc.ClientConn, baseURL string) {
	t.Helper()
	cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
	l, err := Listen(cfg)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- Run(ctx, cfg, l) }()
	conn, err = grpc.NewClient(l.GRPC.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, conn.Close())
		http.DefaultClient.CloseIdleConnections()
		stop()
		select {
		case err := <-ended:
			require.NoError(t, err)
		case <-time.After(20 * time.Second):
			t.Error("the service did not end")
		}
	})
	return conn, "http://" + l.HTTP.Addr().String()
}

// pairMethod calls one method of DriveService with a request in JSON.
type pairMethod struct {
	path     string
	postOnly bool
	call     func(context.Context, grpc.ClientConnInterface, []byte) (proto.Message, error)
}

func newPairMethod[Q, R proto.Message](path string, empty Q, call func(pb.DriveServiceClient, context.Context, Q) (R, error)) pairMethod {
	return newPairMethodOf(pb.NewDriveServiceClient, path, empty, call)
}

// newPairMethodOf is a method of any service, called with the client that
// client makes.
func newPairMethodOf[C any, Q, R proto.Message](client func(grpc.ClientConnInterface) C, path string, empty Q,
	call func(C, context.Context, Q) (R, error),
) pairMethod {
	return pairMethod{path: path, call: func(ctx context.Context, conn grpc.ClientConnInterface, body []byte) (proto.Message, error) {
		request := proto.Clone(empty).(Q) //nolint:forcetypeassert // Clone keeps the type
		if err := protojson.Unmarshal(body, request); err != nil {
			return nil, err
		}
		return call(client(conn), ctx, request)
	}}
}

// byPostOnly marks a method without GET.
func (m pairMethod) byPostOnly() pairMethod {
	m.postOnly = true
	return m
}

var pairMethods = map[string]pairMethod{
	"SolveCenterDistance": newPairMethod("/v1/drives:solveCenterDistance", &pb.SolveCenterDistanceRequest{},
		func(c pb.DriveServiceClient, ctx context.Context, q *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
			return c.SolveCenterDistance(ctx, q)
		}),
	"SolveBelt": newPairMethod("/v1/drives:solveBelt", &pb.SolveBeltRequest{},
		func(c pb.DriveServiceClient, ctx context.Context, q *pb.SolveBeltRequest) (*pb.SolveBeltResponse, error) {
			return c.SolveBelt(ctx, q)
		}),
	"SolvePulley": newPairMethod("/v1/drives:solvePulley", &pb.SolvePulleyRequest{},
		func(c pb.DriveServiceClient, ctx context.Context, q *pb.SolvePulleyRequest) (*pb.SolvePulleyResponse, error) {
			return c.SolvePulley(ctx, q)
		}),
	"SolveSharedHole": newPairMethod("/v1/drives:solveSharedHole", &pb.SolveSharedHoleRequest{},
		func(c pb.DriveServiceClient, ctx context.Context, q *pb.SolveSharedHoleRequest) (*pb.SolveSharedHoleResponse, error) {
			return c.SolveSharedHole(ctx, q)
		}).byPostOnly(),
	"AnalyzeFit": newPairMethod("/v1/drives:analyzeFit", &pb.AnalyzeFitRequest{},
		func(c pb.DriveServiceClient, ctx context.Context, q *pb.AnalyzeFitRequest) (*pb.AnalyzeFitResponse, error) {
			return c.AnalyzeFit(ctx, q)
		}).byPostOnly(),
	"RateDrive": newPairMethod("/v1/drives:rate", &pb.RateDriveRequest{},
		func(c pb.DriveServiceClient, ctx context.Context, q *pb.RateDriveRequest) (*pb.RateDriveResponse, error) {
			return c.RateDrive(ctx, q)
		}).byPostOnly(),
	"SolvePath": newPairMethodOf(pb.NewPathServiceClient, "/v1/paths:solve", &pb.SolvePathRequest{},
		func(c pb.PathServiceClient, ctx context.Context, q *pb.SolvePathRequest) (*pb.SolvePathResponse, error) {
			return c.SolvePath(ctx, q)
		}).byPostOnly(),
}

// TestPairs asks every question of testdata/pairs by gRPC, by POST and, where
// the method takes it, by GET,
// compares the answer with the expected one, and the three with each other.
func TestPairs(t *testing.T) {
	all, err := pairs.Drive()
	require.NoError(t, err)
	require.Greater(t, len(all), 30)
	conn, baseURL := startService(t, DefaultConfig())
	for _, p := range all {
		t.Run(p.Name, func(t *testing.T) {
			method := pairMethods[p.RPC]
			answer, err := method.call(context.Background(), conn, p.Request)
			posted := ask(t, http.MethodPost, baseURL+method.path, string(p.Request))
			if !method.postOnly {
				query, queryErr := p.Query()
				require.NoError(t, queryErr)
				got := ask(t, http.MethodGet, baseURL+method.path+"?"+query, "")
				assert.Equal(t, posted, got, "POST and GET differ")
			}
			if p.Error != nil {
				checkRefusal(t, *p.Error, err, posted)
				return
			}
			require.NoError(t, err)
			direct, err := MarshalJSON(answer)
			require.NoError(t, err)
			assert.JSONEq(t, string(direct), posted.body, "gRPC and REST differ")
			assert.Equal(t, http.StatusOK, posted.status)
			differences, err := p.Differences(direct)
			require.NoError(t, err)
			assert.Empty(t, differences)
			assert.ElementsMatch(t, p.Notes, noteReasons(t, direct))
		})
	}
}

type httpAnswer struct {
	status int
	body   string // compacted
}

func ask(t *testing.T, verb, url, body string) httpAnswer {
	t.Helper()
	request, err := http.NewRequestWithContext(context.Background(), verb, url, strings.NewReader(body))
	require.NoError(t, err)
	response, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer response.Body.Close() //nolint:errcheck // read to its end
	raw, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	var value any
	require.NoError(t, json.Unmarshal(raw, &value), string(raw))
	compact, err := json.Marshal(value)
	require.NoError(t, err)
	return httpAnswer{response.StatusCode, string(compact)}
}

func noteReasons(t *testing.T, answer []byte) []string {
	t.Helper()
	var notes struct {
		Notes []struct{ Reason, Message, Field, Severity string }
	}
	require.NoError(t, json.Unmarshal(answer, &notes))
	var reasons []string
	for _, n := range notes.Notes {
		reasons = append(reasons, n.Reason)
		assert.NotEmpty(t, n.Message)
	}
	return reasons
}

// checkRefusal compares a refusal over gRPC with what is expected, and REST's
// with it.
func checkRefusal(t *testing.T, want pairs.Refusal, err error, posted httpAnswer) {
	t.Helper()
	require.Error(t, err)
	s := status.Convert(err)
	wire, marshalErr := MarshalJSON(s.Proto())
	require.NoError(t, marshalErr)
	assert.JSONEq(t, string(wire), posted.body, "gRPC and REST differ")
	assert.Equal(t, http.StatusBadRequest, posted.status)
	assert.Equal(t, code.Code(code.Code_value[want.Code]), code.Code(s.Proto().GetCode()))
	for _, text := range want.Contains {
		assert.Contains(t, s.Message(), text)
	}
	var fields []string
	for _, detail := range s.Details() {
		switch d := detail.(type) {
		case *errdetails.ErrorInfo:
			assert.Equal(t, want.Reason, d.GetReason())
			assert.Equal(t, "beltspan", d.GetDomain())
			assert.Equal(t, want.Nearest, cmpNearest(want, d.GetMetadata()["nearest"]))
		case *errdetails.BadRequest:
			for _, v := range d.GetFieldViolations() {
				fields = append(fields, v.GetField())
				assert.NotEmpty(t, v.GetReason())
			}
		}
	}
	assert.Equal(t, want.Fields, fields)
}

// cmpNearest leaves the nearest value out where the pair does not state one.
func cmpNearest(want pairs.Refusal, got string) string {
	if want.Nearest == "" {
		return ""
	}
	return got
}
