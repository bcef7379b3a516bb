package server

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"strings"
	"time"
)

// reloadInterval is how often files are looked at. A change is taken when two
// looks in a row find the same, so that none is read while it is written.
const reloadInterval = 500 * time.Millisecond

// watchedFiles is a set of files that belong together and are read anew when any of
// them changes. They are compared by content: the time of a file says little
// where a whole directory is replaced.
type watchedFiles struct {
	what  string
	paths []string
	load  func(contents [][]byte) error

	loaded, seen, failed string // digests; failed may be the text of an error
}

// start loads for the first time.
func (w *watchedFiles) start() error {
	contents, digest, err := w.read()
	if err == nil {
		err = w.load(contents)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", w.what, err)
	}
	w.loaded = digest
	return nil
}

func (w *watchedFiles) read() (contents [][]byte, digest string, err error) {
	sum := sha256.New()
	for _, path := range w.paths {
		raw, err := os.ReadFile(path)
		if err != nil {
			return nil, "", err
		}
		_, _ = fmt.Fprintf(sum, "%d:", len(raw))
		_, _ = sum.Write(raw)
		contents = append(contents, raw)
	}
	return contents, string(sum.Sum(nil)), nil
}

// look loads what has changed. What cannot be used is logged once, and what
// was loaded before stays.
func (w *watchedFiles) look(log *requestLogger) {
	contents, digest, err := w.read()
	if err != nil {
		digest = err.Error()
	}
	settled := digest == w.seen
	w.seen = digest
	switch {
	case digest == w.loaded:
		w.failed = ""
		return
	case !settled || digest == w.failed:
		return
	}
	if err == nil {
		err = w.load(contents)
	}
	if err != nil {
		w.failed = digest
		log.metrics.reloaded(w.what, false)
		log.log.Error("the change cannot be used, what was there before stays", "what", w.what, "files", strings.Join(w.paths, " "), "error", err)
		return
	}
	w.loaded, w.failed = digest, ""
	log.metrics.reloaded(w.what, true)
	log.log.Info("reloaded", "what", w.what, "files", strings.Join(w.paths, " "))
}

// watch looks at files until ctx ends.
func watch(ctx context.Context, log *requestLogger, files []*watchedFiles) {
	if len(files) == 0 {
		return
	}
	tick := time.NewTicker(reloadInterval)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			for _, w := range files {
				w.look(log)
			}
		}
	}
}
