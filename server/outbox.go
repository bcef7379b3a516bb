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
