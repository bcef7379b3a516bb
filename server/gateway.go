package server

import (
	"context"
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
	log     *requestLogger
	desk    *desk
	mux     *runtime.ServeMux
	maxBody int
	idle    time.Duration // of a stream
	routes  []route
}

func newGateway(cfg Config, log *requestLogger, desk *desk, conn grpc.ClientConnInterface) (*gateway, error) {
	g := &gateway{log: log, desk: desk, maxBody: cfg.MaxBody, idle: cfg.StreamIdleTimeout, routes: readRoutes()}
	g.mux = runtime.NewServeMux(append(muxOptions(),
		runtime.WithMiddlewares(g.check),
		runtime.WithErrorHandler(g.fail),
		runtime.WithStreamErrorHandler(streamFailed),
		runtime.WithRoutingErrorHandler(g.failRouting))...)
	ctx := context.Background() // the generated code does not use it
	if err := pb.RegisterBaseServiceHandlerClient(ctx, g.mux, pb.NewBaseServiceClient(conn)); err != nil {
		return nil, err
	}
	if err := pb.RegisterDriveServiceHandlerClient(ctx, g.mux, pb.NewDriveServiceClient(conn)); err != nil {
		return nil, err
	}
	if err := pb.RegisterPathServiceHandlerClient(ctx, g.mux, pb.NewPathServiceClient(conn)); err != nil {
		return nil, err
	}
	if err := pb.RegisterSectionServiceHandlerClient(ctx, g.mux, pb.NewSectionServiceClient(conn)); err != nil {
		return nil, err
	}
	return g, nil
}

// ServeHTTP is http.Handler's.
func (g *gateway) ServeHTTP(w http.ResponseWriter, r *http.Request) { g.mux.ServeHTTP(w, r) }

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
	for _, key := range []string{requestIDKey, traceParentKey} {
		if strings.EqualFold(name, key) {
			return key, true
		}
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
			if r.ContentLength < 0 || r.ContentLength > largeBody {
				if err := g.desk.wait(r.Context(), g.desk.bodies); err != nil {
					g.refuse(w, r, err)
					return
				}
				defer func() { <-g.desk.bodies }()
			}
		}
		// The gateway would send both on as metadata. Nobody reads that: the
		// peer is in the context.
		r.Host, r.RemoteAddr = "", ""
		if rt.method.IsStreamingServer() {
			g.serveStream(w, r, rt, func(w http.ResponseWriter, r *http.Request) { next(w, r, params) })
			return
		}
		if !cheapMethods[rt.fullMethod] {
			ctx, lease := withLease(r.Context())
			defer lease.end()
			r = r.WithContext(ctx)
		}
		next(w, r, params)
	}
}

// largeBody is how many bytes of a request are worth a place of their own,
// because they take memory and time before the method is reached.
const largeBody = 64 << 10

// checkHead checks what can be checked before the body is read.
func (g *gateway) checkHead(rt *route, r *http.Request) error {
	if r.ContentLength > int64(g.maxBody) && !rt.method.IsStreamingClient() {
		return errBodyTooLarge(int64(g.maxBody))
	}
	if encoding := r.Header.Get("Content-Encoding"); encoding != "" && !strings.EqualFold(encoding, "identity") {
		return errEncoding(encoding)
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
