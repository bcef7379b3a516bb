package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// sheet is a form of results.
type sheet interface {
	// begin writes what stands before the results.
	begin(w *bufio.Writer)
	// add writes a result. before is how many results stand before it.
	add(w *bufio.Writer, before int64, line int, r *pb.CheckResult) error
	// end writes what stands behind the results.
	end(w *bufio.Writer, v verdicts) error
}

// headSheet is a sheet whose head is known at the end only.
type headSheet interface {
	sheet
	head(v verdicts) string
}

// output is one sheet on its way into a file or to a writer.
type output struct {
	sheet
	path     string   // of the file when it is whole; empty for a writer
	whole    string   // of the file that gets this name in the end
	file     *os.File // grows
	terminal bool
	to       *bufio.Writer
}

func (o *output) part() string { return o.path + ".part" }

// results writes the results of a run in all the forms asked for. Files grow
// under another name and get their own when they are whole.
type results struct {
	outputs []*output
	state   string // path of the checkpoint; empty where a run cannot be resumed
	checkpoint
	saved time.Time
	stage stage
}

// stage is how far a run has come with its files.
type stage int

const (
	filesLocked stage = iota // nothing is written
	filesGrow
	filesWhole // only their names are missing
)

// errInUse tells that another run has a file.
var errInUse = errors.New("it is in use")

// saveInterval is how much work a crash may cost.
const saveInterval = 250 * time.Millisecond

const bufferSize = 64 << 10

func (r *results) addWriter(w io.Writer, s sheet) {
	r.outputs = append(r.outputs, &output{sheet: s, terminal: isTerminal(w), to: bufio.NewWriterSize(w, bufferSize)})
}

func (r *results) addFile(path string, s sheet) {
	r.outputs = append(r.outputs, &output{sheet: s, path: path})
}

// parts are the files as they grow.
func (r *results) parts() []string {
	var paths []string
	for _, o := range r.outputs {
		if o.path != "" {
			paths = append(paths, o.part())
		}
	}
	return paths
}

// open opens the files, to go on with an earlier run or to begin.
func (r *results) open(settings string, resume bool) error {
	if err := r.lock(); err != nil {
		return err
	}
	if resume {
		var err error
		if r.checkpoint, err = readCheckpoint(r.state, settings, r.parts()); err != nil {
			return err
		}
	}
	r.Settings = settings
	return r.begin()
}

// lock opens the files, and refuses where another run writes one of them.
func (r *results) lock() error {
	for _, o := range r.outputs {
		if o.path == "" {
			continue
		}
		file, err := openPart(o.part())
		if errors.Is(err, errInUse) {
			return &failure{
				fmt.Errorf("another run is writing %s", quoted(o.part())),
				"wait until it ends, or give other files: no two runs share one",
			}
		}
		if err != nil {
			return err
		}
		o.file, o.to = file, bufio.NewWriterSize(file, bufferSize)
	}
	return nil
}

