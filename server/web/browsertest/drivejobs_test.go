package browsertest

import (
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

// TestDriveOtherWays finds the belt for a center distance and the pulley for a
// belt. On equal pulleys the belt has 2 C/p + z teeth: 2*342.9/5 + 36 = 173.16.
func TestDriveOtherWays(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/drive")
	p.presses("Belt")
	p.chooses("Belt section", "H5M")
	p.types("Driver teeth", "36")
	p.types("Driven teeth", "36")
	p.types("Center distance", "13 1/2in")
	p.presses("Find it")
	text := p.reads()
	for _, want := range []string{"173.1600 teeth", "342.5000", "-0.4000", "345.0000"} {
		assert.Contains(t, text, want)
	}
	p.presses("173")
	assert.Contains(t, p.reads(), "342.5000 mm", "the candidate leads to its drive")
	p.presses("Driven pulley")
	p.types("Belt teeth", "178")
	p.types("Center distance", "343.6754")
	p.presses("Find it")
	assert.Contains(t, evaluates[string](p, `document.querySelector(".keys > div + div").innerText`), "45 teeth")
}

// TestSubstitutes: one belt tooth less with one tooth less on each pulley
// keeps the center distance, so 174 on 32/32 does for 178 on 36/36: both want
// 5*(178-36)/2 = 355 mm.
func TestSubstitutes(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/substitutes")
	p.chooses("Belt section", "H5M")
	p.types("Belt to replace", "178")
	p.types("Driver teeth", "36")
	p.types("Driven teeth", "36")
	p.types("Holes drilled at", "355")
	p.does(chromedp.Click(chromedp.Search(`//summary[.="Only what is on the shelf"]`)))
	p.types("Parts on the shelf, CSV", "kind,section,tooth_count,width_mm,quantity\nbelt,H5M,174,25,1\npulley,H5M,32,25,2\nbelt,H5M,176,25,1")
	p.presses("Find substitutes")
	text := p.reads()
	assert.Contains(t, text, "174 teeth")
	assert.Contains(t, text, "on 32/32")
	assert.NotContains(t, text, "172 teeth", "it is not on the shelf")
	bookmark := p.at()
	assert.Contains(t, string(p.downloads("Download CSV")), "H5M,32,32,174,870 H5M,355,0,FITS,true,0,0,true")
	p.presses("for both")
	assert.Contains(t, p.reads(), "355.0500 mm", "the middle of what fits, -0.05 to 0.15")
	other := sit(t, 1280)
	other.opens(bookmark)
	assert.Equal(t, text, other.reads())
	p.opens("/substitutes")
	p.types("Holes drilled at", "wide")
	p.presses("Find substitutes")
	assert.Contains(t, evaluates[string](p, `document.querySelector("#e-center").innerText`), "Write a plain number")
}

// TestSharedHole: belts of 174 and 178 teeth on 36/36 want 345 and 355 mm.
func TestSharedHole(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/substitutes")
	p.presses("One hole for two belts")
	p.chooses("Belt section", "H5M")
	p.types("Belt now", "890 H5M")
	p.types("Driver teeth now", "36")
	p.types("Driven teeth now", "36")
	p.types("Belt later", "174")
	p.types("Driver teeth later", "36")
	p.types("Driven teeth later", "3")
	p.presses("Find the hole")
	assert.Equal(t, "Give a whole number from 6 to 600", evaluates[string](p, `document.querySelector("#e-driven2").innerText`))
	assert.Empty(t, evaluates[[]string](p, `[...document.querySelectorAll("#e-driven")].map(e => e.innerText)`), "the other drive is not at fault")
	p.types("Driven teeth later", "36")
	p.presses("Find the hole")
	for _, want := range []string{"345.0500 mm", "355.0500 mm", "10.0000 mm of travel"} {
		assert.Contains(t, p.reads(), want)
	}
}

// TestLoad: 5.5 Nm on a pitch radius of 36*5/(2 pi) = 28.6479 mm are 191.99 N;
// at rest each span takes 9/14 of 1.5 times that, 185.13 N.
func TestLoad(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/load")
	p.chooses("Belt section", "H5M")
	p.types("Belt", "174")
	p.types("Driver teeth", "36")
	p.types("Driven teeth", "36")
	p.types("Center distance as built", "345")
	p.types("Belt width", "25")
	p.types("Torque on the driver", "5.5")
	p.types("Or power", "26")
	p.presses("Rate it")
	assert.Contains(t, p.reads(), "This cannot be answered yet", "torque and power are two loads")
	p.types("Or power", kb.Backspace)
	p.presses("Rate it")
	text := p.reads()
	for _, want := range []string{"192.0 N", "185.1 N", "give the belt's mass", "Caution"} {
		assert.Contains(t, text, want)
	}
	p.types("Torque on the driver", "55")
	p.presses("Rate it")
	assert.Contains(t, p.reads(), "overloaded")
}

// TestPath: two pulleys of 36 teeth 345 mm apart take 2*345/5 + 36 = 174 teeth,
// and a belt of 178 wants them 5*(178-36)/2 = 355 mm apart.
func TestPath(t *testing.T) {
	p := sit(t, 1280)
	p.opens("/path")
	p.chooses("Belt section", "H5M")
	p.types("Wheels", "36@0,0\n36@345,0")
	p.presses("Find the path")
	assert.Contains(t, p.reads(), "174.0000 teeth")
	assert.InDelta(t, 1, evaluates[float64](p, `document.querySelectorAll(".sheet svg").length`), 0)
	// Typed lengths keep their meaning in the other unit.
	p.presses("inches")
	assert.Contains(t, p.reads(), "174.0000 teeth")
	p.presses("mm")
	p.does(chromedp.Click(chromedp.Search(`//summary[.="A wheel that moves"]`)))
	p.types("Belt teeth", "178")
	p.types("Which wheel", "3")
	p.types("Along a line from x, y", "300, 0")
	p.types("To x, y", "400, 0")
	p.presses("Find the path")
	assert.Contains(t, evaluates[string](p, `document.querySelector("#e-move").innerText`), "Give 1 to 2")
	p.types("Which wheel", "2")
	p.presses("Find the path")
	assert.Contains(t, p.reads(), "355.0000, 0.0000 mm")
	assert.Contains(t, string(p.downloads("Download CSV")), ",890,178,2,355,0,")
	assert.Contains(t, string(p.downloads("Download DXF")), "AC1009")
	p.types("Wheels", "36@0,0\nround@345,0")
	p.presses("Find the path")
	assert.Contains(t, evaluates[string](p, `document.querySelector("#e-wheels").innerText`), "write 36@0,0 for teeth")
}
