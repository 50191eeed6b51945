package store_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
)

func requestID(f *fixture) {
	ids := make([]string, 8)
	var all sync.WaitGroup
	for i := range ids {
		all.Go(func() {
			b, err := f.engine.Create(f.Context(), "same", fmt.Sprint("title ", i), spec{}.bytes())
			if assert.NoError(f, err) {
				ids[i] = b.ID
			}
		})
	}
	all.Wait()
	assert.Len(f, slices.Compact(ids), 1)
	assert.GreaterOrEqual(f, len(ids[0]), 26, "an id of 128 random bits cannot be guessed")
	other, err := f.engine.Create(f.Context(), "other", "", spec{}.bytes())
	require.NoError(f, err)
	assert.NotEqual(f, ids[0], other.ID)
}

func uploadResumes(f *fixture) {
	b := f.uploaded("a", spec{}, 2)
	for _, c := range []struct{ put, next int64 }{{3, 2}, {4, 2}, {0, 2}, {2, 5}, {6, 5}} {
		next, err := f.engine.Put(f.Context(), b.ID, rows(c.put))
		require.NoError(f, err)
		assert.Equal(f, c.next, next, "after chunk %d", c.put)
	}
	f.close()
	f.open()
	again, err := f.engine.Create(f.Context(), "a", "", nil)
	require.NoError(f, err)
	assert.Equal(f, b.ID, again.ID)
	assert.EqualValues(f, 5, again.NextChunk)
	assert.EqualValues(f, 6, again.Chunks)
	next, err := f.engine.Put(f.Context(), b.ID, rows(5))
	require.NoError(f, err)
	assert.EqualValues(f, 7, next)
}

func uploadIsChecked(f *fixture) {
	b := f.uploaded("a", spec{}, 1)
	_, err := f.engine.Put(f.Context(), b.ID, rows(0))
	require.NoError(f, err, "the same again")
	for _, change := range []func(*batch.Chunk){
		func(c *batch.Chunk) { c.Data = slices.Concat(c.Data, []byte{0}) },
		func(c *batch.Chunk) { c.Data = c.Data[1:] },
		func(c *batch.Chunk) { c.Data = nil },
		func(c *batch.Chunk) { c.FirstRow++ },
		func(c *batch.Chunk) { c.Rows++ },
		func(c *batch.Chunk) { *c = *rows(1); c.Index = 0 },
	} {
		c := rows(0)
		change(c)
		_, err = f.engine.Put(f.Context(), b.ID, c)
		f.refused(batch.ChunkDiffers, err)
	}
	kept, err := f.engine.Get(f.Context(), b.ID)
	require.NoError(f, err)
	assert.EqualValues(f, 10, kept.Rows)
	_, err = f.engine.Put(f.Context(), b.ID, rows(0))
	require.NoError(f, err, "what was kept stays")
	b, err = f.engine.Start(f.Context(), b.ID, 1, 10)
	require.NoError(f, err)
	_, err = f.engine.Put(f.Context(), b.ID, rows(1))
	f.refused(batch.NotUploading, err)
}

func startWantsAll(f *fixture) {
	b := f.uploaded("a", spec{}, 3)
	try := func(id string, chunks, rows int64) error {
		_, err := f.engine.Start(f.Context(), id, chunks, rows)
		return err
	}
	f.refused(batch.ChunksMissing, try(b.ID, 4, 40))
	f.refused(batch.ChunksMissing, try(b.ID, 2, 20))
	f.refused(batch.RowsMissing, try(b.ID, 3, 31))
	_, err := f.engine.Put(f.Context(), b.ID, rows(4))
	require.NoError(f, err)
	f.refused(batch.ChunksMissing, try(b.ID, 4, 40))

	gap := f.uploaded("b", spec{}, 1)
	c := rows(1)
	c.FirstRow++
	_, err = f.engine.Put(f.Context(), gap.ID, c)
	require.NoError(f, err)
	f.refused(batch.RowsMissing, try(gap.ID, 2, 20))
	assert.Zero(f, f.hasher.pins.Load())
}

