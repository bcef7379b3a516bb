package server

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"sync/atomic"

	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
)

// certificates are those that the listeners show, and the authorities of those
// that clients show. Both may change while connections are open: a new one
// holds for handshakes from then on.
type certificates struct {
	own         atomic.Pointer[tls.Certificate]
	authorities atomic.Pointer[x509.CertPool] // nil: clients need none
}

func (c *certificates) loadOwn(contents [][]byte) error {
	pair, err := tls.X509KeyPair(contents[0], contents[1])
	if err != nil {
		return err
	}
	c.own.Store(&pair)
	return nil
}

func (c *certificates) loadAuthorities(contents [][]byte) error {
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(contents[0]) {
		return errors.New("the file holds no certificate in PEM form")
	}
	c.authorities.Store(pool)
	return nil
}

// config is the configuration of a listener that speaks protocols. A client
// certificate is checked here but asked for by access, so that health checks
// need none.
func (c *certificates) config(protocols ...string) *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12,
		NextProtos: protocols,
		GetConfigForClient: func(*tls.ClientHelloInfo) (*tls.Config, error) {
			now := &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: protocols, Certificates: []tls.Certificate{*c.own.Load()}}
			if pool := c.authorities.Load(); pool != nil {
				now.ClientAuth, now.ClientCAs = tls.VerifyClientCertIfGiven, pool
				now.SessionTicketsDisabled = true // a resumed session would outlive its authority
			}
			return now, nil
		},
	}
}

// transport makes gRPC's connections over the network speak TLS; those through
// memory need none.
type transport struct {
	credentials.TransportCredentials
}

func newTransport(c *certificates) transport {
	return transport{credentials.NewTLS(c.config("h2"))}
}

// ServerHandshake is credentials.TransportCredentials's.
func (t transport) ServerHandshake(conn net.Conn) (net.Conn, credentials.AuthInfo, error) {
	if conn.RemoteAddr().Network() == memoryNetwork {
		return insecure.NewCredentials().ServerHandshake(conn)
	}
	return t.TransportCredentials.ServerHandshake(conn)
}

// Clone is credentials.TransportCredentials's.
func (t transport) Clone() credentials.TransportCredentials {
	return transport{t.TransportCredentials.Clone()}
}
