package server

import (
	"context"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// gateway answers REST by calling the methods on a connection.
type gateway struct {
	log     *slog.Logger
	maxBody int
	idle    time.Duration // of a stream
	routes  []route
}

func newGateway(cfg Config, conn grpc.ClientConnInterface) (http.Handler, error) {
	g := &gateway{log: cfg.logger(), maxBody: cfg.MaxBody, idle: cfg.StreamIdleTimeout, routes: readRoutes()}
	mux := runtime.NewServeMux(append(muxOptions(),
		runtime.WithMiddlewares(g.check),
		runtime.WithErrorHandler(g.fail),
		runtime.WithStreamErrorHandler(streamFailed),
		runtime.WithRoutingErrorHandler(g.failRouting))...)
	ctx := context.Background() // the generated code does not use it
	if err := pb.RegisterBaseServiceHandlerClient(ctx, mux, pb.NewBaseServiceClient(conn)); err != nil {
		return nil, err
	}
	if err := pb.RegisterDriveServiceHandlerClient(ctx, mux, pb.NewDriveServiceClient(conn)); err != nil {
		return nil, err
	}
	if err := pb.RegisterPathServiceHandlerClient(ctx, mux, pb.NewPathServiceClient(conn)); err != nil {
		return nil, err
	}
	if err := pb.RegisterSectionServiceHandlerClient(ctx, mux, pb.NewSectionServiceClient(conn)); err != nil {
		return nil, err
	}
	return mux, nil
}

// muxOptions is how the gateway translates between HTTP and gRPC.
func muxOptions() []runtime.ServeMuxOption {
	return []runtime.ServeMuxOption{
		runtime.WithMarshalerOption(runtime.MIMEWildcard, newMarshaler()),
		runtime.WithDisableHTTPMethodOverride(),
		runtime.WithUnescapingMode(runtime.UnescapingModeAllCharacters),
		runtime.WithDisablePathLengthFallback(),
		runtime.WithWriteContentLength(),
		runtime.WithIncomingHeaderMatcher(matchHeader),
		runtime.WithOutgoingHeaderMatcher(matchHeader),
	}
}

// matchHeader passes on the headers that the methods read or set.
func matchHeader(name string) (string, bool) {
	if strings.EqualFold(name, requestIDKey) {
		return requestIDKey, true
	}
	return "", false
}

// check stands before every route. The gateway calls it once a route.
func (g *gateway) check(next runtime.HandlerFunc) runtime.HandlerFunc {
	var known atomic.Pointer[route]
	return func(w http.ResponseWriter, r *http.Request, params map[string]string) {
		rt := known.Load()
		if rt == nil {
			rt = g.find(r)
			known.Store(rt)
		}
		if err := g.checkHead(rt, r); err != nil {
			g.refuse(w, r, err)
			return
		}
		if r.Body != http.NoBody && !rt.method.IsStreamingClient() {
			r.Body = limitBody(w, r, g.maxBody)
		}
		// The gateway would send both on as metadata. Nobody reads that: the
		// peer is in the context.
		r.Host, r.RemoteAddr = "", ""
		if rt.method.IsStreamingServer() {
			g.serveStream(w, r, rt, func(w http.ResponseWriter, r *http.Request) { next(w, r, params) })
			return
		}
		next(w, r, params)
	}
}

// checkHead checks what can be checked before the body is read.
func (g *gateway) checkHead(rt *route, r *http.Request) error {
	if r.ContentLength > int64(g.maxBody) && !rt.method.IsStreamingClient() {
		return errBodyTooLarge(int64(g.maxBody))
	}
	if !utf8.ValidString(r.URL.Path) {
		return errMalformed(reasonMalformedRequest, "the path is not UTF-8")
	}
	if r.URL.RawQuery == "" {
		return nil
	}
	values, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return errMalformed(reasonMalformedRequest,
			"the query cannot be read: write name=value&name=value, other characters as % and two hex digits")
	}
	if r.Method == http.MethodGet {
		r.Form = values // spares ParseForm the work
	}
	return rt.checkQuery(values)
}

// find finds the route of a request that the mux has matched.
func (g *gateway) find(r *http.Request) *route {
	pattern, _ := runtime.HTTPPattern(r.Context())
	for i := range g.routes {
		if g.routes[i].verb == r.Method && g.routes[i].pattern() == pattern.String() {
			return &g.routes[i]
		}
	}
	panic("no route " + pattern.String()) // the mux and the routes come from the same proto
}
