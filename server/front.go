package server

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
)

// front stands before everything that HTTP serves: headers that make browsers
// careful, the origins of other sites, health, and access.
type front struct {
	next    http.Handler
	refuse  func(http.ResponseWriter, *http.Request, error)
	access  *access
	origins []string
	cross   *http.CrossOriginProtection
	ready   func() bool
}

// healthPath answers 200 while new requests are taken, to anybody.
const healthPath = "/healthz"

// apiPrefix begins the paths of REST; all others are pages and what belongs to
// them.
const apiPrefix = "/v1/"

func newFront(cfg Config, access *access, ready func() bool, refuse func(http.ResponseWriter, *http.Request, error), next http.Handler) (http.Handler, error) {
	f := &front{
		next: next, refuse: refuse, access: access, origins: cfg.AllowOrigins,
		cross: http.NewCrossOriginProtection(), ready: ready,
	}
	for _, origin := range cfg.AllowOrigins {
		if err := f.cross.AddTrustedOrigin(origin); err != nil {
			return nil, fmt.Errorf("allowed origin: %w", err)
		}
	}
	return f, nil
}

// ServeHTTP is http.Handler's.
func (f *front) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	header := w.Header()
	header["X-Content-Type-Options"] = noSniff
	isAPI := strings.HasPrefix(r.URL.Path, apiPrefix)
	if !isAPI {
		setPageHeaders(header)
	}
	if r.URL.Path == healthPath {
		serveHealth(w, f.ready())
		return
	}
	if len(f.origins) > 0 && f.share(w, r) {
		return
	}
	if err := f.cross.Check(r); err != nil {
		f.refuse(w, r, errStrangeOrigin(r.Header.Get("Origin")))
		return
	}
	if !f.access.open() {
		name, err := f.access.admitHTTP(r)
		if err != nil {
			header.Set("WWW-Authenticate", challenge(isAPI))
			f.refuse(w, r, err)
			return
		}
		r = r.WithContext(withCaller(r.Context(), name))
	}
	f.next.ServeHTTP(w, r)
}

// noSniff is shared by all answers; nobody may change it.
var noSniff = []string{"nosniff"}

// setPageHeaders allows a page its own style sheet and pictures, no script, and
// nothing from elsewhere; no other site may frame it.
func setPageHeaders(header http.Header) {
	header.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; img-src 'self' data:; "+
		"form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	header.Set("Referrer-Policy", "no-referrer")
	header.Set("X-Frame-Options", "DENY")
	header.Set("Cross-Origin-Opener-Policy", "same-origin")
	header.Set("Cross-Origin-Resource-Policy", "same-origin")
}

// challenge tells how to show a token; a browser asks its user for Basic's.
func challenge(isAPI bool) string {
	if isAPI {
		return `Bearer realm="beltspan"`
	}
	return `Basic realm="beltspan", charset="UTF-8"`
}

// share lets the allowed sites read answers. It has answered where it returns
// true: that was a browser asking beforehand, which shows no token.
func (f *front) share(w http.ResponseWriter, r *http.Request) bool {
	header := w.Header()
	header.Add("Vary", "Origin")
	origin := r.Header.Get("Origin")
	if !slices.Contains(f.origins, origin) {
		return false
	}
	header.Set("Access-Control-Allow-Origin", origin)
	header.Set("Access-Control-Expose-Headers", "Retry-After, X-Request-Id")
	if r.Method != http.MethodOptions || r.Header.Get("Access-Control-Request-Method") == "" {
		return false
	}
	header.Set("Access-Control-Allow-Methods", "GET, POST")
	header.Set("Access-Control-Allow-Headers", "Authorization, Content-Type, Traceparent, X-Request-Id")
	header.Set("Access-Control-Max-Age", "600")
	w.WriteHeader(http.StatusNoContent)
	return true
}

func serveHealth(w http.ResponseWriter, ready bool) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	if !ready {
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = fmt.Fprintln(w, "draining")
		return
	}
	_, _ = fmt.Fprintln(w, "ok")
}
