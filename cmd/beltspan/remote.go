package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"net"
	"os"
	"strings"

	"github.com/spf13/pflag"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	_ "google.golang.org/grpc/health" // clients watch it, to leave out replicas that drain
	"google.golang.org/grpc/resolver"
	"google.golang.org/grpc/resolver/manual"
)

// remoteFlags say which service answers in place of this program, and how to
// be let in.
type remoteFlags struct {
	server              string
	tls                 bool
	caFile, serverName  string
	clientCert, certKey string
	tokenFile           string
	colon               bool // in the token: it may be a line of a server's file
}

func (r *remoteFlags) add(f *pflag.FlagSet) {
	f.StringVar(&r.server, "server", "", "ask the service at `HOST:PORT` (gRPC) in place of this program; several, with commas between, or dns:///NAME:PORT share the calls")
	f.BoolVar(&r.tls, "tls", false, "--server speaks TLS, with a certificate that this machine trusts")
	f.StringVar(&r.caFile, "ca-file", "", "--server speaks TLS, with a certificate of the authorities in `FILE` (PEM)")
	f.StringVar(&r.serverName, "server-name", "", "`NAME` in the certificate of --server, where it is another than HOST")
	f.StringVar(&r.clientCert, "client-cert", "", "certificate `FILE` (PEM) to show to --server")
	f.StringVar(&r.certKey, "client-key", "", "`FILE` (PEM) of its private key")
	f.StringVar(&r.tokenFile, "token-file", "", "`FILE` that holds the token for --server and nothing else, not the name:token of serve; or set "+tokenVariable)
}

// tokenVariable is where a token may stand in the environment.
const tokenVariable = envPrefix + "TOKEN"

// serviceConfig is what a gRPC client needs to share its calls between
// replicas: it passes over those that drain or do not answer, and asks another
// where one is gone. Every call may be repeated, since none changes anything.
const serviceConfig = `{
  "loadBalancingConfig": [{"round_robin": {}}],
  "healthCheckConfig": {"serviceName": ""},
  "methodConfig": [{
    "name": [{}],
    "retryPolicy": {
      "maxAttempts": 5, "initialBackoff": "0.1s", "maxBackoff": "2s", "backoffMultiplier": 2,
      "retryableStatusCodes": ["UNAVAILABLE"]
    }
  }]
}`

// dial connects to the service or to its replicas.
func (r *remoteFlags) dial(getenv func(string) string) (*grpc.ClientConn, error) {
	secure, err := r.transport()
	if err != nil {
		return nil, err
	}
	token, err := r.token(getenv)
	if err != nil {
		return nil, err
	}
	options := []grpc.DialOption{
		grpc.WithDefaultServiceConfig(serviceConfig),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxAnswerSize)),
		grpc.WithTransportCredentials(secure),
	}
	if token != "" {
		options = append(options, grpc.WithPerRPCCredentials(bearer{token, r.encrypts()}))
	}
	target := r.server
	if strings.Contains(target, ",") {
		list := manual.NewBuilderWithScheme("list")
		list.InitialState(resolver.State{Addresses: r.addresses()})
		target = "list:///replicas"
		options = append(options, grpc.WithResolvers(list))
	}
	conn, err := grpc.NewClient(target, options...)
	if err != nil {
		return nil, r.wrong("server", r.server, err.Error())
	}
	return conn, nil
}

func (r *remoteFlags) wrong(flag, value, text string) error {
	return &usageError{msg: "--" + flag + " is " + quoted(value) + ": " + text}
}

// check refuses flags that do not go together.
func (r *remoteFlags) check() error {
	if r.server == "" {
		if r.tls || r.caFile+r.serverName+r.clientCert+r.certKey+r.tokenFile != "" {
			return &usageError{msg: "TLS and tokens are for --server, which is not given"}
		}
		return nil
	}
	if (r.clientCert == "") != (r.certKey == "") {
		return &usageError{msg: "--client-cert and --client-key belong together: give both"}
	}
	if !r.encrypts() && r.serverName+r.clientCert != "" {
		return &usageError{msg: "certificates are for TLS: add --tls or --ca-file"}
	}
	if strings.Contains(r.server, "/") && !strings.HasPrefix(r.server, "http") {
		return nil
	}
	for address := range strings.SplitSeq(r.server, ",") {
		if _, _, err := net.SplitHostPort(address); err != nil {
			return r.wrong("server", r.server, "give host and port, such as 127.0.0.1:9017")
		}
	}
	return nil
}

func (r *remoteFlags) encrypts() bool { return r.tls || r.caFile != "" }

func (r *remoteFlags) transport() (credentials.TransportCredentials, error) {
	if !r.encrypts() {
		return insecure.NewCredentials(), nil
	}
	config := &tls.Config{ServerName: r.serverName, MinVersion: tls.VersionTLS12}
	if r.caFile != "" {
		raw, err := os.ReadFile(r.caFile)
		if err != nil {
			return nil, r.wrong("ca-file", r.caFile, err.Error())
		}
		config.RootCAs = x509.NewCertPool()
		if !config.RootCAs.AppendCertsFromPEM(raw) {
			return nil, r.wrong("ca-file", r.caFile, "the file holds no certificate in PEM form")
		}
	}
	if r.clientCert != "" {
		pair, err := tls.LoadX509KeyPair(r.clientCert, r.certKey)
		if err != nil {
			return nil, r.wrong("client-cert", r.clientCert, err.Error())
		}
		config.Certificates = []tls.Certificate{pair}
	}
	return credentials.NewTLS(config), nil
}

// token reads the token; its errors do not show it.
func (r *remoteFlags) token(getenv func(string) string) (string, error) {
	token := strings.TrimSpace(getenv(tokenVariable))
	if r.tokenFile != "" {
		raw, err := os.ReadFile(r.tokenFile)
		if err != nil {
			return "", r.wrong("token-file", r.tokenFile, err.Error())
		}
		token = strings.TrimSpace(string(raw))
		if token == "" || strings.ContainsAny(token, " \t\r\n") {
			return "", r.wrong("token-file", r.tokenFile, "the file is to hold one token and nothing else")
		}
	}
	r.colon = strings.Contains(token, ":")
	if token != "" && !r.encrypts() && !r.isLocal() {
		return "", &usageError{msg: "the token would cross the network for everybody to read: add --tls or --ca-file"}
	}
	return token, nil
}

// isLocal tells whether the service is on this machine, as far as its address
// says.
func (r *remoteFlags) isLocal() bool {
	for address := range strings.SplitSeq(r.server, ",") {
		host, _, err := net.SplitHostPort(address[strings.LastIndexByte(address, '/')+1:])
		if err != nil || host != "localhost" && !net.ParseIP(host).IsLoopback() {
			return false
		}
	}
	return true
}

// addresses are those of a list of replicas.
func (r *remoteFlags) addresses() []resolver.Address {
	var all []resolver.Address
	for address := range strings.SplitSeq(r.server, ",") {
		name, _, _ := net.SplitHostPort(address)
		if r.serverName != "" {
			name = r.serverName
		}
		all = append(all, resolver.Address{Addr: address, ServerName: name})
	}
	return all
}

// bearer sends a token with every call.
type bearer struct {
	token  string
	secure bool
}

// GetRequestMetadata is credentials.PerRPCCredentials's.
func (b bearer) GetRequestMetadata(context.Context, ...string) (map[string]string, error) {
	return map[string]string{"authorization": "Bearer " + b.token}, nil
}

// RequireTransportSecurity is credentials.PerRPCCredentials's.
func (b bearer) RequireTransportSecurity() bool { return b.secure }
