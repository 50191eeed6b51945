package api

import (
	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// incoming is a message of a stream whose chunk may be read into memory that was used
// before. To a server without the Codec it is the message alone.
type incoming struct {
	treatmentv1.PrescribeStreamRequest
	again treatmentv1.StemChunk
}

// Codec reads and writes what gRPC's own does, and the chunks of streams and uploads
// faster.
func Codec() encoding.CodecV2 { return codec{columnar.Codec()} }

type codec struct{ encoding.CodecV2 }

// Unmarshal implements encoding.CodecV2.
func (c codec) Unmarshal(data mem.BufferSlice, v any) error {
	if u, ok := v.(*incomingUpload); ok {
		return u.read(data)
	}
	m, ok := v.(*incoming)
	if !ok {
		return c.CodecV2.Unmarshal(data, v)
	}
	buffer := data.MaterializeToBuffer(mem.DefaultBufferPool())
	defer buffer.Free()
	return m.read(buffer.ReadOnlyData())
}

// read reads the message, of whose encoding nothing is kept.
func (m *incoming) read(data []byte) error {
	chunk := chunkIn(data)
	if chunk == nil {
		return proto.Unmarshal(data, &m.PrescribeStreamRequest)
	}
	proto.Reset(&m.PrescribeStreamRequest)
	m.Message = &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: &m.again}
	return columnar.Decode(chunk, &m.again)
}

// chunkIn is the encoding of the chunk of a message that holds one and nothing else.
func chunkIn(message []byte) []byte {
	const field = 2
	number, kind, n := protowire.ConsumeTag(message)
	if n < 0 || number != field || kind != protowire.BytesType {
		return nil
	}
	chunk, m := protowire.ConsumeBytes(message[n:])
	if m < 0 || n+m != len(message) {
		return nil
	}
	return chunk
}
