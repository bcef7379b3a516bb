package server

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
)

// rawStatus sends a request as it is written, which no client of net/http would
// send, and returns the status of the answer, 0 for none.
func rawStatus(t *testing.T, addr, request string) int {
	t.Helper()
	conn, err := net.Dial("tcp", addr)
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // the answer is read
	require.NoError(t, conn.SetDeadline(time.Now().Add(5*time.Second)))
	_, err = fmt.Fprint(conn, request)
	require.NoError(t, err)
	line, err := bufio.NewReader(conn).ReadString('\n')
	if err != nil {
		return 0
	}
	code, err := strconv.Atoi(strings.Fields(line)[1])
	require.NoError(t, err, line)
	return code
}

// TestWaysRound tries to get past the token: by the spelling of paths, by
// methods, by other protocols on the port, by the token in other places. Only
// the path of health, spelled as it likes, is open; nothing but 401 comes else,
// or what net/http says to requests that are none.
func TestWaysRound(t *testing.T) {
	s := serveGuarded(t)
	rest, admin := strings.TrimPrefix(s.url, "http://"), strings.TrimPrefix(s.admin, "http://")
	for _, path := range []string{
		"/", "//", "/v1/sections", "//v1/sections", "/v1//sections", "/./v1/sections", "/v1/../v1/sections", "/%76%31/sections", "/v1%2fsections",
		"/%2e/v1/sections", "/%2e%2e/v1/sections", "/healthz/../v1/sections", "/healthz/%2e%2e/v1/sections", "/healthz/", "/healthz//", "//healthz", "/healthz;/v1/sections",
		"/healthz%00", "/healthz%2f", "/Healthz", "/v1/sections;/healthz", "/v1/sections#/healthz", "/openapi.json", "/assets", "/assets/", "/assets/style.css", "/style.css",
		"/favicon.ico", "/robots.txt", "/.well-known/x", "/metrics", "/metrics/", "//metrics", "/metrics?x", "/debug/pprof", "/debug/pprof/", "/debug/pprof/heap", "/debug/pprof/../pprof/heap",
		"/debug/vars", "/grpc.health.v1.Health/Check", "/v1/sections?access_token=" + benchToken, "/v1/sections?token=" + benchToken, "/v1/sections?authorization=Bearer%20" + benchToken,
		"http://x/v1/sections", "http://x/healthz/../v1/sections", "http://bench:" + benchToken + "@x/v1/sections", "*",
	} {
		for _, method := range []string{"GET", "HEAD", "POST", "OPTIONS", "PUT", "TRACE", "PRI", "get"} {
			for _, addr := range []string{rest, admin} {
				if path == "*" && method == "OPTIONS" {
					continue // net/http answers it, with nothing
				}
				got := rawStatus(t, addr, method+" "+path+" HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n\r\n")
				assert.Contains(t, []int{http.StatusUnauthorized, http.StatusBadRequest}, got, "%s %s", method, path)
			}
		}
	}
	for _, path := range []string{"/healthz", "/%68ealthz", "/healthz?x=1", "http://x/healthz"} {
		assert.Equal(t, http.StatusOK, rawStatus(t, rest, "GET "+path+" HTTP/1.1\r\nHost: x\r\n\r\n"), path)
	}

	head := "GET /v1/sections HTTP/1.1\r\nHost: x\r\n"
	for name, request := range map[string]string{
		"websocket":           head + "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n",
		"upgrade to HTTP/2":   head + "Connection: Upgrade, HTTP2-Settings\r\nUpgrade: h2c\r\nHTTP2-Settings: AAMAAABkAAQAAP__\r\n\r\n",
		"other method":        head + "X-HTTP-Method-Override: OPTIONS\r\n\r\n",
		"preflight":           "OPTIONS /v1/sections HTTP/1.1\r\nHost: x\r\nOrigin: https://stranger.example\r\nAccess-Control-Request-Method: GET\r\n\r\n",
		"as metadata":         head + "Grpc-Metadata-Authorization: Bearer " + benchToken + "\r\n\r\n",
		"as a cookie":         head + "Cookie: Authorization=Bearer " + benchToken + "; token=" + benchToken + "\r\n\r\n",
		"to the proxy":        head + "Proxy-Authorization: Bearer " + benchToken + "\r\n\r\n",
		"second header":       head + "Authorization: Bearer " + wrongToken + "\r\nAuthorization: Bearer " + benchToken + "\r\n\r\n",
		"name of a caller":    head + "Beltspan-Caller: bench\r\nGrpc-Metadata-Beltspan-Caller: bench\r\nX-Forwarded-User: bench\r\n\r\n",
		"address of a caller": head + "X-Forwarded-For: 127.0.0.1\r\nForwarded: for=127.0.0.1\r\n\r\n",
		"length twice":        head + "Content-Length: 0\r\nContent-Length: 9\r\n\r\n",
		"length and chunks":   "POST /v1/sections HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
	} {
		got := rawStatus(t, rest, request)
		assert.Contains(t, []int{http.StatusUnauthorized, http.StatusBadRequest}, got, name)
	}
	const preface = "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\x00\x00\x00\x04\x00\x00\x00\x00\x00"
	assert.NotEqual(t, http.StatusOK, rawStatus(t, rest, preface), "HTTP/2 without TLS")
	assert.NotEqual(t, http.StatusOK, rawStatus(t, s.grpcAddr, head+"\r\n"), "HTTP/1 on the port of gRPC")

	// gRPC takes one header only.
	ctx := metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+wrongToken, "authorization", "Bearer "+benchToken)
	assert.Equal(t, codes.Unauthenticated, status.Code(realSolve(ctx, s.dial(t))))
	assert.NotContains(t, s.log.String(), benchToken, "no token in the log, wherever it was put")
	assert.NotContains(t, s.log.String(), wrongToken)
}

