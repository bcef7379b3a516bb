package server

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// onBothRoads runs a test with the same services over the network and on the
// connection inside the process.
func onBothRoads(t *testing.T, f *fake, change func(*Config), test func(*testing.T, grpc.ClientConnInterface)) {
	t.Run("network", func(t *testing.T) {
		test(t, serve(t, f, change).dial(t))
	})
	t.Run("in process", func(t *testing.T) {
		cfg := DefaultConfig()
		if change != nil {
			change(&cfg)
		}
		conn, err := newHost(cfg, f, nil, limits(cfg, newDesk(cfg), (&requestLogger{log: cfg.logger()}).link())...)
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, conn.Close()) })
		test(t, conn)
	})
}

func solve(ctx context.Context, conn grpc.ClientConnInterface, opts ...grpc.CallOption) (*pb.SolveCenterDistanceResponse, error) {
	return pb.NewDriveServiceClient(conn).SolveCenterDistance(ctx, &pb.SolveCenterDistanceRequest{
		Drive: &pb.Drive{Section: "H8M", Driver: &pb.Pulley{ToothCount: 24}}, AllowanceMm: 0.5,
	}, opts...)
}

// infoOf is the ErrorInfo of an error.
func infoOf(t *testing.T, err error) *errdetails.ErrorInfo {
	t.Helper()
	for _, detail := range status.Convert(err).Details() {
		if info, ok := detail.(*errdetails.ErrorInfo); ok {
			return info
		}
	}
	require.Fail(t, "no ErrorInfo", "%v", err)
	return nil
}

func TestCallsArriveWhole(t *testing.T) {
	onBothRoads(t, &fake{}, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
		got, err := solve(context.Background(), conn)
		require.NoError(t, err)
		want := &pb.SolveCenterDistanceResponse{
			Geometry:              &pb.DriveGeometry{Drive: &pb.Drive{Section: "H8M", Driver: &pb.Pulley{ToothCount: 24}}},
			DrillCenterDistanceMm: 0.5,
		}
		assert.True(t, proto.Equal(want, got), "got %v", got)
	})
}

func TestHeadersAndTrailers(t *testing.T) {
	f := &fake{center: func(ctx context.Context, _ *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		method, _ := grpc.Method(ctx)
		from, ok := peer.FromContext(ctx)
		in, _ := metadata.FromIncomingContext(ctx)
		err := errors.Join(
			grpc.SetHeader(ctx, metadata.Pairs("method", method, "has-peer", map[bool]string{true: "yes"}[ok && from.Addr.String() != ""])),
			grpc.SetHeader(ctx, metadata.Pairs("seen", strings.Join(in.Get("sent"), "+"))),
			grpc.SetTrailer(ctx, metadata.Pairs("last", "1")),
			grpc.SetTrailer(ctx, metadata.Pairs("last", "2")),
		)
		if err == nil {
			err = grpc.SendHeader(ctx, nil)
		}
		if late := grpc.SetHeader(ctx, metadata.Pairs("late", "1")); late == nil {
			return nil, errors.New("a header after the headers was taken")
		}
		return &pb.SolveCenterDistanceResponse{}, err
	}}
	onBothRoads(t, f, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
		var header, trailer metadata.MD
		var from peer.Peer
		ctx := metadata.AppendToOutgoingContext(context.Background(), "sent", "a", "sent", "b")
		_, err := solve(ctx, conn, grpc.Header(&header), grpc.Trailer(&trailer), grpc.Peer(&from))
		require.NoError(t, err)
		assert.Equal(t, []string{pb.DriveService_SolveCenterDistance_FullMethodName}, header.Get("method"))
		assert.Equal(t, []string{"yes"}, header.Get("has-peer"))
		assert.Equal(t, []string{"a+b"}, header.Get("seen"))
		assert.Empty(t, header.Get("late"))
		assert.Equal(t, []string{"1", "2"}, trailer.Get("last"))
		assert.NotNil(t, from.Addr)
	})
}

func TestStatusDetails(t *testing.T) {
	f := &fake{center: func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		return nil, errFaults(fault{"drive.driver.tooth_count", "OUT_OF_RANGE", "drive.driver.tooth_count is 5: give 6 to 600"})
	}}
	onBothRoads(t, f, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
		var header metadata.MD
		_, err := solve(context.Background(), conn, grpc.Header(&header))
		s := status.Convert(err)
		assert.Equal(t, codes.InvalidArgument, s.Code())
		assert.Equal(t, "OUT_OF_RANGE", infoOf(t, err).GetReason())
		require.Len(t, s.Details(), 2)
		violations := s.Details()[1].(*errdetails.BadRequest).GetFieldViolations()
		require.Len(t, violations, 1)
		assert.Equal(t, "drive.driver.tooth_count", violations[0].GetField())
		assert.Len(t, header.Get(requestIDKey), 1, "a failed call tells its id")
	})
}

