// Package entry reads what people type and paste: lengths in cells, tooth counts
// and their ranges, files of drives and of parts. The command and the pages read
// them alike.
package entry

import (
	"errors"
	"strconv"

	"github.com/beltspan/beltspan/beltmath"
)

// FileError is a file that cannot be read as a whole.
type FileError struct {
	Msg  string // what is wrong
	Hint string // what to do, or empty
}

func (e *FileError) Error() string { return e.Msg }

// Why returns what an unreadable length should be, or the error's own text.
func Why(err error) string {
	var input *beltmath.InputError
	if errors.As(err, &input) {
		return input.Msg
	}
	return err.Error()
}

// Quoted returns text in quotes, cut to a length that fits a message.
func Quoted(text string) string {
	const most = 64
	if len(text) > most {
		text = text[:most] + "..."
	}
	return strconv.Quote(text)
}
