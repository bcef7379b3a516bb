package server

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	centerPath = "/v1/drives:solveCenterDistance"
	centerBody = `{"drive":{"section":"H8M","driver":{"toothCount":24},"driven":{"tooth_count":36},"beltTeeth":1}}`
)

func TestGatewayAnswers(t *testing.T) {
	s := serve(t, &fake{}, nil)

	post := s.send(t, http.MethodPost, centerPath, `{"drive":{"section":"H8M","driver":{"toothCount":24},"driven":{"tooth_count":36}},"allowanceMm":0.25}`)
	require.Equal(t, http.StatusOK, post.code, post.body)
	assert.InDelta(t, 0.25, post.body["drillCenterDistanceMm"], 0) // passed on, not computed
	assert.Equal(t, []any{}, post.body["notes"], "empty lists are printed")
	assert.Equal(t, "application/json", post.header.Get("Content-Type"))

	get := s.send(t, http.MethodGet, centerPath+"?drive.section=H8M&drive.driver.toothCount=24&drive.driven.tooth_count=36&allowance_mm=0.25", "")
	assert.Equal(t, post.body, get.body)

	section := s.send(t, http.MethodGet, "/v1/sections/T5", "")
	require.Equal(t, http.StatusOK, section.code)
	assert.Equal(t, "T5", section.body["section"].(map[string]any)["section"])
}

// TestBodiesByOtherPrograms: a byte-order mark is no fault, compression is, on
// calls and on streams.
func TestBodiesByOtherPrograms(t *testing.T) {
	s := serve(t, &Service{}, nil)
	const mark = "\ufeff"
	for _, path := range []string{"/v1/drives:check", "/v1/drives:streamCheck"} {
		got := s.send(t, http.MethodPost, path, mark+`{"items":[{"id":"a"}]}`)
		assert.Equal(t, http.StatusOK, got.code, path)
		assert.Contains(t, fmt.Sprint(got.body), "id:a", path)

		var zipped bytes.Buffer
		writer := gzip.NewWriter(&zipped)
		_, err := writer.Write([]byte(`{"items":[{"id":"a"}]}`))
		require.NoError(t, errors.Join(err, writer.Close()))
		got = s.send(t, http.MethodPost, path, zipped.String(), "Content-Encoding", "gzip")
		assert.Equal(t, http.StatusUnsupportedMediaType, got.code, path)
		assert.Equal(t, reasonEncoding, got.reason(), path)
	}
}

