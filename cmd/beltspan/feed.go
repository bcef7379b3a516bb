package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

const (
	chunkRows      = 500
	chunkBytes     = 256 << 10 // of the file; below what a service takes in one message
	chunksInFlight = 8
	rememberedRows = 10000 // whose ids the service compares
)

// chunk is a part of the file on its way through the service.
type chunk struct {
	number int // counted from 0
	first  int // index of its first row, counted from 0
	lines  []int
	faults []*entry.RowFault // nil for a row that can be read
	items  []*pb.CheckItem
	digest string // of the file up to its end
	bytes  int64  // of the file up to its end
}

// feeder reads the file in chunks.
type feeder struct {
	table  *entry.Table
	limits *pb.FitLimits
	resume checkpoint // where an earlier run stopped
	rows   int        // read so far
	count  int        // of chunks
	err    error      // why it ended before the end of the file; read it after its chunks
}

// run puts chunks, one at least, into chunks until the file or ctx ends, and
// closes it.
func (f *feeder) run(ctx context.Context, chunks chan<- *chunk) {
	defer close(chunks)
	f.err = f.skip()
	for f.err == nil {
		var c *chunk
		c, f.err = f.fill()
		if len(c.items) == 0 && f.count > 0 {
			break
		}
		c.number = f.count
		f.count++
		select {
		case chunks <- c:
		case <-ctx.Done():
			f.err = ctx.Err()
			return
		}
	}
	if errors.Is(f.err, io.EOF) {
		f.err = nil
		if f.rows < f.resume.Rows {
			f.err = f.otherFile()
		}
	}
}

// skip passes over the rows of an earlier run, but for the last ones: the
// service sees these again, so that it finds repeated ids as it would have in
// one run.
func (f *feeder) skip() error {
	for f.rows < f.resume.Rows-rememberedRows {
		if err := f.table.Skip(); err != nil {
			return err
		}
		f.rows++
	}
	return nil
}

// fill reads the next chunk. It is short where the file lets wait, and ends
// where an earlier run did.
func (f *feeder) fill() (*chunk, error) {
	c := &chunk{first: f.rows}
	start := f.table.Bytes()
	for len(c.items) < chunkRows && f.table.Bytes()-start < chunkBytes {
		if len(c.items) > 0 && f.table.Waits() {
			break
		}
		row, err := f.table.Next()
		if err != nil {
			return f.closed(c), err
		}
		f.rows++
		c.items = append(c.items, f.table.ReadItem(row))
		c.lines = append(c.lines, row.Line)
		c.faults = append(c.faults, row.Fault)
		if f.rows != f.resume.Rows {
			continue
		}
		if f.table.Digest() != f.resume.Input {
			return f.closed(c), f.otherFile()
		}
		break
	}
	return f.closed(c), nil
}

func (f *feeder) closed(c *chunk) *chunk {
	c.digest, c.bytes = f.table.Digest(), f.table.Bytes()
	return c
}

// otherFile is the error of a file that does not begin with the rows judged by
// the run to resume.
func (f *feeder) otherFile() error {
	was := fmt.Sprintf("the first line or one of the first %d rows is another", f.resume.Rows)
	if f.rows < f.resume.Rows {
		was = fmt.Sprintf("it has %d rows, and %d were judged already", f.rows, f.resume.Rows)
	}
	return &failure{
		fmt.Errorf("%s has changed since the run to resume: %s", f.table.Name, was),
		"give the file as it was then, rows may have come behind these; or start anew, without --resume, which throws the results so far away",
	}
}