// begin begins the files: at the checkpoint where it has rows, else anew.
func (r *results) begin() error {
	r.stage = filesGrow
	if r.Rows == 0 && r.state != "" {
		if err := os.Remove(r.state); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	for _, o := range r.outputs {
		if err := o.goTo(r.Bytes[o.part()]); err != nil {
			return err
		}
		if o.path == "" || r.Rows == 0 {
			o.begin(o.to)
		}
	}
	r.saved = time.Now()
	return nil
}

// goTo cuts a file off where its results are known.
func (o *output) goTo(size int64) error {
	if o.path == "" {
		return nil
	}
	if end, err := o.file.Seek(0, io.SeekEnd); err != nil || end != size {
		if err := errors.Join(err, o.file.Truncate(size)); err != nil {
			return err
		}
	}
	_, err := o.file.Seek(size, io.SeekStart)
	return err
}

// add writes one result.
func (r *results) add(line int, result *pb.CheckResult) error {
	before := r.Verdicts.total()
	for _, o := range r.outputs {
		if err := o.add(o.to, before, line, result); err != nil {
			return err
		}
	}
	r.Rows++
	r.Verdicts.add(result.GetVerdict())
	return nil
}

// pass lets readers see the results so far; it calls makeRoom before it writes
// to a terminal.
func (r *results) pass(makeRoom func()) error {
	for _, o := range r.outputs {
		if o.path != "" || o.to.Buffered() == 0 {
			continue
		}
		if o.terminal {
			makeRoom()
		}
		if err := o.to.Flush(); err != nil {
			return err
		}
	}
	return nil
}

// save makes the results so far safe, every so often.
func (r *results) save() error {
	if r.state == "" || time.Since(r.saved) < saveInterval {
		return nil
	}
	return r.saveNow()
}

func (r *results) saveNow() error {
	if r.state == "" || r.Rows == 0 {
		return nil
	}
	bytes := map[string]int64{}
	for _, o := range r.outputs {
		if o.path == "" {
			continue
		}
		if err := o.settle(); err != nil {
			return err
		}
		size, err := o.file.Seek(0, io.SeekCurrent)
		if err != nil {
			return err
		}
		bytes[o.part()] = size
	}
	r.Bytes = bytes
	err := r.write(r.state)
	r.saved = time.Now()
	return err
}

// settle brings what was written to the disk.
func (o *output) settle() error {
	if err := o.to.Flush(); err != nil {
		return err
	}
	return o.file.Sync()
}

// finish ends the sheets and gives the files their names.
func (r *results) finish() error {
	for _, o := range r.outputs {
		if err := o.finish(r.Verdicts); err != nil {
			return err
		}
	}
	r.stage = filesWhole
	for i := len(r.outputs) - 1; i >= 0; i-- {
		if err := r.outputs[i].name(); err != nil {
			return err
		}
	}
	if r.state == "" {
		return nil
	}
	err := os.Remove(r.state)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

func (o *output) finish(v verdicts) error {
	if err := o.end(o.to, v); err != nil {
		return err
	}
	if o.path == "" {
		return o.to.Flush()
	}
	if err := o.settle(); err != nil {
		return err
	}
	o.whole = o.part()
	if s, ok := o.sheet.(headSheet); ok {
		o.whole += ".whole"
		return o.copyUnder(s.head(v))
	}
	return nil
}

// copyUnder writes a head and what has grown to another file, so that a run that
// is killed meanwhile can be resumed.
func (o *output) copyUnder(head string) error {
	size, err := o.file.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	file, err := os.Create(o.whole)
	if err != nil {
		return err
	}
	_, err = io.Copy(file, io.MultiReader(strings.NewReader(head), io.NewSectionReader(o.file, 0, size)))
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return errors.Join(err, os.Remove(o.whole))
	}
	return nil
}

// name gives a whole file its name. Until it has that, no other run gets at it.
func (o *output) name() error {
	if o.path == "" {
		return nil
	}
	if err := os.Rename(o.whole, o.path); err != nil {
		return &failure{err, fmt.Sprintf("the results are whole in %s: give it another name, or mend that and run the same command again", o.whole)}
	}
	var err error
	if o.whole != o.part() {
		err = os.Remove(o.part())
	}
	err = errors.Join(err, o.file.Close())
	o.file = nil
	return err
}

// close closes what finish did not, and removes files that no run can resume.
func (r *results) close() {
	for _, o := range r.outputs {
		if o.file == nil {
			continue
		}
		if !r.wanted(o) {
			_ = os.Remove(o.part()) // before another run can get it
		}
		_ = o.file.Close() // what matters was settled
	}
}

// wanted tells whether a file that did not get its name is of use.
func (r *results) wanted(o *output) bool {
	switch r.stage {
	case filesWhole:
		return true
	case filesGrow:
		return r.state != "" && r.Rows > 0 && r.Bytes != nil
	}
	info, err := o.file.Stat()
	return err != nil || info.Size() > 0 // of an earlier run
}
