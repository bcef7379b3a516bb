package server

import (
	"context"
	"net"

	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
)

type callerKey struct{}

// withCaller marks the calls of a caller who was let in by name.
func withCaller(ctx context.Context, name string) context.Context {
	if name == "" {
		return ctx
	}
	return context.WithValue(ctx, callerKey{}, name)
}

// callerName is the name of the caller, empty where nobody asked for it.
func callerName(ctx context.Context) string {
	name, _ := ctx.Value(callerKey{}).(string)
	return name
}

// callerID tells callers apart: by name, else by the address of their machine.
func callerID(ctx context.Context) string {
	if name := callerName(ctx); name != "" {
		return name
	}
	from, ok := peer.FromContext(ctx)
	if !ok {
		return ""
	}
	host, _, err := net.SplitHostPort(from.Addr.String())
	if err != nil {
		return from.Addr.String()
	}
	return host
}

// A stream of REST reaches the methods through memory, which only this process
// can do. Who calls, from where, goes along as metadata with these keys.
const (
	forwardedCallerKey = "beltspan-caller"
	forwardedPeerKey   = "beltspan-peer"
	memoryNetwork      = "bufconn"
)

// forward adds to a call through memory who calls.
func forward(ctx context.Context) context.Context {
	pairs := []string{forwardedCallerKey, callerName(ctx)}
	if from, ok := peer.FromContext(ctx); ok {
		pairs = append(pairs, forwardedPeerKey, from.Addr.String())
	}
	return metadata.AppendToOutgoingContext(ctx, pairs...)
}

// arrive is the other end of forward. ok tells that the call came through
// memory, where it was let in already.
func arrive(ctx context.Context, header metadata.MD) (_ context.Context, ok bool) {
	from, found := peer.FromContext(ctx)
	if !found || from.Addr.Network() != memoryNetwork {
		return ctx, false
	}
	if names := header.Get(forwardedCallerKey); len(names) == 1 {
		ctx = withCaller(ctx, names[0])
	}
	if addrs := header.Get(forwardedPeerKey); len(addrs) == 1 {
		ctx = peer.NewContext(ctx, &peer.Peer{Addr: writtenAddr{from.Addr, addrs[0]}})
	}
	return ctx, true
}
