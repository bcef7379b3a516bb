package server

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	reflectionpb "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

type center = func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error)

// slow is a method that waits for release and then answers.
func slow(entered, release chan struct{}) center {
	return func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		entered <- struct{}{}
		<-release
		return &pb.SolveCenterDistanceResponse{DrillCenterDistanceMm: 7}, nil
	}
}

func TestHealthAndReflection(t *testing.T) {
	s := serve(t, &fake{}, nil)
	conn := s.dial(t)
	got, err := healthpb.NewHealthClient(conn).Check(context.Background(), &healthpb.HealthCheckRequest{})
	require.NoError(t, err)
	assert.Equal(t, healthpb.HealthCheckResponse_SERVING, got.GetStatus())

	stream, err := reflectionpb.NewServerReflectionClient(conn).ServerReflectionInfo(context.Background())
	require.NoError(t, err)
	require.NoError(t, stream.Send(&reflectionpb.ServerReflectionRequest{
		MessageRequest: &reflectionpb.ServerReflectionRequest_ListServices{},
	}))
	answer, err := stream.Recv()
	require.NoError(t, err)
	var names []string
	for _, service := range answer.GetListServicesResponse().GetService() {
		names = append(names, service.GetName())
	}
	assert.Subset(t, names, []string{"beltspan.v1.DriveService", "beltspan.v1.SectionService", "grpc.health.v1.Health"})
	require.NoError(t, stream.CloseSend())
}

// TestDrain asks for the end while a gRPC call and a REST call run: both are
// answered, new ones are not taken, and Run returns nil.
func TestDrain(t *testing.T) {
	entered, release := make(chan struct{}), make(chan struct{})
	s := serve(t, &fake{center: slow(entered, release)}, nil)
	conn := s.dial(t)
	grpcAnswer, restAnswer := make(chan error, 1), make(chan answer, 1)
	go func() {
		_, err := solve(context.Background(), conn)
		grpcAnswer <- err
	}()
	<-entered
	go func() { restAnswer <- s.send(t, http.MethodPost, centerPath, "{}") }()
	<-entered

	s.stop()
	require.Eventually(t, func() bool {
		c, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
		if err == nil {
			_ = c.Close()
		}
		return err != nil
	}, 5*time.Second, 5*time.Millisecond, "the HTTP listener closes at once")
	select {
	case err := <-s.done:
		require.Fail(t, "Run returned before the calls", "%v", err)
	case <-time.After(50 * time.Millisecond):
	}
	close(release)
	require.NoError(t, <-grpcAnswer)
	assert.Equal(t, http.StatusOK, (<-restAnswer).code)
	require.NoError(t, <-s.done)
}

// TestDrainWaitsForGRPC is TestDrain without a call of REST, for whose end gRPC
// would be kept up anyhow.
func TestDrainWaitsForGRPC(t *testing.T) {
	entered, release := make(chan struct{}), make(chan struct{})
	s := serve(t, &fake{center: slow(entered, release)}, nil)
	conn, result := s.dial(t), make(chan error, 1)
	go func() {
		_, err := solve(context.Background(), conn)
		result <- err
	}()
	<-entered
	s.stop()
	require.Eventually(t, func() bool { return len(s.lines(t, `"draining"`)) == 1 }, 5*time.Second, time.Millisecond)
	select {
	case err := <-result:
		require.Fail(t, "cut off", "%v", err)
	case <-time.After(100 * time.Millisecond):
	}
	close(release)
	require.NoError(t, <-result)
	require.NoError(t, <-s.done)
}

// TestDrainIsBounded leaves a call that never ends.
func TestDrainIsBounded(t *testing.T) {
	for _, road := range []string{"gRPC", "REST"} {
		t.Run(road, func(t *testing.T) {
			entered, release := make(chan struct{}), make(chan struct{})
			s := serve(t, &fake{center: slow(entered, release)}, func(c *Config) { c.DrainTimeout = 200 * time.Millisecond })
			defer close(release)
			if road == "gRPC" {
				conn := s.dial(t)
				go solve(context.Background(), conn) //nolint:errcheck // it is cut off
			} else {
				go http.Post(s.url+centerPath, "application/json", strings.NewReader("{}")) //nolint:errcheck,bodyclose // it is cut off
			}
			<-entered
			start := time.Now()
			s.stop()
			err := <-s.done
			assert.ErrorContains(t, err, "calls still ran after 200ms")
			assert.Less(t, time.Since(start), 2*time.Second)
		})
	}
}

