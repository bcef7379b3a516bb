package server

import (
	"context"
	"errors"
	"log/slog"
	"math/rand/v2"
	"runtime/debug"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/grpc-ecosystem/go-grpc-middleware/v2/interceptors/recovery"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
)

// link is one interceptor in its two forms.
type link struct {
	unary  grpc.UnaryServerInterceptor
	stream grpc.StreamServerInterceptor
}

// limits are the links that every call passes however it came. Recovery is the
// outermost; outer links, such as the request log, stand directly inside it.
func limits(cfg Config, outer ...link) []link {
	links := append([]link{recoverPanics(cfg.logger())}, outer...)
	return append(links, limitCalls(cfg.MaxInFlight), limitTime(cfg), hideBugs(cfg.logger()))
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

// limitCalls refuses calls beyond most at once.
func limitCalls(most int) link {
	var running atomic.Int64
	refusal := errTooManyCalls(most)
	return link{
		unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			if ofPlatform(info.FullMethod) {
				return handler(ctx, req)
			}
			defer running.Add(-1)
			if running.Add(1) > int64(most) {
				return nil, refusal
			}
			return handler(ctx, req)
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			if ofPlatform(info.FullMethod) {
				return handler(srv, stream)
			}
			defer running.Add(-1)
			if running.Add(1) > int64(most) {
				return refusal
			}
			return handler(srv, stream)
		},
	}
}

// requestLog writes one line a call. A call that fails tells its caller the
// line's id: in the header, or in the trailer of a stream.
func requestLog(log *slog.Logger) link {
	return link{
		unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			line := startLine(ctx, info.FullMethod, givenID(ctx))
			defer func() {
				if line.code != codes.OK {
					_ = grpc.SetHeader(ctx, line.header()) // fails only where a method sent its own
				}
				line.write(ctx, log)
			}()
			resp, err := handler(ctx, req)
			line.code = status.Code(err)
			return resp, err
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			line := startLine(stream.Context(), info.FullMethod, givenID(stream.Context()))
			defer func() {
				if line.code != codes.OK {
					stream.SetTrailer(line.header())
				}
				line.write(stream.Context(), log)
			}()
			err := handler(srv, stream)
			line.code = status.Code(err)
			return err
		},
	}
}

// logLine is the line of one request.
type logLine struct {
	method, peer, id string
	code             codes.Code
	start            time.Time
}

// requestIDKey is the metadata key and, in another letter case, the HTTP
// header of the id that joins a caller's log with ours.
const requestIDKey = "x-request-id"

// startLine begins with the code that a panic will leave.
func startLine(ctx context.Context, method, id string) logLine {
	line := logLine{method: method, id: requestID(id), code: codes.Internal, start: time.Now()}
	if from, ok := peer.FromContext(ctx); ok {
		line.peer = from.Addr.String()
	}
	return line
}

func givenID(ctx context.Context) string {
	if ids := metadata.ValueFromIncomingContext(ctx, requestIDKey); len(ids) > 0 {
		return ids[0]
	}
	return ""
}

func (l *logLine) header() metadata.MD {
	return metadata.Pairs(requestIDKey, l.id)
}

func (l *logLine) write(ctx context.Context, log *slog.Logger) {
	log.LogAttrs(ctx, logLevel(l.code), "request",
		slog.String("method", l.method), slog.String("code", l.code.String()),
		slog.Int64("duration_us", time.Since(l.start).Microseconds()),
		slog.String("peer", l.peer), slog.String("request_id", l.id))
}

func logLevel(code codes.Code) slog.Level {
	switch code {
	case codes.Internal, codes.Unknown, codes.DataLoss:
		return slog.LevelError
	case codes.DeadlineExceeded, codes.ResourceExhausted, codes.Unavailable:
		return slog.LevelWarn
	default:
		return slog.LevelInfo
	}
}

// requestID is the caller's id where it is short and plain, else a new one.
func requestID(given string) string {
	const most = 64
	plain := func(r rune) bool { return r > ' ' && r <= '~' }
	if given != "" && len(given) <= most && strings.IndexFunc(given, func(r rune) bool { return !plain(r) }) < 0 {
		return given
	}
	return strconv.FormatUint(rand.Uint64()|1<<63, 16)
}
