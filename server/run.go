// Package server answers the API over gRPC and REST. A call of either kind
// passes the same interceptors; REST reaches them on a connection inside the
// process.
package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/peer"

	"github.com/beltspan/beltspan/server/web"
)

// Run serves gRPC and REST on the two listeners, which it closes, until ctx
// ends or a listener fails. Then it refuses new calls, lets running ones end
// within cfg.DrainTimeout and cuts off the rest; it returns nil if there was
// no rest. No goroutine of it is left when it returns, except those of methods
// that pay no heed to their context.
func Run(ctx context.Context, cfg Config, grpcListener, httpListener net.Listener) error {
	return run(ctx, cfg, &Service{MaxResults: cfg.MaxResults}, grpcListener, httpListener)
}

func run(ctx context.Context, cfg Config, services api, grpcListener, httpListener net.Listener) error {
	// Serve closes them too; this is for the ways out before it.
	defer grpcListener.Close() //nolint:errcheck // closed twice
	defer httpListener.Close() //nolint:errcheck // closed twice
	if err := cfg.Validate(); err != nil {
		return err
	}
	log := cfg.logger()
	h, err := newHost(cfg, services, limits(cfg, requestLog(log))...)
	if err != nil {
		return err
	}
	defer h.Close() //nolint:errcheck // nothing is left to do about it
	handler, err := newHandler(cfg, h)
	if err != nil {
		return err
	}
	site := newHTTPServer(cfg, handler)

	// Each of the two ends when its server is stopped, at the latest by drain.
	failed := make(chan error, 2)
	go func() { failed <- h.grpc.Serve(grpcListener) }()
	go func() { failed <- site.Serve(httpListener) }()
	log.Info("serving", "grpc", grpcListener.Addr().String(), "http", httpListener.Addr().String())

	select {
	case <-ctx.Done():
		log.Info("draining", "timeout", cfg.DrainTimeout.String())
		err = nil
	case err = <-failed:
		err = fmt.Errorf("listener: %w", err)
	}
	return errors.Join(err, drain(cfg.DrainTimeout, h, site))
}

// newHandler answers REST and the pages.
func newHandler(cfg Config, conn grpc.ClientConnInterface) (http.Handler, error) {
	rest, err := newGateway(cfg, conn)
	if err != nil {
		return nil, err
	}
	pages, err := web.New(web.Site{Conn: conn, MaxBody: cfg.MaxBody, JSON: MarshalJSON, Log: cfg.logger()})
	if err != nil {
		return nil, err
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if web.Takes(r) {
			pages.ServeHTTP(w, r)
			return
		}
		rest.ServeHTTP(w, r)
	}), nil
}

// drain stops in the order that loses no call: say so to health checks, let
// REST end, which needs the gRPC server for its streams, then gRPC. REST may
// use half of the time before gRPC is told, too.
func drain(timeout time.Duration, h *host, web *http.Server) error {
	end, cancel := context.WithTimeout(context.Background(), timeout)
	defer cancel()
	h.health.Shutdown()

	half, cancelHalf := context.WithTimeout(end, timeout/2)
	defer cancelHalf()
	webErr := web.Shutdown(half)

	stopped := make(chan struct{})
	go func() { // ends when the last method returns, which Stop asks it to
		h.grpc.GracefulStop()
		close(stopped)
	}()
	if webErr != nil {
		webErr = web.Shutdown(end)
	}
	var grpcErr error
	select {
	case <-stopped:
	case <-end.Done():
		grpcErr = end.Err()
	}
	if webErr == nil && grpcErr == nil {
		return nil
	}
	h.grpc.Stop()
	return errors.Join(fmt.Errorf("calls still ran after %v and were cut off", timeout), web.Close())
}

// newHTTPServer guards connections against callers that stall: ReadTimeout is
// the limit of the header, too.
func newHTTPServer(cfg Config, handler http.Handler) *http.Server {
	const slack = 5 * time.Second
	return &http.Server{
		Handler:        handler,
		ReadTimeout:    cfg.RequestTimeout + slack,
		WriteTimeout:   2*cfg.RequestTimeout + slack,
		IdleTimeout:    2 * time.Minute,
		MaxHeaderBytes: maxHeader,
		ErrorLog:       slog.NewLogLogger(cfg.logger().Handler(), slog.LevelWarn),
		// The peer of every call that arrives on the connection.
		ConnContext: func(ctx context.Context, c net.Conn) context.Context {
			return peer.NewContext(ctx, &peer.Peer{Addr: writtenAddr{c.RemoteAddr(), c.RemoteAddr().String()}})
		},
	}
}

// writtenAddr is an address that is written out once for all its requests.
type writtenAddr struct {
	net.Addr
	text string
}

func (a writtenAddr) String() string { return a.text }
