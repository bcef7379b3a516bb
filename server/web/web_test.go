package web_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"html"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/beltspan/beltspan/server"
	"github.com/beltspan/beltspan/server/web"
)

// maxBody is small, so that a test can exceed it.
const maxBody = 64 << 10

// newPages returns the pages on a service in this process.
func newPages(t testing.TB) http.Handler {
	t.Helper()
	conn, err := server.NewConn(server.DefaultConfig())
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	pages, err := web.New(web.Site{
		Conn: conn, MaxBody: maxBody, JSON: server.MarshalJSON, Log: slog.New(slog.NewTextHandler(testLog{t}, nil)),
	})
	require.NoError(t, err)
	return pages
}

// testLog fails the test on whatever is logged.
type testLog struct{ t testing.TB }

func (l testLog) Write(line []byte) (int, error) {
	l.t.Errorf("logged: %s", line)
	return len(line), nil
}

func get(t testing.TB, pages http.Handler, path string) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	pages.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

var elsewhere = regexp.MustCompile(`(?i)<script|<style|<iframe|<link[^>]*href="(?:https?:)?//|src=|@import|\son\w+=|\sstyle=`)

// TestPagesAskNothingElsewhere: a page holds no script, no style of its own and
// nothing from another place, answered or not.
func TestPagesAskNothingElsewhere(t *testing.T) {
	pages := newPages(t)
	for _, path := range []string{
		"/", "/drive", "/drive?section=H5M&driver=36&driven=45&belt=178", "/drive?find=belt&section=H5M&driver=36&driven=36&center=345",
		"/drive?find=pulley&section=H5M&driver=36&belt=178&center=343", "/spacings", "/spacings?sections=H5M&driver=32..40&driven=36&target=345&within=2",
		"/base", "/base/layout", "/fit", "/fit?section=H5M&driver=36&driven=36&belt=174&center=345", "/batch",
		"/load", "/load?section=H5M&driver=36&driven=36&belt=174&center=345&width=25&torque=5", "/path", "/path?section=H5M&wheels=36@0,0%0A36@345,0",
		"/substitutes", "/substitutes?section=H5M&driver=36&driven=36&belt=178&center=355", "/substitutes/shared-hole",
		"/substitutes/shared-hole?section=H5M&driver=36&driven=36&belt=178&driver2=36&driven2=36&belt2=174", "/sections", "/sections/H5M", "/sources", "/api",
	} {
		w := get(t, pages, path)
		assert.Equal(t, http.StatusOK, w.Code, path)
		assert.Equal(t, "text/html; charset=utf-8", w.Header().Get("Content-Type"), path)
		assert.Empty(t, elsewhere.FindString(w.Body.String()), path)
		assert.Equal(t, 1, strings.Count(w.Body.String(), "<h1>"), path)
		assert.Empty(t, w.Header().Get("Set-Cookie"), path)
	}
}

// TestFaultsStandBesideTheirFields: all at once, with what was typed kept.
func TestFaultsStandBesideTheirFields(t *testing.T) {
	pages := newPages(t)
	w := get(t, pages, "/drive?section=H5M&driver=3&driven=45&belt=178&allowance="+url.QueryEscape(`"><b>7</b>`))
	body := w.Body.String()
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Regexp(t, `<p class="error" id="e-driver">Give a whole number from 6 to 600</p>`, body)
	assert.Regexp(t, `id="f-driver" name="driver" value="3"[^>]* aria-invalid="true" aria-describedby="e-driver h-driver" autofocus>`, body)
	assert.Regexp(t, `<p class="error" id="e-allowance">`, body)
	assert.Contains(t, body, `value="&#34;&gt;&lt;b&gt;7&lt;/b&gt;"`)
	assert.NotContains(t, body, "<b>7")
	assert.Contains(t, body, `<option value="H5M" selected>`)
	assert.NotContains(t, body, "Drill at")
	// Where no such drive exists, the reason stands beside the belt.
	w = get(t, pages, "/drive?section=H5M&driver=36&driven=90&belt=80")
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Regexp(t, `id="e-belt">The belt does not reach round its pulleys: more than 90 teeth are needed`, w.Body.String())
	// A request without any value says what is needed.
	w = get(t, pages, "/drive?find=center&section=&pitch=&belt=&driver=&driven=")
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Contains(t, w.Body.String(), `id="e-driver"`)
}

