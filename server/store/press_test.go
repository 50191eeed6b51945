package store

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Chunk and answer lie in one room, which serves the next pair.
func TestWhatIsPressedIsGivenBack(t *testing.T) {
	var room []byte
	rapid.Check(t, func(rt *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) []byte {
			unit := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "unit")
			return bytes.Repeat(unit, rapid.IntRange(0, 1000).Draw(t, "times"))
		}), 1, 2).Draw(rt, "list")
		into := &room
		if rapid.Bool().Draw(rt, "the store's own") {
			into = nil
		}
		require.NoError(rt, pressed(into, list, func(small [][]byte) error {
			require.Len(rt, small, len(list))
			for i, want := range list {
				got, err := unpress(nil, small[i])
				require.NoError(rt, err)
				require.True(rt, bytes.Equal(want, got))
			}
			return nil
		}))
	})
}
