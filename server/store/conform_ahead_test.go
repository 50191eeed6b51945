package store_test

import (
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
)

// ahead puts chunks, from two goroutines, that are decided ahead.
func (f *fixture) ahead(a *batch.Ahead, id string, n int64) {
	f.Helper()
	var all sync.WaitGroup
	for half := range slices.Chunk(mixed(n), int(n+1)/2) {
		all.Go(func() {
			for _, i := range half {
				c := rows(i)
				c.Ahead = func() *batch.Ahead { return a }
				_, err := f.engine.Put(f.Context(), id, c)
				assert.NoError(f, err)
			}
		})
	}
	all.Wait()
	a.Close()
}

// startedLate is a batch whose chunks were decided ahead before something happened.
func (f *fixture) startedLate(request string, s spec, n int64, meanwhile func()) *batch.Batch {
	f.Helper()
	b := f.uploaded(request, s, 0)
	a := f.engine.Ahead(f.Context(), b.ID)
	require.NotNil(f, a)
	f.ahead(a, b.ID, n)
	meanwhile()
	b, err := f.engine.Start(f.Context(), b.ID, n, n*10)
	require.NoError(f, err)
	return b
}

// same holds two batches of the same rows to the same answers.
func (f *fixture) same(want, got *batch.Batch) {
	f.Helper()
	assert.Equal(f, want.ResultDigest, got.ResultDigest)
	assert.Equal(f, want.Summary, got.Summary)
	assert.Equal(f, want.Counts, got.Counts)
	assert.Equal(f, want.Decided, got.Decided)
	assert.Equal(f, want.Passes, got.Passes)
	assert.Equal(f, f.results(want.ID, -1), f.results(got.ID, -1))
}

// The answers that were given ahead are the batch's own, and those of the first pass where
// there are two.
func decidedAhead(f *fixture) {
	const n = 40
	for name, s := range map[string]spec{"one pass": {}, "two": {Passes: 2}} {
		want := f.succeeded(f.started(name, s, n).ID)
		before := f.hasher.answers.Load()
		got := f.succeeded(f.startedLate(name+" ahead", s, n, func() {
			assert.EqualValues(f, n, f.hasher.answers.Load()-before)
			page, _, err := f.engine.List(f.Context(), 1, "")
			require.NoError(f, err)
			p, err := f.store.Progress(f.Context(), page[0].ID)
			require.NoError(f, err)
			assert.Equal(f, batch.Progress{State: batch.Uploading, Pass: batch.Pass{Batch: page[0].ID}}, p, "nothing shows before the start")
			_, err = resultsOn(f.Context(), f.engine, page[0].ID, -1)
			f.refused(batch.NoResults, err)
		}).ID)
		f.same(want, got)
		assert.EqualValues(f, n*max(s.Passes, 1), f.hasher.answers.Load()-before, "no chunk is decided twice in a pass")
	}
}

// Answers by a law that is not that of the start, or of another server, are dropped.
func decidedAheadInVain(f *fixture) {
	const n = 40
	for _, k := range []struct {
		name      string
		meanwhile func()
	}{
		{"another law", func() { f.hasher.law.Add(1) }},
		{"another server", func() { f.close(); f.open() }},
	} {
		before := f.hasher.answers.Load()
		got := f.succeeded(f.startedLate(k.name+" ahead", spec{}, n, k.meanwhile).ID)
		assert.EqualValues(f, 2*n, f.hasher.answers.Load()-before, k.name)
		f.same(f.succeeded(f.started(k.name, spec{}, n).ID), got)
	}
}

// Some chunks are decided ahead, and the others after the start.
func decidedAheadInPart(f *fixture) {
	want := f.succeeded(f.started("a", spec{}, 40).ID)
	b := f.uploaded("b", spec{}, 20)
	f.ahead(f.engine.Ahead(f.Context(), b.ID), b.ID, 20)
	assert.EqualValues(f, 40, f.hasher.answers.Load(), "what is kept already is not decided")
	f.ahead(f.engine.Ahead(f.Context(), b.ID), b.ID, 40)
	f.ahead(f.engine.Ahead(f.Context(), b.ID), b.ID, 40)
	assert.EqualValues(f, 40+20, f.hasher.answers.Load(), "once")
	b, err := f.engine.Start(f.Context(), b.ID, 40, 400)
	require.NoError(f, err)
	f.same(want, f.succeeded(b.ID))
	assert.EqualValues(f, 40+20+20, f.hasher.answers.Load(), "20 that were uploaded before are decided later")
}

// One server under one law decides a batch ahead.
func oneDecidesAhead(f *fixture) {
	ctx := f.Context()
	b := f.uploaded("a", spec{}, 1)
	require.NotNil(f, f.engine.Ahead(ctx, b.ID))
	require.NotNil(f, f.engine.Ahead(ctx, b.ID), "two uploads of one batch")
	f.hasher.law.Add(1)
	assert.Nil(f, f.engine.Ahead(ctx, b.ID), "another law")
	f.hasher.law.Add(-1)
	assert.NotNil(f, f.engine.Ahead(ctx, b.ID))
	assert.Nil(f, f.engineOn(f.store).Ahead(ctx, b.ID), "another server")
	assert.Nil(f, f.engine.Ahead(ctx, "nobody's"))
	_, err := f.engine.Start(ctx, b.ID, 1, 10)
	require.NoError(f, err)
	assert.Nil(f, f.engine.Ahead(ctx, b.ID), "it has been started")
	for name, s := range map[string]spec{"no law": {PinRefuses: true}, "no tables": {Refuses: true}} {
		assert.Nil(f, f.engine.Ahead(ctx, f.uploaded(name, s, 0).ID), name)
	}
}

