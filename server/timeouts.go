package server

import (
	"context"
	"errors"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
)

// maxStreamMessage is the most bytes of one message from a client on a stream.
const maxStreamMessage = 1 << 20

// limitTime caps the time of a call, and the silence on a stream, whose whole
// time has no limit.
func limitTime(cfg Config) link {
	return link{
		unary: func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			capped := &deadline{Context: ctx, at: time.Now().Add(cfg.RequestTimeout)}
			defer capped.stop()
			resp, err := handler(capped, req)
			if err != nil && ctx.Err() == nil && errors.Is(capped.Err(), context.DeadlineExceeded) {
				return nil, errTimeout(cfg.RequestTimeout)
			}
			return resp, err
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			if ofPlatform(info.FullMethod) {
				return handler(srv, stream)
			}
			limited, stop := newIdleStream(stream, cfg.StreamIdleTimeout)
			defer stop()
			err := handler(srv, limited)
			if cause := context.Cause(limited.ctx); err != nil && cause != nil && stream.Context().Err() == nil {
				return cause
			}
			return err
		},
	}
}

// deadline is a context that ends at a time. It sets a timer only when somebody
// asks, because most methods answer in less time than a timer takes to set.
type deadline struct {
	context.Context //nolint:containedctx // it is one
	at              time.Time

	once   sync.Once
	timed  context.Context //nolint:containedctx // the context with the timer
	cancel context.CancelFunc
}

func (d *deadline) start() context.Context {
	d.once.Do(func() { d.timed, d.cancel = context.WithDeadline(d.Context, d.at) })
	return d.timed
}

// stop ends the context.
func (d *deadline) stop() {
	d.once.Do(func() { // nobody asked: whoever does later finds it ended
		d.timed, d.cancel = ended, func() {}
	})
	d.cancel()
}

var ended = func() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}()

// Deadline is context.Context's.
func (d *deadline) Deadline() (time.Time, bool) {
	if outer, ok := d.Context.Deadline(); ok && outer.Before(d.at) {
		return outer, true
	}
	return d.at, true
}

// Done is context.Context's.
func (d *deadline) Done() <-chan struct{} { return d.start().Done() }

// Err is context.Context's.
func (d *deadline) Err() error { return d.start().Err() }

// idleStream ends its context when no message passed for a while. A method may
// be blocked in RecvMsg or SendMsg then, so these run beside it; the goroutine
// of one that is left behind ends when the method returns, because that ends
// the transport's stream.
type idleStream struct {
	grpc.ServerStream
	ctx   context.Context //nolint:containedctx // a stream's context is a method of it
	timer *time.Timer
	idle  time.Duration
}

func newIdleStream(stream grpc.ServerStream, idle time.Duration) (*idleStream, func()) {
	ctx, cancel := context.WithCancelCause(stream.Context())
	timer := time.AfterFunc(idle, func() { cancel(errStreamIdle(idle)) })
	stop := func() {
		timer.Stop()
		cancel(nil)
	}
	return &idleStream{ServerStream: stream, ctx: ctx, timer: timer, idle: idle}, stop
}

// Context is that of the stream, ended also by silence.
func (s *idleStream) Context() context.Context { return s.ctx }

// RecvMsg is grpc.ServerStream's.
func (s *idleStream) RecvMsg(m any) error {
	if err := s.wait(s.ServerStream.RecvMsg, m); err != nil {
		return err
	}
	if message, ok := m.(proto.Message); ok && proto.Size(message) > maxStreamMessage {
		return errMessageTooLarge(maxStreamMessage)
	}
	return nil
}

// SendMsg is grpc.ServerStream's.
func (s *idleStream) SendMsg(m any) error {
	return s.wait(s.ServerStream.SendMsg, m)
}

func (s *idleStream) wait(pass func(any) error, m any) error {
	done := make(chan error, 1)
	go func() { done <- pass(m) }()
	select {
	case err := <-done:
		s.timer.Reset(s.idle)
		return err
	case <-s.ctx.Done():
		return context.Cause(s.ctx)
	}
}