// TestAddressesAreShort: what a browser sends of empty fields is not in the
// bookmark.
func TestAddressesAreShort(t *testing.T) {
	w := get(t, newPages(t), "/drive?find=center&section=H5M&pitch=&belt=178&driver=36&driven=45&allowance=&driver_flange=")
	assert.Equal(t, http.StatusSeeOther, w.Code)
	to, err := url.Parse(w.Header().Get("Location"))
	require.NoError(t, err)
	assert.Equal(t, "/drive", to.Path)
	assert.Equal(t, url.Values{"find": {"center"}, "section": {"H5M"}, "belt": {"178"}, "driver": {"36"}, "driven": {"45"}}, to.Query())
}

// TestUnits: a length typed without its unit keeps its meaning when the page
// changes to the other one. 13 1/2 in are 342.9 mm; the belt of 173.16 teeth is
// 2*342.9/5 + 36.
func TestUnits(t *testing.T) {
	pages := newPages(t)
	body := get(t, pages, "/drive?find=belt&section=H5M&driver=36&driven=36&center=13+1/2&units=in").Body.String()
	assert.Contains(t, body, "173.1600 teeth")
	assert.Contains(t, body, "13.50000 in")
	toMM := regexp.MustCompile(`<a href="([^"]*)">mm</a>`).FindStringSubmatch(body)
	require.NotNil(t, toMM)
	body = get(t, pages, html.UnescapeString(toMM[1])).Body.String()
	assert.Contains(t, body, "173.1600 teeth")
	assert.Contains(t, body, "342.9000 mm")
	toInches := regexp.MustCompile(`<a href="([^"]*)">inches</a>`).FindStringSubmatch(body)
	require.NotNil(t, toInches)
	assert.Contains(t, get(t, pages, html.UnescapeString(toInches[1])).Body.String(), "173.1600 teeth")
	body = get(t, pages, "/base?wheels=3&wheel=160&drop=0,3,0&sections=H5M&pulley=36&wheelbase=700&within=1&standard=1").Body.String()
	toInches = regexp.MustCompile(`<a href="([^"]*)">inches</a>`).FindStringSubmatch(body)
	require.NotNil(t, toInches)
	query, err := url.Parse(html.UnescapeString(toInches[1]))
	require.NoError(t, err)
	assert.Equal(t, "0mm, 3mm, 0mm", query.Query().Get("drop"))
	assert.Equal(t, "3", query.Query().Get("wheels"), "a count has no unit")
}

// TestUnitsOfLists: so do lengths in lists of lines, but not the counts beside
// them.
func TestUnitsOfLists(t *testing.T) {
	pages := newPages(t)
	inInches := func(path string) url.Values {
		body := get(t, pages, path).Body.String()
		to := regexp.MustCompile(`<a href="([^"]*)">inches</a>`).FindStringSubmatch(body)
		require.NotNil(t, to)
		address, err := url.Parse(html.UnescapeString(to[1]))
		require.NoError(t, err)
		return address.Query()
	}
	q := inInches("/path?section=H5M&wheels=" + url.QueryEscape("36@0,0\n d60@170, 30\nb1in@170,4 1/2in\n24") + "&from=1,2&belt=170")
	assert.Equal(t, "36@0mm, 0mm\nd60mm@170mm, 30mm\nb1in@170mm, 4 1/2in\n24", q.Get("wheels"))
	assert.Equal(t, "1mm, 2mm", q.Get("from"))
	assert.Equal(t, "170", q.Get("belt"))
	q = inInches("/base/layout?standoffs=" + url.QueryEscape("130,40\n215, -40") + "&members=" + url.QueryEscape("cross, 4, ends 0, 2000\nskirt, 2, 820"))
	assert.Equal(t, "130mm, 40mm\n215mm, -40mm", q.Get("standoffs"))
	assert.Equal(t, "cross, 4, ends 0mm, 2000mm\nskirt, 2, 820mm", q.Get("members"))
}

