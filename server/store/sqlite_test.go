package store

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
)

// Chunks do not wait for the log to be written back as a whole.
func TestTheLogIsWrittenBackBesideChunks(t *testing.T) {
	folder := t.TempDir()
	s, err := Open(t.Context(), Config{Folder: folder, Log: zerolog.Nop()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	b, err := s.Create(t.Context(), &batch.Batch{ID: "a", RequestID: "a", State: batch.Uploading, Created: time.Unix(1, 0)})
	require.NoError(t, err)
	data := make([]byte, 1<<20)
	for i := range data {
		data[i] = byte(rand.IntN(256))
	}
	const chunks = logBytes>>20 + 4 // a third of what the transactions write back themselves
	for i := range int64(chunks) {
		require.NoError(t, s.Put(t.Context(), b.ID, &batch.Chunk{Index: i, FirstRow: i + 1, Rows: 1, Data: data}, nil))
	}
	require.Eventually(t, func() bool {
		file, err := os.Stat(filepath.Join(folder, sqliteFile))
		return err == nil && file.Size() > logBytes*3/4
	}, 10*time.Second, time.Millisecond)
	next, err := s.NextChunk(t.Context(), b.ID, 0)
	require.NoError(t, err)
	assert.EqualValues(t, chunks, next)
}
