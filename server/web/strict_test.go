package web_test

import (
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPagesRefuseStrays: what an address holds beside the question is told, and
// the form keeps what was given.
func TestPagesRefuseStrays(t *testing.T) {
	pages := newPages(t)
	const drive = "/drive?section=H5M&driver=36&driven=45&belt=178"
	for _, tt := range []struct{ path, says string }{
		{drive + "&allowence=0.05", `There is no parameter "allowence": the nearest is allowance`},
		{"/base?" + wish + "&min_gab=12", `There is no parameter "min_gab": the nearest is min_gap`},
		{"/base/layout?wheels=3&cavety=125", `There is no parameter "cavety": the nearest is cavity`},
		{"/path?wheel=36", `There is no parameter "wheel": the nearest is wheels`},
		{"/spacings?sections=H5M&driver=36&driven=36&target=345&within=2&page_size=5", `There is no parameter "page_size"`},
		{"/fit?senter=345", `There is no parameter "senter": the nearest is center`},
		{"/load?torq=5", `the nearest is torque`},
		{"/substitutes?holes=355", `There is no parameter "holes"`},
		{"/substitutes/shared-hole?belt3=174", `There is no parameter "belt3"`},
		{"/batch?drive=x", `There is no parameter "drive": the nearest is drives`},
		{"/sections?section=H5M", `There is no parameter "section"`},
		{"/sections/H5M?unit=in", `There is no parameter "unit": the nearest is units`},
		{"/?x=1", `There is no parameter "x"`},
		{"/sources?format=csv", `There is no parameter "format"`},
		{"/api?x=<b>", `There is no parameter "x"`},
		{drive + "&%3Cb%3E=1", `There is no parameter "<b>"`},
		{drive + "&belt=174", `belt is given 2 times, as "178, 174": give it once`},
		{drive + "&allowance=&allowance=0.05", `allowance is given 2 times`},
		{drive + "&units=inch", `units is "inch": give mm or in`},
		{drive + "&allowance=4%5&driver_flange=", `The address cannot be read`},
		{drive + "&find=senter", `Find is`},
		{"/base?" + strings.Replace(wish, "equal=1", "equal=no", 1), `Give 1 for yes, or leave it out`},
		{"/spacings?sections=H5M&driver=36&driven=36&target=345&within=2&order=best", `Choose one of the list`},
	} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		path, query, _ := strings.Cut(tt.path, "?")
		r.URL.Path, r.URL.RawQuery = path, query
		w := httptest.NewRecorder()
		pages.ServeHTTP(w, r)
		body := w.Body.String()
		assert.Equal(t, http.StatusBadRequest, w.Code, tt.path)
		assert.Contains(t, strings.ToLower(html.UnescapeString(body)), strings.ToLower(tt.says), tt.path)
		assert.NotContains(t, body, `id="answer"`, tt.path)
		assert.NotContains(t, body, `<b>`, tt.path)
		if strings.HasPrefix(tt.path, "/drive") {
			assert.Regexp(t, `name="driver" value="36"`, body, "the form stays filled")
			assert.Contains(t, body, `<option value="H5M" selected>`)
		}
	}
	// The address mended is a click away.
	body := get(t, pages, drive+"&allowence=0.05").Body.String()
	mended := regexp.MustCompile(`<a href="([^"]*)">Ask with allowance</a>`).FindStringSubmatch(body)
	require.NotNil(t, mended)
	w := get(t, pages, html.UnescapeString(mended[1]))
	assert.Equal(t, http.StatusOK, w.Code)
	assert.Contains(t, w.Body.String(), "343.7254 mm")
	// Files say so, too, and uploads.
	w = get(t, pages, drive+"&allowence=0.05&format=svg")
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Contains(t, w.Body.String(), `no parameter "allowence": the nearest is allowance`)
	w = get(t, pages, "/load?section=H5M&format=csv")
	assert.Contains(t, w.Body.String(), `format is "csv": this page has none`)
	w = httptest.NewRecorder()
	pages.ServeHTTP(w, upload(t, "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\na,H5M,36,36,174,345\n", "format", "csv", "fit_lo", "-1"))
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Contains(t, html.UnescapeString(w.Body.String()), `no parameter "fit_lo": the nearest is fit_low`)
}

// TestLinksLeadSomewhere: no link of a page leads to one that refuses it.
func TestLinksLeadSomewhere(t *testing.T) {
	pages := newPages(t)
	links := regexp.MustCompile(`(?:href|action)="(/[^"#]*)"`)
	asked := map[string]bool{"/base?" + wish + "&idler=36&idler_from=-80": true, "/": true, "/batch?units=in": true}
	var queue []string
	for path := range asked {
		queue = append(queue, path)
	}
	refused := regexp.MustCompile(`There is no parameter|is given \d+ times|format is `)
	const most = 1000
	for n := 0; len(queue) > 0 && n < most; n++ {
		path := queue[0]
		queue = queue[1:]
		w := get(t, pages, path)
		assert.Empty(t, refused.FindString(w.Body.String()), path)
		if !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			continue
		}
		for _, m := range links.FindAllStringSubmatch(w.Body.String(), -1) {
			to := html.UnescapeString(m[1])
			address, err := url.Parse(to)
			require.NoError(t, err, path)
			// One address a page and set of parameters is enough.
			if kind := kindOf(address); !asked[kind] {
				asked[kind] = true
				queue = append(queue, to)
			}
		}
	}
	assert.Empty(t, queue, "every kind of link was followed")
}

// kindOf is a page with the names of its parameters, sections apart.
func kindOf(address *url.URL) string {
	q := address.Query()
	for name := range q {
		if name != "format" && name != "find" && name != "sheet" {
			q.Set(name, "")
		}
	}
	path := address.Path
	if strings.HasPrefix(path, "/sections/") {
		path = "/sections/x"
	}
	return path + "?" + q.Encode()
}
