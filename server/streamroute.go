package server

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
)

// serveStream serves a route that streams. The time limits of a whole request
// are replaced by one of silence, in either direction. Where the request is a
// stream, too, its body is read line by line while the answer is written, and
// what is wrong with a line is the last line of the answer.
func (g *gateway) serveStream(w http.ResponseWriter, r *http.Request, rt *route, next func(http.ResponseWriter, *http.Request)) {
	out := &streamWriter{ResponseWriter: w, control: http.NewResponseController(w), idle: g.idle}
	out.await()
	_ = out.control.SetReadDeadline(time.Now().Add(g.idle))
	if !rt.method.IsStreamingClient() || r.Body == http.NoBody {
		out.requestRead = true
		next(out, r)
		return
	}
	if err := out.control.EnableFullDuplex(); err != nil { // HTTP/1.1 drops the unread body otherwise
		g.refuse(w, r, errInternal())
		return
	}
	// What is left of a body that nobody reads must not pass for a request.
	w.Header().Set("Connection", "close")
	body := newLineBody(r.Body, out.control, g.idle)
	r.Body = body
	state := new(streamState)
	next(out, r.WithContext(context.WithValue(r.Context(), streamStateKey{}, state)))
	if body.ended.Load() {
		return
	}
	// Nobody reads on: let go of a reader that still waits.
	_ = out.control.SetReadDeadline(time.Now())
	if fault := body.fault.Load(); fault != nil && !state.failed {
		g.endStream(out, *fault)
	}
}

// endStream writes an error as the last line of an answer.
func (g *gateway) endStream(w *streamWriter, err error) {
	s := status.Convert(err)
	text, marshalErr := MarshalJSON(s.Proto())
	if marshalErr != nil {
		return
	}
	if !w.wrote {
		w.Header().Set("Content-Type", streamContentType)
		w.WriteHeader(httpStatusOf(s))
	}
	_, _ = fmt.Fprintf(w, "{\"error\":%s}\n", text) // a caller who went away needs no answer
}

// streamState tells whether an answer has ended with an error.
type streamState struct{ failed bool }

type streamStateKey struct{}

// streamFailed is the mux's handler of errors of a stream's method.
func streamFailed(ctx context.Context, err error) *status.Status {
	if state, ok := ctx.Value(streamStateKey{}).(*streamState); ok {
		state.failed = true
	}
	return status.Convert(err)
}

// streamWriter gives each write its own time.
type streamWriter struct {
	http.ResponseWriter
	control *http.ResponseController
	idle    time.Duration
	wrote   bool
	// requestRead tells that the first write means that the request was read.
	requestRead bool
}

func (w *streamWriter) await() { _ = w.control.SetWriteDeadline(time.Now().Add(w.idle)) }

// Write is http.ResponseWriter's.
func (w *streamWriter) Write(p []byte) (int, error) {
	if !w.wrote && w.requestRead {
		noReadDeadline(w.control)
	}
	w.wrote = true
	w.await()
	return w.ResponseWriter.Write(p)
}

// noReadDeadline ends the time to read the request. Once it is read, the server
// reads on to notice a caller who goes away, and takes a deadline for that.
func noReadDeadline(control *http.ResponseController) { _ = control.SetReadDeadline(time.Time{}) }

// Unwrap is for http.ResponseController.
func (w *streamWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// lineBody is the body of a call that streams: one message in JSON a line, each
// of at most maxStreamMessage bytes. Empty lines mean nothing.
type lineBody struct {
	io.ReadCloser
	control *http.ResponseController
	idle    time.Duration // of each read
	lines   *bufio.Reader
	line    []byte
	number  int
	ended   atomic.Bool
	fault   atomic.Pointer[error] // what was wrong, because the gateway drops it
}

func newLineBody(body io.ReadCloser, control *http.ResponseController, idle time.Duration) *lineBody {
	const bufferBytes = 32 << 10
	return &lineBody{ReadCloser: body, control: control, idle: idle, lines: bufio.NewReaderSize(body, bufferBytes)}
}

// Decode is runtime.Decoder's: it decodes the next line.
func (b *lineBody) Decode(v any) error {
	m, ok := v.(proto.Message)
	if !ok {
		return b.fail(errInternal())
	}
	for {
		line, err := b.next()
		switch {
		case errors.Is(err, io.EOF):
			noReadDeadline(b.control)
			b.ended.Store(true)
			return io.EOF
		case err != nil:
			return b.fail(err)
		case len(line) == 0:
			continue
		}
		if err := UnmarshalJSON(line, m); err != nil {
			return b.fail(err)
		}
		return nil
	}
}

// next returns the next line without white space around it. Its error is
// io.EOF or a status.
func (b *lineBody) next() ([]byte, error) {
	b.number++
	b.line = b.line[:0]
	for {
		_ = b.control.SetReadDeadline(time.Now().Add(b.idle))
		part, err := b.lines.ReadSlice('\n')
		b.line = append(b.line, part...)
		if len(b.line) > maxStreamMessage {
			return nil, errMessageTooLarge(maxStreamMessage)
		}
		line := bytes.TrimSpace(b.line)
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(line) == 0:
			return nil, io.EOF
		case err != nil && !errors.Is(err, io.EOF):
			return nil, bodyFault(err)
		}
		return line, nil
	}
}

// fail keeps what is wrong and says in which line.
func (b *lineBody) fail(err error) error {
	s := status.Convert(err).Proto()
	s.Message = fmt.Sprintf("line %d of the body: %s", b.number, s.GetMessage())
	err = status.FromProto(s).Err()
	b.fault.Store(&err)
	return err
}

var _ runtime.Decoder = (*lineBody)(nil)
