package server

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/status"
)

// authority signs certificates for tests.
type authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	pem  []byte
}

func newAuthority(t testing.TB) *authority {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test authority"}, IsCA: true, BasicConstraintsValid: true,
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), KeyUsage: x509.KeyUsageCertSign,
	}
	raw, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	require.NoError(t, err)
	cert, err := x509.ParseCertificate(raw)
	require.NoError(t, err)
	return &authority{cert, key, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: raw})}
}

// sign returns a certificate and its key in PEM form, good until end.
func (a *authority) sign(t testing.TB, name string, serial int64, end time.Time) (cert, key []byte) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: name}, DNSNames: []string{name}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: end, KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
	}
	raw, err := x509.CreateCertificate(rand.Reader, template, a.cert, private.Public(), a.key)
	require.NoError(t, err)
	der, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(t, err)
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: raw}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})
}

// pair is sign as a client uses it.
func (a *authority) pair(t testing.TB, name string, end time.Time) tls.Certificate {
	t.Helper()
	cert, key := a.sign(t, name, 7, end)
	pair, err := tls.X509KeyPair(cert, key)
	require.NoError(t, err)
	return pair
}

func (a *authority) pool() *x509.CertPool {
	pool := x509.NewCertPool()
	pool.AddCert(a.cert)
	return pool
}

// tlsServer is a server with a certificate in files.
type tlsServer struct {
	*served
	authority *authority
	cert, key string // paths
}

func serveTLS(t testing.TB, change func(*Config)) *tlsServer {
	t.Helper()
	dir := t.TempDir()
	s := &tlsServer{authority: newAuthority(t), cert: filepath.Join(dir, "cert.pem"), key: filepath.Join(dir, "key.pem")}
	s.renew(t, 1)
	s.served = serve(t, &fake{}, func(c *Config) {
		c.TLSCert, c.TLSKey = s.cert, s.key
		if change != nil {
			change(c)
		}
	})
	s.url = strings.Replace(s.url, "http://", "https://", 1)
	return s
}

// renew writes a certificate with another serial number.
func (s *tlsServer) renew(t testing.TB, serial int64) {
	t.Helper()
	cert, key := s.authority.sign(t, "localhost", serial, time.Now().Add(time.Hour))
	require.NoError(t, os.WriteFile(s.cert, cert, 0o600))
	require.NoError(t, os.WriteFile(s.key, key, 0o600))
}

func (s *tlsServer) config(own ...tls.Certificate) *tls.Config {
	return &tls.Config{RootCAs: s.authority.pool(), ServerName: "localhost", Certificates: own, MinVersion: tls.VersionTLS12}
}

func (s *tlsServer) dialTLS(t testing.TB, config *tls.Config) *grpc.ClientConn {
	t.Helper()
	conn, err := grpc.NewClient(s.grpcAddr, grpc.WithTransportCredentials(credentials.NewTLS(config)))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// get is one GET and the serial number of the certificate it saw.
func get(t testing.TB, client *http.Client, url string) (code int, body string, serial int64) {
	t.Helper()
	resp, err := client.Get(url)
	require.NoError(t, err)
	defer resp.Body.Close() //nolint:errcheck // read whole
	raw, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	return resp.StatusCode, string(raw), resp.TLS.PeerCertificates[0].SerialNumber.Int64()
}

func httpsClient(t testing.TB, config *tls.Config) *http.Client {
	t.Helper()
	transport := &http.Transport{TLSClientConfig: config, ForceAttemptHTTP2: true}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport, Timeout: 20 * time.Second}
}

