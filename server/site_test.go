package server

import (
	"html"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	contract "github.com/beltspan/beltspan/api"
)

// fetch returns status and body of a request.
func (s *served) fetch(t *testing.T, method, url, body string, header ...string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	require.NoError(t, err)
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer resp.Body.Close() //nolint:errcheck // read to its end
	raw, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	return resp.StatusCode, string(raw)
}

// TestSiteLeavesREST: what is no page stays an answer of REST.
func TestSiteLeavesREST(t *testing.T) {
	s := serve(t, &Service{}, nil)
	for _, path := range []string{"/v1/nothing", "/v1/", "/v1", "/v2/drives", "/favicon.ico"} {
		got := s.send(t, http.MethodGet, path, "")
		assert.Equal(t, 404, got.code, path)
		assert.Equal(t, reasonNotFound, got.reason(), path)
	}
	got := s.send(t, http.MethodGet, "/v1/nothing", "", "Accept", "text/html")
	assert.Equal(t, reasonNotFound, got.reason(), "a browser at REST gets REST's answer")
	code, body := s.fetch(t, http.MethodGet, s.url+"/nothing", "", "Accept", "text/html")
	assert.Equal(t, 404, code)
	assert.Contains(t, body, "<h1>There is no such page</h1>")
	code, body = s.fetch(t, http.MethodGet, s.url+"/openapi.json", "")
	assert.Equal(t, 200, code)
	assert.Equal(t, string(contract.OpenAPI), body)
	assert.Contains(t, body, `"title": "Beltspan"`)
	assert.NotContains(t, body, "version not set")
}

var curlCommand = regexp.MustCompile(`<pre tabindex="0"><code>curl (?:-d '(.*?)' )?'(.*?)'</code></pre>`)

// TestExamplesOfThePageRun: every method has a request on the page of the API,
// and it is answered as it stands.
func TestExamplesOfThePageRun(t *testing.T) {
	s := serve(t, &Service{}, nil)
	code, page := s.fetch(t, http.MethodGet, s.url+"/api", "")
	require.Equal(t, 200, code)
	asked := map[string]bool{}
	routes := readRoutes()
	for _, m := range curlCommand.FindAllStringSubmatch(page, -1) {
		body, url := html.UnescapeString(m[1]), html.UnescapeString(m[2])
		require.True(t, strings.HasPrefix(url, s.url+"/v1/"), url)
		method := http.MethodGet
		if body != "" {
			method = http.MethodPost
		}
		code, answer := s.fetch(t, method, url, body)
		assert.Equal(t, 200, code, "%s %s\n%s", url, body, answer)
		assert.NotContains(t, answer, `"error":{`, url)
		path, _, _ := strings.Cut(strings.TrimPrefix(url, s.url), "?")
		for i := range routes {
			if routes[i].verb == method && routes[i].matches(path) {
				asked[string(routes[i].method.Name())] = true
			}
		}
	}
	for _, rt := range routes {
		assert.True(t, asked[string(rt.method.Name())], "no example of %s", rt.method.Name())
	}
}

// TestCellNumber: the number for a spreadsheet has the digits of REST.
func TestCellNumber(t *testing.T) {
	s := serve(t, &Service{}, nil)
	rest := s.send(t, http.MethodGet, "/v1/drives:solveCenterDistance?drive.section=H5M&drive.driver.toothCount=36&drive.driven.toothCount=45&drive.beltToothCount=178&allowanceMm=0.05", "")
	want, ok := rest.body["drillCenterDistanceMm"].(float64)
	require.True(t, ok)
	code, body := s.fetch(t, http.MethodGet, s.url+"/drive?section=H5M&driver=36&driven=45&belt=178&allowance=0.05&format=number", "")
	assert.Equal(t, 200, code)
	assert.Equal(t, strconv.FormatFloat(want, 'g', -1, 64)+"\n", body)
	// 86 teeth on two pulleys of 22 in section L: 32 pitches of 9.525 mm, 12 in.
	code, body = s.fetch(t, http.MethodGet, s.url+"/drive?section=L&driver=22&driven=22&belt=86&units=in&format=number", "")
	assert.Equal(t, 200, code)
	assert.Equal(t, "12\n", body)
	// 345 mm between two pulleys of 36 take 2*345/5 + 36 teeth.
	code, body = s.fetch(t, http.MethodGet, s.url+"/drive?find=belt&section=H5M&driver=36&driven=36&center=345&format=number", "")
	assert.Equal(t, 200, code)
	assert.Equal(t, "174\n", body)
	for query, says := range map[string]string{
		"section=H5M&driver=36&driven=90&belt=80":                 "more than 90 teeth are needed",
		"section=H5M&driver=36&driven=45&belt=178&allowence=0.05": `no parameter "allowence"`,
		"section=H5M&driver=3&driven=45&belt=178":                 "driver: Give a whole number from 6 to 600",
		"section=H5M&driver=36&driven=45&belt=178&allowance=1,5":  "the decimal sign is a point",
		"": "there is no question",
	} {
		code, body := s.fetch(t, http.MethodGet, s.url+"/drive?"+query+"&format=number", "")
		assert.Equal(t, 400, code, query)
		assert.Contains(t, strings.ToLower(body), strings.ToLower(says), query)
		assert.NotRegexp(t, `^\s*[-+]?[0-9]`, body, "no cell takes an error for a number")
	}
}
