package columnar

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/testdata/many"
)

// An upload is written as protobuf writes the request that it stands for.
func TestUploadIsTheRequest(t *testing.T) {
	for chunk := range many.Chunks(7, 5_000, 2_000) {
		isTheRequest(t, "batch", 300, chunk)
	}
	isTheRequest(t, "", 0, &treatmentv1.StemChunk{})
	isTheRequest(t, "é", 0, &treatmentv1.StemChunk{FirstRow: 1})
	_, err := Codec().Marshal(&Upload{Chunk: &treatmentv1.StemChunk{StemIds: "\xff"}})
	require.Error(t, err)
}

func isTheRequest(t *testing.T, id string, index int64, chunk *treatmentv1.StemChunk) {
	t.Helper()
	data, err := proto.Marshal(chunk)
	require.NoError(t, err)
	want, err := proto.Marshal(&inventoryv1.UploadChunksRequest{BatchId: id, Index: index, StemChunk: data, Crc32C: new(Checksum(data))})
	require.NoError(t, err)
	for _, u := range []*Upload{{BatchID: id, Index: index, Chunk: chunk}, {BatchID: id, Index: index, Encoded: [][]byte{data[:len(data)/2], nil, data[len(data)/2:]}}} {
		got, err := Codec().Marshal(u)
		require.NoError(t, err)
		assert.Equal(t, want, got.Materialize())
		got.Free()
	}
}

// A chunk that is encoded already, in pieces, is sent as the request that has it.
func TestAnEncodedChunkIsTheRequest(t *testing.T) {
	for _, chunk := range []*treatmentv1.StemChunk{{}, {FirstRow: 300, Words: []string{"a"}, StemIds: strings.Repeat("é", 5_000)}} {
		data, err := proto.Marshal(chunk)
		require.NoError(t, err)
		want, err := proto.Marshal(&treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: chunk}})
		require.NoError(t, err)
		got, err := Codec().Marshal(EncodedChunk{Message: [][]byte{data[:len(data)/3], data[len(data)/3:]}})
		require.NoError(t, err)
		assert.Equal(t, want, got.Materialize())
	}
}

// The check value of CRC-32C, that of "123456789", and 32 bytes of 0, of 0xFF and going up
// (RFC 3720, appendix B.4, as the tests of other public libraries quote it).
func TestChecksumIsThatOfTheStandard(t *testing.T) {
	up := make([]byte, 32)
	for i := range up {
		up[i] = byte(i)
	}
	for _, c := range []struct {
		data []byte
		want uint32
	}{
		{[]byte("123456789"), 0xe3069283}, {make([]byte, 32), 0x8a9136aa}, {bytes.Repeat([]byte{0xff}, 32), 0x62a8ab43}, {up, 0x46dd794e},
	} {
		assert.Equal(t, c.want, Checksum(c.data), "%x", c.data)
	}
}
