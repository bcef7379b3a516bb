package entry

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/beltspan/beltspan/beltmath"
)

// Layout says which columns a file may have.
type Layout struct {
	Columns  []string   // a name that ends in _mm is a length
	needed   [][]string // of each set, at least one column
	needsRow bool       // a file without rows is refused
}

// Table reads rows from a file: CSV whose first line names the columns in any
// order, or NDJSON, one object a line, whose keys are the columns. It tells
// them apart by the first character.
//
// A length may be given in inches under its column's name with _in in place of
// _mm. In CSV a row is one line: quoted cells hold commas and doubled quotes,
// but no line break, so that one stray quote spoils one row and not the rest
// of the file. Blank lines are skipped. Line ends are LF or CRLF.
type Table struct {
	Layout
	Name   string // of the file, for messages
	lines  *lineReader
	header []heading // of CSV; nil for NDJSON
	first  *line     // that of the first row, where it is read already
	sum    hash.Hash // of all lines with content so far
	row    Row
}

// line is a line of a file with content.
type line struct {
	text    []byte
	tooLong bool // the text is its beginning
}

// heading is one column of a CSV file.
type heading struct {
	index int // in Layout.Columns
	unit  beltmath.Unit
}

// Row is one row of a table, valid until the next one is read.
type Row struct {
	Line  int       // of the file, counted from 1
	cells []cell    // one a column of the Layout
	Fault *RowFault // nil for a row that can be read
}

// cell is one value as text, empty where none is given.
type cell struct {
	text string
	unit beltmath.Unit
}

// RowFault is what makes a row unreadable.
type RowFault struct {
	Reason string // stable word in capitals
	Column string // of the Layout, or empty
	Text   string // for people, with line and column
}

// The stable reason words of rows that never reach the service.
const (
	reasonMalformedRow = "MALFORMED_ROW" // a line that does not split into cells
	reasonInvalidValue = "INVALID_VALUE" // a cell whose text is no such value
)

// OpenTable reads the header. Its error is a FileError, or that of the file.
func OpenTable(file string, from io.Reader, l Layout) (*Table, error) {
	t := &Table{Layout: l, Name: file, lines: newLineReader(from), sum: sha256.New()}
	text, tooLong, err := t.content()
	switch {
	case err == io.EOF: //nolint:errorlint // content returns it bare
		return nil, t.refuse("it is empty")
	case err != nil:
		return nil, err
	case tooLong:
		return nil, t.refuse(fmt.Sprintf("the first line is longer than %d bytes", LongestLine))
	case bytes.HasPrefix(text, []byte("\xff\xfe")), bytes.HasPrefix(text, []byte("\xfe\xff")), !utf8.Valid(text):
		return nil, t.refuse("it is no UTF-8 text: save it as CSV in UTF-8")
	}
	t.row.cells = make([]cell, len(l.Columns))
	if text[0] == '{' {
		t.first = &line{text: bytes.Clone(text)}
		return t, nil
	}
	t.hash(text)
	names, err := splitCSV(string(text))
	if err != nil {
		return nil, t.refuse("the first line: " + err.Error())
	}
	if err := t.readHeader(names); err != nil {
		return nil, err
	}
	return t, t.needRow()
}

// needRow refuses a file without rows where the Layout says so.
func (t *Table) needRow() error {
	if !t.needsRow {
		return nil
	}
	text, tooLong, err := t.content()
	if errors.Is(err, io.EOF) {
		return &FileError{
			Msg:  t.Name + ": it names its columns and has no rows below",
			Hint: "a file with nothing to check is refused, as an empty one is, so that nothing passes unseen",
		}
	}
	t.first = &line{bytes.Clone(text), tooLong}
	return err
}

// refuse is the error of a file whose rows cannot be found.
func (t *Table) refuse(problem string) error {
	return &FileError{
		Msg: t.Name + ": " + problem,
		Hint: "the first line names the columns: " + strings.Join(t.Columns, ",") +
			"; a length may be in inches, its column ends in _in then; or each line is a JSON object with these keys",
	}
}

// content returns the next line that is not blank, without spaces round it.
func (t *Table) content() (line []byte, tooLong bool, err error) {
	for {
		line, tooLong, err = t.lines.next()
		if line = bytes.TrimSpace(line); len(line) > 0 || err != nil {
			return line, tooLong, err
		}
	}
}

