package server

import (
	"bytes"
	"context"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// TestStrangerSendsLittle: a connection on which nobody has been let in is
// closed when it sends too much, be it to health, which is open.
func TestStrangerSendsLittle(t *testing.T) {
	s := serveGuarded(t)
	large := &healthpb.HealthCheckRequest{Service: strings.Repeat("x", 2*strangerBytes)}
	client := healthpb.NewHealthClient(s.dial(t))
	_, err := client.Check(t.Context(), large)
	assert.Equal(t, codes.Unavailable, status.Code(err), "%v", err)
	_, err = client.Check(t.Context(), &healthpb.HealthCheckRequest{})
	require.NoError(t, err, "on a new connection")

	conn := s.dial(t)
	ctx := metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+wrongToken)
	_, err = pb.NewDriveServiceClient(conn).CheckDrives(ctx, &pb.CheckDrivesRequest{Items: []*pb.CheckItem{{Id: large.Service}}})
	assert.Contains(t, []codes.Code{codes.Unavailable, codes.Unauthenticated}, status.Code(err), "%v", err)
	ctx = metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+benchToken)
	require.NoError(t, realSolve(ctx, conn))
	_, err = healthpb.NewHealthClient(conn).Check(t.Context(), large)
	assert.Equal(t, codes.NotFound, status.Code(err), "who has been let in may send more")
}

// TestWatches: few streams of grpc itself fit on a connection; the rest of it
// goes on.
func TestWatches(t *testing.T) {
	s := serve(t, &Service{}, nil)
	conn := s.dial(t)
	watch := func() (healthpb.Health_WatchClient, error) {
		stream, err := healthpb.NewHealthClient(conn).Watch(t.Context(), &healthpb.HealthCheckRequest{})
		require.NoError(t, err)
		_, err = stream.Recv()
		return stream, err
	}
	for range mostWatches {
		_, err := watch()
		require.NoError(t, err)
	}
	_, err := watch()
	assert.Equal(t, codes.ResourceExhausted, status.Code(err))
	assert.Equal(t, time.Minute, retryDelay(status.Convert(err)))
	require.NoError(t, realSolve(t.Context(), conn))
	_, err = healthpb.NewHealthClient(conn).Check(t.Context(), &healthpb.HealthCheckRequest{})
	require.NoError(t, err)
}

// TestRefusalsLeaveNothing: calls that are not let in leave no memory behind,
// however far their deadline is.
func TestRefusalsLeaveNothing(t *testing.T) {
	s := serveGuarded(t)
	conn := s.dial(t)
	ctx, cancel := context.WithTimeout(metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+wrongToken), 24*time.Hour)
	defer cancel()
	heap := func() int {
		s.log.mu.Lock()
		s.log.buf = bytes.Buffer{}
		s.log.mu.Unlock()
		runtime.GC()
		runtime.GC() // pools
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int(m.HeapAlloc)
	}
	const calls = 8000
	for range 100 {
		require.Equal(t, codes.Unauthenticated, status.Code(realSolve(ctx, conn)))
	}
	before := heap()
	for range calls {
		require.Equal(t, codes.Unauthenticated, status.Code(realSolve(ctx, conn)))
	}
	// A timer and its context take 588 bytes.
	assert.Less(t, (heap()-before)/calls, 200, "bytes a call")
}

// TestStreamsOfAConnection: of 300 calls on one connection the server takes 250
// at once.
func TestStreamsOfAConnection(t *testing.T) {
	var inside atomic.Int64
	release := make(chan struct{})
	s := serve(t, &fake{center: func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		inside.Add(1)
		<-release
		return &pb.SolveCenterDistanceResponse{}, nil
	}}, func(c *Config) { c.MaxInFlight, c.RequestTimeout = 1000, time.Minute })
	conn := s.dial(t)
	var calls sync.WaitGroup
	for range 300 {
		calls.Go(func() {
			_, err := solve(t.Context(), conn)
			assert.NoError(t, err)
		})
	}
	require.Eventually(t, func() bool { return inside.Load() >= streamsPerConnection }, 20*time.Second, time.Millisecond)
	time.Sleep(50 * time.Millisecond) // for one too many to show
	assert.EqualValues(t, streamsPerConnection, inside.Load())
	close(release)
	calls.Wait()
}