// TestAxlesCountFromOne: a fault never tells people the service's own count.
func TestAxlesCountFromOne(t *testing.T) {
	pages := newPages(t)
	rest := "&wheel=160&wheel_width=45&section=H5M&belt_width=25&pulley_width=32&cavity=125&plate=6&height=120"
	body := get(t, pages, "/base/layout?wheels=3&motors=4&dead=9&links=2-1+36/36+174,2-4+36/36+178"+rest).Body.String()
	assert.Regexp(t, `id="e-motors">There is no axle 4: give 1 to 3<`, body)
	assert.Regexp(t, `id="e-dead">There is no axle 9: give 1 to 3<`, body)
	assert.Regexp(t, `id="e-links">[^<]*the axles are counted from 1 to 3<`, body)
	body = get(t, pages, "/base/layout?wheels=3&links=2-1+36/36+174,2-3+36/36+3"+rest).Body.String()
	assert.Regexp(t, `id="e-links">Belt 2: `, body)
	body = get(t, pages, "/path?section=H5M&wheels=36@0,0%0A3@345,0%0A36@100,100").Body.String()
	assert.Regexp(t, `id="e-wheels">Wheel 2: give a whole number from 6 to 600<`, body)
}

// TestLayoutOfOtherPitch: a belt of no table has the geometry of its pitch,
// once its heights are given. 5 mm (174 - 36) / 2 are 345 mm.
func TestLayoutOfOtherPitch(t *testing.T) {
	pages := newPages(t)
	path := "/base/layout?wheels=2&wheel=160&wheel_width=45&links=1-2+36/36+174&belt_width=25&pulley_width=32&cavity=125&gap=4&plate=6&height=120&margin=60&hole=8&pitch=5"
	w := get(t, pages, path)
	assert.Equal(t, http.StatusBadRequest, w.Code)
	assert.Regexp(t, `id="e-pitch">No heights of this belt are held`, w.Body.String())
	w = get(t, pages, path+"&belt_height=3.6&tooth_height=2.1&pitch_line=0.57")
	assert.Equal(t, http.StatusOK, w.Code)
	assert.Contains(t, w.Body.String(), "<dt>Wheelbase</dt><dd>345.0000 mm</dd>")
}

// upload is a form with a file of drives.
func upload(t testing.TB, file string, fields ...string) *http.Request {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	part, err := form.CreateFormFile("file", "drives.csv")
	require.NoError(t, err)
	_, err = io.WriteString(part, file)
	require.NoError(t, err)
	for i := 0; i+1 < len(fields); i += 2 {
		require.NoError(t, form.WriteField(fields[i], fields[i+1]))
	}
	require.NoError(t, form.Close())
	r := httptest.NewRequest(http.MethodPost, "/batch", &body)
	r.Header.Set("Content-Type", form.FormDataContentType())
	return r
}

// TestBatch: the design batch of the demo gets the verdicts of its table, on
// the page and in the file.
func TestBatch(t *testing.T) {
	pages := newPages(t)
	demo := filepath.Join("..", "..", "testdata", "demo")
	drives, err := os.ReadFile(filepath.Join(demo, "design_batch.csv"))
	require.NoError(t, err)
	expected, err := os.Open(filepath.Join(demo, "design_batch_expected.csv"))
	require.NoError(t, err)
	defer expected.Close() //nolint:errcheck // only read
	want, err := csv.NewReader(expected).ReadAll()
	require.NoError(t, err)

	w := httptest.NewRecorder()
	pages.ServeHTTP(w, upload(t, string(drives), "format", "csv"))
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	assert.Equal(t, "text/csv; charset=utf-8", w.Header().Get("Content-Type"))
	got, err := csv.NewReader(w.Body).ReadAll()
	require.NoError(t, err)
	require.Len(t, got, len(want))
	count := map[string]int{}
	for i := range want[1:] {
		assert.Equal(t, want[i+1][:2], got[i+1][1:3], "id and verdict of line %s", got[i+1][0])
		count[got[i+1][2]]++
	}

	w = httptest.NewRecorder()
	pages.ServeHTTP(w, upload(t, string(drives)))
	require.Equal(t, http.StatusOK, w.Code)
	page := w.Body.String()
	for verdict, label := range map[string]string{"FITS": "Fit", "MARGINAL": "Marginal", "REJECTED": "Rejected", "INVALID": "Invalid"} {
		assert.Regexp(t, `<dt>`+label+`</dt><dd>`+string(mustJSON(t, count[verdict]))+`</dd>`, page)
	}
	assert.Contains(t, page, "A01,H5M,36,36,174,345.00,25,5.5,", "the file stands in the form, to be mended")
}

