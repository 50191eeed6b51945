package api

import (
	"slices"
	"unicode/utf8"

	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
)

// incomingUpload is a message of an upload whose bytes may be read into memory that was
// used before: a chunk has a megabyte and more. To a server without the Codec it is the
// message alone.
type incomingUpload struct {
	inventoryv1.UploadChunksRequest
	again []byte
}

// read reads the message. Its bytes are valid until it is used for the next one.
func (m *incomingUpload) read(data mem.BufferSlice) error {
	m.again = slices.Grow(m.again[:0], data.Len())[:data.Len()]
	data.CopyTo(m.again)
	proto.Reset(&m.UploadChunksRequest)
	if m.take(m.again) {
		return nil
	}
	return proto.Unmarshal(m.again, &m.UploadChunksRequest)
}

// take reads a message of known fields, and reports false if it is none.
func (m *incomingUpload) take(data []byte) bool {
	for len(data) > 0 {
		number, kind, n := protowire.ConsumeTag(data)
		if n < 0 {
			return false
		}
		data = data[n:]
		switch {
		case number == 2 && kind == protowire.VarintType:
			var index uint64
			index, n = protowire.ConsumeVarint(data)
			m.Index = int64(index)
		case number == 4 && kind == protowire.Fixed32Type:
			var sum uint32
			sum, n = protowire.ConsumeFixed32(data)
			m.Crc32C = &sum
		case kind == protowire.BytesType:
			var b []byte
			b, n = protowire.ConsumeBytes(data)
			if !m.set(number, b) {
				return false
			}
		default:
			return false
		}
		if n < 0 {
			return false
		}
		data = data[n:]
	}
	return true
}

func (m *incomingUpload) set(number protowire.Number, b []byte) bool {
	switch number {
	case 1:
		m.BatchId = string(b)
		return utf8.Valid(b)
	case 3:
		m.StemChunk = b
	default:
		return false
	}
	return true
}
