package server

import (
	"context"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"
)

// outbox watches over large answers on their way out of gRPC, which takes an
// answer whole and sends it as its reader reads. Until then the answer keeps
// the place of its call, so that readers who do not read cannot fill the
// memory; after a while their connection is closed.
type outbox struct{ patience time.Duration }

// encode encodes a large answer that leaves over the network: a good part of
// the work, which is therefore done during the call's turn.
func (o *outbox) encode(ctx context.Context, resp any) (any, error) {
	_, local := grpc.ServerTransportStreamFromContext(ctx).(*localCall)
	message, ok := resp.(proto.Message)
	if o == nil || local || !ok || mem.IsBelowBufferPoolingThreshold(proto.Size(message)) {
		return resp, nil
	}
	data, err := proto.Marshal(message)
	if err != nil {
		return nil, errInternal()
	}
	return &outgoing{data: data}, nil
}

// end ends a lease when the answer has left: at once, but for one that encode
// has encoded.
func (o *outbox) end(ctx context.Context, answer any, l *lease) {
	encoded, ok := answer.(*outgoing)
	if !ok {
		l.end()
		return
	}
	o.watch(ctx, encoded, l)
}

// outgoing is an encoded answer. As mem.BufferPool it is told when the
// transport needs it no more.
type outgoing struct {
	data  []byte
	lease *lease
	timer *time.Timer
}

// watch gives an answer its time to leave.
func (o *outbox) watch(ctx context.Context, answer *outgoing, lease *lease) {
	guest := guestOf(ctx)
	answer.lease = lease
	answer.timer = time.AfterFunc(o.patience, func() {
		if guest != nil {
			_ = guest.Close() // it is broken one way or the other
		}
		lease.end()
	})
}

// Get is mem.BufferPool's; nobody calls it.
func (o *outgoing) Get(length int) *[]byte { return new(make([]byte, length)) }

// Put is mem.BufferPool's.
func (o *outgoing) Put(*[]byte) {
	o.timer.Stop()
	o.lease.end()
}

func (o *outgoing) buffers() mem.BufferSlice {
	return mem.BufferSlice{mem.NewBuffer(&o.data, o)}
}
