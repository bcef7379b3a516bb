package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"
)

// progress shows in one line how far a run is. Its zero value shows nothing.
type progress struct {
	to     io.Writer
	size   int64 // bytes of the file; below 0 where unknown
	before int   // rows of an earlier run
	start  time.Time
	shown  time.Time
	width  int // of what is shown
}

// progressInterval is how often the line changes.
const progressInterval = 100 * time.Millisecond

// startProgress shows progress on w, where a person reads that, of a file of size
// bytes, or of unknown size below 0.
func startProgress(w io.Writer, size int64, before int) *progress {
	if !isTerminal(w) {
		return &progress{}
	}
	return &progress{to: w, size: size, before: before, start: time.Now()}
}

// show tells the rows judged and the bytes read for them.
func (p *progress) show(rows int, bytes int64) {
	now := time.Now()
	if p.to == nil || now.Sub(p.shown) < progressInterval {
		return
	}
	p.shown = now
	p.write(p.text(rows, bytes, now.Sub(p.start)))
}

// text is the line after some time.
func (p *progress) text(rows int, bytes int64, passed time.Duration) string {
	text := fmt.Sprintf("%d drives, %.0f/s", rows, max(float64(rows-p.before), 0)/max(passed.Seconds(), 1e-3))
	if p.size > 0 {
		text += fmt.Sprintf(", %d %% of the file", min(100*bytes/p.size, 100)) // it may grow meanwhile
	}
	return text
}

// write puts a line in place of the one before.
func (p *progress) write(text string) {
	_, _ = fmt.Fprint(p.to, "\r", text, strings.Repeat(" ", max(p.width-len(text), 0)), "\r")
	p.width = len(text)
}

// clear takes the line away.
func (p *progress) clear() {
	if p.to != nil {
		p.write("")
	}
}

// isTerminal tells whether a person reads what is written to w.
func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}