func TestHealthEndsWithTheDrain(t *testing.T) {
	entered, release := make(chan struct{}), make(chan struct{})
	s := serve(t, &fake{center: slow(entered, release)}, nil)
	conn := s.dial(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	watch, err := healthpb.NewHealthClient(conn).Watch(ctx, &healthpb.HealthCheckRequest{})
	require.NoError(t, err)
	got, err := watch.Recv()
	require.NoError(t, err)
	require.Equal(t, healthpb.HealthCheckResponse_SERVING, got.GetStatus())
	go solve(context.Background(), conn) //nolint:errcheck // keeps the server up
	<-entered
	s.stop()
	got, err = watch.Recv()
	require.NoError(t, err)
	assert.Equal(t, healthpb.HealthCheckResponse_NOT_SERVING, got.GetStatus())
	cancel()
	close(release)
	require.NoError(t, <-s.done)
}

func TestRunChecksItsConfig(t *testing.T) {
	cfg := DefaultConfig()
	cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
	l, err := Listen(cfg)
	require.NoError(t, err)
	cfg.MaxBody, cfg.RequestTimeout, cfg.HTTPAddr = -1, 0, "nonsense"
	err = Run(context.Background(), cfg, l)
	assert.ErrorContains(t, err, "--max-body is -1: give a value from 1024 to 1073741824")
	assert.ErrorContains(t, err, "--request-timeout is 0s")
	assert.ErrorContains(t, err, `--http-addr is "nonsense"`)
	_, err = net.Dial("tcp", l.GRPC.Addr().String())
	assert.Error(t, err, "the listeners are closed")
}

func TestListenOnAnAddressInUse(t *testing.T) {
	cfg := DefaultConfig()
	cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
	l, err := Listen(cfg)
	require.NoError(t, err)
	defer l.Close() //nolint:errcheck // the end of the test
	cfg.HTTPAddr = l.GRPC.Addr().String()
	_, err = Listen(cfg)
	assert.ErrorContains(t, err, "HTTP:")
}

func TestRunEndsWhenAListenerFails(t *testing.T) {
	cfg := DefaultConfig()
	cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
	l, err := Listen(cfg)
	require.NoError(t, err)
	require.NoError(t, l.HTTP.Close())
	assert.ErrorContains(t, Run(context.Background(), cfg, l), "listener")
}

// TestRESTLimits sends to a server with small limits what a browser would not.
func TestRESTLimits(t *testing.T) {
	s := serve(t, &fake{center: waits}, func(c *Config) { c.RequestTimeout = 50 * time.Millisecond })

	late := s.send(t, http.MethodPost, centerPath, "{}")
	assert.Equal(t, http.StatusGatewayTimeout, late.code)
	assert.Equal(t, reasonTimeout, late.reason())
	assert.NotEmpty(t, late.header.Get("X-Request-Id"))

	given := s.send(t, http.MethodPost, centerPath, "{}", "Grpc-Timeout", "10m")
	assert.Equal(t, http.StatusGatewayTimeout, given.code)

	wrong := s.send(t, http.MethodPost, centerPath, "{}", "Grpc-Timeout", "soon")
	assert.Equal(t, http.StatusBadRequest, wrong.code)
	assert.Equal(t, reasonMalformedRequest, wrong.reason())

	large := s.send(t, http.MethodGet, "/v1/sections/T5", "", "X-Large", strings.Repeat("x", 1000))
	assert.Equal(t, http.StatusOK, large.code)
	resp := raw(t, s, "GET /v1/sections/T5 HTTP/1.1\r\nHost: x\r\nX-Large: "+strings.Repeat("x", 2*maxHeader)+"\r\n\r\n")
	assert.Contains(t, resp, " 431 ")
}

// TestBodyThatEnds closes the sending side in the middle of a body.
func TestBodyThatEnds(t *testing.T) {
	s := serve(t, &fake{}, nil)
	resp := raw(t, s, "POST "+centerPath+" HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\n{\"drive\"")
	assert.Contains(t, resp, " 408 ")
	resp = raw(t, s, "POST "+centerPath+" HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n")
	assert.Contains(t, resp, " 400 ")
}

// raw sends bytes, closes the sending side and returns the first line.
func raw(t *testing.T, s *served, request string) string {
	t.Helper()
	conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the answer is read
	require.NoError(t, conn.SetDeadline(time.Now().Add(10*time.Second)))
	_, err = fmt.Fprint(conn, request)
	require.NoError(t, err)
	require.NoError(t, conn.(*net.TCPConn).CloseWrite())
	line, err := bufio.NewReader(conn).ReadString('\n')
	require.NoError(t, err)
	return line
}

// TestClientThatGoesAway closes the connection of a REST call that runs.
func TestClientThatGoesAway(t *testing.T) {
	left := make(chan error, 1)
	f := &fake{center: func(ctx context.Context, _ *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		<-ctx.Done()
		left <- ctx.Err()
		return nil, ctx.Err()
	}}
	s := serve(t, f, nil)
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, s.url+centerPath, strings.NewReader("{}"))
	require.NoError(t, err)
	_, err = http.DefaultClient.Do(req) //nolint:bodyclose // there is none
	require.ErrorIs(t, err, context.DeadlineExceeded)
	require.ErrorIs(t, <-left, context.Canceled)
}

