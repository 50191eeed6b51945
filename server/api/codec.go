package api

import (
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// incoming is a message of a stream. With the Codec it is received as it came, for whoever
// is to read it, into memory that was used before; without it is the message alone.
type incoming struct {
	treatmentv1.PrescribeStreamRequest
	again   treatmentv1.StemChunk
	encoded mem.Buffer // nil: it was read when it came
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
	m.free()
	m.encoded = data.MaterializeToBuffer(columnar.Memory())
	return nil
}

const chunkField = 2 // of a request

// free gives back the memory of the message before.
func (m *incoming) free() {
	if m.encoded != nil {
		m.encoded.Free()
		m.encoded = nil
	}
}

// forget drops what was received, and keeps the memory of its columns.
func (m *incoming) forget() {
	m.free()
	proto.Reset(&m.PrescribeStreamRequest)
	m.again.StemIds, m.again.Outlines = "", nil
	m.again.Words = emptied(m.again.Words[:cap(m.again.Words)])
}

// read reads the message, which is valid until the next is received.
func (m *incoming) read() error {
	if m.encoded == nil {
		return nil
	}
	if err := m.readFrom(m.encoded.ReadOnlyData()); err != nil {
		return status.Errorf(codes.Internal, "the message cannot be read: %v", err) // as gRPC has it
	}
	return nil
}

// sites reads the sites that the message brings; nil: it brings none.
func (m *incoming) sites() (*treatmentv1.StreamSites, error) {
	if m.encoded != nil {
		if _, chunk := columnar.OnlyField(m.encoded.ReadOnlyData(), chunkField); chunk {
			return nil, nil // for whoever is to read it
		}
		if err := m.read(); err != nil {
			return nil, err
		}
		m.free()
	}
	return m.GetSites(), nil
}

func (m *incoming) readFrom(data []byte) error {
	chunk, only := columnar.OnlyField(data, chunkField)
	if !only {
		return proto.Unmarshal(data, &m.PrescribeStreamRequest)
	}
	proto.Reset(&m.PrescribeStreamRequest)
	m.Message = &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: &m.again}
	return columnar.DecodeIn(chunk, &m.again)
}