func TestBugsAnswerAFixedText(t *testing.T) {
	type center func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error)
	for name, bug := range map[string]center{
		"panic": func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
			panic("secret")
		},
		"no answer": func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
			return nil, nil //nolint:nilnil // the bug
		},
		"plain error": func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
			return nil, errors.New("secret")
		},
	} {
		t.Run(name, func(t *testing.T) {
			onBothRoads(t, &fake{center: bug}, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
				for range 2 { // the server lives on
					_, err := solve(context.Background(), conn)
					assert.Equal(t, codes.Internal, status.Code(err))
					assert.Equal(t, "INTERNAL", infoOf(t, err).GetReason())
					assert.NotContains(t, err.Error(), "secret")
				}
			})
		})
	}
}

// waits blocks until its context ends and returns the context's error as it
// is.
func waits(ctx context.Context, _ *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
	<-ctx.Done()
	return nil, ctx.Err()
}

func TestDeadlineOfTheCaller(t *testing.T) {
	onBothRoads(t, &fake{center: waits}, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
		defer cancel()
		_, err := solve(ctx, conn)
		assert.Equal(t, codes.DeadlineExceeded, status.Code(err), "%v", err)
		_, err = solve(ctx, conn)
		assert.Equal(t, codes.DeadlineExceeded, status.Code(err), "%v", err)
	})
}

// TestLateAnswerIsNone is about the connection inside the process: over a
// network, the caller's clock and the answer race.
func TestLateAnswerIsNone(t *testing.T) {
	f := &fake{center: func(ctx context.Context, _ *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		<-ctx.Done()
		return &pb.SolveCenterDistanceResponse{}, nil
	}}
	cfg := DefaultConfig()
	conn, err := newHost(cfg, f, nil, limits(cfg, newDesk(cfg))...)
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the end of the test
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	_, err = solve(ctx, conn)
	assert.Equal(t, codes.DeadlineExceeded, status.Code(err), "%v", err)
}

func TestDeadlineOfTheServer(t *testing.T) {
	change := func(c *Config) { c.RequestTimeout = 20 * time.Millisecond }
	onBothRoads(t, &fake{center: waits}, change, func(t *testing.T, conn grpc.ClientConnInterface) {
		_, err := solve(context.Background(), conn)
		assert.Equal(t, codes.DeadlineExceeded, status.Code(err))
		assert.Equal(t, reasonTimeout, infoOf(t, err).GetReason())
	})
}

func TestCancellationReachesTheMethod(t *testing.T) {
	entered, left := make(chan struct{}), make(chan error)
	f := &fake{center: func(ctx context.Context, _ *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		entered <- struct{}{}
		<-ctx.Done()
		left <- ctx.Err()
		return nil, ctx.Err()
	}}
	onBothRoads(t, f, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		answered := make(chan error)
		go func() {
			_, err := solve(ctx, conn)
			answered <- err
		}()
		<-entered
		cancel()
		require.ErrorIs(t, <-left, context.Canceled)
		assert.Equal(t, codes.Canceled, status.Code(<-answered))
	})
}

func TestCallsInFlight(t *testing.T) {
	entered, release := make(chan struct{}), make(chan struct{})
	f := &fake{center: func(context.Context, *pb.SolveCenterDistanceRequest) (*pb.SolveCenterDistanceResponse, error) {
		entered <- struct{}{}
		<-release
		return &pb.SolveCenterDistanceResponse{}, nil
	}}
	change := func(c *Config) { c.MaxInFlight = 2 }
	onBothRoads(t, f, change, func(t *testing.T, conn grpc.ClientConnInterface) {
		answers := make(chan error)
		for range 2 {
			go func() {
				_, err := solve(context.Background(), conn)
				answers <- err
			}()
			<-entered
		}
		_, err := solve(context.Background(), conn)
		assert.Equal(t, codes.ResourceExhausted, status.Code(err))
		assert.Equal(t, reasonTooManyCalls, infoOf(t, err).GetReason())
		_, err = healthpb.NewHealthClient(conn).Check(context.Background(), &healthpb.HealthCheckRequest{})
		require.NoError(t, err, "a busy server is healthy")
		for range 2 {
			release <- struct{}{}
			require.NoError(t, <-answers)
		}
		go func() { <-entered; release <- struct{}{} }()
		_, err = solve(context.Background(), conn)
		assert.NoError(t, err, "the places are free again")
	})
}

func TestUnknownMethod(t *testing.T) {
	onBothRoads(t, &fake{}, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
		err := conn.Invoke(context.Background(), "/beltspan.v1.DriveService/Nonsense", &pb.Pulley{}, &pb.Pulley{})
		assert.Equal(t, codes.Unimplemented, status.Code(err))
	})
}

// openTalk opens the stream of streamDesc.
func openTalk(ctx context.Context, t *testing.T, conn grpc.ClientConnInterface) grpc.ClientStream {
	t.Helper()
	stream, err := conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true, ClientStreams: true}, talk)
	require.NoError(t, err)
	return stream
}

