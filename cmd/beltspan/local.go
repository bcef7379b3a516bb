package main

import (
	"context"
	"net"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"github.com/beltspan/beltspan/server"
)

// TEMPORARY until package server offers both.
func inProcess() (grpc.ClientConnInterface, func(), error) {
	l := bufconn.Listen(1 << 20)
	s := grpc.NewServer()
	(&server.Service{}).Register(s)
	go func() { _ = s.Serve(l) }()
	c, err := grpc.NewClient("passthrough:///x", grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return l.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	return c, s.Stop, err
}

func marshalJSON(m proto.Message) ([]byte, error) {
	return protojson.MarshalOptions{EmitDefaultValues: true}.Marshal(m)
}
