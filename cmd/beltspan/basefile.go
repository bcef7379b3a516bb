package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"github.com/beltspan/beltspan/server"
)

// largestBaseFile is the most bytes of a base file that are read.
const largestBaseFile = 8 << 20

// readBaseFile reads a request from a file, or from the standard input where
// path is "-".
func (a *app) readBaseFile(path string, into proto.Message) error {
	from := a.stdin
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return &usageError{msg: err.Error()}
		}
		defer file.Close() //nolint:errcheck // only read
		from = file
	}
	raw, err := io.ReadAll(io.LimitReader(from, largestBaseFile+1))
	if err != nil {
		return &usageError{msg: err.Error()}
	}
	if len(raw) > largestBaseFile {
		return &usageError{msg: fmt.Sprintf("%s is longer than %d bytes: it is no base file", path, largestBaseFile)}
	}
	if err := server.UnmarshalJSON(raw, into); err != nil {
		return &usageError{
			msg:  inputName(path) + ": " + status.Convert(err).Message(),
			hint: "a base file is a " + string(into.ProtoReflect().Descriptor().Name()) + " as JSON; beltspan base --help tells more",
		}
	}
	return nil
}

// baseForm is how a base file is written.
type baseForm = protojson.MarshalOptions

var (
	// givenOnly holds what is given, with names as in the proto files and in
	// errors.
	givenOnly = baseForm{UseProtoNames: true}
	// toFillIn has a place for every value.
	toFillIn = baseForm{UseProtoNames: true, EmitDefaultValues: true}
)

// baseFileText is a request as a base file, one value a line.
func baseFileText(m proto.Message, form baseForm) ([]byte, error) {
	raw, err := form.Marshal(m)
	if err != nil {
		return nil, err
	}
	var text bytes.Buffer
	if err := json.Indent(&text, raw, "", "  "); err != nil {
		return nil, err
	}
	text.WriteByte('\n')
	return text.Bytes(), nil
}

func (a *app) printRequest(m proto.Message) error {
	text, err := baseFileText(m, givenOnly)
	if err != nil {
		return err
	}
	return a.print(string(text))
}

// writeBaseFile writes a request as a base file.
func writeBaseFile(path string, m proto.Message, form baseForm) error {
	text, err := baseFileText(m, form)
	if err != nil {
		return err
	}
	return writeWhole(path, text)
}

// writeWhole writes a file as a whole or not at all: a reader sees the old one
// or the new one.
func writeWhole(path string, content []byte) error {
	file, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return namedFor(path, err)
	}
	mode := fs.FileMode(0o644)
	if held, err := os.Stat(path); err == nil {
		mode = held.Mode().Perm()
	}
	_, err = file.Write(content)
	err = errors.Join(err, file.Chmod(mode), file.Close())
	if err == nil {
		err = os.Rename(file.Name(), path)
	}
	if err != nil {
		_ = os.Remove(file.Name())
	}
	return namedFor(path, err)
}

// namedFor is an error of a file under another name as one of the file that
// was asked for.
func namedFor(path string, err error) error {
	var wrong *fs.PathError
	if errors.As(err, &wrong) {
		return &fs.PathError{Op: "write", Path: path, Err: wrong.Err}
	}
	return err
}
