package web_test

import (
	"fmt"
	"html"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// wish is the demo rover with equal gaps, which no belts of a list give; rest is
// what its layout needs beside a plan.
const (
	wish = "wheels=3&wheel=160&drop=0,3,0&sections=H5M&pulley=36&wheelbase=700&within=1&standard=1&equal=1"
	rest = "&wheel_width=45&hole=8,22,8&dead=1,3&belt_width=25&pulley_width=32&flange=61&cavity=125&gap=4&plate=6&height=180&margin=60"
)

var tags = regexp.MustCompile(`(?:\s*<[^>]*>\s*)+`)

// text is what a page says, with a bar where its tags are.
func text(body string) string { return html.UnescapeString(tags.ReplaceAllString(body, "|")) }

// layoutLink is the link of a plan to its layout.
func layoutLink(t *testing.T, body string) *url.URL {
	t.Helper()
	to := regexp.MustCompile(`<th scope="row" class="keep"><a href="(/base/layout[^"]*)"`).FindStringSubmatch(body)
	require.NotNil(t, to)
	address, err := url.Parse(html.UnescapeString(to[1]))
	require.NoError(t, err)
	return address
}

// TestIdlerOfAPlan: an idler that a plan uses is told, and goes along to the
// layout with all digits. Three wheels of 36 teeth: 890 mm of belt less a rim of
// 180 mm are the triangle of their centers, so the idler stands at
// sqrt((355 - c) 355) from the line of two of them, c apart.
func TestIdlerOfAPlan(t *testing.T) {
	pages := newPages(t)
	c := math.Hypot(350, 3)
	offset := fmt.Sprintf("%.4f", math.Sqrt((355-c)*355))
	w := get(t, pages, "/base?"+wish+"&idler=36&idler_from=-80")
	require.Equal(t, http.StatusOK, w.Code)
	plan := text(w.Body.String())
	assert.Contains(t, plan, "idler "+offset+" mm below the line of centers")
	assert.Contains(t, plan, "|-"+offset+"|")
	assert.Contains(t, plan, "|1, 2|")
	assert.Contains(t, plan, "No plan without idlers meets all conditions")

	assert.Contains(t, plan, "|2|350.0000|-3.0000|", "where axle 2 goes")

	to := layoutLink(t, w.Body.String())
	q := to.Query()
	assert.Equal(t, "36", q.Get("idler"))
	assert.Equal(t, "-80", q.Get("idler_from"))
	w = get(t, pages, to.String()+rest+"&idler_hole=10&idler_bolt=10")
	require.Equal(t, http.StatusOK, w.Code)
	layout := text(w.Body.String())
	assert.Contains(t, layout, "|700.0000 mm|")
	assert.Contains(t, layout, "|Rim|36 teeth|36 teeth|Off the line of centers, mm|-"+offset+"|-"+offset+"|")
	assert.Contains(t, layout, fmt.Sprintf("|%.4f|350.0000|", c), "the belt's row has the axles' distance, not the 355 mm of the belt alone")
	assert.Contains(t, layout, "idler of belt 2|")
	assert.Contains(t, layout, "Idler of belt 2|", "its stack")
	assert.Contains(t, layout, fmt.Sprintf("|%.1f|", 2*math.Atan(2*math.Sqrt((355-c)*355)/c)*180/math.Pi), "wrap")
	assert.Contains(t, layout, "H5M, 36 teeth")

	// A plan that does without has none in its layout.
	w = get(t, pages, "/base?"+strings.Replace(wish, "&equal=1", "", 1)+"&idler=36&idler_from=-80")
	assert.NotContains(t, text(w.Body.String()), "Idlers on belts")
	assert.NotContains(t, layoutLink(t, w.Body.String()).Query(), "idler")
}

// TestIdlersOfALayout: each belt may have its own idler, or none, and lengths
// without a unit keep their meaning when the page changes to inches.
func TestIdlersOfALayout(t *testing.T) {
	pages := newPages(t)
	base := "/base/layout?wheels=3&wheel=160&section=H5M&links=2-1+36/36+174,2-3+36/36+178" + rest
	w := get(t, pages, base+"&idler=-,b40&centers=-,350&idler_to=60&idler_hole=-,8&idler_bolt=8")
	require.Equal(t, http.StatusOK, w.Code)
	body := w.Body.String()
	assert.Contains(t, text(body), "|345.0000|345.0000|", "belt 1 sets its own axles")
	assert.Contains(t, text(body), "|On belt 2|Rim|40.0000 mm smooth, on the back|")
	assert.NotContains(t, text(body), "idler of belt 1|")
	toInches := regexp.MustCompile(`<a href="([^"]*)">inches</a>`).FindStringSubmatch(body)
	require.NotNil(t, toInches)
	address, err := url.Parse(html.UnescapeString(toInches[1]))
	require.NoError(t, err)
	q := address.Query()
	assert.Equal(t, "-, b40mm", q.Get("idler"))
	assert.Equal(t, "-, 350mm", q.Get("centers"))
	assert.Equal(t, "-, 8mm", q.Get("idler_hole"))
	assert.Equal(t, "60mm", q.Get("idler_to"))
	assert.Contains(t, text(get(t, pages, address.String()).Body.String()), "1.57480 in smooth, on the back")
}

// TestIdlerFaults stand beside the fields of the idler, in the forms' words.
func TestIdlerFaults(t *testing.T) {
	pages := newPages(t)
	layout := "/base/layout?wheels=3&wheel=160&section=H5M&links=2-1+36/36+178,2-3+36/36+178" + rest
	for _, tt := range []struct{ path, field, says string }{
		{"/base?" + wish + "&idler=x", "idler", "write b40mm"},
		{"/base?" + wish + "&idler=b40@1,2&idler_to=60", "idler", "give its size only"},
		{"/base?" + wish + "&idler_to=60", "idler", "no idler"},
		{"/base?" + wish + "&idler=b40", "idler_to", "give more than “Idler's center from”"},
		{"/base?" + wish + "&idler=3&idler_to=60", "idler", "6 to 600"},
		{"/base?" + wish + "&idler=b40&idler_to=60&idler_at=1", "idler_at", "0.01 to 0.99"},
		{layout + "&idler=b40&idler_to=60", "centers", "belt 1"},
		{layout + "&centers=350", "idler", "no idler"},
		{layout + "&idler=b40,-,-&centers=350&idler_to=60", "idler", "or 2 with commas"},
		{layout + "&idler=b40,-&centers=350,350&idler_to=60", "centers", "belt 2"},
		{layout + "&idler=b40&centers=350&idler_to=60&idler_width=3", "idler_width", "at least “Belt width”, which is 25"},
		{layout + "&idler=b40&centers=350&idler_to=60&idler_at=-,2", "idler_at", "belt 2: give a number from 0.01 to 0.99"},
		{layout + "&idler=b40&centers=350&idler_from=50&idler_to=60", "idler_from", "belt 1"},
		{layout + "&hole_tolerance=9", "hole_tolerance", "0 to 5"},
		{layout + "&measured=-,350", "measured", "belt 2: a belt of 178 teeth"},
		{layout + "&uncertainty=1", "measured", "give the center distance"},
		{layout + "&fit_low=1", "fit_low", ""},
	} {
		w := get(t, pages, tt.path)
		assert.Equal(t, http.StatusBadRequest, w.Code, tt.path)
		said := regexp.MustCompile(`<p class="error" id="e-` + tt.field + `">([^<]*)<`).FindStringSubmatch(w.Body.String())
		if assert.NotNil(t, said, tt.path) {
			assert.Contains(t, strings.ToLower(html.UnescapeString(said[1])), strings.ToLower(tt.says), tt.path)
			assert.Equal(t, 1, strings.Count(w.Body.String(), `class="error"`), tt.path)
		}
	}
}

// TestFitOfABase: the shares are those of a normal distribution, reckoned with
// the error function: two holes and half of a belt's length, 3 sigma each.
func TestFitOfABase(t *testing.T) {
	pages := newPages(t)
	layout := "/base/layout?wheels=3&wheel=160&section=H5M&links=2-1+36/36+174,2-3+36/36+178" + rest
	assert.Contains(t, get(t, pages, layout).Body.String(), `fit=1`, "the fit is a click away")
	share := func(deviation, sigma float64) float64 { return (1 + math.Erf(deviation/sigma/math.Sqrt2)) / 2 }
	percent := func(v float64) string { return fmt.Sprintf("%.1f %%", 100*v) }
	sigma := math.Sqrt(2*0.03*0.03+0.15*0.15) / 3
	loose, good := share(-0.05, sigma), share(0.15, sigma)-share(-0.05, sigma)
	want := fmt.Sprintf("|1|%s|%s|%s|", percent(loose), percent(good), percent(1-loose-good))
	body := text(get(t, pages, layout+"&hole_tolerance=0.03&length_tolerance=0.3").Body.String())
	assert.Contains(t, body, want)
	assert.Contains(t, body, fmt.Sprintf("0.0000 ± %.4f", 3*sigma))
	assert.Contains(t, body, "Belts likely good")
	// The middle of what is good, and a half of one tolerance.
	assert.Contains(t, body, "|1|its axles 0.0500 mm farther apart|"+percent(2*share(0.1, sigma)-1)+"|")
	half := math.Sqrt(2*0.03*0.03+0.075*0.075) / 3
	assert.Contains(t, body, "|1|half of “Belt length, plus and minus”|"+percent(share(0.15, half)-share(-0.05, half))+"|")

	// Belt 2 in hand is taut at 355.02 mm, 0.02 mm beyond its nominal distance:
	// on its holes it is that much looser, and only the holes vary.
	sigma = math.Sqrt2 * 0.03 / 3
	loose, good = share(-0.05+0.02, sigma), share(0.15+0.02, sigma)-share(-0.05+0.02, sigma)
	body = text(get(t, pages, layout+"&hole_tolerance=0.03&length_tolerance=0.3&measured=-,355.02").Body.String())
	assert.Contains(t, body, want)
	assert.Contains(t, body, fmt.Sprintf("|2|%s|%s|%s|", percent(loose), percent(good), percent(1-loose-good)))
	assert.Contains(t, body, "-0.0200 ± ")

	// Other limits of what is good.
	assert.Contains(t, text(get(t, pages, layout+"&fit=1&fit_low=-0.1&fit_high=0.2").Body.String()), "a deviation from -0.1000 to +0.2000 mm")
}

// TestDrilledWithIdler: on plates that are drilled the idler takes up what the
// holes are off, so no deviation is told.
func TestDrilledWithIdler(t *testing.T) {
	layout := "/base/layout?wheels=2&wheel=160&section=H5M&links=1-2+36/36+178&drilled=0,0%0A350,0&idler=b40&idler_to=60" + strings.Replace(rest, "hole=8,22,8&dead=1,3", "hole=8", 1)
	body := text(get(t, newPages(t), layout).Body.String())
	assert.Contains(t, body, "its idler takes it up")
	assert.NotContains(t, body, "-5.0000 mm")
}
