package server

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	reflectionpb "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// The tokens of these tests.
const (
	benchToken = "bench-0123456789abcdef"
	shopToken  = "shop-0123456789abcdef"
	oldToken   = "old-0123456789abcdef" // its line is taken out
	wrongToken = "wrong-0123456789abcdef"
)

// guarded is a server that asks for tokens.
type guarded struct {
	*served
	tokens, admin string
}

func serveGuarded(t testing.TB) *guarded {
	t.Helper()
	s := &guarded{tokens: filepath.Join(t.TempDir(), "tokens")}
	s.write(t, "# who may call\n\nbench:"+benchToken+"\nshop:"+shopToken+"\n  old:"+oldToken+"\r\n")
	s.served = serve(t, &Service{}, func(c *Config) { c.TokenFile, c.AdminAddr = s.tokens, "127.0.0.1:0" })
	require.Eventually(t, func() bool { return len(s.lines(t, `"serving"`)) == 1 }, 10*time.Second, 5*time.Millisecond)
	s.admin = "http://" + s.lines(t, `"serving"`)[0]["admin"].(string)
	return s
}

func (s *guarded) write(t testing.TB, text string) {
	t.Helper()
	require.NoError(t, os.WriteFile(s.tokens, []byte(text), 0o600))
}

// door is one way in. open tries it with the value of an Authorization header,
// empty for none, and tells whether it led in; in a refusal it looks for
// UNAUTHENTICATED or 401, and for nothing else.
type door struct {
	name string
	http bool
	open func(t *testing.T, authorization string) bool
}

func (s *guarded) doors(t *testing.T) []door {
	conn := s.dial(t)
	return []door{
		grpcDoor("gRPC", func(ctx context.Context) error {
			_, err := pb.NewSectionServiceClient(conn).GetSection(ctx, &pb.GetSectionRequest{Section: "H5M"})
			return err
		}),
		grpcDoor("gRPC, refused request", func(ctx context.Context) error {
			_, err := pb.NewSectionServiceClient(conn).GetSection(ctx, &pb.GetSectionRequest{Section: "no such"})
			return err
		}),
		grpcDoor("gRPC stream out", func(ctx context.Context) error {
			stream, err := pb.NewDriveServiceClient(conn).StreamSpacings(ctx, &pb.StreamSpacingsRequest{})
			if err == nil {
				_, err = stream.Recv()
			}
			return err
		}),
		grpcDoor("gRPC stream both ways", func(ctx context.Context) error {
			stream, err := pb.NewDriveServiceClient(conn).StreamCheckDrives(ctx)
			if err == nil {
				_ = stream.CloseSend()
				_, err = stream.Recv()
			}
			return err
		}),
		grpcDoor("reflection", func(ctx context.Context) error {
			stream, err := reflectionpb.NewServerReflectionClient(conn).ServerReflectionInfo(ctx)
			if err == nil {
				_ = stream.CloseSend()
				_, err = stream.Recv()
			}
			return err
		}),
		grpcDoor("no method", func(ctx context.Context) error {
			return conn.Invoke(ctx, "/no.such.Service/Method", &pb.GetSectionRequest{}, &pb.GetSectionResponse{})
		}),
		httpDoor("REST GET", http.MethodGet, s.url+"/v1/sections/H5M", ""),
		httpDoor("REST POST", http.MethodPost, s.url+centerPath, fullBody),
		httpDoor("REST, refused request", http.MethodPost, s.url+centerPath, "{"),
		httpDoor("REST stream out", http.MethodPost, s.url+"/v1/drives:streamSpacings", "{}"),
		httpDoor("REST stream both ways", http.MethodPost, s.url+"/v1/drives:streamCheck", "{}\n"),
		httpDoor("REST, no path", http.MethodGet, s.url+"/v1/no/such", ""),
		httpDoor("REST, no method", http.MethodDelete, s.url+"/v1/sections", ""),
		httpDoor("page", http.MethodGet, s.url+"/", ""),
		httpDoor("page by another spelling", http.MethodGet, s.url+"//v1/../", ""),
		httpDoor("metrics", http.MethodGet, s.admin+"/metrics", ""),
		httpDoor("profiles", http.MethodGet, s.admin+"/debug/pprof/cmdline", ""),
		httpDoor("admin, no path", http.MethodGet, s.admin+"/", ""),
	}
}

