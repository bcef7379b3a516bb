package server

import (
	"context"
	"fmt"
	"net"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/test/bufconn"
)

// api is what a host serves: Service, or another implementation in a test.
type api interface {
	Register(r grpc.ServiceRegistrar)
}

// host holds the services of one process and the ways to call them: a gRPC
// server for listeners, and a connection without any. It is a Conn.
type host struct {
	*localConn
	grpc   *grpc.Server
	health *health.Server
}

// newHost starts one goroutine, which serves the connection in memory until
// Close or until the gRPC server stops.
func newHost(cfg Config, services api, options []grpc.ServerOption, links ...link) (*host, error) {
	var unary []grpc.UnaryServerInterceptor
	var stream []grpc.StreamServerInterceptor
	for _, l := range links {
		if l.unary != nil {
			unary = append(unary, l.unary)
		}
		if l.stream != nil {
			stream = append(stream, l.stream)
		}
	}
	options = append(options, serverOptions(cfg)...)
	server := grpc.NewServer(append(options, grpc.ChainUnaryInterceptor(unary...), grpc.ChainStreamInterceptor(stream...))...)

	const bufferBytes = 64 << 10
	memory := bufconn.Listen(bufferBytes)
	client, err := grpc.NewClient("passthrough:///memory",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return memory.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswer)))
	if err != nil {
		return nil, fmt.Errorf("connection in memory: %w", err)
	}

	h := &host{grpc: server, health: health.NewServer(), localConn: &localConn{
		ClientConn: client, methods: map[string]localMethod{}, links: unary,
	}}
	services.Register(h)
	healthpb.RegisterHealthServer(server, h.health)
	reflection.Register(server)
	go server.Serve(memory) //nolint:errcheck // it ends when the server stops, and only then
	return h, nil
}

// RegisterService is grpc.ServiceRegistrar's.
func (h *host) RegisterService(desc *grpc.ServiceDesc, service any) {
	h.grpc.RegisterService(desc, service)
	h.register(desc, service)
}

// Close is io.Closer's: it cuts off calls that still run.
func (h *host) Close() error {
	err := h.ClientConn.Close()
	h.grpc.Stop()
	return err
}

// streamsPerConnection is the most calls at once on one connection.
const streamsPerConnection = 250

// maxAnswer is the most bytes of one answer over gRPC.
const maxAnswer = 16 << 20

// serverOptions are the limits of connections and messages. A client may ask
// for a sign of life every 10 s; a dead peer is noticed after 80 s, and a
// connection without calls closed after 15 minutes.
func serverOptions(cfg Config) []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.ForceServerCodecV2(newCodec()),
		grpc.UnknownServiceHandler(noMethodHere), // in place of grpc's own, which no interceptor sees
		grpc.MaxRecvMsgSize(cfg.MaxBody),
		grpc.MaxSendMsgSize(maxAnswer),
		grpc.MaxConcurrentStreams(streamsPerConnection),
		grpc.MaxHeaderListSize(maxHeader),
		grpc.ConnectionTimeout(10 * time.Second),
		grpc.KeepaliveParams(keepalive.ServerParameters{
			MaxConnectionIdle: 15 * time.Minute, Time: time.Minute, Timeout: 20 * time.Second,
		}),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: 10 * time.Second, PermitWithoutStream: true}),
	}
}

func noMethodHere(_ any, stream grpc.ServerStream) error {
	method, _ := grpc.MethodFromServerStream(stream)
	return errNoMethod(method)
}

// maxHeader is the most bytes of all headers of one request.
const maxHeader = 64 << 10
