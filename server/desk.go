package server

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// desk decides which calls run. A cheap call is done in microseconds; a dear
// one, such as a search, keeps a processor busy or its answer is large. Dear
// calls get half of the places, so that cheap ones always find one, and take
// turns at all processors but one, so that cheap ones find that free, too.
type desk struct {
	places, dearPlaces int64
	calls, dear        atomic.Int64 // that hold a place
	expected           atomic.Int64 // dear calls of gRPC, from their header to their end
	bodies             chan struct{}
	turns              chan struct{}
	patience           time.Duration // to wait for a turn
	rates              *rates        // nil: none
	outbox             *outbox       // nil where answers leave at once
	full               error         // the refusal
}

func newDesk(cfg Config) *desk {
	return &desk{
		places: int64(cfg.MaxInFlight), dearPlaces: int64(max(1, cfg.MaxInFlight/2)),
		bodies:   make(chan struct{}, max(1, cfg.MaxInFlight/8)),
		turns:    make(chan struct{}, max(1, runtime.GOMAXPROCS(0)-1)),
		patience: cfg.RequestTimeout / 2,
		rates:    newRates(cfg.MaxRate),
		full:     errTooManyCalls(cfg.MaxInFlight),
	}
}

// cheapMethods are those whose work and answer are small whatever is asked.
var cheapMethods = map[string]bool{
	pb.DriveService_SolveCenterDistance_FullMethodName: true,
	pb.DriveService_SolveBelt_FullMethodName:           true,
	pb.DriveService_SolvePulley_FullMethodName:         true,
	pb.DriveService_SolveSharedHole_FullMethodName:     true,
	pb.DriveService_RateDrive_FullMethodName:           true,
	pb.SectionService_ListSections_FullMethodName:      true,
	pb.SectionService_GetSection_FullMethodName:        true,
	pb.SectionService_ListBeltLengths_FullMethodName:   true,
}

// cheapItems is how many drives are as cheap to check as one is to solve.
const cheapItems = 20

// isDear tells the cost of a call; req is nil for a stream.
func isDear(method string, req any) bool {
	if check, ok := req.(*pb.CheckDrivesRequest); ok {
		return len(check.GetItems()) > cheapItems
	}
	return !cheapMethods[method]
}

// link refuses or delays the calls that are too many.
func (d *desk) link() link {
	return link{
		unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			if ofPlatform(info.FullMethod) {
				return handler(ctx, req)
			}
			dear := isDear(info.FullMethod, req)
			if err := d.rates.take(ctx, dear); err != nil {
				return nil, err
			}
			defer d.calls.Add(-1)
			if d.calls.Add(1) > d.places {
				return nil, d.full
			}
			if !dear {
				return handler(ctx, req)
			}
			if !d.takeDearPlace() {
				return nil, d.full
			}
			return d.serveDear(ctx, req, handler)
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			if ofPlatform(info.FullMethod) {
				return guestOf(stream.Context()).watch(srv, stream, handler)
			}
			if err := d.rates.take(stream.Context(), true); err != nil {
				return err
			}
			defer d.calls.Add(-1)
			if d.calls.Add(1) > d.places {
				return d.full
			}
			if !d.takeDearPlace() {
				return d.full
			}
			defer d.leaveDearPlace()
			return handler(srv, stream)
		},
	}
}

// streamTurns gives turns to streams of answers; those of questions are paced
// by their clients. It stands inside the time limits, which pass messages in
// other goroutines than the method's.
func (d *desk) streamTurns() link {
	return link{stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
		if ofPlatform(info.FullMethod) || info.IsClientStream {
			return handler(srv, stream)
		}
		turns := &turnStream{ServerStream: stream, desk: d}
		defer turns.leave()
		return handler(srv, turns)
	}}
}

// serveDear calls a method when it is its turn. Its place is free again when
// the answer has left.
func (d *desk) serveDear(ctx context.Context, req any, handler grpc.UnaryHandler) (resp any, err error) {
	l := leaseOf(ctx) // of REST, which ends it
	if l == nil {
		l = &lease{}
		defer func() { d.outbox.end(ctx, resp, l) }()
	}
	l.hold(d.leaveDearPlace)
	if err := d.takeTurn(ctx); err != nil {
		return nil, err
	}
	defer d.leaveTurn()
	resp, err = handler(ctx, req)
	if err != nil {
		return nil, err
	}
	return d.outbox.encode(ctx, resp)
}

// expect tells whether a dear call may send its request, which can be large.
func (d *desk) expect(ctx context.Context) bool {
	if d.expected.Add(1) > d.places {
		d.expected.Add(-1)
		return false
	}
	context.AfterFunc(ctx, func() { d.expected.Add(-1) })
	return true
}

func (d *desk) takeDearPlace() bool {
	if d.dear.Add(1) > d.dearPlaces {
		d.dear.Add(-1)
		return false
	}
	return true
}

func (d *desk) leaveDearPlace() { d.dear.Add(-1) }

// takeTurn waits for a processor, first come, first served. Its error is a
// status.
func (d *desk) takeTurn(ctx context.Context) error { return d.wait(ctx, d.turns) }

func (d *desk) leaveTurn() { <-d.turns }

func (d *desk) wait(ctx context.Context, room chan<- struct{}) error {
	select {
	case room <- struct{}{}:
		return nil
	default:
	}
	timer := time.NewTimer(d.patience)
	defer timer.Stop()
	select {
	case room <- struct{}{}:
		return nil
	case <-ctx.Done():
		return fromContext(ctx.Err())
	case <-timer.C:
		return d.full
	}
}

// turnStream has a turn from one message to the next, and none while it waits
// for its client.
type turnStream struct {
	grpc.ServerStream
	desk *desk
	has  bool
}

func (s *turnStream) leave() {
	if s.has {
		s.desk.leaveTurn()
		s.has = false
	}
}

func (s *turnStream) pass(message func(any) error, m any) error {
	s.leave()
	if err := message(m); err != nil {
		return err
	}
	if err := s.desk.takeTurn(s.Context()); err != nil {
		return err
	}
	s.has = true
	return nil
}

// SendMsg is grpc.ServerStream's.
func (s *turnStream) SendMsg(m any) error { return s.pass(s.ServerStream.SendMsg, m) }

// RecvMsg is grpc.ServerStream's.
func (s *turnStream) RecvMsg(m any) error { return s.pass(s.ServerStream.RecvMsg, m) }

// lease keeps what a dear call holds until its answer has left, however long
// its reader takes.
type lease struct {
	mu   sync.Mutex
	held func()
}

type leaseKey struct{}

func withLease(ctx context.Context) (context.Context, *lease) {
	l := &lease{}
	return context.WithValue(ctx, leaseKey{}, l), l
}

// leaseOf is nil where nobody waits for the answer to leave.
func leaseOf(ctx context.Context) *lease {
	l, _ := ctx.Value(leaseKey{}).(*lease)
	return l
}

// hold puts release under the lease.
func (l *lease) hold(release func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.held = release
}

// end releases what is held; again it does nothing.
func (l *lease) end() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.held != nil {
		l.held()
		l.held = nil
	}
}
