package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// relay connects clients to a server and, from the moment it is told, passes
// on only so many bytes in each direction.
type relay struct {
	addr     string
	up, down atomic.Int64 // that may still pass
}

func newRelay(t *testing.T, to string) *relay {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = listener.Close() })
	r := &relay{addr: listener.Addr().String()}
	r.up.Store(1 << 40)
	r.down.Store(1 << 40)
	go func() {
		for {
			client, err := listener.Accept()
			if err != nil {
				return
			}
			server, err := smallWindow.Dial("tcp", to)
			if err != nil {
				_ = client.Close()
				continue
			}
			go pass(server, client, &r.up)
			go pass(client, server, &r.down)
			t.Cleanup(func() { _, _ = client.Close(), server.Close() })
		}
	}()
	return r
}

// smallWindow keeps the kernel from taking a whole answer in place of a reader.
var smallWindow = net.Dialer{Control: func(_, _ string, raw syscall.RawConn) error {
	var err error
	return errors.Join(raw.Control(func(fd uintptr) {
		err = syscall.SetsockoptInt(int(fd), syscall.SOL_SOCKET, syscall.SO_RCVBUF, 16<<10)
	}), err)
}}

// pass copies until an end is closed; where nothing may pass it waits.
func pass(to, from net.Conn, left *atomic.Int64) {
	defer to.Close() //nolint:errcheck // the end of it
	buffer := make([]byte, 4<<10)
	for {
		for left.Load() <= 0 {
			time.Sleep(time.Millisecond)
		}
		n, err := from.Read(buffer)
		if _, err := to.Write(buffer[:n]); err != nil {
			return
		}
		left.Add(-int64(n))
		if err != nil {
			return
		}
	}
}

func (r *relay) dial(t *testing.T) *grpc.ClientConn {
	t.Helper()
	conn, err := grpc.NewClient(r.addr, grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswer)))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// bigBatch is a batch whose answer is about 1.5 MiB.
func bigBatch() *pb.CheckDrivesRequest {
	return &pb.CheckDrivesRequest{Items: workshopItems(1, 10_000)}
}

func checkBig(ctx context.Context, conn grpc.ClientConnInterface) error {
	_, err := pb.NewDriveServiceClient(conn).CheckDrives(ctx, bigBatch(), grpc.MaxCallRecvMsgSize(maxAnswer))
	return err
}

func realSolve(ctx context.Context, conn grpc.ClientConnInterface) error {
	_, err := pb.NewSectionServiceClient(conn).GetSection(ctx, &pb.GetSectionRequest{Section: "H5M"})
	return err
}

// TestSlowReader: an answer that nobody reads keeps its place, so that few of
// them fit into memory, until its connection is closed.
func TestSlowReader(t *testing.T) {
	const patience = time.Second
	s := serve(t, &Service{}, func(c *Config) { c.MaxInFlight, c.StreamIdleTimeout = 2, patience })
	slowRoad := newRelay(t, s.grpcAddr)
	conn := slowRoad.dial(t)
	require.NoError(t, realSolve(t.Context(), conn))
	slowRoad.down.Store(100 << 10)
	stuck := make(chan error, 1)
	go func() { stuck <- checkBig(context.Background(), conn) }()
	require.Eventually(t, func() bool { return slowRoad.down.Load() <= 0 }, 10*time.Second, time.Millisecond, "the answer has begun")

	other := s.dial(t)
	start := time.Now()
	require.Eventually(t, func() bool { return status.Code(checkBig(t.Context(), other)) == codes.ResourceExhausted },
		patience, 5*time.Millisecond, "the answer that is not read keeps its place")
	require.NoError(t, realSolve(t.Context(), other), "cheap calls are answered")
	require.Eventually(t, func() bool { return checkBig(t.Context(), other) == nil }, 20*time.Second, 20*time.Millisecond, "then its place is free")
	assert.GreaterOrEqual(t, time.Since(start), patience/2)
	slowRoad.down.Store(1 << 40)
	assert.Equal(t, codes.Unavailable, status.Code(<-stuck), "its connection was closed")
}

