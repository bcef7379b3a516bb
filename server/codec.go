package server

import (
	"google.golang.org/grpc/encoding"
	protocodec "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"
)

// codec is grpc's codec but for the buffers of answers: grpc keeps them in a
// pool whose sizes go from 32 KiB to 1 MiB, so that a stream of chunks of 100
// KiB holds some unused megabytes. Here each answer gets what it needs.
type codec struct{ encoding.CodecV2 }

func newCodec() codec { return codec{encoding.GetCodecV2(protocodec.Name)} }

// Marshal is encoding.CodecV2's.
func (c codec) Marshal(v any) (mem.BufferSlice, error) {
	if encoded, ok := v.(*outgoing); ok {
		return encoded.buffers(), nil
	}
	m, ok := v.(proto.Message)
	if !ok {
		return c.CodecV2.Marshal(v)
	}
	data, err := proto.Marshal(m)
	if err != nil {
		return nil, err
	}
	return mem.BufferSlice{mem.SliceBuffer(data)}, nil
}