// splitCSV splits one line into cells.
func splitCSV(line string) ([]string, error) {
	if !strings.Contains(line, `"`) {
		return strings.Split(line, ","), nil
	}
	reader := csv.NewReader(strings.NewReader(line))
	reader.TrimLeadingSpace = true
	cells, err := reader.Read()
	if err != nil {
		return nil, errors.New("the quotes do not match: put a cell in quotes as a whole, and write a quote inside as two")
	}
	return cells, nil
}

// readHeader finds the columns, and reports all that is wrong with them.
func (t *Table) readHeader(names []string) error {
	var problems []string
	for i, name := range names {
		name = strings.TrimSpace(name)
		h, ok := t.find(name)
		switch {
		case !ok:
			problems = append(problems, fmt.Sprintf("column %d is %s: there is no such column, the nearest is %s", i+1, Quoted(name), t.nearest(name)))
		case slices.ContainsFunc(t.header, func(o heading) bool { return o.index == h.index }):
			problems = append(problems, fmt.Sprintf("column %d is %s: it is there before", i+1, Quoted(name)))
		}
		t.header = append(t.header, h)
	}
	for _, set := range t.needed {
		if !slices.ContainsFunc(t.header, func(h heading) bool { return h.index >= 0 && slices.Contains(set, t.Columns[h.index]) }) {
			problems = append(problems, "column "+strings.Join(set, " or ")+" is missing")
		}
	}
	switch {
	case len(problems) == 0:
		return nil
	case len(names) == 1 && strings.ContainsAny(names[0], ";\t"):
		problems = []string{"columns are separated by commas, and the decimal sign is a point"}
	}
	return t.refuse(strings.Join(problems, "; "))
}

// find returns the column of a name, in millimeters or in inches.
func (t *Table) find(name string) (heading, bool) {
	if i := slices.Index(t.Columns, name); i >= 0 {
		return heading{i, beltmath.Millimeter}, true
	}
	if length, ok := strings.CutSuffix(name, "_in"); ok {
		if i := slices.Index(t.Columns, length+"_mm"); i >= 0 {
			return heading{i, beltmath.Inch}, true
		}
	}
	return heading{index: -1}, false
}

func (t *Table) nearest(name string) string { return Nearest(name, t.Columns) }

// Next reads the next row; io.EOF ends the table. A row at fault is no error.
func (t *Table) Next() (*Row, error) {
	line, tooLong, err := t.advance()
	if err != nil {
		return nil, err
	}
	switch {
	case tooLong:
		t.row.malformed("is longer than %d bytes", LongestLine)
	case !utf8.Valid(line):
		t.row.malformed("is no UTF-8 text: save the file in UTF-8")
	case t.header == nil:
		t.readObject(line)
	default:
		t.readCells(string(line))
	}
	return &t.row, nil
}

// Skip passes over a row.
func (t *Table) Skip() error {
	_, _, err := t.advance()
	return err
}

// advance goes on to the next row and returns its line.
func (t *Table) advance() (text []byte, tooLong bool, err error) {
	if t.first != nil {
		text, tooLong, t.first = t.first.text, t.first.tooLong, nil
	} else {
		text, tooLong, err = t.content()
	}
	if err == nil {
		t.hash(text)
	}
	t.row.Line, t.row.Fault = t.lines.number, nil
	clear(t.row.cells)
	return text, tooLong, err
}

func (t *Table) hash(line []byte) {
	t.sum.Write(line)
	t.sum.Write([]byte("\n"))
}

// Digest identifies the rows read so far, and the header.
func (t *Table) Digest() string { return hex.EncodeToString(t.sum.Sum(nil)) }

// readCells reads a line of CSV. Cells of a line with too few or too many are
// kept, for the id.
func (t *Table) readCells(line string) {
	texts, err := splitCSV(line)
	if err != nil {
		t.row.malformed("%s", err)
		return
	}
	if len(texts) != len(t.header) {
		t.row.malformed("has %d cells: give %d, one a column", len(texts), len(t.header))
	}
	for i, h := range t.header[:min(len(t.header), len(texts))] {
		t.row.cells[h.index] = cell{text: strings.TrimSpace(texts[i]), unit: h.unit}
	}
}

// malformed keeps the first fault of the row as a whole.
func (r *Row) malformed(format string, args ...any) {
	if r.Fault == nil {
		r.Fault = &RowFault{reasonMalformedRow, "", fmt.Sprintf("line %d ", r.Line) + fmt.Sprintf(format, args...)}
	}
}

// Bytes is how much of the file was read.
func (t *Table) Bytes() int64 { return t.lines.bytes }

// Waits tells whether the next row may take its time to come.
func (t *Table) Waits() bool { return t.lines.waits() }
