package command

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What was written is in the file, however it was put together, and nothing of what was
// dropped.
func TestOutputHoldsWhatWasWritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out")
	rapid.Check(t, func(t *rapid.T) {
		o, err := createOutput(path, "")
		require.NoError(t, err)
		defer o.drop()
		var want []byte
		for i := range rapid.IntRange(0, 25).Draw(t, "writes") {
			size := rapid.OneOf(rapid.IntRange(0, 9_000), rapid.IntRange(0, 3<<20)).Draw(t, "bytes")
			text := bytes.Repeat([]byte{byte(i), byte(i + 1), byte(size)}, size/3+1)[:size]
			switch rapid.IntRange(0, 9).Draw(t, "how") {
			case 0:
				require.NoError(t, o.restart())
				want = want[:0]
			case 1, 2, 3:
				n, err := o.Write(text)
				require.NoError(t, err)
				require.Equal(t, size, n)
				want = append(want, text...)
			default:
				n, err := o.Write(append(o.AvailableBuffer(), text...))
				require.NoError(t, err)
				require.Equal(t, size, n)
				want = append(want, text...)
			}
		}
		require.NoError(t, o.finish())
		require.NoError(t, o.publish())
		got, err := os.ReadFile(path)
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, got), "%d bytes, want %d", len(got), len(want))
	})
}

// An error of the disk comes out at the latest when the file is finished, and nobody waits
// for a block for ever.
func TestOutputTellsThatItCannotWrite(t *testing.T) {
	for _, blocks := range []int{0, 1, 3, 20} {
		o, err := createOutput(filepath.Join(t.TempDir(), "out"), "")
		require.NoError(t, err)
		defer o.drop()
		require.NoError(t, o.file.Close())
		text := make([]byte, blockBytes)
		for range blocks {
			if _, err = o.Write(text); err != nil {
				break
			}
		}
		_, last := o.Write(append(o.AvailableBuffer(), "the end"...))
		if err == nil && last == nil {
			err = o.finish()
		}
		require.True(t, err != nil || last != nil)
		require.Error(t, o.finish())
	}
}