// TestGatewayRefuses holds each way to send a request that means nothing.
func TestGatewayRefuses(t *testing.T) {
	s := serve(t, &fake{}, func(c *Config) { c.MaxBody = 4096 })
	tests := []struct {
		name, method, path, body string
		code                     int
		reason                   string
		fields                   []string
		text                     string // part of the message
	}{
		{
			name: "unknown JSON field", method: "POST", path: centerPath, body: centerBody,
			code: 400, reason: reasonUnknownField, fields: []string{"drive.beltTeeth"},
			text: `unknown field "drive.beltTeeth" at line 1: the nearest is "belt_tooth_count"`,
		},
		{
			name: "unknown JSON field on line 3", method: "POST", path: centerPath, body: "{\"drive\":\n{\"driver\":{\n \"teeth\":1}}}",
			code: 400, reason: reasonUnknownField, fields: []string{"drive.driver.teeth"},
			text: `at line 3: the nearest is "tooth_count", allowed are tooth_count, flange_diameter_mm`,
		},
		{
			name: "duplicate JSON field", method: "POST", path: centerPath, body: `{"allowanceMm":1,"allowance_mm":2}`,
			code: 400, reason: reasonDuplicateField, fields: []string{"allowance_mm"}, text: "give it once",
		},
		{
			name: "text for a number", method: "POST", path: centerPath, body: `{"drive":{"driver":{"toothCount":"many"}}}`,
			code: 400, reason: reasonInvalidValue, fields: []string{"drive.driver.tooth_count"},
			text: `drive.driver.tooth_count is "many" at line 1: give a whole number`,
		},
		{
			name: "fraction for a count", method: "POST", path: centerPath, body: `{"drive":{"driver":{"toothCount":1.5}}}`,
			code: 400, reason: reasonInvalidValue, fields: []string{"drive.driver.tooth_count"}, text: "is 1.5 at line 1",
		},
		{
			name: "number for an object", method: "POST", path: centerPath, body: `{"drive":{"driver":7}}`,
			code: 400, reason: reasonInvalidValue, fields: []string{"drive.driver"}, text: "give an object with tooth_count",
		},
		{
			name: "list for the body", method: "POST", path: centerPath, body: `[1]`,
			code: 400, reason: reasonInvalidValue, fields: []string{""}, text: "the body is a list",
		},
		{
			name: "cut JSON", method: "POST", path: centerPath, body: "{\"drive\":\n  {\"driver\"",
			code: 400, reason: reasonMalformedJSON, text: "malformed JSON at line 2",
		},
		{
			name: "two values", method: "POST", path: centerPath, body: `{} {}`,
			code: 400, reason: reasonMalformedJSON, text: "line 1, column 4",
		},
		{
			name: "bare NaN", method: "POST", path: centerPath, body: `{"allowanceMm":NaN}`,
			code: 400, reason: reasonMalformedJSON, text: "line 1, column 16",
		},
		{
			name: "no UTF-8", method: "POST", path: centerPath, body: "{\"drive\":{\"section\":\"\xff\"}}",
			code: 400, reason: reasonMalformedJSON, text: "not UTF-8",
		},
		{
			name: "word that is none of an enum", method: "POST", path: "/v1/bases:draw", body: `{"format":"PDF"}`,
			code: 400, reason: reasonInvalidValue, fields: []string{"format"}, text: "give one of DRAWING_FORMAT_SVG, ",
		},
		{
			name: "body over the limit", method: "POST", path: centerPath, body: `{"drive":{"section":"` + strings.Repeat("x", 5000) + `"}}`,
			code: 413, reason: reasonBodyTooLarge, text: "larger than 4096 bytes",
		},
		{
			name: "unknown query parameter", method: "GET", path: centerPath + "?drive.driver.teeth=24&nonsense=1",
			code: 400, reason: reasonUnknownParameter, fields: []string{"drive.driver.teeth", "nonsense"},
			text: `unknown query parameter "drive.driver.teeth": the nearest is "drive.driver.tooth_count"`,
		},
		{
			name: "query parameter that is a message", method: "GET", path: centerPath + "?drive.driver=24",
			code: 400, reason: reasonUnknownParameter, fields: []string{"drive.driver"}, text: "allowed are",
		},
		{
			name: "query parameter beside a body", method: "POST", path: centerPath + "?allowanceMm=1", body: `{}`,
			code: 400, reason: reasonUnknownParameter, fields: []string{"allowanceMm"}, text: "in the body only",
		},
		{
			name: "path field as query parameter", method: "GET", path: "/v1/sections/T5?section=XL",
			code: 400, reason: reasonUnknownParameter, fields: []string{"section"}, text: "takes none",
		},
		{
			name: "query values of the wrong type", method: "GET", path: centerPath + "?allowance_mm=x&drive.beltToothCount=1.5",
			code: 400, reason: reasonInvalidValue, fields: []string{"allowance_mm", "drive.belt_tooth_count"}, text: `allowance_mm is "x": give a finite number`,
		},
		{
			name: "query parameter given twice", method: "GET", path: centerPath + "?allowance_mm=1&allowanceMm=2",
			code: 400, reason: reasonDuplicateField, fields: []string{"allowance_mm"}, text: "given twice",
		},
		{
			name: "query that is no UTF-8", method: "GET", path: centerPath + "?drive.section=%ff",
			code: 400, reason: reasonMalformedRequest, text: "not UTF-8",
		},
		{
			name: "query that cannot be read", method: "GET", path: centerPath + "?drive.section=%zz",
			code: 400, reason: reasonMalformedRequest, text: "query cannot be read",
		},
		{
			name: "path that is no UTF-8", method: "GET", path: "/v1/sections/%ff",
			code: 400, reason: reasonMalformedRequest, text: "not UTF-8",
		},
		{
			name: "wrong method", method: "DELETE", path: centerPath,
			code: 405, reason: reasonMethodNotAllowed, text: "use GET, POST",
		},
		{
			name: "wrong method on a path with a field", method: "POST", path: "/v1/sections/T5", body: "{}",
			code: 405, reason: reasonMethodNotAllowed, text: "use GET",
		},
		{
			name: "form instead of GET", method: "POST", path: "/v1/sections", body: "page_size=1",
			code: 405, reason: reasonMethodNotAllowed, text: "use GET",
		},
		{
			name: "unknown path", method: "GET", path: "/v1/drives:solveCentreDistance",
			code: 404, reason: reasonNotFound, text: "the nearest is /v1/drives:solveCenterDistance",
		},
		{name: "no page either", method: "GET", path: "/v2/drives", code: 404, reason: reasonNotFound, text: "no path of this service"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := s.send(t, tt.method, tt.path, tt.body, "X-Request-Id", "mine-1")
			assert.Equal(t, tt.code, got.code, got.body)
			assert.Equal(t, tt.reason, got.reason())
			assert.Equal(t, tt.fields, got.fields())
			assert.Contains(t, got.message(), tt.text)
			assert.NotContains(t, got.message(), "proto:")
			assert.Equal(t, "application/json", got.header.Get("Content-Type"))
			assert.Equal(t, "mine-1", got.header.Get("X-Request-Id"))
			assert.Equal(t, errorDomain, got.details("google.rpc.ErrorInfo")[0]["domain"])
			if tt.code == http.StatusMethodNotAllowed {
				assert.Contains(t, got.message(), got.header.Get("Allow"))
				assert.NotEmpty(t, got.header.Get("Allow"))
			}
		})
	}
	assert.Len(t, s.lines(t, `"request_id":"mine-1"`), len(tests), "one line a request, refused ones too")
}

