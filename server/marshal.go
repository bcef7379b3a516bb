package server

import (
	"bytes"
	"errors"
	"io"
	"net"
	"net/http"
	"sync"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
)

// jsonOptions is the JSON of every answer: fields that hold their default are
// printed, empty lists too.
var jsonOptions = protojson.MarshalOptions{EmitDefaultValues: true}

// jsonReading refuses fields that a message has not: a misspelled option must
// not give a quietly different answer.
var jsonReading = protojson.UnmarshalOptions{DiscardUnknown: false}

// MarshalJSON returns the JSON that REST answers for m.
func MarshalJSON(m proto.Message) ([]byte, error) {
	const usual = 1 << 10 // holds most answers, and grows once or twice for the rest
	return jsonOptions.MarshalAppend(make([]byte, 0, usual), m)
}

// UnmarshalJSON reads m from JSON as REST takes it. Its error is a status that
// names the field at fault and its line. A byte-order mark, with which some
// editors begin a file, is left out.
func UnmarshalJSON(data []byte, m proto.Message) error {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if err := jsonReading.Unmarshal(data, m); err != nil {
		return jsonFault(data, m.ProtoReflect().Descriptor(), err)
	}
	return nil
}

// marshaler reads and writes the bodies of REST.
type marshaler struct {
	*runtime.HTTPBodyMarshaler
}

func newMarshaler() *marshaler {
	return &marshaler{&runtime.HTTPBodyMarshaler{Marshaler: &runtime.JSONPb{
		MarshalOptions: jsonOptions, UnmarshalOptions: jsonReading,
	}}}
}

// Marshal is runtime.Marshaler's.
func (m *marshaler) Marshal(v any) ([]byte, error) {
	switch v := v.(type) {
	case *httpbody.HttpBody:
		return v.GetData(), nil
	case proto.Message:
		return MarshalJSON(v)
	default:
		return m.HTTPBodyMarshaler.Marshal(v)
	}
}

const streamContentType = "application/x-ndjson"

// StreamContentType is runtime.StreamContentType's: one JSON object a line.
func (m *marshaler) StreamContentType(v any) string {
	if body, ok := v.(*httpbody.HttpBody); ok {
		return body.GetContentType()
	}
	return streamContentType
}

// NewDecoder is runtime.Marshaler's. The body of a call that is no stream
// decodes itself.
func (m *marshaler) NewDecoder(r io.Reader) runtime.Decoder {
	switch body := r.(type) {
	case *requestBody:
		return body
	case *lineBody:
		return body
	}
	return m.HTTPBodyMarshaler.NewDecoder(r)
}

// requestBody is the body of one call: limited, and decoded as a whole. It
// keeps what was wrong with it, because the gateway passes on the text only.
type requestBody struct {
	io.ReadCloser
	raw   io.Reader // the same without the limit
	fault error
}

func limitBody(w http.ResponseWriter, r *http.Request, limit int) *requestBody {
	return &requestBody{ReadCloser: http.MaxBytesReader(w, r.Body, int64(limit)), raw: r.Body}
}

var bodyBuffers = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// Decode is runtime.Decoder's. An empty body is an empty message.
func (b *requestBody) Decode(v any) error {
	m, ok := v.(proto.Message)
	if !ok {
		return errors.New("a route binds its body to something that is no message")
	}
	buf := bodyBuffers.Get().(*bytes.Buffer) //nolint:forcetypeassert // the pool holds nothing else
	buf.Reset()
	defer func() {
		const keep = 64 << 10
		if buf.Cap() <= keep {
			bodyBuffers.Put(buf)
		}
	}()
	if _, err := buf.ReadFrom(b.ReadCloser); err != nil {
		b.fault = bodyFault(err)
		return b.fault
	}
	if len(bytes.TrimSpace(buf.Bytes())) == 0 {
		return io.EOF
	}
	b.fault = UnmarshalJSON(buf.Bytes(), m)
	return b.fault
}

// bodyFault tells why a body could not be read.
func bodyFault(err error) error {
	var large *http.MaxBytesError
	var network net.Error
	switch {
	case errors.As(err, &large):
		return errBodyTooLarge(large.Limit)
	case errors.Is(err, io.ErrUnexpectedEOF), errors.As(err, &network):
		return errBodyIncomplete()
	default:
		return errMalformed(reasonMalformedRequest, "the body cannot be read: check its transfer encoding and length")
	}
}
