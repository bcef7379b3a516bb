package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// progress shows how far a run is. It shows nothing where nobody looks.
type progress struct {
	bar    *progressbar.ProgressBar
	start  time.Time
	before int // rows of an earlier run
}

// startProgress shows progress on w, of a file of size bytes, or of unknown
// size below 0.
func startProgress(w io.Writer, size int64, before int) *progress {
	if !isTerminal(w) {
		return &progress{}
	}
	return &progress{
		bar: progressbar.NewOptions64(size,
			progressbar.OptionSetWriter(w), progressbar.OptionShowBytes(true), progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(true), progressbar.OptionFullWidth()),
		start: time.Now(), before: before,
	}
}

// show tells the rows judged and the bytes read for them.
func (p *progress) show(rows int, bytes int64) {
	if p.bar == nil {
		return
	}
	rate := float64(rows-p.before) / max(time.Since(p.start).Seconds(), 1e-3)
	p.bar.Describe(fmt.Sprintf("%d drives, %.0f/s", rows, max(rate, 0)))
	_ = p.bar.Set64(bytes) // it fails where the file grows meanwhile
}

// clear takes the bar away.
func (p *progress) clear() {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}

// isTerminal tells whether a person reads what is written to w.
func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}