// TestOperatorsDoors: metrics and profiles are on the admin address alone.
func TestOperatorsDoors(t *testing.T) {
	s := serve(t, &Service{}, func(c *Config) { c.AdminAddr = "127.0.0.1:0" })
	for _, path := range []string{"/metrics", "/debug/pprof/", "/debug/pprof/heap", "/debug/vars"} {
		assert.Equal(t, http.StatusNotFound, rawStatus(t, strings.TrimPrefix(s.url, "http://"), "GET "+path+" HTTP/1.1\r\nHost: x\r\n\r\n"), path)
	}
}

// TestNobodyForgesACaller sends, on streams of REST, which pass through memory,
// what there names the caller.
func TestNobodyForgesACaller(t *testing.T) {
	s := serve(t, &Service{}, nil)
	s.send(t, http.MethodPost, "/v1/drives:streamCheck", chunkLine(t, plainItem("a"))+"\n",
		"Grpc-Metadata-Beltspan-Caller", "mallory", "Beltspan-Caller", "mallory",
		"Grpc-Metadata-Beltspan-Peer", "192.0.2.9:1", "X-Forwarded-For", "192.0.2.9", "X-Request-Id", "forged")
	lines := s.lines(t, `"request_id":"forged"`)
	require.Len(t, lines, 1)
	assert.Contains(t, lines[0]["peer"], "127.0.0.1:")
	assert.NotContains(t, s.log.String(), "mallory")
	assert.NotContains(t, s.log.String(), "192.0.2.9")
}

// TestLogIsNotForged writes line breaks and whole log lines into everything of
// a request that the log repeats: the text log stays one line a request, and
// no attribute is added.
func TestLogIsNotForged(t *testing.T) {
	const forged = "x\n" + `time=2026 level=ERROR msg=forged code=OK` + "\r\x1b[2K"
	var log bytes.Buffer
	l := &requestLogger{log: slog.New(slog.NewTextHandler(&log, nil))}
	ctx := withCaller(context.Background(), forged) // the common name of a certificate can be anything
	l.refused(ctx, "/"+forged, metadata.Pairs(requestIDKey, forged, traceParentKey, "00-"+forged), errNoToken())
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://x/", nil)
	require.NoError(t, err)
	req.Method, req.URL.Path = "GET "+forged, "/"+forged
	req.Header[http.CanonicalHeaderKey(requestIDKey)] = []string{`a" msg="forged`}
	l.refusedHTTP(req, errNoToken())
	lines := strings.Split(strings.TrimSuffix(log.String(), "\n"), "\n")
	require.Len(t, lines, 2)
	for _, line := range lines {
		assert.Regexp(t, `^time=\S+ level=WARN msg=request method="`, line)
		assert.NotContains(t, line, "\r")
		assert.NotContains(t, line, "\x1b")
		assert.Equal(t, 1, strings.Count(line, " code=Unauthenticated"), line)
		assert.LessOrEqual(t, len(line), 2000)
	}

	// The same over the network, with a method of no service.
	s := serve(t, &Service{}, nil)
	long := "/no.such/" + strings.Repeat("m", 20_000)
	err = s.dial(t).Invoke(t.Context(), long, plainItem("a"), plainItem("b"))
	assert.Equal(t, codes.Unimplemented, status.Code(err))
	for line := range strings.Lines(s.log.String()) {
		assert.Less(t, len(line), 2000)
	}
}

// TestTimesOfConnections: every listener of HTTP has all times set.
func TestTimesOfConnections(t *testing.T) {
	d, err := newDoors(DefaultConfig(), &Service{})
	require.NoError(t, err)
	defer d.host.Close() //nolint:errcheck // the end of the test
	for _, web := range []*http.Server{d.web, d.admin} {
		assert.Equal(t, 15*time.Second, web.ReadTimeout, "of header and body")
		assert.Zero(t, web.ReadHeaderTimeout, "that of reading holds")
		assert.Equal(t, 25*time.Second, web.WriteTimeout)
		assert.Equal(t, 2*time.Minute, web.IdleTimeout)
		assert.Equal(t, maxHeader, web.MaxHeaderBytes)
		assert.Equal(t, streamsPerConnection, web.HTTP2.MaxConcurrentStreams)
	}
}
