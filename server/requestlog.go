package server

import (
	"context"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"
)

// requestLogger writes one line a call and counts it.
type requestLogger struct {
	log     *slog.Logger
	metrics *metrics
}

// The metadata keys, and in another letter case the HTTP headers, that join a
// caller's log with ours.
const (
	requestIDKey   = "x-request-id"
	traceParentKey = "traceparent"
)

// link logs the calls of methods. A call that fails tells its caller the
// line's id: in the header, or in the trailer of a stream.
func (l *requestLogger) link() link {
	return link{
		unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			line := startLine(ctx, info.FullMethod, incomingKeys(ctx))
			defer func() {
				if line.code != codes.OK {
					_ = grpc.SetHeader(ctx, line.header()) // fails only where a method sent its own
				}
				l.write(ctx, &line)
			}()
			resp, err := handler(ctx, req)
			line.end(err)
			return resp, err
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			ctx := stream.Context()
			line := startLine(ctx, info.FullMethod, incomingKeys(ctx))
			if _, known := isUnary[line.method]; !known {
				line.method = quote(line.method)
			}
			defer func() {
				if line.code != codes.OK {
					stream.SetTrailer(line.header())
				}
				l.write(ctx, &line)
			}()
			err := handler(srv, stream)
			line.end(err)
			return err
		},
	}
}

// refused logs a gRPC call that reaches no method.
func (l *requestLogger) refused(ctx context.Context, method string, header metadata.MD, err error) {
	line := startLine(ctx, quote(method), func(key string) string { return first(header.Get(key)) })
	line.end(err)
	l.write(ctx, &line)
}

// refusedHTTP logs a request that reaches no method and returns its id.
func (l *requestLogger) refusedHTTP(r *http.Request, err error) (id string) {
	line := startLine(r.Context(), quote(r.Method+" "+r.URL.Path), r.Header.Get)
	line.end(err)
	l.write(r.Context(), &line)
	return line.id
}

// logLine is the line of one request.
type logLine struct {
	method, peer, id, trace string
	code                    codes.Code
	err                     error
	start                   time.Time
}

func (l *logLine) end(err error) { l.code, l.err = status.Code(err), err }

// startLine begins with the code that a panic will leave.
func startLine(ctx context.Context, method string, sent func(key string) string) logLine {
	line := logLine{
		method: method, id: requestID(sent(requestIDKey)), trace: traceID(sent(traceParentKey)),
		code: codes.Internal, start: time.Now(),
	}
	if from, ok := peer.FromContext(ctx); ok {
		line.peer = from.Addr.String()
	}
	return line
}

func incomingKeys(ctx context.Context) func(string) string {
	return func(key string) string { return first(metadata.ValueFromIncomingContext(ctx, key)) }
}

func first(values []string) string {
	if len(values) == 0 {
		return ""
	}
	return values[0]
}

func (l *logLine) header() metadata.MD {
	return metadata.Pairs(requestIDKey, l.id)
}

func (l *requestLogger) write(ctx context.Context, line *logLine) {
	l.metrics.ended(line.method, line.code, line.err, line.start)
	attrs := append(make([]slog.Attr, 0, 7),
		slog.String("method", line.method), slog.String("code", line.code.String()),
		slog.Int64("duration_us", time.Since(line.start).Microseconds()),
		slog.String("peer", line.peer), slog.String("request_id", line.id))
	if name := callerName(ctx); name != "" {
		attrs = append(attrs, slog.String("caller", name))
	}
	if line.trace != "" {
		attrs = append(attrs, slog.String("trace_id", line.trace))
	}
	l.log.LogAttrs(ctx, logLevel(line.code), "request", attrs...)
}

func logLevel(code codes.Code) slog.Level {
	switch code {
	case codes.Internal, codes.Unknown, codes.DataLoss:
		return slog.LevelError
	case codes.DeadlineExceeded, codes.ResourceExhausted, codes.Unavailable, codes.Unauthenticated, codes.PermissionDenied:
		return slog.LevelWarn
	default:
		return slog.LevelInfo
	}
}

// requestID is the caller's id where it is short and plain, else a new one.
func requestID(given string) string {
	const most = 64
	if plainWord(given, 1, most) {
		return given
	}
	return strconv.FormatUint(rand.Uint64()|1<<63, 16)
}

// traceParent is the header of W3C Trace Context: version, trace id, parent id,
// flags; later versions may add more.
var traceParent = regexp.MustCompile(`^([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-[0-9a-f]{2}(-.*)?$`)

// traceID takes the trace id out of such a header; empty for any other text.
func traceID(given string) string {
	const most = 512
	if given == "" || len(given) > most {
		return ""
	}
	part := traceParent.FindStringSubmatch(given)
	if part == nil || part[1] == "ff" || part[1] == "00" && part[4] != "" || strings.Trim(part[2], "0") == "" || strings.Trim(part[3], "0") == "" {
		return ""
	}
	return part[2]
}