func mustJSON(t testing.TB, v any) []byte {
	t.Helper()
	out, err := json.Marshal(v)
	require.NoError(t, err)
	return out
}

func TestBatchRefuses(t *testing.T) {
	pages := newPages(t)
	tests := []struct {
		name string
		r    *http.Request
		code int
		says string
	}{
		{"no columns", upload(t, "A01,H5M,36,36,174,345\n"), 400, "there is no such column"},
		{"nothing", upload(t, ""), 400, "it is empty"},
		{"too large", upload(t, strings.Repeat("x", maxBody)), 413, "beltspan check FILE.csv takes files of any size"},
		{"bad limits", upload(t, "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\na,H5M,36,36,174,345\n", "fit_low", "1"), 400, `id="e-fit_low"`},
		{"no form", httptest.NewRequest(http.MethodPost, "/batch", strings.NewReader("drives=1")), 400, "not a form"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := httptest.NewRecorder()
			pages.ServeHTTP(w, tt.r)
			assert.Equal(t, tt.code, w.Code)
			assert.Contains(t, w.Body.String(), tt.says)
			assert.NotContains(t, w.Body.String(), "{http")
		})
	}
}

// TestDownloads: every file has its type and a name, and a question that
// cannot be answered gives none.
func TestDownloads(t *testing.T) {
	pages := newPages(t)
	drive := "/drive?section=H5M&driver=36&driven=45&belt=178&format="
	tests := []struct{ path, kind, begins string }{
		{drive + "svg", "image/svg+xml", "<svg "},
		{drive + "dxf", "image/vnd.dxf", ""},
		{"/spacings?sections=H5M&driver=36&driven=36&target=345&within=5&format=csv", "text/csv; charset=utf-8", "section,driver_tooth_count,"},
		{"/sections/H5M?format=csv", "text/csv; charset=utf-8", "designation,tooth_count,"},
		{"/fit?section=H5M&driver=36&driven=36&belt=174&center=345&format=svg", "image/svg+xml", "<svg "},
		{"/substitutes?section=H5M&driver=36&driven=36&belt=178&center=355&format=csv", "text/csv; charset=utf-8", "section,driver_tooth_count,"},
		{"/path?section=H5M&wheels=36@0,0%0A36@345,0&format=csv", "text/csv; charset=utf-8", "solution,position_mm,"},
		{"/path?section=H5M&wheels=36@0,0%0A36@345,0&format=dxf", "image/vnd.dxf", ""},
		{"/base?wheels=2&wheel=160&sections=H5M&pulley=36&wheelbase=345&within=1&format=csv", "text/csv; charset=utf-8", "plan,wheelbase_mm,"},
		{"/base?wheels=2&wheel=160&sections=H5M&pulley=36&wheelbase=345&within=1&format=json", "application/json", "{"},
	}
	for _, tt := range tests {
		w := get(t, pages, tt.path)
		assert.Equal(t, http.StatusOK, w.Code, tt.path)
		assert.Equal(t, tt.kind, w.Header().Get("Content-Type"), tt.path)
		assert.Contains(t, w.Header().Get("Content-Disposition"), "attachment; filename=", tt.path)
		assert.True(t, strings.HasPrefix(w.Body.String(), tt.begins), tt.path)
	}
	for _, path := range []string{drive + "pdf", "/drive?section=H5M&driver=36&driven=90&belt=80&format=svg", "/spacings?format=csv", "/batch?format=csv"} {
		w := get(t, pages, path)
		assert.Equal(t, http.StatusBadRequest, w.Code, path)
		assert.Equal(t, "text/plain; charset=utf-8", w.Header().Get("Content-Type"), path)
	}
}

