// Package browsertest uses the pages as people do, with a real browser. It is a
// module of its own, because nothing but its tests needs the browser's driver.
//
// BELTSPAN_AXE names the script of axe-core, which checks accessibility;
// without it those checks are skipped. BELTSPAN_SHOTS names a directory that
// takes a picture of every page.
package browsertest

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// patience is how long one test may take.
const patience = time.Minute

var (
	site    string          // "http://127.0.0.1:PORT"
	chrome  context.Context // of the browser
	program string          // path of chromium
)

func TestMain(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	dir, err := os.MkdirTemp("", "beltspan-pages")
	if err != nil {
		return fail(err)
	}
	defer os.RemoveAll(dir)
	stop, err := startSite(dir)
	if err != nil {
		return fail(err)
	}
	defer stop()
	quit, err := startBrowser(filepath.Join(dir, "profile"))
	if err != nil {
		return fail(err)
	}
	defer quit()
	return m.Run()
}

func fail(err error) int {
	fmt.Fprintln(os.Stderr, "browsertest:", err)
	return 1
}

// startSite builds the command and serves the pages on a free port.
func startSite(dir string) (stop func(), err error) {
	binary := filepath.Join(dir, "beltspan")
	build := exec.Command("go", "build", "-C", filepath.Join("..", "..", ".."), "-o", binary, "./cmd/beltspan")
	if out, err := build.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%w\n%s", err, out)
	}
	serve := exec.Command(binary, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0", "--log-level", "error")
	out, err := serve.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := serve.Start(); err != nil {
		return nil, err
	}
	stop = func() {
		_ = serve.Process.Kill()
		_ = serve.Wait()
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if _, url, ok := strings.Cut(lines.Text(), "REST  "); ok {
			site = strings.TrimSpace(url)
			return stop, nil
		}
	}
	stop()
	return nil, fmt.Errorf("the service does not say where it listens: %w", lines.Err())
}

// startBrowser starts Debian's chromium. Its first call has no time limit,
// because the end of that would end the browser.
func startBrowser(profile string) (quit func(), err error) {
	program, err = exec.LookPath("chromium")
	if err != nil {
		return nil, fmt.Errorf("these tests need the browser chromium: %w", err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true),
		// A page that comes back from the browser's memory loads nothing, and the driver waits for that.
		chromedp.Flag("disable-back-forward-cache", true), chromedp.UserDataDir(profile))
	allocator, stopAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, stopBrowser := chromedp.NewContext(allocator)
	chrome = ctx
	quit = func() {
		stopBrowser()
		stopAllocator()
	}
	return quit, chromedp.Do(ctx, chromedp.Navigate("about:blank"))
}

// person is somebody at a browser window.
type person struct {
	*testing.T
	ctx context.Context
}

// sit opens a window of that width.
func sit(t *testing.T, width int64) *person {
	t.Helper()
	tab, closeTab := chromedp.NewContext(chrome)
	t.Cleanup(closeTab)
	p := &person{t, tab}
	if err := chromedp.Do(tab, chromedp.EmulateViewport(width, 900)); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(tab, patience)
	t.Cleanup(cancel)
	p.ctx = ctx
	return p
}

// does carries out actions and ends the test where one fails.
func (p *person) does(actions ...chromedp.Action[chromedp.Void]) {
	p.Helper()
	if err := chromedp.Do(p.ctx, actions...); err != nil {
		p.Fatal(err)
	}
}

// opens goes to an address of the site.
func (p *person) opens(path string) {
	p.Helper()
	p.does(chromedp.Navigate(site+path), chromedp.WaitReady(chromedp.CSS("main")))
}

// labeled is the field with that label.
func (p *person) labeled(label string) chromedp.CSS {
	p.Helper()
	id := evaluates[string](p, fmt.Sprintf(
		`(() => { const l = [...document.querySelectorAll("label")].find(l => l.firstChild.textContent.trim() === %q); return l ? l.htmlFor : ""; })()`, label))
	if id == "" {
		p.Fatalf("no field is labeled %q", label)
	}
	return chromedp.CSS("#" + id)
}

// types fills in a field by its label, in place of what stands there.
func (p *person) types(label, text string) {
	p.Helper()
	field := p.labeled(label)
	evaluates[chromedp.Void](p, fmt.Sprintf(`document.querySelector(%q).select()`, field))
	p.does(chromedp.SendKeys(field, text))
}

// chooses selects a value by the label of its list.
func (p *person) chooses(label, value string) {
	p.Helper()
	p.does(chromedp.SetValue(p.labeled(label), value))
}

// presses clicks the button or link with that text and waits for the page that
// comes.
func (p *person) presses(text string) {
	p.Helper()
	sel := chromedp.Search(fmt.Sprintf(`//main//button[normalize-space()=%q] | //a[normalize-space()=%q]`, text, text))
	if _, err := chromedp.RunResponse(p.ctx, chromedp.Click(sel)); err != nil {
		p.Fatalf("%s: %v", text, err)
	}
	p.does(chromedp.WaitReady(chromedp.CSS("main")))
}

// reads is the text of the page's content.
func (p *person) reads() string {
	p.Helper()
	return evaluates[string](p, `document.querySelector("main").innerText`)
}

// at is the address of the page on its site.
func (p *person) at() string {
	p.Helper()
	return strings.TrimPrefix(evaluates[string](p, `location.href`), site)
}

// evaluates asks the page itself by the way of the browser's tools, which a
// page without script has, too.
func evaluates[T any](p *person, expression string) T {
	p.Helper()
	result, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		p.Fatal(err)
	}
	return result
}

// command sends a command of the browser's tools.
func command[P any](p *person, c cdp.Command[P, cdp.Empty], params P) {
	p.Helper()
	p.does(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, c, params)
		return chromedp.Void{}, err
	})
}

// withoutScript turns script off in this window.
func (p *person) withoutScript() {
	p.Helper()
	command(p, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
}

// prefers sets what the page is shown on: "screen" or "print", "light" or
// "dark".
func (p *person) prefers(media, scheme string) {
	p.Helper()
	command(p, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Media: media, Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
	})
}

// downloads presses a link and returns the file that comes.
func (p *person) downloads(text string) []byte {
	p.Helper()
	dir := p.TempDir()
	command(p, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir,
	})
	sel := chromedp.Search(fmt.Sprintf(`//main//button[normalize-space()=%q] | //main//a[normalize-space()=%q or @aria-label=%q]`, text, text, text))
	p.does(chromedp.Click(sel))
	for end := time.Now().Add(patience / 2); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		files, err := os.ReadDir(dir)
		if err != nil {
			p.Fatal(err)
		}
		if len(files) != 1 || strings.HasSuffix(files[0].Name(), ".crdownload") || strings.HasPrefix(files[0].Name(), ".") {
			continue
		}
		body, err := os.ReadFile(filepath.Join(dir, files[0].Name()))
		if err != nil {
			p.Fatal(err)
		}
		return body
	}
	p.Fatalf("%s: no file came", text)
	return nil
}