func grpcDoor(name string, call func(context.Context) error) door {
	return door{name: name, open: func(t *testing.T, authorization string) bool {
		t.Helper()
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		defer cancel()
		if authorization != "" {
			ctx = metadata.AppendToOutgoingContext(ctx, "authorization", authorization)
		}
		return status.Code(call(ctx)) != codes.Unauthenticated
	}}
}

func httpDoor(name, method, url, body string) door {
	return door{name: name, http: true, open: func(t *testing.T, authorization string) bool {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
		require.NoError(t, err)
		if authorization != "" {
			req.Header.Set("Authorization", authorization)
		}
		resp, err := http.DefaultTransport.RoundTrip(req)
		require.NoError(t, err)
		defer resp.Body.Close() //nolint:errcheck // read
		if resp.StatusCode != http.StatusUnauthorized {
			return true
		}
		assert.NotEmpty(t, resp.Header.Get("WWW-Authenticate"), name)
		raw, err := io.ReadAll(resp.Body)
		require.NoError(t, err)
		assert.Contains(t, string(raw), `TOKEN_`, name)
		return false
	}}
}

func basic(name, secret string) string {
	r := http.Request{Header: http.Header{}}
	r.SetBasicAuth(name, secret)
	return r.Header.Get("Authorization")
}

// TestEveryDoor tries every way in without, with wrong, with right and with
// expired credentials.
func TestEveryDoor(t *testing.T) {
	s := serveGuarded(t)
	doors := s.doors(t)
	for _, d := range doors {
		t.Run(d.name, func(t *testing.T) {
			for _, bad := range []string{
				"", "Bearer", "Bearer ", "Bearer " + wrongToken, "Bearer " + benchToken + "x", "Bearer " + benchToken[1:],
				"Bearer bench:" + benchToken, benchToken, "Digest " + benchToken, "Bearer " + benchToken + " " + shopToken,
				"Basic", "Basic !!", basic("bench", wrongToken), basic("shop", benchToken), basic("", benchToken), basic("bench", ""),
			} {
				assert.False(t, d.open(t, bad), "%q", bad)
			}
			for _, good := range []string{"Bearer " + benchToken, "bearer " + shopToken, "Bearer " + oldToken} {
				assert.True(t, d.open(t, good), "%q", good)
			}
			assert.Equal(t, d.http, d.open(t, basic("bench", benchToken)), "HTTP takes Basic, gRPC does not")
		})
	}

	// A new line and a removed one: the old token has expired.
	const fresh = "bench-fedcba9876543210"
	s.write(t, "bench:"+benchToken+"\nbench:"+fresh+"\n")
	require.Eventually(t, func() bool { return doors[0].open(t, "Bearer "+fresh) }, 10*time.Second, 20*time.Millisecond)
	for _, d := range doors {
		assert.False(t, d.open(t, "Bearer "+oldToken), "%s: expired", d.name)
		assert.False(t, d.open(t, "Bearer "+shopToken), "%s: expired", d.name)
		assert.True(t, d.open(t, "Bearer "+benchToken), d.name)
		assert.True(t, d.open(t, "Bearer "+fresh), d.name)
	}

	// A file that cannot be read lets in whom the last good one did; an empty
	// one nobody.
	s.write(t, "bench:"+benchToken+"\nno colon "+wrongToken+"\n")
	require.Eventually(t, func() bool { return len(s.lines(t, "line 2 is not name:token")) == 1 }, 10*time.Second, 20*time.Millisecond)
	assert.True(t, doors[0].open(t, "Bearer "+fresh))
	assert.Equal(t, "1", scrape(t, s.served, "Bearer "+fresh)[`beltspan_reloads_total{used="true",what="tokens"}`])
	assert.Equal(t, "1", scrape(t, s.served, "Bearer "+fresh)[`beltspan_reloads_total{used="false",what="tokens"}`])
	s.write(t, "")
	require.Eventually(t, func() bool { return !doors[0].open(t, "Bearer "+fresh) }, 10*time.Second, 20*time.Millisecond)
	assert.Len(t, s.lines(t, "NO TOKEN IN THE FILE"), 1)
	assert.False(t, doors[6].open(t, "Bearer "+benchToken))

	text := s.log.String()
	for _, secret := range []string{benchToken, shopToken, oldToken, wrongToken, fresh, basic("bench", benchToken)} {
		assert.NotContains(t, text, secret, "no token in the log")
	}
	assert.NotEmpty(t, s.lines(t, `"caller":"bench"`))
}