func TestMethodOverrideIsOff(t *testing.T) {
	s := serve(t, &fake{}, nil)
	got := s.send(t, http.MethodPost, "/v1/sections", "page_size=1", "X-HTTP-Method-Override", "GET", "Content-Type", "application/x-www-form-urlencoded")
	assert.Equal(t, http.StatusMethodNotAllowed, got.code)
}

// TestEveryRouteIsKnown asks every route of the proto for an unknown query
// parameter: a route the check cannot find would end in a closed connection.
func TestEveryRouteIsKnown(t *testing.T) {
	s := serve(t, &fake{}, nil)
	routes := readRoutes()
	require.NotEmpty(t, routes)
	for _, rt := range routes {
		path := strings.NewReplacer("{", "", "}", "").Replace(rt.template)
		got := s.send(t, rt.verb, path+"?nonsense=1", "")
		assert.Equal(t, reasonUnknownParameter, got.reason(), "%s %s: %v", rt.verb, path, got.body)
	}
}

// TestErrorsStayShort repeats no more than a little of what a caller sent.
func TestErrorsStayShort(t *testing.T) {
	s := serve(t, &fake{}, nil)
	long := strings.Repeat("x", 1<<20)
	var flood strings.Builder
	for i := range 5000 {
		fmt.Fprintf(&flood, "&n%d=1", i)
	}
	for name, got := range map[string]answer{
		"key":        s.send(t, http.MethodPost, centerPath, `{"drive":{"`+long+`":1}}`),
		"text":       s.send(t, http.MethodPost, centerPath, `{"allowanceMm":"`+long+`"}`),
		"number":     s.send(t, http.MethodPost, centerPath, `{"drive":{"beltToothCount":`+strings.Repeat("1", 1<<20)+`}}`),
		"depth":      s.send(t, http.MethodPost, centerPath, `{"drive":`+strings.Repeat("[", 9000)+strings.Repeat("]", 9000)+`}`),
		"parameters": s.send(t, http.MethodGet, centerPath+"?"+flood.String()[1:], ""),
		"parameter":  s.send(t, http.MethodGet, centerPath+"?"+long[:20_000]+"=1", ""),
		"path":       s.send(t, http.MethodGet, "/"+long[:20_000], ""),
		"timeout":    s.send(t, http.MethodGet, centerPath, "", "Grpc-Timeout", "\xff"+long[:20_000]),
	} {
		assert.GreaterOrEqual(t, got.code, 400, name)
		assert.Less(t, got.code, 500, name)
		assert.NotNil(t, got.reason(), name)
		assert.Less(t, len(fmt.Sprint(got.body)), 10_000, name)
	}
}

// TestBodyTooLargeIsAnswered: a client that sends all of its body before it
// reads gets the refusal, with and without a stated length.
func TestBodyTooLargeIsAnswered(t *testing.T) {
	s := serve(t, &fake{}, func(c *Config) { c.MaxBody = 1 << 20 })
	body := strings.Repeat(" ", 3<<20)
	for name, head := range map[string]string{
		"stated":  fmt.Sprintf("Content-Length: %d\r\n\r\n%s", len(body), body),
		"chunked": fmt.Sprintf("Transfer-Encoding: chunked\r\n\r\n%x\r\n%s\r\n0\r\n\r\n", len(body), body),
	} {
		conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
		require.NoError(t, err)
		_, err = io.WriteString(conn, "POST /v1/drives:solveBelt HTTP/1.1\r\nHost: localhost\r\n"+head)
		require.NoError(t, err, name)
		answer, err := http.ReadResponse(bufio.NewReader(conn), nil)
		require.NoError(t, err, name)
		assert.Equal(t, http.StatusRequestEntityTooLarge, answer.StatusCode, name)
		require.NoError(t, answer.Body.Close())
		require.NoError(t, conn.Close())
	}
}
