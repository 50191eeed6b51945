package command

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"syscall"
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

// A full disk is told once, however much is written after it, and nothing is written then.
func TestOutputTellsOnceOfAFullDisk(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip("there is no disk that is always full: ", err)
	}
	defer full.Close()
	for _, copied := range []bool{true, false} {
		path := filepath.Join(t.TempDir(), "out")
		o, err := createOutput(path, "")
		require.NoError(t, err)
		file := o.file
		o.file = full
		text, failures := make([]byte, 100_000), 0
		for range 100 {
			if copied {
				_, err = o.Write(text)
			} else {
				_, err = o.Write(append(o.AvailableBuffer(), text...))
			}
			if err != nil {
				failures++
				require.Nil(t, o.full, "nobody writes")
			}
		}
		require.Positive(t, failures)
		for range 2 {
			err = o.finish()
			require.ErrorIs(t, err, syscall.ENOSPC)
			require.Equal(t, 1, strings.Count(err.Error(), syscall.ENOSPC.Error()), "%s", err)
		}
		o.file = file
		require.NoError(t, o.restart())
		_, err = o.Write([]byte("less"))
		require.NoError(t, err)
		require.NoError(t, o.finish())
		require.NoError(t, o.publish())
		got, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, "less", string(got))
	}
}