// TestHealthIsOpen asks as a load balancer does.
func TestHealthIsOpen(t *testing.T) {
	s := serveGuarded(t)
	client := healthpb.NewHealthClient(s.dial(t))
	got, err := client.Check(t.Context(), &healthpb.HealthCheckRequest{})
	require.NoError(t, err)
	assert.Equal(t, healthpb.HealthCheckResponse_SERVING, got.GetStatus())
	watch, err := client.Watch(t.Context(), &healthpb.HealthCheckRequest{})
	require.NoError(t, err)
	_, err = watch.Recv()
	require.NoError(t, err)
	for _, base := range []string{s.url, s.admin} {
		resp, err := http.Get(base + healthPath)
		require.NoError(t, err)
		defer resp.Body.Close() //nolint:errcheck // not read
		assert.Equal(t, http.StatusOK, resp.StatusCode)
	}
}

// TestCallerIsKnownOnEveryRoad looks at the name in the log; a caller cannot
// give himself one.
func TestCallerIsKnownOnEveryRoad(t *testing.T) {
	s := serveGuarded(t)
	for _, d := range s.doors(t)[:13] {
		before := len(s.lines(t, `"caller":"shop"`))
		require.True(t, d.open(t, "Bearer "+shopToken), d.name)
		if d.name != "reflection" && d.name != "no method" {
			require.Eventually(t, func() bool { return len(s.lines(t, `"caller":"shop"`)) > before }, 5*time.Second, 5*time.Millisecond, d.name)
		}
	}
	for _, line := range s.lines(t, `"caller":"shop"`) {
		assert.Contains(t, line["peer"], "127.0.0.1:", "streams of REST, too: %v", line)
	}

	open := serve(t, &Service{}, nil)
	ctx := metadata.AppendToOutgoingContext(t.Context(), forwardedCallerKey, "mallory", forwardedPeerKey, "10.0.0.1:1")
	_, err := pb.NewSectionServiceClient(open.dial(t)).GetSection(ctx, &pb.GetSectionRequest{Section: "H5M"})
	require.NoError(t, err)
	open.send(t, http.MethodGet, "/v1/sections/H5M", "", "Grpc-Metadata-Beltspan-Caller", "mallory", "Beltspan-Caller", "mallory")
	assert.NotContains(t, open.log.String(), "mallory")
	assert.NotContains(t, open.log.String(), "10.0.0.1")
}

func TestReadTokens(t *testing.T) {
	list, err := readTokens([][]byte{[]byte("a:" + benchToken + "\n#c\nb:with:colon-0123456789\n")})
	require.NoError(t, err)
	name, found := list.find("with:colon-0123456789")
	assert.True(t, found)
	assert.Equal(t, "b", name)
	for text, want := range map[string]string{
		"a:" + benchToken + "\nb":       "line 2 is not name:token",
		":" + benchToken:                "line 1 is not name:token",
		"a b:" + benchToken:             "line 1 is not name:token",
		"a:short":                       "token in line 1 is not 16 to 256",
		"a:0123456789abcdef é":          "token in line 1 is not 16 to 256",
		"a:" + strings.Repeat("x", 300): "token in line 1 is not 16 to 256",
	} {
		_, err := readTokens([][]byte{[]byte(text)})
		require.ErrorContains(t, err, want)
		if _, secret, ok := strings.Cut(text, ":"); ok {
			assert.NotContains(t, err.Error(), secret)
		}
	}
}

