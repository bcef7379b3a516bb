package server

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

func newTestGateway(t testing.TB) http.Handler { return newGatewayOf(t, &fake{}) }

// newRealGateway is REST on the real service.
func newRealGateway(t testing.TB) http.Handler { return newGatewayOf(t, &Service{}) }

func newGatewayOf(t testing.TB, services api) http.Handler {
	t.Helper()
	cfg := DefaultConfig()
	cfg.MaxBody = 1 << 16
	log := &requestLogger{log: cfg.logger()}
	conn, err := newHost(cfg, services, nil, limits(cfg, newDesk(cfg), log.link())...)
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	gateway, err := newGateway(cfg, log, newDesk(cfg), conn)
	require.NoError(t, err)
	return gateway
}

// requireAnswer checks that a request was answered with JSON, and that what
// was wrong with it, if anything, was the caller's doing and is explained.
func requireAnswer(t *testing.T, got *httptest.ResponseRecorder) {
	t.Helper()
	body := got.Body.Bytes()
	require.True(t, json.Valid(body) && utf8.Valid(body), "%q", body)
	if got.Code == http.StatusOK || got.Code == http.StatusNotImplemented { // the fake lacks methods
		return
	}
	require.Less(t, got.Code, http.StatusInternalServerError, "%s", body)
	a := answer{code: got.Code}
	require.NoError(t, json.Unmarshal(body, &a.body))
	require.NotEmpty(t, a.reason(), "%s", body)
	require.NotEmpty(t, a.message())
}

func FuzzBody(f *testing.F) {
	for _, seed := range []string{
		"", "{}", "[]", "null", `{"drive":null}`, centerBody, `{"drive":{"driver":[{"toothCount":1e400}]}}`,
		`{"drive":{"section":"\ud800"}}`, `{"allowanceMm":"NaN"}`, "{\"a\":1}\x00", `{"drive":{"driver":{"toothCount":1,"toothCount":2}}}`,
		"{\n\t\"drive\" :\r\n{\"x\xff\":1}}", `{"@type":"x"}`, `{"[a.b]":1}`, `{"drive":{"":1}}`,
	} {
		f.Add([]byte(seed))
	}
	gateway := newTestGateway(f)
	f.Fuzz(func(t *testing.T, body []byte) {
		for _, path := range []string{centerPath, "/v1/drives:solveBelt"} {
			req := httptest.NewRequest(http.MethodPost, path, bytes.NewReader(body))
			got := httptest.NewRecorder()
			gateway.ServeHTTP(got, req)
			requireAnswer(t, got)
		}
	})
}

func FuzzURL(f *testing.F) {
	for _, seed := range []struct{ path, query string }{
		{centerPath, "drive.section=H8M&allowance_mm=NaN"},
		{centerPath, "drive.driver.toothCount=24&drive.driver.tooth_count=24"},
		{centerPath, "drive[section]=1&drive.=2&.=3&=4"},
		{centerPath, "%ff=1"},
		{centerPath, "a;b"},
		{"/v1/sections/", "page_size=1e3"},
		{"/v1/sections/%2F", ""},
		{"/v1/sections/T5/beltLengths", "pageSize=-1&page_token=%00"},
		{"/v1/sections/a:b", "section=x"},
		{"/:solveCenterDistance", ""},
		{"v1", ""},
		{"", "x=1"},
	} {
		f.Add(seed.path, seed.query)
	}
	gateway := newTestGateway(f)
	f.Fuzz(func(t *testing.T, path, query string) {
		req := httptest.NewRequest(http.MethodGet, "/", nil)
		req.URL = &url.URL{Path: path, RawQuery: query}
		req.Body = io.NopCloser(bytes.NewReader(nil))
		got := httptest.NewRecorder()
		gateway.ServeHTTP(got, req)
		requireAnswer(t, got)
	})
}
