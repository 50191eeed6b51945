package rulehost

import (
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
