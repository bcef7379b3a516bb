package browsertest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The numbers are those of the demo, variant A of the rover.

func TestBase(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/base")
	p.types("Wheels on a side", "3")
	p.types("Wheel diameter", "160")
	p.types("Drop", "0, 3, 0")
	p.types("Wanted wheelbase", "700")
	p.types("Within", "1")
	p.types("Belt sections", "H5M")
	p.types("Pulley teeth", "36")
	p.does(chromedp.Click(p.labeled("Standard lengths only")), chromedp.Click(p.labeled("Equal gaps")))
	p.presses("Find plans")
	assert.Contains(t, p.reads(), "No plan meets all of the conditions", "the wish that fails, and why")
	assert.Contains(t, p.reads(), "709.974647")
	p.does(chromedp.Click(p.labeled("Equal gaps")))
	p.presses("Find plans")
	assert.Contains(t, p.reads(), "699.9743")
	p.presses("174 + 178")
	assert.Contains(t, p.reads(), "Still to be given")
	p.types("Wheel width", "45")
	p.types("Belt width", "25")
	p.types("Pulley width over flanges", "32")
	p.types("Cavity width", "121")
	p.types("Gap beside a pulley", "4")
	p.types("Plate thickness", "6")
	p.types("Plate height", "120")
	p.types("Plate beyond the end axles", "60")
	p.presses("Lay out")
	assert.Contains(t, p.reads(), "4 mm", "the cavity is short by so much on axle 2")
	p.types("Cavity width", "125")
	p.presses("Lay out")
	text := p.reads()
	for _, want := range []string{"699.9743 mm", "344.9870", "Stacks, inner to outer plate", "outboard"} {
		assert.Contains(t, text, want)
	}
}

// TestIdler: a person wants equal gaps and 36 teeth, which no belts of a list
// give, lets an idler take up what the next belt is too long, and lays that out.
// Two belts of 890 mm for axles 350 mm apart along the rail.
func TestIdler(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/base?wheels=3&wheel=160&drop=0,3,0&sections=H5M&pulley=36&wheelbase=700&within=1&standard=1&equal=1")
	assert.Contains(t, p.reads(), "No plan meets all of the conditions")
	// The link opens the folded part of the form and leads to the field.
	p.does(chromedp.Click(chromedp.Search(`//a[.="idler"]`)))
	assert.True(t, evaluates[bool](p, `document.querySelector("#f-idler").checkVisibility()`))
	p.types("Idler", "b40")
	p.types("Idler's center up to", "60")
	p.presses("Find plans")
	text := p.reads()
	assert.Contains(t, text, "Idlers on belts")
	assert.Contains(t, text, "8.1956 mm above the line of centers", "as the command tells")
	assert.Contains(t, text, "9.9743")
	p.presses("178 + 178")
	assert.Contains(t, p.reads(), "Still to be given")
	for _, field := range [][2]string{
		{"Wheel width", "45"},
		{"Belt width", "25"},
		{"Pulley width over flanges", "32"},
		{"Cavity width", "125"},
		{"Gap beside a pulley", "4"},
		{"Plate thickness", "6"},
		{"Plate height", "120"},
		{"Plate beyond the end axles", "60"},
		{"Idlers' holes", "8"},
		{"Idlers' bolts", "8"},
	} {
		p.types(field[0], field[1])
	}
	p.presses("Lay out")
	text = p.reads()
	for _, want := range []string{"700.0000 mm", "350.0129", "+8.1956", "235.0702", "66.6953", "Idler of belt 2", "smooth, 40 mm diameter"} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, text, "How likely the belts fit\nBelt")
	p.presses("How likely do the belts fit?")
	assert.Contains(t, p.reads(), "Belts likely good\n100.0 %", "the idlers take up what holes and belts are off")
}

// TestFitOfABase: the fit of the demo rover is a click away, and a tolerance
// typed changes it. The shares of one belt: two holes within 0.02 mm and half of
// a length within 0.3 mm make 3 sigma of 0.152643 mm; by tables of the normal
// distribution 16.3 % lie below -0.05 mm, 83.6 % up to 0.15 mm.
func TestFitOfABase(t *testing.T) {
	p := sit(t, 360)
	p.opens(idlerLayout)
	p.presses("How likely do the belts fit?")
	assert.Contains(t, p.reads(), "Belts likely good\n11.3 %", "as the command tells")
	p.types("Axle holes, plus and minus", "0.02")
	p.types("Belt length, plus and minus", "0.3")
	p.presses("Lay out")
	text := p.reads()
	for _, want := range []string{"16.3 %", "83.6 %", "0.2 %", "0.0000 ± 0.1526"} {
		assert.Contains(t, text, want)
	}
	p.types("Axle holes, plus and minus", "-1")
	p.presses("Lay out")
	assert.Contains(t, evaluates[string](p, `document.querySelector("#e-hole_tolerance").innerText`), "0 to 5")
}

