package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"github.com/beltspan/beltspan/server"
)

const envPrefix = "BELTSPAN_"

func (a *app) serveCommand() *cobra.Command {
	cfg := server.DefaultConfig()
	level := levelFlag{slog.LevelInfo}
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Answer gRPC and REST until stopped",
		Long: `Answer gRPC and REST until stopped. SIGTERM and SIGINT let running calls end;
what still runs after --drain-timeout is cut off, and the exit state is 1 then.

Each flag can stand in the environment too: --grpc-addr as ` + envPrefix + `GRPC_ADDR and
so on; a flag wins. Port 0 takes a free port; where it listens is printed. The
log goes to stderr. By default only this machine can reach it, without
encryption or a password; for others give --allow-remote, and with it a
certificate and a file of tokens.

A token file has one name:token a line. Callers send Authorization: Bearer
TOKEN; a browser asks for name and token. Token, certificate and authority files
are read anew when they change; what is open stays open. GET /healthz on the
REST and admin addresses and gRPC health need no token.`,
		Example: `  beltspan serve
  beltspan serve --grpc-addr 127.0.0.1:0 --http-addr 127.0.0.1:0
  ` + envPrefix + `LOG_LEVEL=warn beltspan serve --request-timeout 5s
  beltspan serve --allow-remote --grpc-addr :9017 --http-addr :8017 \
      --tls-cert cert.pem --tls-key key.pem --token-file tokens`,
		Args:              noArguments,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: a.begin(func(cmd *cobra.Command, _ []string) error {
			if err := a.readEnvironment(cmd.Flags()); err != nil {
				return err
			}
			if err := cfg.Validate(); err != nil {
				return &usageError{msg: err.Error()}
			}
			cfg.Logger = slog.New(slog.NewTextHandler(a.stderr, &slog.HandlerOptions{Level: level.level}))
			return a.serve(cmd.Context(), cfg)
		}),
	}
	addServeFlags(cmd.Flags(), &cfg, &level)
	completeWords(cmd, "log-level", "debug", "info", "warn", "error")
	return cmd
}

func addServeFlags(f *pflag.FlagSet, cfg *server.Config, level pflag.Value) {
	f.SortFlags = false
	f.StringVar(&cfg.GRPCAddr, "grpc-addr", cfg.GRPCAddr, "`HOST:PORT` of gRPC")
	f.StringVar(&cfg.HTTPAddr, "http-addr", cfg.HTTPAddr, "`HOST:PORT` of REST")
	f.StringVar(&cfg.AdminAddr, "admin-addr", cfg.AdminAddr, "`HOST:PORT` of metrics and profiles (default: none)")
	f.BoolVar(&cfg.AllowRemote, "allow-remote", cfg.AllowRemote, "let other machines connect, where the addresses do")
	f.StringVar(&cfg.TLSCert, "tls-cert", cfg.TLSCert, "certificate `FILE` (PEM) of all addresses")
	f.StringVar(&cfg.TLSKey, "tls-key", cfg.TLSKey, "`FILE` (PEM) of its private key")
	f.StringVar(&cfg.ClientCA, "client-ca", cfg.ClientCA, "`FILE` (PEM) of authorities: callers must show a certificate of theirs")
	f.StringVar(&cfg.TokenFile, "token-file", cfg.TokenFile, "`FILE` of tokens: callers must show one")
	f.StringSliceVar(&cfg.AllowOrigins, "allow-origin", cfg.AllowOrigins, "`SITE` whose scripts may call REST, such as https://example.org; may be repeated")
	f.IntVar(&cfg.MaxBody, "max-body", cfg.MaxBody, "most `BYTES` of a request")
	f.IntVar(&cfg.MaxResults, "max-results", cfg.MaxResults, "most `RESULTS` that one search may have")
	f.IntVar(&cfg.MaxInFlight, "max-in-flight", cfg.MaxInFlight, "most `CALLS` that run at once, half of them searches, batches and streams")
	f.Float64Var(&cfg.MaxRate, "max-rate", cfg.MaxRate, "most `CALLS` a second of one caller, a search counts as ten; 0 for no limit")
	f.DurationVar(&cfg.StreamIdleTimeout, "stream-idle-timeout", cfg.StreamIdleTimeout, "longest `TIME` without a message on a stream")
	f.DurationVar(&cfg.RequestTimeout, "request-timeout", cfg.RequestTimeout, "longest `TIME` of a call")
	f.DurationVar(&cfg.DrainTimeout, "drain-timeout", cfg.DrainTimeout, "longest `TIME` for running calls to end when stopped")
	f.Var(level, "log-level", "least `LEVEL` that is logged: debug, info, warn or error")
}