func TestTLSOnEveryRoad(t *testing.T) {
	s := serveTLS(t, nil)
	_, err := solve(t.Context(), s.dialTLS(t, s.config()))
	require.NoError(t, err)
	for _, protocols := range []string{"HTTP/2.0", "HTTP/1.1"} {
		client := httpsClient(t, s.config())
		client.Transport.(*http.Transport).ForceAttemptHTTP2 = protocols == "HTTP/2.0"
		resp, err := client.Get(s.url + "/v1/sections/H5M")
		require.NoError(t, err)
		defer resp.Body.Close() //nolint:errcheck // not read
		assert.Equal(t, http.StatusOK, resp.StatusCode)
		assert.Equal(t, protocols, resp.Proto)
	}

	_, err = solve(t.Context(), s.dial(t))
	assert.Equal(t, codes.Unavailable, status.Code(err), "no words without TLS")
	resp, err := http.Get(strings.Replace(s.url, "https://", "http://", 1) + "/v1/sections/H5M")
	require.NoError(t, err)
	defer resp.Body.Close() //nolint:errcheck // not read
	assert.Equal(t, http.StatusBadRequest, resp.StatusCode)

	old := s.config()
	old.MinVersion, old.MaxVersion = tls.VersionTLS10, tls.VersionTLS11
	_, err = tls.Dial("tcp", s.grpcAddr, old)
	assert.ErrorContains(t, err, "protocol version")
}

// TestCertificateIsReplaced writes a new certificate while a connection is
// open: that one goes on, new ones see the new certificate. Garbage changes
// nothing but the log.
func TestCertificateIsReplaced(t *testing.T) {
	s := serveTLS(t, nil)
	open, url := httpsClient(t, s.config()), s.url+"/v1/sections/H5M"
	_, _, serial := get(t, open, url)
	require.EqualValues(t, 1, serial)
	conn := s.dialTLS(t, s.config())
	_, err := solve(t.Context(), conn)
	require.NoError(t, err)

	fresh := func() int64 {
		_, _, serial := get(t, httpsClient(t, s.config()), url)
		return serial
	}
	s.renew(t, 2)
	require.Eventually(t, func() bool { return fresh() == 2 }, 10*time.Second, 50*time.Millisecond)
	_, _, serial = get(t, open, url)
	assert.EqualValues(t, 1, serial, "the open connection was kept")
	_, err = solve(t.Context(), conn)
	require.NoError(t, err)
	assert.Len(t, s.lines(t, `"reloaded"`), 1)

	for _, garbage := range []string{"garbage", "", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"} {
		before := len(s.lines(t, "cannot be used"))
		require.NoError(t, os.WriteFile(s.cert, []byte(garbage), 0o600))
		require.Eventually(t, func() bool { return len(s.lines(t, "cannot be used")) == before+1 }, 10*time.Second, 50*time.Millisecond)
		assert.EqualValues(t, 2, fresh(), "the old certificate stays")
	}
	require.NoError(t, os.Remove(s.cert))
	require.Eventually(t, func() bool { return len(s.lines(t, "no such file")) == 1 }, 10*time.Second, 50*time.Millisecond)
	time.Sleep(3 * reloadInterval)
	assert.Len(t, s.lines(t, "no such file"), 1, "said once")
	s.renew(t, 3)
	require.Eventually(t, func() bool { return fresh() == 3 }, 10*time.Second, 50*time.Millisecond)
}

