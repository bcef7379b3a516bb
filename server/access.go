package server

import (
	"context"
	"crypto/tls"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	reflectionpb "google.golang.org/grpc/reflection/grpc_reflection_v1"
	reflectionpb1 "google.golang.org/grpc/reflection/grpc_reflection_v1alpha"
	"google.golang.org/grpc/tap"
)

// access decides who may call. Its zero value lets everybody in.
type access struct {
	tokens       atomic.Pointer[tokens] // nil: none is asked for
	certificates *certificates          // nil: no TLS
	files        []*watchedFiles        // to look at while it is in use
}

// newAccess reads the files that cfg names.
func newAccess(cfg Config) (*access, error) {
	a := &access{}
	if cfg.TLSCert != "" {
		a.certificates = &certificates{}
		a.files = append(a.files, &watchedFiles{
			what: "certificate", paths: []string{cfg.TLSCert, cfg.TLSKey}, load: a.certificates.loadOwn,
		})
	}
	if cfg.ClientCA != "" {
		a.files = append(a.files, &watchedFiles{
			what: "authorities of clients", paths: []string{cfg.ClientCA}, load: a.certificates.loadAuthorities,
		})
	}
	if cfg.TokenFile != "" {
		a.files = append(a.files, &watchedFiles{what: "tokens", paths: []string{cfg.TokenFile}, load: func(contents [][]byte) error {
			list, err := readTokens(contents)
			if err != nil {
				return err
			}
			a.tokens.Store(&list)
			if len(list) == 0 {
				cfg.logger().Warn("NO TOKEN IN THE FILE: nobody is let in", "file", cfg.TokenFile)
			}
			return nil
		}})
	}
	for _, w := range a.files {
		if err := w.start(); err != nil {
			return nil, err
		}
	}
	return a, nil
}

// open tells that nobody needs credentials.
func (a *access) open() bool {
	return a.tokens.Load() == nil && !a.asksCertificate()
}

func (a *access) asksCertificate() bool {
	return a.certificates != nil && a.certificates.authorities.Load() != nil
}

// shown is what a caller shows: the value of the Authorization header, and the
// state of a TLS connection, nil without.
type shown struct {
	authorization string
	tls           *tls.ConnectionState
}

// admit returns the name of a caller who shows what is asked for: that of the
// token, else the common name of the certificate, or none.
func (a *access) admit(by shown, allowed func(scheme string) bool) (name string, err error) {
	if a.asksCertificate() {
		if by.tls == nil || len(by.tls.VerifiedChains) == 0 {
			return "", errNoCertificate()
		}
		shown := by.tls.VerifiedChains[0][0]
		if time.Now().After(shown.NotAfter) { // since the connection was made
			return "", errCertificateExpired(shown.NotAfter)
		}
		name = shown.Subject.CommonName
	}
	list := a.tokens.Load()
	if list == nil {
		return name, nil
	}
	scheme, value, _ := strings.Cut(by.authorization, " ")
	scheme, value = strings.ToLower(scheme), strings.TrimSpace(value)
	if by.authorization == "" || !allowed(scheme) {
		return "", errNoToken()
	}
	user := ""
	if scheme == schemeBasic {
		var ok bool
		if user, value, ok = basicAuth(by.authorization); !ok {
			return "", errWrongToken()
		}
	}
	owner, found := list.find(value)
	if !found || scheme == schemeBasic && user != owner {
		return "", errWrongToken()
	}
	return owner, nil
}

const (
	schemeBearer = "bearer"
	schemeBasic  = "basic"
)

func bearerOnly(scheme string) bool    { return scheme == schemeBearer }
func bearerOrBasic(scheme string) bool { return scheme == schemeBearer || scheme == schemeBasic }

// basicAuth reads the header of HTTP Basic with net/http, which keeps its
// reader to itself.
func basicAuth(authorization string) (user, secret string, ok bool) {
	r := http.Request{Header: http.Header{"Authorization": {authorization}}}
	return r.BasicAuth()
}

// admitHTTP is admit for a request of HTTP, which may also use Basic: that is
// how browsers ask their user.
func (a *access) admitHTTP(r *http.Request) (string, error) {
	return a.admit(shown{r.Header.Get("Authorization"), r.TLS}, bearerOrBasic)
}

// admitGRPC is admit for a call over the network.
func (a *access) admitGRPC(ctx context.Context, authorization []string) (string, error) {
	by := shown{}
	if len(authorization) == 1 {
		by.authorization = authorization[0]
	}
	if from, ok := peer.FromContext(ctx); ok {
		if info, ok := from.AuthInfo.(credentials.TLSInfo); ok {
			by.tls = &info.State
		}
	}
	return a.admit(by, bearerOnly)
}

// tap is where gRPC asks before it reads a call. It runs in the connection's
// goroutine, so it must be quick. Who is not let in is refused by letIn: of a
// call that is refused here, grpc would keep the timer of its deadline.
func (a *access) tap(log *requestLogger, d *desk, times *arrivals) tap.ServerInHandle {
	return func(ctx context.Context, info *tap.Info) (context.Context, error) {
		method := info.FullMethodName
		ctx, inside := arrive(ctx, info.Header)
		ctx = times.begin(ctx, method)
		if inside {
			return ctx, nil
		}
		if !a.open() {
			if strings.HasPrefix(method, healthService) {
				return ctx, nil
			}
			name, err := a.admitGRPC(ctx, info.Header.Get("authorization"))
			if err != nil {
				return context.WithValue(ctx, refusalKey{}, err), nil
			}
			ctx = withCaller(ctx, name)
		}
		if g := guestOf(ctx); g != nil {
			g.known.Store(true)
		}
		if isUnary[method] && !cheapMethods[method] && !ofPlatform(method) && !d.expect(ctx) {
			log.refused(ctx, method, info.Header, d.full)
			return ctx, d.full
		}
		return ctx, nil
	}
}

type refusalKey struct{}

// letIn refuses the calls to which tap has said so.
func letIn(log *requestLogger) link {
	refuse := func(ctx context.Context, method string) error {
		err, _ := ctx.Value(refusalKey{}).(error)
		if err != nil {
			header, _ := metadata.FromIncomingContext(ctx)
			log.refused(ctx, method, header, err)
		}
		return err
	}
	return link{
		unary: func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
			if err := refuse(ctx, info.FullMethod); err != nil {
				return nil, err
			}
			return handler(ctx, req)
		},
		stream: func(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
			if err := refuse(stream.Context(), info.FullMethod); err != nil {
				return err
			}
			return handler(srv, stream)
		},
	}
}

// isUnary holds all methods, those of grpc itself too, and tells which are no
// streams.
var isUnary = func() map[string]bool {
	methods := map[string]bool{
		healthpb.Health_Check_FullMethodName: true, healthpb.Health_List_FullMethodName: true, healthpb.Health_Watch_FullMethodName: false,
		reflectionpb.ServerReflection_ServerReflectionInfo_FullMethodName:  false,
		reflectionpb1.ServerReflection_ServerReflectionInfo_FullMethodName: false,
	}
	for _, rt := range readRoutes() {
		methods[rt.fullMethod] = !rt.method.IsStreamingClient() && !rt.method.IsStreamingServer()
	}
	return methods
}()

// healthService begins the methods that anybody may call.
const healthService = "/grpc.health.v1.Health/"
