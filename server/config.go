package server

import (
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"
)

// Config holds what an operator may set. DefaultConfig gives safe values.
type Config struct {
	// GRPCAddr and HTTPAddr are the addresses, host and port, on which gRPC
	// and REST are served.
	GRPCAddr, HTTPAddr string
	// MaxBody is the most bytes of one request, 1024 to 1 GiB.
	MaxBody int
	// MaxInFlight is the most calls that run at once, 1 to 100000; streams
	// count from their first to their last message.
	MaxInFlight int
	// MaxResults is the most results one search may count, 1 to 100 000 000.
	MaxResults int
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
		checkRange("--max-body", c.MaxBody, 1024, 1<<30),
		checkRange("--max-in-flight", c.MaxInFlight, 1, 100_000),
		checkRange("--max-results", c.MaxResults, 1, 100_000_000),
		checkRange("--request-timeout", c.RequestTimeout, time.Millisecond, time.Hour),
		checkRange("--stream-idle-timeout", c.StreamIdleTimeout, time.Millisecond, time.Hour),
		checkRange("--drain-timeout", c.DrainTimeout, time.Millisecond, time.Hour),
	)
}

func checkAddr(name, addr string) error {
	if _, _, err := net.SplitHostPort(addr); err != nil {
		return fmt.Errorf("%s is %q: give host and port, such as 127.0.0.1:0", name, addr)
	}
	return nil
}

func checkRange[T int | time.Duration](name string, value, low, high T) error {
	if value < low || value > high {
		return fmt.Errorf("%s is %v: give a value from %v to %v", name, value, low, high)
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

// Listen opens the two listeners of c; the caller closes them or hands them to
// Run, which does.
func Listen(c Config) (grpcListener, httpListener net.Listener, err error) {
	grpcListener, err = net.Listen("tcp", c.GRPCAddr)
	if err != nil {
		return nil, nil, fmt.Errorf("gRPC: %w", err)
	}
	httpListener, err = net.Listen("tcp", c.HTTPAddr)
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("HTTP: %w", err), grpcListener.Close())
	}
	return grpcListener, httpListener, nil
}
