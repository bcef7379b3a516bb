package server

import (
	"context"
	"net"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/peer"
	"google.golang.org/protobuf/proto"
)

// outbox watches over large answers on their way out of gRPC, which takes an
// answer whole and sends it as its reader reads. Until then the answer keeps
// the place of its call, so that readers who do not read cannot fill the
// memory; after a while their connection is closed.
type outbox struct {
	patience time.Duration

	mu    sync.Mutex
	conns map[string]net.Conn // by the peer's address
}

func newOutbox(patience time.Duration) *outbox {
	return &outbox{patience: patience, conns: map[string]net.Conn{}}
}

// links are two: the outer one, before all others, makes the lease of a dear
// call from the network; the inner one, after the desk, encodes its answer,
// because that is a good part of the work.
func (o *outbox) links() (outer, inner link) {
	outer = link{stream: passStream, unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
		_, local := grpc.ServerTransportStreamFromContext(ctx).(*localCall)
		if local || ofPlatform(info.FullMethod) || !isDear(info.FullMethod, req) {
			return handler(ctx, req)
		}
		ctx, lease := withLease(ctx)
		resp, err := handler(ctx, req)
		if encoded, ok := resp.(*outgoing); ok && err == nil {
			o.watch(ctx, encoded, lease)
		} else {
			lease.end()
		}
		return resp, err
	}}
	inner = link{stream: passStream, unary: func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
		resp, err := handler(ctx, req)
		_, local := grpc.ServerTransportStreamFromContext(ctx).(*localCall)
		message, ok := resp.(proto.Message)
		if local || err != nil || !ok || leaseOf(ctx) == nil || mem.IsBelowBufferPoolingThreshold(proto.Size(message)) {
			return resp, err
		}
		data, err := proto.Marshal(message)
		if err != nil {
			return nil, errInternal()
		}
		return &outgoing{data: data}, nil
	}}
	return outer, inner
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
	addr := ""
	if from, ok := peer.FromContext(ctx); ok {
		addr = from.Addr.String()
	}
	answer.lease = lease
	answer.timer = time.AfterFunc(o.patience, func() {
		o.mu.Lock()
		conn := o.conns[addr]
		o.mu.Unlock()
		if conn != nil {
			_ = conn.Close() // it is broken one way or the other
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

// listen keeps the connections of a listener.
func (o *outbox) listen(l net.Listener) net.Listener { return outboxListener{l, o} }

type outboxListener struct {
	net.Listener
	box *outbox
}

// Accept is net.Listener's.
func (l outboxListener) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	kept := &outboxConn{Conn: conn, box: l.box, addr: conn.RemoteAddr().String()}
	l.box.mu.Lock()
	l.box.conns[kept.addr] = conn
	l.box.mu.Unlock()
	return kept, nil
}

type outboxConn struct {
	net.Conn
	box  *outbox
	addr string
}

// Close is net.Conn's.
func (c *outboxConn) Close() error {
	c.box.mu.Lock()
	if c.box.conns[c.addr] == c.Conn {
		delete(c.box.conns, c.addr)
	}
	c.box.mu.Unlock()
	return c.Conn.Close()
}