// Who decides ahead is named before anything is opened for it: what brings about a server's
// end there does so once. For an upload that another decides ahead nothing is opened.
func namedBeforeOpened(f *fixture) {
	b := f.uploaded("a", spec{}, 0)
	f.hasher.opening = func() {
		own, err := f.store.Ahead(f.Context(), b.ID, "another server")
		assert.NoError(f, err)
		assert.False(f, own)
	}
	f.engine.Ahead(f.Context(), b.ID).Close()
	assert.EqualValues(f, 1, f.hasher.opens.Load())
	assert.Nil(f, f.engineOn(f.store).Ahead(f.Context(), b.ID), "another server")
	assert.EqualValues(f, 1, f.hasher.opens.Load())
}

// Uploads and jobs together decide no more chunks at once than there are workers, which are
// two. What an upload has no turn for is decided later.
func turnsAreTaken(f *fixture) {
	const n = 12
	want := f.succeeded(f.started("undisturbed", spec{}, n).ID)
	var now, most atomic.Int64
	f.hasher.gate = func() {
		here := now.Add(1)
		for m := most.Load(); here > m && !most.CompareAndSwap(m, here); m = most.Load() {
		}
		time.Sleep(5 * time.Millisecond)
		now.Add(-1)
	}
	decidedByJobs := f.started("by jobs", spec{}, 40)
	var all sync.WaitGroup
	var late [8]*batch.Batch
	for i := range late {
		b := f.uploaded(fmt.Sprint("ahead ", i), spec{}, 0)
		a := f.engine.Ahead(f.Context(), b.ID)
		require.NotNil(f, a)
		all.Go(func() {
			f.ahead(a, b.ID, n)
			var err error
			late[i], err = f.engine.Start(f.Context(), b.ID, n, n*10)
			assert.NoError(f, err)
		})
	}
	all.Wait()
	f.succeeded(decidedByJobs.ID)
	for _, b := range late {
		f.same(want, f.succeeded(b.ID))
	}
	assert.EqualValues(f, 2, most.Load())
	assert.EqualValues(f, n+40+n*len(late), f.hasher.answers.Load(), "no chunk twice")
}

// An upload decides nothing while jobs have all turns, and does not wait for one.
func noTurnIsLeft(f *fixture) {
	var deciding atomic.Int64
	opened := make(chan struct{})
	open := sync.OnceFunc(func() { close(opened) })
	f.Cleanup(open)
	f.hasher.gate = func() {
		deciding.Add(1)
		<-opened
	}
	byJobs := f.started("by jobs", spec{}, 2)
	require.Eventually(f, func() bool { return deciding.Load() == 2 }, 20*time.Second, time.Millisecond)
	late := f.startedLate("ahead", spec{}, 20, func() { assert.EqualValues(f, 2, deciding.Load()) })
	open()
	f.succeeded(byJobs.ID)
	f.same(f.succeeded(f.started("a", spec{}, 20).ID), f.succeeded(late.ID))
}

// Where deciding ahead fails, the chunks are kept and decided after the start.
func aheadFails(f *fixture) {
	got := f.succeeded(f.startedLate("a", spec{AnswerFails: 1}, 20, func() {}).ID)
	assert.EqualValues(f, 1+20, f.hasher.answers.Load())
	f.same(f.succeeded(f.started("b", spec{AnswerFails: 1}, 20).ID), got)
}

// A batch that is cancelled before its start has decided nothing.
func aheadCancelled(f *fixture) {
	b := f.uploaded("a", spec{}, 0)
	f.ahead(f.engine.Ahead(f.Context(), b.ID), b.ID, 20)
	b, err := f.engine.Cancel(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, batch.Cancelled, b.State)
	assert.Zero(f, b.Decided)
	assert.Zero(f, b.Counts)
	for _, table := range []string{"result", "result_data"} {
		var n int
		require.NoError(f, database(f.T, f.at).QueryRowContext(f.Context(), `SELECT COUNT(*) FROM `+table).Scan(&n))
		assert.Zero(f, n, table)
	}
}

// A version that knows of no drafts starts a batch that has some, under another law: it
// must not count them nor take them for its own, and after it they are nobody's.
func aheadOfAnOlderVersion(f *fixture) {
	const n = 10
	b := f.uploaded("a", spec{}, 0)
	f.ahead(f.engine.Ahead(f.Context(), b.ID), b.ID, n)
	f.close()
	f.hasher.law.Add(1)
	db := database(f.T, f.at)
	pinned, err := f.hasher.Pin(f.Context(), b.Request, nil)
	require.NoError(f, err)
	execute(f.T, db, `UPDATE batch SET state = $2, pass = 1, chunks = $3, row_count = $4, pinned = $5, started = 1 WHERE id = $1`,
		b.ID, batch.Running, n, n*10, pinned) // as the first version did
	var decided int64
	require.NoError(f, db.QueryRowContext(f.Context(), `SELECT COUNT(*) FROM result WHERE batch = $1 AND revision = 0`, b.ID).Scan(&decided))
	assert.Zero(f, decided)
	require.NoError(f, db.Close())
	f.open()
	before := f.hasher.answers.Load()
	got := f.succeeded(b.ID)
	assert.EqualValues(f, n, f.hasher.answers.Load()-before)
	f.same(f.succeeded(f.started("b", spec{}, n).ID), got)
	_, err = f.engine.Retry(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, got.Decided, f.succeeded(b.ID).Decided)
	var bytes int
	require.NoError(f, database(f.T, f.at).QueryRowContext(f.Context(), `SELECT COUNT(*) FROM result_data WHERE batch = $1`, b.ID).Scan(&bytes))
	assert.Equal(f, n, bytes)
}