func startIsIdempotent(f *fixture) {
	b := f.uploaded("a", spec{}, 5)
	var all sync.WaitGroup
	for range 5 {
		all.Go(func() {
			_, err := f.engine.Start(f.Context(), b.ID, 5, 50)
			assert.NoError(f, err)
		})
	}
	all.Wait()
	f.succeeded(b.ID)
	after, err := f.engine.Start(f.Context(), b.ID, 5, 50)
	require.NoError(f, err)
	assert.Equal(f, batch.Succeeded, after.State)
	assert.EqualValues(f, 5, f.hasher.answers.Load(), "it is decided once")
	_, err = f.engine.Start(f.Context(), b.ID, 5, 51)
	f.refused(batch.NotUploading, err)
}

func pinRefuses(f *fixture) {
	b := f.uploaded("a", spec{PinRefuses: true}, 1)
	_, err := f.engine.Start(f.Context(), b.ID, 1, 10)
	f.refused("NO_LAW", err)
	b, err = f.engine.Get(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, batch.Uploading, b.State, "it can be tried again")
}

func pages(f *fixture) {
	var want []string
	for i := range 7 {
		want = append(want, f.uploaded(fmt.Sprint(i), spec{}, int64(i%2)).ID)
	}
	slices.Reverse(want)
	var got []string
	for token, n := "", 0; ; n++ {
		page, next, err := f.engine.List(f.Context(), 3, token)
		require.NoError(f, err)
		for _, b := range page {
			got = append(got, b.ID)
			assert.Nil(f, b.Request)
		}
		if token = next; next == "" {
			assert.Equal(f, 2, n)
			break
		}
	}
	assert.Equal(f, want, got)
	page, next, err := f.engine.List(f.Context(), 7, "")
	require.NoError(f, err)
	assert.Len(f, page, 7)
	assert.Empty(f, next, "nothing is after the last")
	assert.EqualValues(f, 1, page[1].Chunks)
	for _, token := range []string{"x", "!", "eCB5", "NSBhAA", "NSD_"} {
		_, _, err = f.engine.List(f.Context(), 3, token)
		f.refused(batch.UnknownPage, err)
	}
}

func deleted(f *fixture) {
	held, open := f.gated(0)
	b := f.started("a", spec{}, 3)
	<-held
	f.refused(batch.NotEnded, f.engine.Delete(f.Context(), b.ID))
	open()
	f.succeeded(b.ID)
	require.NoError(f, f.engine.Delete(f.Context(), b.ID))
	_, err := f.engine.Get(f.Context(), b.ID)
	f.refused(batch.UnknownBatch, err)
	f.refused(batch.UnknownBatch, f.engine.Delete(f.Context(), b.ID))

	r, err := f.store.Result(f.Context(), batch.Pass{Batch: b.ID, Number: 1}, -1)
	require.NoError(f, err)
	assert.Nil(f, r)
	next, err := f.store.NextChunk(f.Context(), b.ID, 0)
	require.NoError(f, err)
	assert.Zero(f, next)

	again, err := f.engine.Create(f.Context(), "a", "", nil)
	require.NoError(f, err)
	assert.NotEqual(f, b.ID, again.ID, "its request id is free")
	require.NoError(f, f.engine.Delete(f.Context(), again.ID), "one that was never started")
}

func unknownBatch(f *fixture) {
	ctx, e := f.Context(), f.engine
	for name, call := range map[string]func(id string) error{
		"Put":     func(id string) error { _, err := e.Put(ctx, id, rows(0)); return err },
		"Start":   func(id string) error { _, err := e.Start(ctx, id, 1, 1); return err },
		"Get":     func(id string) error { _, err := e.Get(ctx, id); return err },
		"Cancel":  func(id string) error { _, err := e.Cancel(ctx, id); return err },
		"Delete":  func(id string) error { return e.Delete(ctx, id) },
		"Retry":   func(id string) error { _, err := e.Retry(ctx, id); return err },
		"Results": func(id string) error { _, err := resultsOn(ctx, e, id, -1); return err },
		"Watch": func(id string) (last error) {
			for _, last = range e.Watch(ctx, id) {
			}
			return last
		},
	} {
		f.Run(name, func(t *testing.T) {
			(&fixture{T: t}).refused(batch.UnknownBatch, call("nobody's"))
		})
	}
}