// TestClientCertificates shows none, a strange one, an expired one and a good
// one at every door.
func TestClientCertificates(t *testing.T) {
	clients := newAuthority(t)
	path := filepath.Join(t.TempDir(), "clients.pem")
	require.NoError(t, os.WriteFile(path, clients.pem, 0o600))
	s := serveTLS(t, func(c *Config) { c.ClientCA = path })
	good := clients.pair(t, "bench", time.Now().Add(time.Hour))

	_, err := solve(t.Context(), s.dialTLS(t, s.config()))
	assert.Equal(t, codes.Unauthenticated, status.Code(err))
	code, body, _ := get(t, httpsClient(t, s.config()), s.url+"/v1/sections/H5M")
	assert.Equal(t, http.StatusUnauthorized, code)
	assert.Contains(t, body, reasonNoCertificate)
	code, _, _ = get(t, httpsClient(t, s.config()), s.url+healthPath)
	assert.Equal(t, http.StatusOK, code, "health needs no certificate")

	_, err = solve(t.Context(), s.dialTLS(t, s.config(good)))
	require.NoError(t, err)
	code, _, _ = get(t, httpsClient(t, s.config(good)), s.url+"/v1/sections/H5M")
	assert.Equal(t, http.StatusOK, code)
	require.Len(t, s.lines(t, `"caller":"bench"`), 2, "the certificate names the caller")

	for name, bad := range map[string]tls.Certificate{
		"strange": newAuthority(t).pair(t, "bench", time.Now().Add(time.Hour)),
		"expired": clients.pair(t, "bench", time.Now().Add(-time.Minute)),
	} {
		// A client leaves out a certificate that the server's list of
		// authorities does not want: send it all the same.
		config := s.config()
		config.GetClientCertificate = func(*tls.CertificateRequestInfo) (*tls.Certificate, error) { return &bad, nil }
		_, err = solve(t.Context(), s.dialTLS(t, config))
		assert.Equal(t, codes.Unavailable, status.Code(err), name)
		_, err = httpsClient(t, config).Get(s.url + healthPath) //nolint:bodyclose // there is none
		assert.Error(t, err, name)
	}

	// The authorities change, too: those of before no longer count.
	require.NoError(t, os.WriteFile(path, newAuthority(t).pem, 0o600))
	require.Eventually(t, func() bool {
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
		defer cancel()
		_, err := solve(ctx, s.dialTLS(t, s.config(good)))
		return err != nil
	}, 10*time.Second, 50*time.Millisecond)
}

// TestExpiredServerCertificate: clients are told why they do not come in.
func TestExpiredServerCertificate(t *testing.T) {
	s := serveTLS(t, nil)
	_, err := solve(t.Context(), s.dialTLS(t, s.config()))
	require.NoError(t, err, "the first files are loaded")
	cert, key := s.authority.sign(t, "localhost", 2, time.Now().Add(-time.Minute))
	require.NoError(t, os.WriteFile(s.cert, cert, 0o600))
	require.NoError(t, os.WriteFile(s.key, key, 0o600))
	require.Eventually(t, func() bool { return len(s.lines(t, `"reloaded"`)) == 1 }, 10*time.Second, 20*time.Millisecond)
	_, err = solve(t.Context(), s.dialTLS(t, s.config()))
	assert.Equal(t, codes.Unavailable, status.Code(err))
	assert.ErrorContains(t, err, "certificate has expired")
	_, err = httpsClient(t, s.config()).Get(s.url + healthPath) //nolint:bodyclose // there is none
	assert.ErrorContains(t, err, "certificate has expired")
}

// TestClientCertificateExpiresMeanwhile: an open connection is good for as long
// as the certificate that opened it.
func TestClientCertificateExpiresMeanwhile(t *testing.T) {
	clients := newAuthority(t)
	path := filepath.Join(t.TempDir(), "clients.pem")
	require.NoError(t, os.WriteFile(path, clients.pem, 0o600))
	s := serveTLS(t, func(c *Config) { c.ClientCA = path })
	// A time to connect first, however busy this machine is.
	config := s.config(clients.pair(t, "bench", time.Now().Add(4*time.Second)))
	conn, client := s.dialTLS(t, config), httpsClient(t, config)
	_, err := solve(t.Context(), conn)
	require.NoError(t, err)
	code, _, _ := get(t, client, s.url+"/v1/sections/H5M")
	require.Equal(t, http.StatusOK, code)
	require.Eventually(t, func() bool {
		_, err = solve(t.Context(), conn)
		return err != nil
	}, 20*time.Second, 50*time.Millisecond)
	assert.Equal(t, codes.Unauthenticated, status.Code(err))
	assert.Equal(t, reasonExpired, infoOf(t, err).GetReason())
	code, body, _ := get(t, client, s.url+"/v1/sections/H5M")
	assert.Equal(t, http.StatusUnauthorized, code)
	assert.Contains(t, body, reasonExpired)
}
