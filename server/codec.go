package server

import (
	"google.golang.org/grpc/encoding"
	protocodec "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"
)

// codec is grpc's codec but for the buffers of answers: grpc keeps them in a
// pool whose sizes go from 32 KiB to 1 MiB, so that a stream of chunks of 100
// KiB holds some unused megabytes. Here each large answer gets what it needs.
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
	const pooled = 32 << 10 // up to here grpc's pool has buffers of fitting sizes
	size := proto.Size(m)
	if size <= pooled {
		return c.CodecV2.Marshal(v)
	}
	data, err := proto.MarshalOptions{UseCachedSize: true}.MarshalAppend(make([]byte, 0, size), m)
	if err != nil {
		return nil, err
	}
	return mem.BufferSlice{mem.SliceBuffer(data)}, nil
}
