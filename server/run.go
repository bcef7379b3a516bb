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
	"sync/atomic"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/peer"

	"github.com/beltspan/beltspan/server/web"
)

// Run serves gRPC, REST and what is for operators on the listeners of Listen,
// which it closes, until ctx ends or a listener fails. Then it refuses new calls, lets running ones end
// within cfg.DrainTimeout and cuts off the rest; it returns nil if there was
// no rest. No goroutine of it is left when it returns, except those of methods
// that pay no heed to their context.
func Run(ctx context.Context, cfg Config, l *Listeners) error {
	return run(ctx, cfg, &Service{MaxResults: cfg.MaxResults}, l)
}

func run(ctx context.Context, cfg Config, services api, l *Listeners) error {
	// Serve closes them too; this is for the ways out before it.
	defer l.Close() //nolint:errcheck // closed twice
	if err := cfg.Validate(); err != nil {
		return err
	}
	d, err := newDoors(cfg, services)
	if err != nil {
		return err
	}
	defer d.host.Close() //nolint:errcheck // nothing is left to do about it
	watching, stop := context.WithCancel(ctx)
	defer stop()
	go watch(watching, d.log, d.access.files)

	// Each of these ends when its server is stopped, at the latest by drain.
	failed := make(chan error, 3)
	go func() { failed <- d.host.grpc.Serve(guests{l.GRPC}) }()
	go func() { failed <- serveHTTP(d.web, l.HTTP) }()
	where := []any{"grpc", l.GRPC.Addr().String(), "http", l.HTTP.Addr().String()}
	if l.Admin != nil {
		go func() { failed <- serveHTTP(d.admin, l.Admin) }()
		defer d.admin.Close() //nolint:errcheck // nothing is left to do about it
		where = append(where, "admin", l.Admin.Addr().String())
	}
	cfg.logger().Info("serving", append(where, "tls", cfg.TLSCert != "", "client_certificates", cfg.ClientCA != "", "tokens", cfg.TokenFile != "")...)
	cfg.warn()

	select {
	case <-ctx.Done():
		cfg.logger().Info("draining", "timeout", cfg.DrainTimeout.String())
		err = nil
	case err = <-failed:
		err = fmt.Errorf("listener: %w", err)
	}
	return errors.Join(err, drain(cfg.DrainTimeout, d))
}

// warn says aloud what an operator may not have meant.
func (c Config) warn() {
	if !c.AllowRemote {
		return
	}
	if c.TLSCert == "" {
		c.logger().Warn("WITHOUT ENCRYPTION: other machines can connect, and whoever is between reads along, tokens too; give a certificate and a key")
	}
	if c.TokenFile == "" && c.ClientCA == "" {
		c.logger().Warn("OPEN TO ALL: every machine that can connect may call; give a token file or the authorities of client certificates")
	}
}

// doors are the servers of a process, all of which lead to one host.
type doors struct {
	access     *access
	log        *requestLogger
	host       *host
	web, admin *http.Server
	draining   atomic.Bool
}

func newDoors(cfg Config, services api) (*doors, error) {
	access, err := newAccess(cfg)
	if err != nil {
		return nil, err
	}
	desk := newDesk(cfg)
	log := &requestLogger{log: cfg.logger()}
	d := &doors{access: access, log: log}
	metricsPage := http.NotFoundHandler()
	if cfg.AdminAddr != "" {
		log.metrics = newMetrics(desk)
		metricsPage = log.metrics.handler()
	}
	options := []grpc.ServerOption{grpc.InTapHandle(access.tap(log, desk, &arrivals{time: wholeTime(cfg)}))}
	if access.certificates != nil {
		options = append(options, grpc.Creds(newTransport(access.certificates)))
	}
	desk.outbox = &outbox{cfg.StreamIdleTimeout}
	links := append([]link{letIn(log)}, limits(cfg, desk, log.link())...)
	if log.metrics != nil {
		links = append(links, log.metrics.link())
	}
	if d.host, err = newHost(cfg, services, options, links...); err != nil {
		return nil, err
	}
	gateway, err := newGateway(cfg, log, desk, d.host)
	if err != nil {
		return nil, errors.Join(err, d.host.Close())
	}
	ready := func() bool { return !d.draining.Load() }
	site, err := newSite(cfg, d.host, gateway)
	if err != nil {
		return nil, errors.Join(err, d.host.Close())
	}
	front, err := newFront(cfg, access, ready, gateway.refuse, site)
	if err != nil {
		return nil, errors.Join(err, d.host.Close())
	}
	d.web = newHTTPServer(cfg, access, front)
	d.admin = newHTTPServer(cfg, access, newAdmin(access, ready, gateway.refuse, metricsPage))
	return d, nil
}

// newSite serves the pages, and leaves all other requests to REST.
func newSite(cfg Config, conn grpc.ClientConnInterface, rest http.Handler) (http.Handler, error) {
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
func drain(timeout time.Duration, d *doors) error {
	end, cancel := context.WithTimeout(context.Background(), timeout)
	defer cancel()
	h, web := d.host, d.web
	d.draining.Store(true)
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

const slack = 5 * time.Second

// wholeTime is how long a call may take that is no stream, with its way in and
// its way out.
func wholeTime(cfg Config) time.Duration { return 2*cfg.RequestTimeout + slack }

// newHTTPServer guards connections against callers that stall.
func newHTTPServer(cfg Config, access *access, handler http.Handler) *http.Server {
	web := &http.Server{
		Handler:        handler,
		ReadTimeout:    cfg.RequestTimeout + slack,
		WriteTimeout:   wholeTime(cfg),
		IdleTimeout:    2 * time.Minute,
		MaxHeaderBytes: maxHeader,
		HTTP2:          &http.HTTP2Config{MaxConcurrentStreams: streamsPerConnection},
		ErrorLog:       slog.NewLogLogger(cfg.logger().Handler(), slog.LevelWarn),
		// The peer of every call that arrives on the connection.
		ConnContext: func(ctx context.Context, c net.Conn) context.Context {
			return peer.NewContext(ctx, &peer.Peer{Addr: writtenAddr{c.RemoteAddr(), c.RemoteAddr().String()}})
		},
	}
	if access.certificates != nil {
		web.TLSConfig = access.certificates.config("h2", "http/1.1")
	}
	return web
}

func serveHTTP(web *http.Server, listener net.Listener) error {
	if web.TLSConfig != nil {
		return web.ServeTLS(listener, "", "")
	}
	return web.Serve(listener)
}

// writtenAddr is an address that is written out once for all its requests.
type writtenAddr struct {
	net.Addr
	text string
}

func (a writtenAddr) String() string { return a.text }
