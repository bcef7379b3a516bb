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

// The numbers are those of the demo: variant A of the rover, whose values were
// found by bisection in another program.

func TestDrive(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/drive")
	p.chooses("Belt section", "H5M")
	p.types("Belt", "890 H5M")
	p.types("Driver teeth", "36")
	p.types("Driven teeth", "45")
	p.types("Allowance", "0.05")
	p.presses("Find it")
	text := p.reads()
	assert.Contains(t, text, "343.6754 mm")
	assert.Contains(t, text, "343.7254 mm")
	assert.Contains(t, text, "178 teeth")
	assert.NotContains(t, p.at(), "pitch=", "empty fields are not in the bookmark")
	assert.InDelta(t, 1, evaluates[float64](p, `document.querySelectorAll(".sheet svg").length`), 0)

	// The back button gives the same page.
	bookmark := p.at()
	p.presses("Belt")
	assert.Contains(t, p.reads(), "Belt for a center distance")
	p.does(chromedp.NavigateBack(), chromedp.WaitReady(chromedp.CSS("main")))
	assert.Equal(t, bookmark, p.at())
	assert.Equal(t, text, p.reads())

	// In inches the same question has the same answer.
	p.presses("inches")
	assert.Contains(t, p.reads(), "13.53053 in")
	assert.Contains(t, p.reads(), "13 17/32 in")

	// So does the bookmark, in a window of its own.
	other := sit(t, 1280)
	other.opens(bookmark)
	assert.Equal(t, text, other.reads())
}

func TestDriveRefuses(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/drive")
	p.chooses("Belt section", "H5M")
	p.types("Belt", "80")
	p.types("Driver teeth", "36")
	p.types("Driven teeth", "90")
	p.presses("Find it")
	assert.Contains(t, p.reads(), "more than 90 teeth are needed")
	assert.Equal(t, "80", evaluates[string](p, `document.querySelector("#f-belt").value`), "what was typed stays")
	assert.Equal(t, "f-belt", evaluates[string](p, `document.activeElement.id`), "the field at fault is ready to be mended")
	// Typing goes on in that field, and Enter asks again.
	p.does(chromedp.KeyEvent(kb.End), chromedp.KeyEvent(kb.Backspace+kb.Backspace), chromedp.KeyEvent("178"))
	_, err := chromedp.RunResponse(p.ctx, chromedp.KeyEvent(kb.Enter))
	require.NoError(t, err)
	assert.Contains(t, p.reads(), "Drill at")
}

func TestDownloadsOfADrive(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/drive?section=H5M&driver=36&driven=45&belt=178")
	assert.Contains(t, string(p.downloads("Download SVG")), "<svg ")
	assert.Contains(t, string(p.downloads("Download DXF")), "AC1009")
}

func TestSpacings(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/spacings")
	p.types("Belt sections", "H5M")
	p.types("Driver teeth", "32..40")
	p.types("Driven teeth", "36")
	p.types("Target center distance", "345")
	p.types("Within", "2mm")
	p.presses("Search")
	assert.Contains(t, p.reads(), "345.0000")
	// The ruler's label leads to its row.
	p.does(chromedp.Click(chromedp.Search(`//*[name()="svg"]//*[name()="a"][contains(., "174 on 36/36")]`)))
	row := strings.TrimPrefix(evaluates[string](p, `location.hash`), "#")
	require.NotEmpty(t, row)
	assert.Contains(t, evaluates[string](p, `document.getElementById("`+row+`").innerText`), "345.0000")
	file := string(p.downloads("Download all as CSV"))
	assert.Contains(t, file, "H5M,36,36,174,345,0,1,18,true")
	p.types("Driver teeth", "three")
	p.presses("Search")
	assert.Contains(t, p.reads(), "Give tooth counts such as 36, 32..40")
}

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

func TestFit(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/fit")
	p.chooses("Belt section", "H5M")
	p.types("Belt", "174")
	p.types("Driver teeth", "36")
	p.types("Driven teeth", "36")
	p.types("Center distance as drilled", "345")
	p.presses("Analyze")
	text := p.reads()
	assert.Contains(t, text, "Best allowance")
	assert.Contains(t, text, "What to improve first")
	p.types("Holes, plus and minus", "-1")
	p.presses("Analyze")
	assert.Contains(t, evaluates[string](p, `document.querySelector("#e-holes").innerText`), "0 to 10")
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
	want, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "demo", "design_batch_expected.csv"))
	require.NoError(t, err)
	assert.Equal(t, float64(strings.Count(string(want), ",REJECTED,")), evaluates[float64](p, `Number(document.querySelector(".keys .rejected dd").innerText)`))
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
