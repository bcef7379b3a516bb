package main

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// checkStream is one stream of a run.
type checkStream = grpc.BidiStreamingClient[pb.StreamCheckDrivesRequest, pb.StreamCheckDrivesResponse]

// exchange sends the chunks of a file through a service and hands on their
// results: every chunk's once, in order. Where a stream breaks off, another
// one, with another replica where there are several, gets the chunks that are
// not answered; a check changes nothing, so it may come twice. It also gets
// the rows before them whose ids the service compares.
type exchange struct {
	open   func(context.Context) (checkStream, error)
	limits *pb.FitLimits
	chunks <-chan *chunk
	take   func(*chunk, []*pb.CheckResult) error
	tell   func(text string) // of a break
	remote *remoteFlags      // which service it is

	kept     []*chunk // from the oldest that a new stream needs
	keptRows int      // of those answered
	next     int      // number of the first chunk that is not answered
}

// mostBreaks is how many streams may break in a row without an answer between.
const mostBreaks = 8

// run ends with the chunks. A status as its error is that of the service.
func (x *exchange) run(ctx context.Context) error {
	pause := 100 * time.Millisecond
	for breaks := 1; ; breaks++ {
		before := x.next
		err := x.once(ctx)
		if err == nil || ctx.Err() != nil {
			return err
		}
		advice, again := mayAsk(err)
		if x.next > before {
			breaks, pause = 1, 100*time.Millisecond
		}
		if !again || breaks > mostBreaks || x.next == 0 && breaks > 1 {
			return err
		}
		if x.next > 0 { // before the first answer there is nothing to go on with
			x.tell("the service broke off, going on with another stream: " + newRefusal(err, nil, x.remote).Error())
		}
		select {
		case <-time.After(max(pause, advice)):
		case <-ctx.Done():
			return err
		}
		pause = min(2*pause, 5*time.Second)
	}
}

// mayAsk tells whether another stream may end better, and when.
func mayAsk(err error) (wait time.Duration, again bool) {
	s, ok := status.FromError(err)
	if !ok {
		return 0, false
	}
	again = s.Code() == codes.Unavailable
	for _, detail := range s.Details() {
		switch d := detail.(type) {
		case *errdetails.RetryInfo: // its limits were full
			wait, again = d.GetRetryDelay().AsDuration(), true
		case *errdetails.ErrorInfo: // the file let wait
			again = again || d.GetReason() == "STREAM_IDLE"
		}
	}
	return wait, again
}

// once goes on with one stream until it breaks or the chunks end.
func (x *exchange) once(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := x.open(ctx)
	if err != nil {
		return err
	}
	sent := make(chan *chunk, chunksInFlight)
	go x.send(ctx, stream, append([]*chunk(nil), x.kept...), sent)
	for c := range sent {
		x.keep(c)
		if err == nil {
			if err = x.receive(stream, c); err != nil {
				cancel() // what is sent by now is kept for the next stream
			}
		}
	}
	if err == nil {
		return ctx.Err()
	}
	return err
}

// send sends again what earlier streams were sent, then what comes. It ends,
// closing sent, with the chunks or with ctx.
func (x *exchange) send(ctx context.Context, stream checkStream, again []*chunk, sent chan<- *chunk) {
	defer close(sent)
	request := &pb.StreamCheckDrivesRequest{Limits: x.limits}
	pass := func(c *chunk) bool {
		sent <- c // before all else, so that it is not lost
		request.Items = c.items
		err := stream.Send(request)
		request = &pb.StreamCheckDrivesRequest{}
		return err == nil // receiving tells why not
	}
	for _, c := range again {
		if !pass(c) {
			return
		}
	}
	for {
		select {
		case c, ok := <-x.chunks:
			if !ok {
				_ = stream.CloseSend() // never fails
				return
			}
			if !pass(c) {
				return
			}
		case <-ctx.Done():
			return
		}
	}
}

// keep remembers a chunk that is new.
func (x *exchange) keep(c *chunk) {
	if len(x.kept) == 0 || c.number > x.kept[len(x.kept)-1].number {
		x.kept = append(x.kept, c)
	}
}

// receive takes the results of a chunk, unless an earlier stream has brought
// them.
func (x *exchange) receive(stream checkStream, c *chunk) error {
	response, err := stream.Recv()
	if err != nil {
		return err
	}
	if len(response.GetResults()) != len(c.items) {
		return fmt.Errorf("the service answered %d results for %d drives", len(response.GetResults()), len(c.items))
	}
	if c.number < x.next {
		return nil
	}
	if err := x.take(c, response.GetResults()); err != nil {
		return err
	}
	x.next++
	x.keptRows += len(c.items)
	for x.keptRows-len(x.kept[0].items) >= rememberedRows {
		x.keptRows -= len(x.kept[0].items)
		x.kept[0] = nil
		x.kept = x.kept[1:]
	}
	return nil
}