func TestRequestLog(t *testing.T) {
	f := &fake{center: func(_ context.Context, req *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		switch req.GetAllowanceMm() {
		case 1:
			return nil, errFaults(fault{"allowance_mm", "OUT_OF_RANGE", "no"})
		case 2:
			panic("boom")
		}
		return &pb.SolveCenterDistanceResponse{}, nil
	}}
	s := serve(t, f, nil)
	for i, want := range []struct{ level, code string }{{"INFO", "OK"}, {"INFO", "InvalidArgument"}, {"ERROR", "Internal"}} {
		id := fmt.Sprintf("call-%d", i)
		got := s.send(t, http.MethodPost, centerPath, fmt.Sprintf(`{"allowanceMm":%d,"drive":{"section":"hush"}}`, i), "X-Request-Id", id)
		lines := s.lines(t, `"request_id":"`+id+`"`)
		require.Len(t, lines, 1)
		line := lines[0]
		assert.Equal(t, want.level, line["level"])
		assert.Equal(t, want.code, line["code"])
		assert.Equal(t, pb.DriveService_SolveCenterDistance_FullMethodName, line["method"])
		assert.Contains(t, line["peer"], "127.0.0.1:")
		assert.Contains(t, line, "duration_us")
		if want.code != "OK" {
			assert.Equal(t, id, got.header.Get("X-Request-Id"))
		}
	}
	panics := s.lines(t, `"msg":"panic"`)
	require.Len(t, panics, 1)
	assert.Contains(t, panics[0]["stack"], "run_test.go")
	assert.Empty(t, s.lines(t, "hush"), "no body in the log")

	_, err := solve(context.Background(), s.dial(t), grpc.WaitForReady(true))
	require.NoError(t, err)
	assert.Len(t, s.lines(t, `"msg":"request"`), 4, "gRPC calls, too")
	assert.Equal(t, codes.OK, status.Code(err))
}

func TestRequestID(t *testing.T) {
	assert.Equal(t, "abc-1", requestID("abc-1"))
	for _, bad := range []string{"", "two words", "line\nbreak", "é", strings.Repeat("x", 65)} {
		got := requestID(bad)
		assert.Len(t, got, 16, "for %q", bad)
		assert.NotEqual(t, got, requestID(bad), "each is new")
	}
}
