package server

import (
	"context"
	"crypto/tls"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/peer"
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
			if err == nil {
				a.tokens.Store(&list)
			}
			return err
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
		name = by.tls.VerifiedChains[0][0].Subject.CommonName
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
// goroutine, so it must be quick. A call that is no stream has wholeTime for
// its request to arrive, and all else besides.
func (a *access) tap(log *requestLogger, wholeTime time.Duration) tap.ServerInHandle {
	return func(ctx context.Context, info *tap.Info) (context.Context, error) {
		ctx, inside := arrive(ctx, info.Header)
		if isUnary[info.FullMethodName] && !cheapMethods[info.FullMethodName] { // a timer costs a cheap call a twentieth
			timed, cancel := context.WithTimeout(ctx, wholeTime)
			_ = cancel // the transport ends ctx with the call
			ctx = timed
		}
		if inside || a.open() || strings.HasPrefix(info.FullMethodName, healthService) {
			return ctx, nil
		}
		name, err := a.admitGRPC(ctx, info.Header.Get("authorization"))
		if err != nil {
			log.refused(ctx, info.FullMethodName, info.Header, err)
			return ctx, err
		}
		return withCaller(ctx, name), nil
	}
}

// isUnary holds the methods of the API that are no streams.
var isUnary = func() map[string]bool {
	methods := map[string]bool{}
	for _, rt := range readRoutes() {
		methods[rt.fullMethod] = !rt.method.IsStreamingClient() && !rt.method.IsStreamingServer()
	}
	return methods
}()

// healthService begins the methods that anybody may call.
const healthService = "/grpc.health.v1.Health/"