func TestLayout(t *testing.T) {
	p := sit(t, 1280)
	p.opens(roverLayout)
	text := p.reads()
	for _, want := range []string{"4.3325", "5.0717", "383.4", "383.0000", "657.0000", "820 x 120 x 6", "265.9237", "424.0502"} {
		assert.Contains(t, text, want)
	}
	assert.Contains(t, string(p.downloads("Download parts as CSV")), "870 H5M")
	assert.Contains(t, string(p.downloads("Download all as JSON")), `"wheelbaseMm"`)
	assert.Contains(t, string(p.downloads("Drill template as SVG")), "<svg ")
	assert.Contains(t, string(p.downloads("Drill template as DXF")), "AC1009")
	assert.Contains(t, string(p.downloads("Drill template on A4 pages")), "<svg ")
}

func TestBatch(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/batch")
	file, err := filepath.Abs(filepath.Join("..", "..", "..", "testdata", "demo", "design_batch.csv"))
	require.NoError(t, err)
	p.does(chromedp.SetUploadFiles(p.labeled("File of drives, CSV"), []string{file}))
	p.presses("Check")
	text := p.reads()
	assert.Contains(t, text, "rail spacing", "the slip of C02")
	assert.Contains(t, text, "Line 2 has the same id")
	want, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "demo", "design_batch_expected.csv"))
	require.NoError(t, err)
	assert.Equal(t, float64(strings.Count(string(want), ",REJECTED,")), evaluates[float64](p, `Number(document.querySelector(".keys .rejected dd").innerText)`))
	p.passesAxe()
	for _, width := range []int64{360, 1280} {
		p.does(chromedp.EmulateViewport(width, 900))
		assert.LessOrEqual(t, evaluates[int64](p, `document.documentElement.scrollWidth`), width, "the page scrolls sideways")
		p.pictures("batch", width)
	}
	p.prefers("screen", "light")
	results := string(p.downloads("Download results as CSV"))
	assert.Equal(t, strings.Count(string(want), "\n"), strings.Count(results, "\n"))
	p.types("Or paste it here", "id;section")
	p.presses("Check again")
	assert.Contains(t, p.reads(), "separated by commas")
}

func TestTables(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/sections")
	p.presses("H5M")
	assert.Contains(t, p.reads(), "870 H5M")
	assert.Contains(t, p.reads(), "from memory")
	p.presses("Where formulas and tables come from")
	assert.Contains(t, p.reads(), "common practice, no source")
	p.presses("API")
	assert.Contains(t, p.reads(), "SolveCenterDistance")
	// A link to a message opens it.
	shown := `document.querySelector("#m-FitLimits .fields").checkVisibility()`
	assert.Equal(t, false, evaluates[bool](p, shown))
	p.does(chromedp.Click(chromedp.Search(`//summary[.="CheckDrivesRequest"]`)), chromedp.Click(chromedp.CSS(`#m-CheckDrivesRequest a[href="#m-FitLimits"]`)))
	assert.Equal(t, true, evaluates[bool](p, shown))
}

// TestKeyboardAlone: a drive is asked and answered without a mouse and without
// script.
func TestKeyboardAlone(t *testing.T) {
	p := sit(t, 1280)
	p.withoutScript()
	p.opens("/drive")
	p.does(chromedp.KeyEvent(kb.Tab))
	assert.Equal(t, "Skip to the content", evaluates[string](p, `document.activeElement.innerText`))
	p.does(chromedp.KeyEvent(kb.Enter))
	assert.Equal(t, "content", evaluates[string](p, `document.activeElement.id`))
	for _, field := range []struct{ id, text string }{{"f-section", "H5"}, {"f-belt", "178"}, {"f-driver", "36"}, {"f-driven", "45"}} {
		p.tabsTo(field.id)
		p.does(chromedp.KeyEvent(field.text))
	}
	_, err := chromedp.RunResponse(p.ctx, chromedp.KeyEvent(kb.Enter))
	require.NoError(t, err)
	assert.Contains(t, p.reads(), "343.6754 mm")
}

// tabsTo presses the tab key until a field has the focus.
func (p *person) tabsTo(id string) {
	p.Helper()
	const most = 60
	for range most {
		if evaluates[string](p, `document.activeElement.id`) == id {
			return
		}
		p.does(chromedp.KeyEvent(kb.Tab))
	}
	p.Fatalf("the tab key does not reach %s", id)
}
