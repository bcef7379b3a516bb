package server

import (
	"context"
	"sync/atomic"
	"time"
)

// arrivals give the calls that are no streams a time by which they must have
// come and gone, so that neither a request nor an answer can be drawn out.
type arrivals struct {
	time time.Duration
	now  atomic.Pointer[arrivalSecond]
}

// arrivalSecond is what the cheap calls share that begin within a second: a timer
// for each would cost them a twentieth.
type arrivalSecond struct {
	end, until time.Time // of its calls' beginning, and of their time
	over       chan struct{}
}

func (a *arrivals) thisSecond() *arrivalSecond {
	now := time.Now()
	current := a.now.Load()
	if current != nil && now.Before(current.end) {
		return current
	}
	end := now.Add(time.Second)
	next := &arrivalSecond{end: end, until: end.Add(a.time), over: make(chan struct{})}
	if !a.now.CompareAndSwap(current, next) {
		return a.now.Load()
	}
	time.AfterFunc(a.time+time.Second, func() { close(next.over) })
	return next
}

// begin returns the context of a call to a method.
func (a *arrivals) begin(ctx context.Context, method string) context.Context {
	if !isUnary[method] {
		return ctx
	}
	if !cheapMethods[method] {
		timed, cancel := context.WithTimeout(ctx, a.time)
		_ = cancel // the transport ends ctx with the call
		return timed
	}
	second := a.thisSecond()
	if by, ok := ctx.Deadline(); ok && by.Before(second.until) {
		return ctx
	}
	return &arrival{Context: ctx, second: second}
}

// arrival is the context of a cheap call. Where its caller gives up while the
// request is on its way, the transport, which waits for the request, learns so
// only when the time is over; the method learns it at once.
type arrival struct {
	context.Context //nolint:containedctx // it is one
	second          *arrivalSecond
	waits           atomic.Bool
}

// Deadline is context.Context's.
func (a *arrival) Deadline() (time.Time, bool) {
	if by, ok := a.Context.Deadline(); ok && by.Before(a.second.until) {
		return by, true
	}
	return a.second.until, true
}

// Done is context.Context's. The transport is the first to ask.
func (a *arrival) Done() <-chan struct{} {
	if a.waits.CompareAndSwap(false, true) {
		return a.second.over
	}
	return a.Context.Done()
}

// Err is context.Context's.
func (a *arrival) Err() error {
	if err := a.Context.Err(); err != nil {
		return err
	}
	select {
	case <-a.second.over:
		return context.DeadlineExceeded
	default:
		return nil
	}
}
