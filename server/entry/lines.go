package entry

import (
	"bufio"
	"bytes"
	"errors"
	"io"
)

// LongestLine is the most bytes of a line that is read.
const LongestLine = 64 << 10

// lineReader reads the lines of a file of any length in constant memory.
type lineReader struct {
	from   *bufio.Reader
	bytes  int64 // read so far
	number int   // of the line read last, counted from 1
}

func newLineReader(from io.Reader) *lineReader {
	return &lineReader{from: bufio.NewReaderSize(from, LongestLine)}
}

// next returns the next line without its end, valid until the next call. Of a
// line that is too long it returns the beginning.
func (l *lineReader) next() (text []byte, tooLong bool, err error) {
	l.number++
	text, err = l.read()
	if errors.Is(err, bufio.ErrBufferFull) {
		text, tooLong = bytes.Clone(text), true
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = l.read()
		}
	}
	if errors.Is(err, io.EOF) && len(text) > 0 {
		err = nil // a last line without an end; io.EOF comes next
	}
	if l.number == 1 {
		text = bytes.TrimPrefix(text, []byte("\ufeff")) // a byte order mark
	}
	return bytes.TrimSuffix(bytes.TrimSuffix(text, []byte("\n")), []byte("\r")), tooLong, err
}

func (l *lineReader) read() ([]byte, error) {
	text, err := l.from.ReadSlice('\n')
	l.bytes += int64(len(text))
	return text, err
}

// waits tells whether the next line may take its time to come.
func (l *lineReader) waits() bool { return l.from.Buffered() == 0 }
