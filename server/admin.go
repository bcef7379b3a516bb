package server

import (
	"net/http"
	"net/http/pprof"
)

// newAdmin serves what is for operators only: metrics and profiles. Health is
// for anybody.
func newAdmin(access *access, ready func() bool, refuse func(http.ResponseWriter, *http.Request, error), metrics http.Handler) http.Handler {
	guarded := http.NewServeMux()
	guarded.Handle("GET /metrics", metrics)
	guarded.HandleFunc("GET /debug/pprof/", pprof.Index)
	guarded.HandleFunc("GET /debug/pprof/cmdline", pprof.Cmdline)
	guarded.HandleFunc("GET /debug/pprof/profile", pprof.Profile)
	guarded.HandleFunc("GET /debug/pprof/symbol", pprof.Symbol)
	guarded.HandleFunc("GET /debug/pprof/trace", pprof.Trace)
	f := &front{next: guarded, refuse: refuse, access: access, cross: http.NewCrossOriginProtection(), ready: ready}
	return f
}