func TestAccessConfig(t *testing.T) {
	for name, tt := range map[string]struct {
		change func(*Config)
		want   string
	}{
		"key alone":       {func(c *Config) { c.TLSKey = "key.pem" }, "--tls-cert and --tls-key belong together"},
		"clients, no TLS": {func(c *Config) { c.ClientCA = "ca.pem" }, "--client-ca needs TLS"},
		"origin":          {func(c *Config) { c.AllowOrigins = []string{"example.org"} }, `--allow-origin is "example.org": give scheme and host`},
		"origin, star":    {func(c *Config) { c.AllowOrigins = []string{"*"} }, `--allow-origin is "*"`},
		"admin address":   {func(c *Config) { c.AdminAddr = "nowhere" }, `--admin-addr is "nowhere"`},
	} {
		cfg := DefaultConfig()
		tt.change(&cfg)
		assert.ErrorContains(t, cfg.Validate(), tt.want, name)
	}
	for name, change := range map[string]func(*Config){
		"no tokens":      func(c *Config) { c.TokenFile = "no-such-file" },
		"no certificate": func(c *Config) { c.TLSCert, c.TLSKey = "no-such-file", "no-such-file" },
	} {
		cfg := DefaultConfig()
		cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
		change(&cfg)
		l, err := Listen(cfg)
		require.NoError(t, err)
		assert.ErrorContains(t, Run(t.Context(), cfg, l), "no-such-file", name)
	}
}

// TestOnlyThisMachine: every address beyond loopback needs a word more, and is
// warned of.
func TestOnlyThisMachine(t *testing.T) {
	for _, addr := range []string{":0", "0.0.0.0:0", "[::]:0", "192.0.2.1:0"} {
		for _, set := range []func(*Config){
			func(c *Config) { c.GRPCAddr = addr },
			func(c *Config) { c.HTTPAddr = addr },
			func(c *Config) { c.AdminAddr = addr },
		} {
			cfg := DefaultConfig()
			cfg.GRPCAddr, cfg.HTTPAddr = "127.0.0.1:0", "127.0.0.1:0"
			set(&cfg)
			_, err := Listen(cfg)
			require.ErrorIs(t, err, ErrRemote, addr)
		}
	}
	log := &lockedBuffer{}
	cfg := DefaultConfig()
	cfg.AllowRemote, cfg.Logger = true, slog.New(slog.NewJSONHandler(log, nil))
	cfg.warn()
	assert.Contains(t, log.String(), "WITHOUT ENCRYPTION")
	assert.Contains(t, log.String(), "OPEN TO ALL")
	log.buf.Reset()
	cfg.TLSCert, cfg.TokenFile = "cert.pem", "tokens"
	cfg.warn()
	assert.Empty(t, log.String(), "nothing to warn of")
}

