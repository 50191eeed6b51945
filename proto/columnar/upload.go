package columnar

import (
	"hash/crc32"

	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Upload is an UploadChunksRequest that only the Codec writes: it encodes and sums up the
// chunk where it is sent from.
type Upload struct {
	BatchID string
	Index   int64
	Chunk   *treatmentv1.StemChunk // nil: it is encoded already
	Encoded [][]byte               // in pieces, as EncodedChunk has it
}

func (u *Upload) marshal() (mem.BufferSlice, error) {
	const bytesOfRow = 96 // more than most have
	pool := Memory()
	size := bytesOfRow * Rows(u.Chunk)
	for _, piece := range u.Encoded {
		size += len(piece)
	}
	memory := pool.Get(size)
	chunk := (*memory)[:0]
	for _, piece := range u.Encoded {
		chunk = append(chunk, piece...)
	}
	if u.Chunk != nil {
		var err error
		if chunk, err = Append(chunk[:0], u.Chunk); err != nil {
			pool.Put(memory)
			return nil, err
		}
	}
	*memory = chunk
	var head []byte
	if u.BatchID != "" {
		head = protowire.AppendString(protowire.AppendTag(head, 1, protowire.BytesType), u.BatchID)
	}
	if u.Index != 0 {
		head = protowire.AppendVarint(protowire.AppendTag(head, 2, protowire.VarintType), uint64(u.Index))
	}
	if len(chunk) > 0 {
		head = appendLead(head, 3, len(chunk))
	}
	tail := protowire.AppendFixed32(protowire.AppendTag(nil, 4, protowire.Fixed32Type), Checksum(chunk))
	return mem.BufferSlice{mem.SliceBuffer(head), mem.NewBuffer(memory, pool), mem.SliceBuffer(tail)}, nil
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// Checksum is the CRC-32C of a chunk as it is serialised, which is sent with it.
func Checksum(chunk []byte) uint32 { return crc32.Checksum(chunk, castagnoli) }
