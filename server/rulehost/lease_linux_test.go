package rulehost

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

const patience = 10 * time.Second

// A lease holds as long as nobody wants to write (fcntl(2), "Leases").
func TestALeaseTellsOfWriters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(path, []byte("before"), 0o600))
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	if !lease(f) {
		t.Skip("this file system gives no leases")
	}
	assert.True(t, release(f), "nobody wanted to write")

	require.True(t, lease(f))
	_, err = unix.Open(path, unix.O_WRONLY|unix.O_NONBLOCK, 0)
	assert.ErrorIs(t, err, unix.EAGAIN, "who will not wait is turned away")
	assert.False(t, release(f), "somebody wanted to write")

	require.True(t, lease(f))
	written := make(chan error)
	go func() { written <- os.WriteFile(path, []byte("after"), 0o600) }()
	require.Eventually(t, func() bool {
		kind, err := unix.FcntlInt(f.Fd(), unix.F_GETLEASE, 0)
		return err == nil && kind != unix.F_RDLCK
	}, patience, patience/1000, "the kernel tells that it is wanted")
	assert.False(t, release(f))
	require.NoError(t, <-written, "who waited may write")

	w, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	defer w.Close()
	assert.False(t, lease(f), "somebody has it open to write")
}

// The sum of a file is that of its bytes, whether it is under a lease or not.
func TestSumOfAFileUnderALease(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	for _, size := range []int{0, 1, block - 1, block, block + 1, 3*block + 4_097} {
		text := bytes.Repeat([]byte("0123456789a"), size/11+1)[:size]
		require.NoError(t, os.WriteFile(path, text, 0o600))
		f, err := os.Open(path)
		require.NoError(t, err)
		want := sha256.Sum256(text)
		p := &plugin{file: f}
		for _, p.leased = range []bool{false, lease(f)} {
			sum, err := p.sum()
			require.NoError(t, err)
			assert.Equal(t, hex.EncodeToString(want[:]), sum, "%d bytes, under a lease: %t", size, p.leased)
		}
		require.NoError(t, f.Close())
	}
}

// cutter cuts a file once some of it was written.
type cutter struct {
	io.Writer
	path string
}

func (c cutter) Write(b []byte) (int, error) {
	n, err := c.Writer.Write(b)
	return n, errors.Join(err, os.Truncate(c.path, 1))
}

// A lease that has run out keeps nobody from cutting the file. That is an error of this
// file, and does not end the server.
func TestAFileThatIsCutWhileItIsLookedAt(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(path, make([]byte, 4*block), 0o600))
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	_, err = copyMapped(cutter{sha256.New(), path}, f)
	assert.ErrorContains(t, err, "a part of it went away")
	assert.NotErrorIs(t, err, errors.ErrUnsupported)
}

// What goes wrong with who is written to is no fault of the file.
func TestAPanicWhileAFileIsLookedAt(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(path, make([]byte, block), 0o600))
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	assert.PanicsWithValue(t, "spilt", func() { _, _ = copyMapped(spilling{}, f) })
	_, err = copyMapped(full{}, f)
	assert.ErrorIs(t, err, io.ErrShortWrite)
}

type spilling struct{}

func (spilling) Write([]byte) (int, error) { panic("spilt") }

type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }
