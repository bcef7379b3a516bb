package server

import (
	"context"
	"errors"
	"log/slog"
	"runtime/debug"
	"strings"

	"github.com/grpc-ecosystem/go-grpc-middleware/v2/interceptors/recovery"
	"google.golang.org/grpc"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
)

// link is one interceptor in its two forms, of which one may be nil.
type link struct {
	unary  grpc.UnaryServerInterceptor
	stream grpc.StreamServerInterceptor
}

// limits are the links that every call passes however it came. Recovery is the
// outermost of them; the request log, where there is one, stands directly
// inside it.
func limits(cfg Config, d *desk, log ...link) []link {
	links := append([]link{recoverPanics(cfg.logger())}, log...)
	return append(links, d.link(), limitTime(cfg), d.streamTurns(), hideBugs(cfg.logger()))
}

// ofPlatform tells the calls of grpc itself (health, reflection), which are
// not limited: a busy server is healthy, and a watch is idle for hours.
func ofPlatform(method string) bool {
	return strings.HasPrefix(method, "/grpc.")
}

func recoverPanics(log *slog.Logger) link {
	handle := recovery.WithRecoveryHandlerContext(func(ctx context.Context, p any) error {
		log.ErrorContext(ctx, "panic", "value", p, "stack", string(debug.Stack()))
		return errInternal()
	})
	return link{recovery.UnaryServerInterceptor(handle), recovery.StreamServerInterceptor(handle)}
}

// hideBugs answers INTERNAL where a method returned neither an answer nor a
// status, and logs what it did return.
func hideBugs(log *slog.Logger) link {
	clean := func(ctx context.Context, method string, err error) error {
		if _, ok := status.FromError(err); ok {
			return err
		}
		if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
			return fromContext(err)
		}
		log.ErrorContext(ctx, "error without a status", "method", method, "error", err)
		return errInternal()
	}
	return link{
		unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			resp, err := handler(ctx, req)
			if err != nil {
				return nil, clean(ctx, info.FullMethod, err)
			}
			if m, ok := resp.(proto.Message); !ok || !m.ProtoReflect().IsValid() {
				return nil, clean(ctx, info.FullMethod, errors.New("no answer"))
			}
			return resp, nil
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			if err := handler(srv, stream); err != nil {
				return clean(stream.Context(), info.FullMethod, err)
			}
			return nil
		},
	}
}
