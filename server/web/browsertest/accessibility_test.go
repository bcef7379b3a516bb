package browsertest

import (
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// violation is what axe-core finds.
type violation struct {
	ID, Help string
	Nodes    []string
}

const askAxe = `axe.run(document, {resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]})
	.then(r => r.violations.map(v => ({ID: v.id, Help: v.help, Nodes: v.nodes.map(n => n.html.slice(0, 200))})))`

// TestAccessibility asks axe-core about every page.
func TestAccessibility(t *testing.T) {
	if os.Getenv("BELTSPAN_AXE") == "" {
		t.Skip("BELTSPAN_AXE names no script of axe-core")
	}
	for _, page := range everyPage {
		t.Run(page.name, func(t *testing.T) {
			p := sit(t, 1280)
			p.opens(page.path)
			p.passesAxe()
		})
	}
}

// passesAxe asks axe-core about the page that is shown, in light and in dark.
func (p *person) passesAxe() {
	p.Helper()
	path := os.Getenv("BELTSPAN_AXE")
	if path == "" {
		return
	}
	axe, err := os.ReadFile(path)
	require.NoError(p, err)
	evaluates[chromedp.Void](p, string(axe)+"; 0")
	for _, scheme := range []string{"light", "dark"} {
		p.prefers("screen", scheme)
		for _, v := range evaluates[[]violation](p, askAxe) {
			p.Errorf("%s: %s: %s\n%s", scheme, v.ID, v.Help, strings.Join(v.Nodes, "\n"))
		}
	}
}

// TestLabelsAndHeadings holds without axe-core, too: every field has a label,
// every id is there once, headings skip no level, and the focus follows the
// page.
func TestLabelsAndHeadings(t *testing.T) {
	for _, page := range everyPage {
		t.Run(page.name, func(t *testing.T) {
			p := sit(t, 360)
			p.opens(page.path)
			assert.Empty(t, evaluates[[]string](p, `[...document.querySelectorAll("input:not([type=hidden]), select, textarea")].filter(e => !e.labels.length).map(e => e.name)`), "fields without a label")
			assert.Empty(t, evaluates[[]string](p, `[...document.querySelectorAll("[id]")].map(e => e.id).filter((id, i, all) => all.indexOf(id) !== i)`), "ids that are there twice")
			assert.Empty(t, evaluates[[]string](p, `[...document.querySelectorAll("[aria-describedby],[aria-labelledby]")].flatMap(e => ((e.getAttribute("aria-describedby") || "") + " " + (e.getAttribute("aria-labelledby") || "")).trim().split(/\s+/)).filter(id => !document.getElementById(id))`), "names that lead nowhere")
			assert.Empty(t, evaluates[[]string](p, `[...document.querySelectorAll("h1,h2,h3,h4")].map((h, i, all) => [h, i ? +all[i-1].tagName[1] : 0]).filter(([h, before]) => +h.tagName[1] > before + 1).map(([h]) => h.innerText)`), "headings that skip a level")
			assert.Empty(t, evaluates[[]string](p, `[...document.querySelectorAll("[tabindex]")].filter(e => e.tabIndex > 0).map(e => e.outerHTML)`), "a focus order of its own")
			assert.Empty(t, evaluates[[]string](p, `[...document.querySelectorAll("main a, main button, nav a, input:not([type=hidden]), select, summary")].filter(e => e.offsetParent && !e.closest("p,td,th,li,code,svg,dd") && e.getBoundingClientRect().height < 24).map(e => e.outerHTML)`), "targets that a finger misses")
		})
	}
}
