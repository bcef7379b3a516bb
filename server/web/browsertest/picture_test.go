package browsertest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everyPage is every page as it is most used, asked and answered.
var everyPage = []struct{ name, path string }{
	{"home", "/"},
	{"drive-empty", "/drive"},
	{"drive", "/drive?section=H5M&driver=36&driven=45&belt=178&allowance=0.05mm"},
	{"drive-belt", "/drive?find=belt&section=H5M&driver=36&driven=36&center=13+1/2in&units=in"},
	{"drive-pulley", "/drive?find=pulley&section=H5M&driver=36&belt=178&center=343.7"},
	{"drive-bad", "/drive?section=H5M&driver=3&driven=45&belt=1e9&allowance=x"},
	{"spacings-empty", "/spacings"},
	{"spacings", "/spacings?sections=H5M&driver=32..40&driven=36&target=345&within=2"},
	{"spacings-inches", "/spacings?sections=L,XL&driver=18..24&driven=18..24&target=12in&within=1/4in&standard=1&units=in"},
	{"base-empty", "/base"},
	{"base", "/base?wheels=3&wheel=160&drop=0,3,0&sections=H5M&pulley=36&wheelbase=700&within=1&min_gap=12&standard=1"},
	{"base-none", "/base?wheels=3&wheel=160&drop=0,3,0&sections=H5M&pulley=36&wheelbase=700&within=1&min_gap=12&standard=1&equal=1"},
	{"base-idler", "/base?wheels=3&wheel=160&drop=0,3,0&sections=H5M&pulley=36&wheelbase=700&within=1&standard=1&equal=1&idler=b40&idler_to=60"},
	{"base-idler-bad", "/base?wheels=3&wheel=160&sections=H5M&pulley=36&wheelbase=700&within=1&idler=x40&idler_from=60&idler_at=2"},
	{"layout-empty", "/base/layout"},
	{"layout", roverLayout},
	{"layout-idler", idlerLayout + "&idler=-,b40&centers=-,350&idler_to=60&idler_hole=8&idler_bolt=8&fit=1"},
	{"layout-idler-bad", idlerLayout + "&idler=x40&centers=1&hole_tolerance=9"},
	{"fit-empty", "/fit"},
	{"fit", "/fit?section=H5M&driver=36&driven=36&belt=174&center=345.05&oversize=0.08"},
	{"load-empty", "/load"},
	{"load", "/load?section=H5M&driver=36&driven=36&belt=174&center=345&width=25&torque=5.5&speed=45&wheel=160"},
	{"substitutes-empty", "/substitutes"},
	{"substitutes", "/substitutes?section=H5M&driver=36&driven=36&belt=178&center=355"},
	{"shared-empty", "/substitutes/shared-hole"},
	{"shared", "/substitutes/shared-hole?section=H5M&driver=36&driven=36&belt=178&driver2=36&driven2=36&belt2=174"},
	{"path-empty", "/path"},
	{"path", "/path?section=H5M&wheels=36@0,0%0A36@345,0%0Ab40@170,38"},
	{"path-moving", "/path?section=H5M&belt=190&wheels=36@0,0%0A45@300mm,0%0A24&move=3&pivot=0,0&radius=190mm&from_angle=-80&to_angle=-10&units=in"},
	{"path-bad", "/path?section=H5M&wheels=36@0,0%0A3@345,0%0Ab40@170&move=9"},
	{"batch-empty", "/batch"},
	{"sections", "/sections"},
	{"section", "/sections/H5M"},
	{"sources", "/sources"},
	{"api", "/api"},
	{"missing", "/nowhere"},
}

// roverLayout is the six-wheel rover of the demo.
const roverLayout = "/base/layout?wheels=3&wheel=160&drop=0,3,0&wheel_width=45&hole=8,22,8&dead=1,3&motors=2&section=H5M" +
	"&links=2-1+36/36+174,+2-3+36/36+178&belt_width=25&pulley_width=32&flange=61&cavity=125&gap=4&plate=6&height=120&margin=60&round_up=1" +
	"&standoffs=130,40%0A215,40%0A485,40%0A570,40%0A172.5,-43%0A527.5,-43&standoff=14&standoff_hole=5.5&clearance=3&standoff_stock=1000&lines=0,40" +
	"&track=520&members=cross+member,4,ends+0mm,2000%0Abumper,2,657,2000%0Askirt,2,820,2000&kerf=2.5&slip=137.3"

// idlerLayout is a side of three wheels on belts that are too long.
const idlerLayout = "/base/layout?wheels=3&wheel=160&drop=0,3,0&wheel_width=45&hole=8,22,8&dead=1,3&section=H5M" +
	"&links=2-1+36/36+174,+2-3+36/36+178&belt_width=25&pulley_width=32&flange=61&cavity=125&gap=4&plate=6&height=120&margin=60"

// TestPagesFitEveryWidth: no page scrolls sideways, and none asks for anything
// elsewhere. With BELTSPAN_SHOTS it takes the pictures.
func TestPagesFitEveryWidth(t *testing.T) {
	for _, page := range everyPage {
		t.Run(page.name, func(t *testing.T) {
			for _, width := range []int64{1280, 360} {
				p := sit(t, width)
				p.opens(page.path)
				wide := evaluates[int64](p, `document.documentElement.scrollWidth`)
				assert.LessOrEqual(t, wide, width, "the page scrolls sideways")
				elsewhere := evaluates[[]string](p, `performance.getEntriesByType("resource").map(e => e.name).filter(n => !n.startsWith(location.origin) && !n.startsWith("data:"))`)
				assert.Empty(t, elsewhere, "requests to other places")
				assert.Zero(t, evaluates[int](p, `document.scripts.length`))
				p.pictures(page.name, width)
			}
		})
	}
}

// pictures takes the page in light, dark and, at full width, on paper.
func (p *person) pictures(name string, width int64) {
	p.Helper()
	dir := os.Getenv("BELTSPAN_SHOTS")
	if dir == "" {
		return
	}
	views := []struct{ media, scheme, name string }{{"screen", "light", "light"}, {"screen", "dark", "dark"}}
	if width > 1000 {
		views = append(views, struct{ media, scheme, name string }{"print", "light", "print"})
	}
	for _, v := range views {
		p.prefers(v.media, v.scheme)
		png, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
		require.NoError(p, err)
		size := "phone"
		if width > 1000 {
			size = "desk"
		}
		require.NoError(p, os.WriteFile(filepath.Join(dir, strings.Join([]string{name, size, v.name}, "-")+".png"), png, 0o600))
	}
}