// TestOtherSites: a browser's script of another site gets in only where the
// site is allowed.
func TestOtherSites(t *testing.T) {
	const friend, stranger = "https://planner.example", "https://stranger.example"
	s := serve(t, &fake{}, func(c *Config) { c.AllowOrigins = []string{friend} })
	ask := func(method, origin string, header ...string) *http.Response {
		req, err := http.NewRequestWithContext(t.Context(), method, s.url+centerPath, strings.NewReader("{}"))
		require.NoError(t, err)
		if origin != "" {
			req.Header.Set("Origin", origin)
			req.Header.Set("Sec-Fetch-Site", "cross-site")
		}
		for i := 0; i+1 < len(header); i += 2 {
			req.Header.Set(header[i], header[i+1])
		}
		resp, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		t.Cleanup(func() { _ = resp.Body.Close() })
		return resp
	}
	beforehand := []string{"Access-Control-Request-Method", "POST", "Access-Control-Request-Headers", "authorization"}

	resp := ask(http.MethodOptions, friend, beforehand...)
	assert.Equal(t, http.StatusNoContent, resp.StatusCode)
	assert.Equal(t, friend, resp.Header.Get("Access-Control-Allow-Origin"))
	assert.Contains(t, resp.Header.Get("Access-Control-Allow-Headers"), "Authorization")
	resp = ask(http.MethodPost, friend)
	assert.Equal(t, http.StatusOK, resp.StatusCode)
	assert.Equal(t, friend, resp.Header.Get("Access-Control-Allow-Origin"))
	assert.Equal(t, "Origin", resp.Header.Get("Vary"))

	for _, origin := range []string{stranger, "null", friend + ".stranger.example", "http://planner.example"} {
		resp = ask(http.MethodOptions, origin, beforehand...)
		assert.NotEqual(t, http.StatusNoContent, resp.StatusCode, origin)
		assert.Empty(t, resp.Header.Get("Access-Control-Allow-Origin"), origin)
		resp = ask(http.MethodPost, origin)
		assert.Equal(t, http.StatusForbidden, resp.StatusCode, origin)
		assert.Empty(t, resp.Header.Get("Access-Control-Allow-Origin"), origin)
	}
	resp = ask(http.MethodPost, "")
	assert.Equal(t, http.StatusOK, resp.StatusCode, "no browser")

	closed := serve(t, &fake{}, nil)
	got := closed.send(t, http.MethodPost, centerPath, "{}", "Origin", friend)
	assert.Equal(t, http.StatusForbidden, got.code, "off by default")
	assert.Equal(t, reasonStrangeOrigin, got.reason())
}

func TestSecurityHeaders(t *testing.T) {
	s := serve(t, &fake{}, nil)
	api := s.send(t, http.MethodGet, "/v1/sections/H5M", "")
	assert.Equal(t, "nosniff", api.header.Get("X-Content-Type-Options"))
	page := s.send(t, http.MethodGet, "/openapi.json", "")
	policy := page.header.Get("Content-Security-Policy")
	for _, want := range []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
		assert.Contains(t, policy, want)
	}
	assert.NotContains(t, policy, "unsafe")
	assert.Equal(t, "DENY", page.header.Get("X-Frame-Options"))
	assert.Equal(t, "no-referrer", page.header.Get("Referrer-Policy"))
}

func TestTraceID(t *testing.T) {
	// The examples of W3C Trace Context, section 3.2.
	const id = "4bf92f3577b34da6a3ce929d0e0e4736"
	assert.Equal(t, id, traceID("00-"+id+"-00f067aa0ba902b7-01"))
	assert.Equal(t, id, traceID("cc-"+id+"-00f067aa0ba902b7-01-what-the-future-will-be-like"))
	for _, bad := range []string{
		"", "x", "ff-" + id + "-00f067aa0ba902b7-01", "00-" + id + "-00f067aa0ba902b7-01-more",
		"00-00000000000000000000000000000000-00f067aa0ba902b7-01", "00-" + id + "-0000000000000000-01",
		"00-" + strings.ToUpper(id) + "-00f067aa0ba902b7-01", "00-" + id + "-00f067aa0ba902b7", strings.Repeat("0", 600),
	} {
		assert.Empty(t, traceID(bad), bad)
	}
	s := serve(t, &fake{}, nil)
	s.send(t, http.MethodGet, "/v1/sections/H5M", "", "Traceparent", "00-"+id+"-00f067aa0ba902b7-01")
	ctx := metadata.AppendToOutgoingContext(t.Context(), traceParentKey, "00-"+id+"-00f067aa0ba902b7-01")
	_, err := solve(ctx, s.dial(t))
	require.NoError(t, err)
	assert.Len(t, s.lines(t, `"trace_id":"`+id+`"`), 2)
}