// TestSlowReaderOfREST: the same over HTTP, where the answer is written while
// the method's place is kept.
func TestSlowReaderOfREST(t *testing.T) {
	s := serve(t, &Service{}, func(c *Config) { c.MaxInFlight, c.RequestTimeout = 2, 2*time.Second })
	const path = "/v1/drives:check"
	batch := bigBatch()
	for _, item := range batch.Items {
		item.Id = strings.Repeat(item.Id, 25) // the kernel buffers some 4 MiB of an answer
	}
	raw, err := protojson.Marshal(batch)
	require.NoError(t, err)
	body := string(raw)
	slowRoad := newRelay(t, strings.TrimPrefix(s.url, "http://"))
	slowRoad.down.Store(1)
	slow, err := net.Dial("tcp", slowRoad.addr)
	require.NoError(t, err)
	_, err = fmt.Fprintf(slow, "POST %s HTTP/1.1\r\nHost: x\r\nContent-Length: %d\r\n\r\n%s", path, len(body), body)
	require.NoError(t, err)
	require.Eventually(t, func() bool { return slowRoad.down.Load() <= 0 }, 10*time.Second, time.Millisecond, "the answer has begun")
	require.Eventually(t, func() bool {
		return s.send(t, http.MethodPost, path, body).code == http.StatusTooManyRequests
	}, 10*time.Second, 5*time.Millisecond)
	assert.Equal(t, http.StatusOK, s.send(t, http.MethodGet, "/v1/sections/H5M", "").code)
	require.NoError(t, slow.Close())
	slowRoad.down.Store(1 << 40)
	require.Eventually(t, func() bool {
		return s.send(t, http.MethodPost, path, body).code == http.StatusOK
	}, 20*time.Second, 20*time.Millisecond, "a reader who leaves gives his place back")
}

// TestSlowWriter sends requests that never end. The dear ones, which may be
// large, take the place of others; after a while all are ended.
func TestSlowWriter(t *testing.T) {
	s := serve(t, &Service{}, func(c *Config) { c.RequestTimeout, c.MaxInFlight = 10*time.Millisecond, 2 })
	start := time.Now()
	results := make(chan error, 3)
	var roads []*relay
	for i := range 3 {
		slowRoad := newRelay(t, s.grpcAddr)
		roads = append(roads, slowRoad)
		conn := slowRoad.dial(t)
		require.NoError(t, realSolve(t.Context(), conn))
		slowRoad.up.Store(8 << 10)
		go func() {
			ctx := context.Background() // without a deadline of its own
			if i < 2 {
				results <- checkBig(ctx, conn)
				return
			}
			_, err := pb.NewSectionServiceClient(conn).GetSection(ctx, &pb.GetSectionRequest{Section: strings.Repeat("x", 1<<20)})
			results <- err
		}()
	}
	for _, slowRoad := range roads {
		require.Eventually(t, func() bool { return slowRoad.up.Load() <= 0 }, slack, time.Millisecond, "the request has begun")
	}
	other := s.dial(t)
	small := func() error {
		_, err := pb.NewDriveServiceClient(other).CheckDrives(t.Context(), &pb.CheckDrivesRequest{Items: workshopItems(1, 1)})
		return err
	}
	time.Sleep(100 * time.Millisecond) // or this one would take the place of one that is about to be seen
	require.Eventually(t, func() bool {
		err := small()
		return status.Code(err) == codes.ResourceExhausted && retryDelay(status.Convert(err)) == time.Second
	}, slack, 5*time.Millisecond)
	require.NoError(t, realSolve(t.Context(), other), "cheap calls are answered")
	for range 3 {
		err := <-results
		assert.Equal(t, codes.DeadlineExceeded, status.Code(err), "%v", err)
	}
	assert.Less(t, time.Since(start), 3*slack)
	require.Eventually(t, func() bool { return small() == nil }, slack, 5*time.Millisecond, "the places are free again")
}

// TestSlowHeader sends half a header.
func TestSlowHeader(t *testing.T) {
	s := serve(t, &fake{}, func(c *Config) { c.RequestTimeout = time.Second })
	conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the server closes it
	_, err = io.WriteString(conn, "GET /v1/sections HTTP/1.1\r\nHost: x\r\nX-Slow: ")
	require.NoError(t, err)
	require.NoError(t, conn.SetDeadline(time.Now().Add(3*slack)))
	_, err = io.ReadAll(conn)
	assert.NoError(t, err, "closed within its time")
}

// TestRate limits two callers apart from each other.
func TestRate(t *testing.T) {
	s := serve(t, &Service{}, func(c *Config) { c.MaxRate = 0.5 }) // at once: 10
	conn := s.dial(t)
	for range 10 {
		require.NoError(t, realSolve(t.Context(), conn))
	}
	err := realSolve(t.Context(), conn)
	require.Equal(t, codes.ResourceExhausted, status.Code(err))
	assert.Equal(t, reasonTooFast, infoOf(t, err).GetReason())
	wait := retryDelay(status.Convert(err))
	assert.InDelta(t, 2, wait.Seconds(), 0.5, "half a call a second: the next in two seconds, less what has passed")

	// The same machine by REST is the same caller.
	got := s.send(t, http.MethodGet, "/v1/sections/H5M", "")
	assert.Equal(t, http.StatusTooManyRequests, got.code)
	seconds, err := strconv.Atoi(got.header.Get("Retry-After"))
	require.NoError(t, err)
	assert.InDelta(t, 2, seconds, 1)
	stream := s.send(t, http.MethodPost, "/v1/drives:streamSpacings", "{}")
	assert.Equal(t, http.StatusTooManyRequests, stream.code)
}

