package api

import (
	"errors"
	"io/fs"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"example.org/rootward/server/treatment"
)

// Want of room may pass, and is told without where the server keeps its files; what cannot
// be read back is another matter.
func TestWhatFailsAside(t *testing.T) {
	full := &treatment.RoomError{Why: &fs.PathError{Op: "write", Path: "/srv/own", Err: syscall.ENOSPC}}
	lost := errors.New("sums are not what was written")

	err := asideFailed(full)
	assert.Equal(t, codes.ResourceExhausted, status.Code(err))
	require.ErrorContains(t, err, "no space left on device")
	assert.NotContains(t, err.Error(), "/srv/own")
	err = asideFailed(lost)
	assert.Equal(t, codes.DataLoss, status.Code(err))
	require.ErrorContains(t, err, "Do not use the answers")
	require.NoError(t, asideFailed(nil))

	var later interface{ Elsewhere() }
	err = asideOfBatch(full)
	require.ErrorAs(t, err, &later)
	assert.NotContains(t, err.Error(), "/srv/own")
	assert.Equal(t, lost, asideOfBatch(lost))
}
