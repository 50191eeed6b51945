package app

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A file has no name that anyone could read it by, or that would be left behind.
func TestAFileOfSumsHasNoName(t *testing.T) {
	folder := t.TempDir()
	file, err := newAsideFolder(folder, 100).open()
	require.NoError(t, err)
	list, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, list)
	_, err = file.Write([]byte("sums"))
	require.NoError(t, err)
	back := make([]byte, 4)
	_, err = file.ReadAt(back, 0)
	require.NoError(t, err)
	assert.Equal(t, "sums", string(back))
	require.NoError(t, file.Close())
}

// All files of a folder have one bound, and what is closed gives its part back.
func TestFilesOfSumsAreBounded(t *testing.T) {
	folder := newAsideFolder(t.TempDir(), 100)
	one, err := folder.open()
	require.NoError(t, err)
	two, err := folder.open()
	require.NoError(t, err)
	_, err = one.Write(make([]byte, 60))
	require.NoError(t, err)
	_, err = two.Write(make([]byte, 41))
	require.EqualError(t, err, "those of all streams may take 100 bytes together")
	_, err = two.Write(make([]byte, 40))
	require.NoError(t, err)
	require.NoError(t, one.Close())
	_, err = two.Write(make([]byte, 60))
	require.NoError(t, err)
	require.NoError(t, two.Close())
	assert.EqualValues(t, 100, folder.left.Load())
}

func TestAFolderThatIsGoneHoldsNoSums(t *testing.T) {
	_, err := newAsideFolder(t.TempDir()+"/gone", 100).open()
	require.ErrorIs(t, err, os.ErrNotExist)
}