// echo sends back what it receives.
func echo(stream grpc.ServerStream) error {
	for {
		var note pb.Note
		if err := stream.RecvMsg(&note); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		switch note.GetReason() {
		case "PANIC":
			panic("secret")
		case "BUG":
			return errors.New("secret")
		}
		if err := stream.SendMsg(&note); err != nil {
			return err
		}
	}
}

func TestStreams(t *testing.T) {
	onBothRoads(t, &fake{stream: echo}, nil, func(t *testing.T, conn grpc.ClientConnInterface) {
		stream := openTalk(context.Background(), t, conn)
		for _, word := range []string{"A", "B", "C"} {
			require.NoError(t, stream.SendMsg(&pb.Note{Reason: word}))
			var back pb.Note
			require.NoError(t, stream.RecvMsg(&back))
			assert.Equal(t, word, back.GetReason())
		}
		require.NoError(t, stream.CloseSend())
		assert.ErrorIs(t, stream.RecvMsg(&pb.Note{}), io.EOF)
	})
}

func TestStreamErrors(t *testing.T) {
	tests := []struct {
		name   string
		note   *pb.Note
		code   codes.Code
		reason string
	}{
		{"panic", &pb.Note{Reason: "PANIC"}, codes.Internal, "INTERNAL"},
		{"plain error", &pb.Note{Reason: "BUG"}, codes.Internal, "INTERNAL"},
		{"large message", &pb.Note{Message: strings.Repeat("x", maxStreamMessage+1)}, codes.ResourceExhausted, reasonBodyTooLarge},
		{"silence", nil, codes.DeadlineExceeded, reasonStreamIdle},
	}
	change := func(c *Config) { c.StreamIdleTimeout = 200 * time.Millisecond }
	onBothRoads(t, &fake{stream: echo}, change, func(t *testing.T, conn grpc.ClientConnInterface) {
		for _, tt := range tests {
			t.Run(tt.name, func(t *testing.T) {
				stream := openTalk(context.Background(), t, conn)
				if tt.note != nil {
					require.NoError(t, stream.SendMsg(tt.note))
				}
				err := stream.RecvMsg(&pb.Note{})
				assert.Equal(t, tt.code, status.Code(err), "%v", err)
				assert.Equal(t, tt.reason, infoOf(t, err).GetReason())
				assert.NotContains(t, err.Error(), "secret")
				assert.Len(t, stream.Trailer().Get(requestIDKey), 1)
			})
		}
	})
}

// TestIdleStreamOfASlowReader fills the stream until SendMsg blocks, and does
// not read.
func TestIdleStreamOfASlowReader(t *testing.T) {
	left := make(chan error, 2)
	f := &fake{stream: func(stream grpc.ServerStream) error {
		var err error
		for err == nil {
			err = stream.SendMsg(&pb.Note{Message: strings.Repeat("x", 10_000)})
		}
		left <- err
		return err
	}}
	change := func(c *Config) { c.StreamIdleTimeout = 100 * time.Millisecond }
	onBothRoads(t, f, change, func(t *testing.T, conn grpc.ClientConnInterface) {
		stream := openTalk(context.Background(), t, conn)
		select {
		case err := <-left:
			assert.Equal(t, reasonStreamIdle, infoOf(t, err).GetReason())
		case <-time.After(10 * time.Second):
			require.Fail(t, "the method is still blocked")
		}
		var err error
		for err == nil {
			err = stream.RecvMsg(&pb.Note{})
		}
		assert.Equal(t, codes.DeadlineExceeded, status.Code(err), "%v", err)
	})
}

func TestStreamsCountAsCalls(t *testing.T) {
	change := func(c *Config) { c.MaxInFlight = 1 }
	onBothRoads(t, &fake{stream: echo}, change, func(t *testing.T, conn grpc.ClientConnInterface) {
		first := openTalk(context.Background(), t, conn)
		require.NoError(t, first.SendMsg(&pb.Note{}))
		require.NoError(t, first.RecvMsg(&pb.Note{}))
		second := openTalk(context.Background(), t, conn)
		assert.Equal(t, reasonTooManyCalls, infoOf(t, second.RecvMsg(&pb.Note{})).GetReason())
	})
}

func TestNewConn(t *testing.T) {
	cfg := DefaultConfig()
	conn, err := NewConn(cfg)
	require.NoError(t, err)
	_, err = pb.NewDriveServiceClient(conn).SolveCenterDistance(context.Background(), &pb.SolveCenterDistanceRequest{})
	require.Error(t, err) // without a drive, whatever the service
	require.NoError(t, conn.Close())

	cfg.MaxInFlight = 0
	_, err = NewConn(cfg)
	assert.ErrorContains(t, err, "--max-in-flight is 0")
}