// serve listens, says where, and runs until a signal or the end of ctx.
func (a *app) serve(ctx context.Context, cfg server.Config) error {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	listeners, err := server.Listen(cfg)
	if err != nil {
		return listenError(err)
	}
	if err := a.print(greeting(cfg, listeners)); err != nil {
		return errors.Join(err, listeners.Close())
	}
	return server.Run(ctx, cfg, listeners)
}

// listenError says what to do about an address.
func listenError(err error) error {
	if errors.Is(err, server.ErrRemote) {
		return &usageError{msg: err.Error(), hint: "--allow-remote allows it; then give --tls-cert, --tls-key and --token-file, too"}
	}
	if errors.Is(err, syscall.EADDRINUSE) {
		return &failure{err, "another program, perhaps another `beltspan serve`, has this port; " +
			"choose one with --grpc-addr, --http-addr or --admin-addr, port 0 for any free one"}
	}
	return err
}

// greeting tells where the service listens, with a request of each kind to
// paste. Where it takes credentials, they have to be added.
func greeting(cfg server.Config, l *server.Listeners) string {
	scheme, curl, remote, admin := "http://", "", " --server "+callable(l.GRPC.Addr()), ""
	if cfg.TLSCert != "" {
		scheme, curl, remote = "https://", "--cacert CA.pem ", remote+" --ca-file CA.pem"
	}
	if cfg.ClientCA != "" {
		curl, remote = curl+"--cert ME.pem --key ME.key ", remote+" --client-cert ME.pem --client-key ME.key"
	}
	if cfg.TokenFile != "" {
		curl, remote = curl+"-H 'Authorization: Bearer TOKEN' ", remote+" --token-file MY-TOKEN"
	}
	if l.Admin != nil {
		admin = "admin " + scheme + callable(l.Admin.Addr()) + "/metrics\n"
	}
	return fmt.Sprintf(`gRPC  %[1]s
REST  %[2]s
%[6]s
Five requests to try, the last two with the demo base:
  curl %[3]s'%[2]s/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.tooth_count=36&drive.driven.tooth_count=36&drive.belt_tooth_count=174'
  curl %[3]s-d '{"drive": {"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "beltToothCount": 174}}' %[2]s/v1/drives:solveCenterDistance
  %[4]s center H5M 36 36 174%[5]s
  %[4]s base search --demo%[5]s
  %[4]s base layout --demo --request | curl %[3]s-s -d @- %[2]s/v1/bases:layOut

Safety: what turns draws in fingers, hair and clothing; guard it, and cut the
power before reaching in. Local rules and licensed practice come first.
`, callable(l.GRPC.Addr()), scheme+callable(l.HTTP.Addr()), curl, self(), remote, admin)
}

// callable is an address as a client on this machine writes it.
func callable(addr net.Addr) string {
	host, port, err := net.SplitHostPort(addr.String())
	if err != nil {
		return addr.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return net.JoinHostPort(host, port)
}

// self is how a shell starts this program: by name where it is installed, else
// from its repository.
func self() string {
	if _, err := exec.LookPath("beltspan"); err == nil {
		return "beltspan"
	}
	return "go run ./cmd/beltspan"
}

// readEnvironment sets the flags that were not given from the environment.
func (a *app) readEnvironment(flags *pflag.FlagSet) error {
	var first error
	flags.VisitAll(func(f *pflag.Flag) {
		name := envPrefix + strings.ToUpper(strings.ReplaceAll(f.Name, "-", "_"))
		value := a.getenv(name)
		if first != nil || f.Changed || value == "" || f.Name == "help" {
			return
		}
		if err := flags.Set(f.Name, value); err != nil {
			var invalid *pflag.InvalidValueError
			if errors.As(err, &invalid) {
				err = invalid.Unwrap()
			}
			first = &usageError{msg: name + " is " + quoted(value) + ": " + why(err)}
		}
	})
	return first
}

// levelFlag is a flag that takes the least level of the log.
type levelFlag struct{ level slog.Level }

func (l *levelFlag) Type() string   { return "LEVEL" }
func (l *levelFlag) String() string { return strings.ToLower(l.level.String()) }

func (l *levelFlag) Set(text string) error {
	for _, level := range []slog.Level{slog.LevelDebug, slog.LevelInfo, slog.LevelWarn, slog.LevelError} {
		if strings.EqualFold(text, level.String()) {
			l.level = level
			return nil
		}
	}
	return errors.New("give debug, info, warn or error")
}