func TestRates(t *testing.T) {
	assert.NoError(t, newRates(0).take(t.Context(), true), "no limit")
	r := newRates(100) // 200 at once
	r.limit = 1e-3     // however slow this machine is
	bench, shop := withCaller(t.Context(), "bench"), withCaller(t.Context(), "shop")
	for range 20 {
		require.NoError(t, r.take(bench, true), "a dear call counts as ten")
	}
	require.Error(t, r.take(bench, true))
	require.NoError(t, r.take(shop, false), "another caller")

	// A flood of names is forgotten, and a caller who stays is not.
	now := time.Now()
	for i := range 50_000 {
		r.of("caller-"+strconv.Itoa(i), now)
		if i%1000 == 0 {
			r.of("bench", now)
		}
	}
	assert.LessOrEqual(t, len(r.young)+len(r.old), 20_001)
	require.Error(t, r.take(bench, true))
}

// TestCheapFindsAPlace: dear calls never take the places of cheap ones.
func TestCheapFindsAPlace(t *testing.T) {
	s := serve(t, &Service{}, func(c *Config) { c.MaxInFlight = 4 })
	conn := s.dial(t)
	var streams []pb.DriveService_StreamCheckDrivesClient
	for range 4 {
		stream, err := pb.NewDriveServiceClient(conn).StreamCheckDrives(t.Context())
		require.NoError(t, err)
		streams = append(streams, stream)
	}
	refused := 0
	for _, stream := range streams {
		_ = stream.Send(&pb.StreamCheckDrivesRequest{Items: workshopItems(1, 1)})
		if _, err := stream.Recv(); err != nil {
			require.Equal(t, codes.ResourceExhausted, status.Code(err))
			assert.Equal(t, time.Second, retryDelay(status.Convert(err)))
			refused++
		}
	}
	assert.Equal(t, 2, refused, "half of the places are for dear calls")
	require.NoError(t, realSolve(t.Context(), conn))
	got := s.send(t, http.MethodPost, "/v1/drives:searchSpacings", `{"sections":["H5M"]}`)
	assert.Equal(t, http.StatusTooManyRequests, got.code)
	assert.Equal(t, "1", got.header.Get("Retry-After"))
	assert.Equal(t, reasonTooManyCalls, got.reason())
}

// TestTurns: no more dear calls run at once than the desk has turns, waiting
// has an end, and every place and turn comes back.
func TestTurns(t *testing.T) {
	cfg := DefaultConfig()
	cfg.RequestTimeout = 100 * time.Millisecond
	d := newDesk(cfg)
	d.turns = make(chan struct{}, 1)
	link := d.link()
	info := &grpc.UnaryServerInfo{FullMethod: pb.DriveService_SearchSpacings_FullMethodName}
	entered, release := make(chan struct{}), make(chan struct{})
	first := make(chan error, 1)
	go func() {
		_, err := link.unary(context.Background(), nil, info, func(context.Context, any) (any, error) {
			close(entered)
			<-release
			return nil, nil
		})
		first <- err
	}()
	<-entered
	never := func(context.Context, any) (any, error) { panic("has no turn") }
	_, err := link.unary(context.Background(), nil, info, never)
	assert.Equal(t, codes.ResourceExhausted, status.Code(err), "waited in vain")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = link.unary(ctx, nil, info, never)
	assert.Equal(t, codes.Canceled, status.Code(err), "its caller left")
	cheap := &grpc.UnaryServerInfo{FullMethod: pb.DriveService_SolveBelt_FullMethodName}
	_, err = link.unary(context.Background(), nil, cheap, func(context.Context, any) (any, error) { return nil, nil })
	require.NoError(t, err, "cheap calls need no turn")
	close(release)
	require.NoError(t, <-first)
	assert.Panics(t, func() { _, _ = link.unary(context.Background(), nil, info, never) })
	assert.Zero(t, d.calls.Load())
	assert.Zero(t, d.dear.Load())
	assert.Empty(t, d.turns)
}

// TestSlowReaderHasNoTurn: a stream whose client does not read lets others work.
func TestSlowReaderHasNoTurn(t *testing.T) {
	s := serve(t, &Service{}, nil)
	for range 4 { // more than there are turns on most machines
		slowRoad := newRelay(t, s.grpcAddr)
		conn := slowRoad.dial(t)
		require.NoError(t, realSolve(t.Context(), conn))
		slowRoad.down.Store(1)
		_, err := pb.NewDriveServiceClient(conn).StreamSpacings(t.Context(), &pb.StreamSpacingsRequest{
			Sections: []string{"H5M"}, StandardLengthsOnly: true,
		})
		require.NoError(t, err)
	}
	time.Sleep(200 * time.Millisecond)
	start := time.Now()
	require.NoError(t, checkBig(t.Context(), s.dial(t)))
	assert.Less(t, time.Since(start), DefaultConfig().RequestTimeout/2, "has not waited in vain")
}
