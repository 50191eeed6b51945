package api

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
)

// FuzzIncomingUpload reads messages into memory that another has used, as protobuf reads
// them into a new one.
func FuzzIncomingUpload(f *testing.F) {
	whole, err := proto.Marshal(&inventoryv1.UploadChunksRequest{BatchId: "a", Index: 300, StemChunk: []byte("rows"), Crc32C: new(uint32(7))})
	require.NoError(f, err)
	unknown := protowire.AppendVarint(protowire.AppendTag(nil, 9, protowire.VarintType), 1)
	for _, seed := range [][]byte{
		nil, whole, whole[:len(whole)-1], append(unknown, whole...), append(whole, whole...), append(whole, unknown...),
		{0x0a, 1, 0xff}, {0x12, 0}, {0x08, 1}, {0x10, 0x80}, {0x1a, 0}, {0x1b}, {0x00},
	} {
		f.Add(seed, 3)
	}
	f.Fuzz(func(t *testing.T, data []byte, cut int) {
		want := &inventoryv1.UploadChunksRequest{}
		fault := proto.Unmarshal(data, want)
		at := min(max(cut, 0), len(data))
		again := &incomingUpload{}
		for _, message := range [][]byte{whole, data} {
			err = again.read(mem.BufferSlice{mem.SliceBuffer(message[:min(at, len(message))]), mem.SliceBuffer(message[min(at, len(message)):])})
		}
		if fault != nil {
			assert.Equal(t, fault.Error(), err.Error())
			return
		}
		require.NoError(t, err)
		assert.True(t, proto.Equal(want, &again.UploadChunksRequest), "%v\n%v", want, again)
	})
}
