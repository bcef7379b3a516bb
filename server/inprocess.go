package server

import (
	"context"
	"io"
	"net"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
)

// Conn is a connection to the service that its owner closes.
type Conn interface {
	grpc.ClientConnInterface
	io.Closer
}

// NewConn returns a connection to a service inside this process, with every
// limit of cfg but without a listener and without the request log.
//
// A request is handed over, not copied: do not change it during the call.
func NewConn(cfg Config) (Conn, error) {
	if err := cfg.Validate(); err != nil {
		return nil, err
	}
	return newHost(cfg, &Service{MaxResults: cfg.MaxResults}, nil, limits(cfg, newDesk(cfg))...)
}

// localConn calls the registered methods in the caller's goroutine, through
// the interceptors. Streams and all other methods take the connection it
// holds, which leads to the same server through memory. Measured, a call costs
// half of one through memory.
type localConn struct {
	*grpc.ClientConn
	methods map[string]localMethod
	links   []grpc.UnaryServerInterceptor
}

type localMethod struct {
	handler grpc.MethodHandler
	service any
}

func (c *localConn) register(desc *grpc.ServiceDesc, service any) {
	for _, m := range desc.Methods {
		c.methods["/"+desc.ServiceName+"/"+m.MethodName] = localMethod{m.Handler, service}
	}
}

// Invoke is grpc.ClientConnInterface's.
func (c *localConn) Invoke(ctx context.Context, method string, args, reply any, opts ...grpc.CallOption) error {
	m, ok := c.methods[method]
	if !ok {
		return c.ClientConn.Invoke(ctx, method, args, reply, opts...)
	}
	if err := ctx.Err(); err != nil {
		return fromContext(err)
	}
	call := &localCall{method: method, request: args, links: c.links}
	resp, err := m.handler(m.service, call.serverContext(ctx), decodeNothing, intercept)
	call.fill(ctx, opts)
	if late := ctx.Err(); late != nil {
		return fromContext(late)
	}
	if err != nil {
		s, _ := status.FromError(err)
		return s.Err()
	}
	return handOver(reply, resp)
}

// NewStream is grpc.ClientConnInterface's.
func (c *localConn) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	return c.ClientConn.NewStream(forward(ctx), desc, method, opts...)
}

func decodeNothing(any) error { return nil }

// handOver moves the fields of the answer into the message that the caller
// gave for it. Both share what the fields point to.
func handOver(reply, resp any) error {
	dst, ok := reply.(proto.Message)
	src, ok2 := resp.(proto.Message)
	if !ok || !ok2 || dst.ProtoReflect().Descriptor() != src.ProtoReflect().Descriptor() {
		return errInternal()
	}
	to, from := dst.ProtoReflect(), src.ProtoReflect()
	for field, value := range from.Range {
		to.Set(field, value)
	}
	to.SetUnknown(from.GetUnknown())
	return nil
}

// localCall is a call's grpc.ServerTransportStream, and its way through the
// interceptors.
type localCall struct {
	method  string
	request any

	links   []grpc.UnaryServerInterceptor // those still to pass
	info    *grpc.UnaryServerInfo
	handler grpc.UnaryHandler // the method
	next    grpc.UnaryHandler // step

	mu              sync.Mutex
	header, trailer metadata.MD
	headerSent      bool
}

// intercept stands between the generated handler, which has made an empty
// request and decoded nothing, and the interceptors.
func intercept(ctx context.Context, _ any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
	c := grpc.ServerTransportStreamFromContext(ctx).(*localCall) //nolint:forcetypeassert // put there by Invoke
	c.info, c.handler, c.next = info, handler, c.step
	return c.step(ctx, c.request)
}

// step enters the next interceptor, and after the last one the method. Each
// may go on once: a second try would find the rest of the way passed.
func (c *localCall) step(ctx context.Context, req any) (any, error) {
	if len(c.links) == 0 {
		return c.handler(ctx, req)
	}
	link := c.links[0]
	c.links = c.links[1:]
	return link(ctx, req, c.info, c.next)
}

// serverContext is the context as the method sees it over a network: what the
// caller sends has arrived. It stays in the context for sending, too, because
// the methods call nobody.
func (c *localCall) serverContext(ctx context.Context) context.Context {
	if md, ok := metadata.FromOutgoingContext(ctx); ok {
		ctx = metadata.NewIncomingContext(ctx, md)
	}
	if _, ok := peer.FromContext(ctx); !ok {
		ctx = peer.NewContext(ctx, localPeer)
	}
	return grpc.NewContextWithServerTransportStream(ctx, c)
}

// localPeer is the peer of calls that came from no network.
var localPeer = &peer.Peer{Addr: localAddr{}}

type localAddr struct{}

func (localAddr) Network() string { return "local" }
func (localAddr) String() string  { return "local" }

var _ net.Addr = localAddr{}

// fill serves the call options that ask for something back.
func (c *localCall) fill(ctx context.Context, opts []grpc.CallOption) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, opt := range opts {
		switch o := opt.(type) {
		case grpc.HeaderCallOption:
			*o.HeaderAddr = c.header
		case grpc.TrailerCallOption:
			*o.TrailerAddr = c.trailer
		case grpc.PeerCallOption:
			if p, ok := peer.FromContext(ctx); ok {
				*o.PeerAddr = *p
			} else {
				*o.PeerAddr = *localPeer
			}
		}
	}
}

// Method is grpc.ServerTransportStream's.
func (c *localCall) Method() string { return c.method }

// SetHeader is grpc.ServerTransportStream's.
func (c *localCall) SetHeader(md metadata.MD) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.headerSent {
		return status.Error(codes.Internal, "the header was sent before")
	}
	c.header = join(c.header, md)
	return nil
}

// SendHeader is grpc.ServerTransportStream's.
func (c *localCall) SendHeader(md metadata.MD) error {
	if err := c.SetHeader(md); err != nil {
		return err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.headerSent = true
	return nil
}

// SetTrailer is grpc.ServerTransportStream's.
func (c *localCall) SetTrailer(md metadata.MD) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.trailer = join(c.trailer, md)
	return nil
}

func join(have, more metadata.MD) metadata.MD {
	if have == nil {
		return more
	}
	return metadata.Join(have, more)
}
