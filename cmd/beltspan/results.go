package main

import (
	"bufio"
	"errors"
	"io"
	"os"
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

// headSheet is a sheet whose beginning is known at the end only. begin keeps
// the place.
type headSheet interface {
	sheet
	head(v verdicts) []byte
}

// output is one sheet on its way into a file or to a writer.
type output struct {
	sheet
	path     string // of the file when it is whole; empty for a writer
	file     *os.File
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
}

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

// open opens the files: at the checkpoint where it has rows, else anew.
func (r *results) open() error {
	if r.Rows == 0 && r.state != "" {
		if err := os.Remove(r.state); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	for _, o := range r.outputs {
		if err := r.openOne(o); err != nil {
			return err
		}
	}
	r.saved = time.Now()
	return nil
}

func (r *results) openOne(o *output) error {
	if o.path == "" {
		o.begin(o.to)
		return nil
	}
	file, err := os.OpenFile(o.part(), os.O_RDWR|os.O_CREATE, 0o666) //nolint:gosec // results are no secret: the umask decides
	if err != nil {
		return err
	}
	o.file, o.to = file, bufio.NewWriterSize(file, bufferSize)
	size := r.Bytes[o.part()]
	if end, err := file.Seek(0, io.SeekEnd); err != nil || end != size {
		if err := errors.Join(err, file.Truncate(size)); err != nil {
			return err
		}
	}
	if _, err := file.Seek(size, io.SeekStart); err != nil {
		return err
	}
	if r.Rows == 0 {
		o.begin(o.to)
	}
	return nil
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
	for i := len(r.outputs) - 1; i >= 0; i-- {
		o := r.outputs[i]
		if o.path == "" {
			continue
		}
		if err := os.Rename(o.part(), o.path); err != nil {
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
	if s, ok := o.sheet.(headSheet); ok {
		if _, err := o.file.WriteAt(s.head(v), 0); err != nil {
			return err
		}
		if err := o.file.Sync(); err != nil {
			return err
		}
	}
	err := o.file.Close()
	o.file = nil
	return err
}

// close closes what finish did not, and removes files that no run can resume.
func (r *results) close() {
	for _, o := range r.outputs {
		if o.path == "" {
			continue
		}
		if o.file != nil {
			_ = o.file.Close() // what matters was settled
		}
		if r.state == "" || r.Rows == 0 || r.Bytes == nil {
			_ = os.Remove(o.part()) // it may be gone
		}
	}
}
