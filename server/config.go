package server

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/beltspan/beltspan/beltmath"
)

// Config holds what an operator may set. DefaultConfig gives safe values.
type Config struct {
	// GRPCAddr and HTTPAddr are the addresses, host and port, on which gRPC
	// and REST are served.
	GRPCAddr, HTTPAddr string
	// AdminAddr is where metrics and profiles are served; empty for nowhere.
	AdminAddr string
	// AllowRemote lets addresses be other than those of this machine's
	// loopback.
	AllowRemote bool
	// TLSCert and TLSKey name files, in PEM form, of the certificate that all
	// listeners show; empty for connections without TLS.
	TLSCert, TLSKey string
	// ClientCA names a file of the authorities whose certificates callers
	// must show; empty where they need none.
	ClientCA string
	// TokenFile names a file with one name:token a line, of which callers must
	// show a token; empty where they need none.
	TokenFile string
	// AllowOrigins are the web sites, such as https://example.org, whose
	// scripts may call REST from a browser.
	AllowOrigins []string
	// MaxBody is the most bytes of one request, 1024 to 1 GiB.
	MaxBody int
	// MaxInFlight is the most calls that run at once, 1 to 100000; streams
	// count from their first to their last message. Half of them may be dear:
	// searches, streams, and all that is not done in microseconds.
	MaxInFlight int
	// MaxResults is the most results one search may count, 1 to 100 000 000.
	MaxResults int
	// MaxRate is the most calls a second of one caller, 0 to 1 000 000, a dear
	// one counted as ten; twice as many may come at once. 0 is no limit.
	MaxRate float64
	// RequestTimeout ends a call that is no stream, 1 ms to 1 h.
	RequestTimeout time.Duration
	// StreamIdleTimeout ends a stream on which no message comes or goes, 1 ms
	// to 1 h.
	StreamIdleTimeout time.Duration
	// DrainTimeout is how long running calls may go on after the end was asked
	// for, 1 ms to 1 h.
	DrainTimeout time.Duration
	// Logger takes one line a request and what goes wrong; nil logs nothing.
	Logger *slog.Logger
}

// DefaultConfig returns the limits of a small server that only its own machine
// reaches.
func DefaultConfig() Config {
	return Config{
		GRPCAddr:          "127.0.0.1:9017",
		HTTPAddr:          "127.0.0.1:8017",
		MaxBody:           8 << 20,
		MaxInFlight:       64,
		MaxResults:        2_000_000,
		RequestTimeout:    10 * time.Second,
		StreamIdleTimeout: 30 * time.Second,
		DrainTimeout:      10 * time.Second,
	}
}

// Validate reports every value outside its range.
func (c Config) Validate() error {
	return errors.Join(
		checkAddr("--grpc-addr", c.GRPCAddr),
		checkAddr("--http-addr", c.HTTPAddr),
		c.checkAccess(),
		checkRange("--max-body", c.MaxBody, 1024, 1<<30),
		checkRange("--max-in-flight", c.MaxInFlight, 1, 100_000),
		checkRange("--max-rate", c.MaxRate, 0, 1_000_000),
		checkRange("--max-results", c.MaxResults, 1, 100_000_000),
		checkRange("--request-timeout", c.RequestTimeout, time.Millisecond, time.Hour),
		checkRange("--stream-idle-timeout", c.StreamIdleTimeout, time.Millisecond, time.Hour),
		checkRange("--drain-timeout", c.DrainTimeout, time.Millisecond, time.Hour),
	)
}

// checkAccess checks what newAccess and newFront take for granted.
func (c Config) checkAccess() error {
	var errs []error
	if c.AdminAddr != "" {
		errs = append(errs, checkAddr("--admin-addr", c.AdminAddr))
	}
	if (c.TLSCert == "") != (c.TLSKey == "") {
		errs = append(errs, errors.New("--tls-cert and --tls-key belong together: give both files or none"))
	}
	if c.ClientCA != "" && c.TLSCert == "" {
		errs = append(errs, errors.New("--client-ca needs TLS: give --tls-cert and --tls-key, too"))
	}
	for _, origin := range c.AllowOrigins {
		if http.NewCrossOriginProtection().AddTrustedOrigin(origin) != nil {
			errs = append(errs, fmt.Errorf("--allow-origin is %q: give scheme and host, such as https://example.org", origin))
		}
	}
	return errors.Join(errs...)
}

func checkAddr(name, addr string) error {
	if _, _, err := net.SplitHostPort(addr); err != nil {
		return fmt.Errorf("%s is %q: give host and port, such as 127.0.0.1:0", name, addr)
	}
	return nil
}

func checkRange[T int | float64 | time.Duration](name string, value, low, high T) error {
	if value < low || value > high || value != value { // the last is NaN
		return fmt.Errorf("%s is %s: give a value from %s to %s", name,
			beltmath.FormatValue(value), beltmath.FormatValue(low), beltmath.FormatValue(high))
	}
	return nil
}

// logger is the logger, or one that drops everything.
func (c Config) logger() *slog.Logger {
	if c.Logger == nil {
		return slog.New(slog.DiscardHandler)
	}
	return c.Logger
}

// Listeners are where a service listens. Admin is nil where there is none.
type Listeners struct{ GRPC, HTTP, Admin net.Listener }

// Listen opens the listeners of c; the caller closes them or hands them to Run,
// which does.
func Listen(c Config) (*Listeners, error) {
	l := &Listeners{}
	for _, one := range []struct {
		name, addr string
		to         *net.Listener
	}{{"gRPC", c.GRPCAddr, &l.GRPC}, {"HTTP", c.HTTPAddr, &l.HTTP}, {"admin", c.AdminAddr, &l.Admin}} {
		if one.addr == "" {
			continue
		}
		listener, err := c.listen(one.name, one.addr)
		if err != nil {
			return nil, errors.Join(err, l.Close())
		}
		*one.to = listener
	}
	return l, nil
}

// Close closes what is open.
func (l *Listeners) Close() error {
	var errs []error
	for _, listener := range []net.Listener{l.GRPC, l.HTTP, l.Admin} {
		if listener != nil {
			errs = append(errs, listener.Close())
		}
	}
	return errors.Join(errs...)
}

// ErrRemote is why Listen refuses an address that other machines can reach.
var ErrRemote = errors.New("other machines can reach this address, which was not allowed")

func (c Config) listen(name, addr string) (net.Listener, error) {
	tcp, err := net.ResolveTCPAddr("tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if !c.AllowRemote && !tcp.IP.IsLoopback() {
		return nil, fmt.Errorf("%s address %s: %w", name, addr, ErrRemote)
	}
	listener, err := net.ListenTCP("tcp", tcp)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return listener, nil
}
