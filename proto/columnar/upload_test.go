package columnar

import (
	"crypto/sha256"
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
	sum := sha256.Sum256(data)
	want, err := proto.Marshal(&inventoryv1.UploadChunksRequest{BatchId: id, Index: index, StemChunk: data, Sha256: sum[:]})
	require.NoError(t, err)
	for _, u := range []*Upload{{BatchID: id, Index: index, Chunk: chunk}, {BatchID: id, Index: index, Encoded: data}} {
		got, err := Codec().Marshal(u)
		require.NoError(t, err)
		assert.Equal(t, want, got.Materialize())
		got.Free()
	}
}