// FuzzPages: no address makes a page fail.
func FuzzPages(f *testing.F) {
	for _, query := range []string{
		"section=H5M&driver=36&driven=45&belt=178", "find=belt&section=H5M&driver=36&driven=36&center=1e9", "units=in&allowance=1/0in&belt=",
		"sections=H5M&driver=6..600&driven=6..600&target=345&within=0.1", "wheels=3&wheel=1,2&links=2-1+36/36+174", "wheels=99999999999", "section=H5M&wheels=36@0,0%0A36@345,0%0Ab40&belt=175&move=3&from=170,60&to=170,0&solution=9", "%ff=%fe&format=number", "driver=4%5&driver=36&unit=in",
		wish + "&idler=b40&idler_from=-1in&idler_to=60&idler_at=0.4", "units=in&wheels=3&wheel=160mm&section=H5M&links=2-1+36/36+174,2-3+36/36+178" + rest + "&idler=-,36&centers=-,350mm&idler_from=-80mm&idler_hole=8,-&fit=1&measured=345mm,-&hole_tolerance=0.001",
	} {
		f.Add(query)
	}
	pages := newPages(f)
	f.Fuzz(func(t *testing.T, query string) {
		if strings.ContainsAny(query, " #\r\n") {
			return
		}
		for _, path := range []string{"/drive", "/spacings", "/fit", "/base", "/base/layout", "/batch", "/sections/x", "/load", "/path", "/substitutes", "/substitutes/shared-hole"} {
			r := httptest.NewRequest(http.MethodGet, path, nil)
			r.URL.RawQuery = query
			w := httptest.NewRecorder()
			pages.ServeHTTP(w, r)
			require.NotEqual(t, http.StatusInternalServerError, w.Code, path)
		}
	})
}

// FuzzUpload: any file gives a page; one whose drives are judged, a verdict for
// each of its lines.
func FuzzUpload(f *testing.F) {
	const head = "id,section,driver_tooth_count,driven_tooth_count,belt_tooth_count,center_distance_mm\n"
	for _, seed := range []string{head + "A01,H5M,36,36,174,345.00\n\n\"a,b\",T5,5,,1e9,NaN\r\n", head, "", "{\"id\":\"a\"}\n[]\n", "\xff\xfe", head + "<script>,\x00,\"", "id\tsection"} {
		f.Add(seed)
	}
	pages := newPages(f)
	f.Fuzz(func(t *testing.T, file string) {
		shown := httptest.NewRecorder()
		pages.ServeHTTP(shown, upload(t, file))
		require.Contains(t, []int{http.StatusOK, http.StatusBadRequest, http.StatusRequestEntityTooLarge}, shown.Code)
		require.NotRegexp(t, elsewhere, shown.Body.String())
		w := httptest.NewRecorder()
		pages.ServeHTTP(w, upload(t, file, "format", "csv"))
		require.Equal(t, shown.Code, w.Code)
		if w.Code != http.StatusOK {
			return
		}
		rows, err := csv.NewReader(w.Body).ReadAll()
		require.NoError(t, err)
		lines := 0
		for line := range strings.SplitSeq(file, "\n") {
			if strings.TrimSpace(line) != "" {
				lines++
			}
		}
		if !strings.HasPrefix(strings.TrimSpace(strings.TrimPrefix(file, "\ufeff")), "{") {
			lines-- // the head
		}
		require.Len(t, rows, 1+lines)
		for _, row := range rows[1:] {
			require.Contains(t, []string{"FITS", "MARGINAL", "REJECTED", "INVALID"}, row[2])
		}
	})
}

// TestLoadOffCenter: numbers that do not hold say so before they come.
func TestLoadOffCenter(t *testing.T) {
	const warning = "Do not use these numbers."
	load := "/load?section=H5M&belt=174&driver=36&driven=36&width=25&torque=5.5&speed=45&center="
	pages := newPages(t)
	page := get(t, pages, load+"355").Body.String()
	assert.Contains(t, page, "10.000 mm off the exact one")
	assert.Less(t, strings.Index(page, warning), strings.Index(page, "Utilization"))
	assert.Equal(t, 1, strings.Count(page, "do not hold"))
	page = get(t, pages, load+"345").Body.String()
	assert.Contains(t, page, "Utilization")
	assert.NotContains(t, page, warning)
}
