package server

import (
	"context"
	"errors"
	"net"
	"sync/atomic"
	"time"

	"golang.org/x/time/rate"
	"google.golang.org/grpc"
	"google.golang.org/grpc/peer"
)

// guest is a connection of gRPC. While nobody on it has been let in, it may
// send little: enough to ask for health, too little to fill the memory.
type guest struct {
	net.Conn
	known   atomic.Bool
	meter   *rate.Limiter // of bytes while it is not known
	watches atomic.Int32  // streams of grpc itself
}

// What a connection may send while it is not known, at once and a second.
const (
	strangerBytes = 1 << 20
	strangerRate  = 64 << 10
)

// guests makes the connections of a listener guests.
type guests struct{ net.Listener }

// Accept is net.Listener's.
func (l guests) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return &guest{Conn: conn, meter: rate.NewLimiter(strangerRate, strangerBytes)}, nil
}

// Read is net.Conn's.
func (g *guest) Read(p []byte) (int, error) {
	n, err := g.Conn.Read(p)
	if !g.known.Load() && !g.meter.AllowN(time.Now(), n) {
		return 0, errors.Join(errStranger, g.Close())
	}
	return n, err
}

var errStranger = errors.New("too many bytes from a connection on which nobody has been let in")

// RemoteAddr is net.Conn's. It leads back to the guest, as the peer of calls.
func (g *guest) RemoteAddr() net.Addr { return guestAddr{g.Conn.RemoteAddr(), g} }

type guestAddr struct {
	net.Addr
	guest *guest
}

// guestOf is the connection of a call; nil for one that came another way.
func guestOf(ctx context.Context) *guest {
	if from, ok := peer.FromContext(ctx); ok {
		if addr, ok := from.Addr.(guestAddr); ok {
			return addr.guest
		}
	}
	return nil
}

// mostWatches is how many streams of grpc itself (to watch health, to reflect)
// a connection may have: they may be idle for hours, so they have no other limit.
const mostWatches = 8

// watch calls a stream of grpc itself.
func (g *guest) watch(srv any, stream grpc.ServerStream, handler grpc.StreamHandler) error {
	if g == nil {
		return handler(srv, stream)
	}
	defer g.watches.Add(-1)
	if g.watches.Add(1) > mostWatches {
		return errTooManyWatches()
	}
	return handler(srv, stream)
}
