package rulehost_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/server/rulehost"
)

// Only a second answer of the same bytes passes for the first; any other is read.
func TestASecondAnswerIsTheFirstOnlyByteForByte(t *testing.T) {
	wire := func(version string) mem.BufferSlice {
		b, err := proto.Marshal(&pluginv1.CompileResponse{Table: &ruletablev1.Table{Manifest: &ruletablev1.Manifest{Version: version}}})
		require.NoError(t, err)
		return mem.BufferSlice{mem.SliceBuffer(b[:3]), mem.SliceBuffer(b[3:])}
	}
	for _, c := range []struct {
		second string
		alike  bool
	}{{"1", true}, {"2", false}, {"", false}, {"11", false}} {
		codec, alike := rulehost.NewAnswerCodec()
		var first, second pluginv1.CompileResponse
		require.NoError(t, codec.Unmarshal(wire("1"), &first))
		assert.False(t, alike())
		assert.Equal(t, "1", first.GetTable().GetManifest().GetVersion())
		require.NoError(t, codec.Unmarshal(wire(c.second), &second))
		assert.Equal(t, c.alike, alike())
		if !c.alike {
			assert.Equal(t, c.second, second.GetTable().GetManifest().GetVersion())
		}
	}
}
