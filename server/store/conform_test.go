package store_test

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
	"example.org/rootward/server/store"
)

// conform checks a store through an engine on it: what package batch promises holds
// on each.
func conform(t *testing.T, at func(t *testing.T) store.Config) {
	for name, test := range map[string]func(*fixture){
		"WholeBatch":             wholeBatch,
		"NoChunks":               noChunks,
		"SameAnswersAnyWorkers":  sameAnswers,
		"RequestIDIsIdempotent":  requestID,
		"UploadResumes":          uploadResumes,
		"UploadIsChecked":        uploadIsChecked,
		"StartWantsAll":          startWantsAll,
		"StartIsIdempotent":      startIsIdempotent,
		"PinRefuses":             pinRefuses,
		"DecidedAhead":           decidedAhead,
		"DecidedAheadInVain":     decidedAheadInVain,
		"DecidedAheadInPart":     decidedAheadInPart,
		"OneDecidesAhead":        oneDecidesAhead,
		"NamedBeforeOpened":      namedBeforeOpened,
		"TurnsAreTaken":          turnsAreTaken,
		"NoTurnIsLeft":           noTurnIsLeft,
		"AheadFails":             aheadFails,
		"AheadCancelled":         aheadCancelled,
		"AheadOfAnOlderVersion":  aheadOfAnOlderVersion,
		"Pages":                  pages,
		"Cancel":                 cancelled,
		"Delete":                 deleted,
		"Retry":                  retried,
		"RetryThatIsCancelled":   retryCancelled,
		"RunsAreKept":            runsAreKept,
		"FailuresAreTriedAgain":  failuresAreTriedAgain,
		"OpeningIsRefused":       failing(spec{Refuses: true}, "refused: NO_TABLES", 1),
		"OpeningFails":           failing(spec{OpenFails: -1}, "opening failed", 5),
		"AnsweringFails":         failing(spec{AnswerFails: -1}, "chunk 0: answering failed", 5),
		"SummingFails":           failing(spec{SumFails: -1}, "sum up pass 1: summing failed", 1),
		"AnsweringPanics":        failing(spec{Panics: true}, "panic: cannot read this", 5),
		"LeftToAnotherServer":    leftToAnother,
		"WaitsAndSaysSo":         waitsAndSaysSo,
		"WaitsAndIsCancelled":    waitsAndIsCancelled,
		"RestartGoesOn":          restartGoesOn,
		"BegunButNotQueued":      begunButNotQueued,
		"ResultsAreNotMixed":     resultsAreNotMixed,
		"ManyBatches":            manyBatches,
		"UnknownBatch":           unknownBatch,
		"WatchTellsHowItGoesOn":  watchTells,
		"QueuedIsOfAPass":        queuedIsOfAPass,
		"KeptOnce":               keptOnce,
		"DueUsesMemoryAgain":     dueUsesMemoryAgain,
		"WatchEndsWithItsCaller": watchEnds,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // they wait more than they work
			test(newFixture(t, at(t)))
		})
	}
}

func wholeBatch(f *fixture) {
	const n = 70 // more than a job has, and not a multiple
	b := f.uploaded("a", spec{Passes: 2}, 0)
	for _, i := range mixed(n) {
		_, err := f.engine.Put(f.Context(), b.ID, rows(i))
		require.NoError(f, err)
	}
	b, err := f.engine.Get(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, []int64{n, n, n * 10}, []int64{b.NextChunk, b.Chunks, b.Rows})
	b, err = f.engine.Start(f.Context(), b.ID, n, n*10)
	require.NoError(f, err)
	assert.False(f, b.Started.IsZero())
	b = f.succeeded(b.ID)

	list := f.results(b.ID, -1)
	require.Len(f, list, n)
	var want batch.Counts
	var answers [][]byte
	for i, r := range list {
		require.EqualValues(f, i, r.Index)
		require.Equal(f, rows(int64(i)).Data, r.Data)
		require.True(f, bytes.HasSuffix(r.Answer, r.Data))
		answers = append(answers, r.Answer)
		want.Prescribed += r.Counts.Prescribed
		want.Deferred += r.Counts.Deferred
		want.Undetermined += r.Counts.Undetermined
	}
	assert.Equal(f, want, b.Counts)
	assert.Equal(f, 2*want.Rows(), b.Decided, "each row is counted once a pass")
	assert.Equal(f, 2, b.Passes)
	assert.Equal(f, batch.DigestOf(answers...), b.ResultDigest)
	assert.Equal(f, byte(n), b.Summary[len(b.Summary)-1], "all tallies were summed up")
	assert.False(f, b.Ended.Before(b.Started))
	assert.EqualValues(f, 1, f.hasher.pins.Load())
	assert.Equal(f, list[n-2:], f.results(b.ID, n-3), "from a cursor")
	assert.Empty(f, f.results(b.ID, n-1))
}

// mixed gives the numbers below n out of order.
func mixed(n int64) []int64 {
	var list []int64
	for i := range n {
		list = append(list, i*37%n)
	}
	slices.Reverse(list[:n/2])
	return list
}

func noChunks(f *fixture) {
	b := f.succeeded(f.started("a", spec{}, 0).ID)
	assert.Zero(f, b.Decided)
	assert.Equal(f, batch.DigestOf(), b.ResultDigest)
	assert.Empty(f, f.results(b.ID, -1))
}

func sameAnswers(f *fixture) {
	one := f.succeeded(f.started("a", spec{Passes: 2}, 40).ID)
	f.close()
	f.store = openStore(f.T, f.at)
	e, err := batch.Open(f.Context(), batch.Config{Store: f.store, Evaluator: f.hasher, Log: f.at.Log, Workers: 7})
	require.NoError(f, err)
	defer e.Close(context.Background())
	f.engine = e
	seven := f.succeeded(f.started("b", spec{Passes: 2}, 40).ID)
	assert.NotEqual(f, one.ID, seven.ID)
	assert.Equal(f, one.ResultDigest, seven.ResultDigest)
	assert.Equal(f, one.Summary, seven.Summary)
}

// gated lets so many answers through, then holds them until it is opened.
func (f *fixture) gated(n int64) (reached <-chan struct{}, open func()) {
	held, opened := make(chan struct{}), make(chan struct{})
	var once, onceOpen sync.Once
	var count atomic.Int64
	f.hasher.gate = func() {
		if count.Add(1) > n {
			once.Do(func() { close(held) })
			<-opened
		}
	}
	open = func() { onceOpen.Do(func() { close(opened) }) }
	f.Cleanup(open)
	return held, open
}

func cancelled(f *fixture) {
	held, open := f.gated(4)
	b := f.started("a", spec{}, 50)
	<-held
	b, err := f.engine.Cancel(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, batch.Cancelled, b.State)
	assert.False(f, b.Ended.IsZero())
	open()
	again, err := f.engine.Cancel(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, b, again, "what has ended stays as it is")
	f.close()
	assert.LessOrEqual(f, f.hasher.answers.Load(), int64(4+2), "the chunks at hand, and no more")
	f.open()
	_, err = resultsOn(f.Context(), f.engine, b.ID, -1)
	f.refused(batch.NoResults, err)
	_, err = f.engine.Retry(f.Context(), b.ID)
	f.refused(batch.NoResults, err)

	early := f.uploaded("b", spec{}, 1)
	_, err = f.engine.Cancel(f.Context(), early.ID)
	require.NoError(f, err)
	_, err = f.engine.Start(f.Context(), early.ID, 1, 10)
	f.refused(batch.NotUploading, err)
}

func retried(f *fixture) {
	b := f.succeeded(f.started("a", spec{Passes: 2}, 20).ID)
	before := f.results(b.ID, -1)
	held, open := f.gated(5)
	again, err := f.engine.Retry(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, []int{1, int(batch.Running)}, []int{again.Revision, int(again.State)})
	<-held
	assert.Equal(f, before, f.results(b.ID, -1), "the old ones are served meanwhile")
	_, err = f.engine.Retry(f.Context(), b.ID)
	f.refused(batch.NotEnded, err)
	open()
	after := f.succeeded(b.ID)
	assert.Equal(f, `pinned after "pinned after \"\""`, string(after.Pinned))
	assert.NotEqual(f, b.ResultDigest, after.ResultDigest)
	assert.Equal(f, b.Decided, after.Decided)
	for i, r := range f.results(b.ID, -1) {
		assert.Equal(f, 1, r.Revision)
		assert.NotEqual(f, before[i].Answer, r.Answer)
	}
	r, err := f.store.Result(f.Context(), batch.Pass{Batch: b.ID, Number: 2}, -1)
	require.NoError(f, err)
	assert.Nil(f, r, "old answers are not kept for ever")
}

func retryCancelled(f *fixture) {
	b := f.succeeded(f.started("a", spec{}, 20).ID)
	before := f.results(b.ID, -1)
	held, open := f.gated(5)
	_, err := f.engine.Retry(f.Context(), b.ID)
	require.NoError(f, err)
	<-held
	_, err = f.engine.Cancel(f.Context(), b.ID)
	require.NoError(f, err)
	open()
	assert.Equal(f, before, f.results(b.ID, -1))
	_, err = f.engine.Retry(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, 2, f.succeeded(b.ID).Revision)
	assert.Equal(f, 2, f.results(b.ID, -1)[0].Revision)
}

func runsAreKept(f *fixture) {
	f.succeeded(f.started("a", spec{Passes: 2}, 200).ID)
	assert.LessOrEqual(f, f.hasher.opens.Load(), int64(4), "two workers, two passes")
}

func failuresAreTriedAgain(f *fixture) {
	b := f.succeeded(f.started("a", spec{OpenFails: 2, AnswerFails: 3, SumFails: 2}, 6).ID)
	assert.Empty(f, b.Problem)
	assert.Len(f, f.results(b.ID, -1), 6)
}

// elsewhere is what an Evaluator says that lacks what was pinned.
type elsewhere struct{ error }

func (elsewhere) Elsewhere() {}

// A job is left to another server however often this one cannot do it.
func leftToAnother(f *fixture) {
	f.succeeded(f.started("a", spec{OpenFails: 7, Elsewhere: true}, 1).ID)
	assert.EqualValues(f, 8, f.hasher.opens.Load(), "more than the failures that have an end")
}

// hinderedOn watches a batch until a server of some name is noted, or none any more.
func (f *fixture) hinderedOn(id string, names ...string) (last *batch.Batch) {
	f.Helper()
	ctx, cancel := context.WithTimeout(f.Context(), 60*time.Second)
	defer cancel()
	for b, err := range f.engine.Watch(ctx, id) {
		require.NoError(f, err)
		last = b
		if slices.EqualFunc(b.Hindrances, names, func(h batch.Hindrance, name string) bool { return h.Name == name }) {
			break
		}
	}
	require.Len(f, last.Hindrances, len(names))
	return last
}

// A batch that nobody can decide says what is wanting, and goes on when that is there.
func waitsAndSaysSo(f *fixture) {
	f.hasher.lacks.Store(true)
	began := time.Now()
	b := f.hinderedOn(f.started("a", spec{Passes: 2}, 40).ID, "here")
	assert.Equal(f, batch.Running, b.State)
	assert.True(f, b.Waiting)
	assert.Equal(f, "it lacks the layer rivers: load it again", b.Hindrances[0].Problem)
	since := b.Hindrances[0].Since
	assert.WithinRange(f, since, began.Truncate(time.Microsecond), time.Now())
	require.Eventually(f, func() bool { return f.hasher.opens.Load() > 100 }, 60*time.Second, time.Millisecond)
	list, _, err := f.engine.List(f.Context(), 1, "")
	require.NoError(f, err)
	assert.True(f, list[0].Waiting)
	assert.Equal(f, since, list[0].Hindrances[0].Since, "it is noted once, however often it is tried")
	assert.LessOrEqual(f, f.queued.Load(), int64(3), "by who started it, and by each worker that came first")

	f.close() // another start of the server has not tried yet
	f.hasher.lacks.Store(false)
	held, open := f.gated(39) // the last chunk of the first pass, when no run is to be opened for it any more
	f.open()
	<-held
	b, err = f.engine.Get(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Empty(f, b.Hindrances, "of a server that is gone")
	f.hasher.lacks.Store(true)
	open()
	b = f.hinderedOn(b.ID, "here") // in the second pass
	assert.Equal(f, 2, b.Passes)
	f.hasher.lacks.Store(false)
	b = f.succeeded(b.ID)
	assert.Empty(f, b.Hindrances)
	assert.False(f, b.Waiting)
}

func waitsAndIsCancelled(f *fixture) {
	f.hasher.lacks.Store(true)
	b := f.hinderedOn(f.started("a", spec{}, 3).ID, "here")
	b, err := f.engine.Cancel(f.Context(), b.ID)
	require.NoError(f, err)
	assert.Equal(f, batch.Cancelled, b.State)
	assert.Empty(f, b.Hindrances)
	assert.False(f, b.Waiting)
	require.ErrorIs(f, f.store.Hinder(f.Context(), batch.Pass{Batch: b.ID, Number: 1}, batch.Hindrance{Server: "late"}), batch.ErrState)
	require.NoError(f, f.engine.Delete(f.Context(), b.ID))
}

// failing is a batch that cannot be decided, with what is said of it and how often a
// run of it is opened at most.
func failing(how spec, says string, opens int64) func(*fixture) {
	return func(f *fixture) {
		b := f.uploaded("a", how, 0)
		c := rows(0)
		if how.Panics {
			c.Data = []byte("panic")
		}
		_, err := f.engine.Put(f.Context(), b.ID, c)
		require.NoError(f, err)
		_, err = f.engine.Start(f.Context(), b.ID, 1, 10)
		require.NoError(f, err)
		b = f.ended(b.ID)
		assert.Equal(f, batch.Failed, b.State)
		assert.Contains(f, b.Problem, says)
		assert.NotContains(f, b.Problem, ".go:", "where it was is for the log")
		assert.LessOrEqual(f, f.hasher.opens.Load(), opens)
		require.NoError(f, f.engine.Delete(f.Context(), b.ID))
	}
}

func restartGoesOn(f *fixture) {
	want := f.succeeded(f.started("undisturbed", spec{Passes: 2}, 40).ID)
	for _, at := range []int64{7, 52} { // in the first pass, and in the second
		held, open := f.gated(at)
		b := f.started(fmt.Sprint("stopped at ", at), spec{Passes: 2}, 40)
		<-held
		closing := make(chan error)
		go func() { closing <- f.engine.Close(context.Background()) }()
		<-f.stops // or what is left might be decided before it stops
		open()
		require.NoError(f, <-closing)
		b, err := f.store.Get(f.Context(), b.ID)
		require.NoError(f, err)
		assert.Equal(f, batch.Running, b.State)
		require.NoError(f, f.store.Close())
		f.hasher.gate = nil
		f.open()
		b = f.succeeded(b.ID)
		assert.Equal(f, want.ResultDigest, b.ResultDigest)
		assert.Equal(f, want.Summary, b.Summary)
		assert.Equal(f, want.Decided, b.Decided)
	}
	assert.EqualValues(f, 3*80, f.hasher.answers.Load(), "no chunk twice")
}

// A server may be killed between its note that a batch has begun and the queue.
func begunButNotQueued(f *fixture) {
	b := f.uploaded("a", spec{}, 20)
	b, err := f.engine.Get(f.Context(), b.ID)
	require.NoError(f, err)
	require.NoError(f, f.engine.Close(context.Background()))
	require.NoError(f, f.store.Begin(f.Context(), b, batch.Revision{
		Pass: batch.Pass{Batch: b.ID, Number: 1}, Chunks: 20, Rows: 200, Pinned: []byte("law"), Started: b.Created}))
	require.NoError(f, f.store.Close())
	f.open()
	f.succeeded(b.ID)
	assert.EqualValues(f, 20, f.hasher.answers.Load())
}

// That jobs are queued is noted of a pass, not of its batch.
func queuedIsOfAPass(f *fixture) {
	b, err := f.engine.Get(f.Context(), f.uploaded("a", spec{Passes: 2}, 2).ID)
	require.NoError(f, err)
	require.NoError(f, f.engine.Close(context.Background()))
	p := batch.Pass{Batch: b.ID, Number: 1}
	require.NoError(f, f.store.Begin(f.Context(), b, batch.Revision{Pass: p, Chunks: 2, Rows: 20, Pinned: []byte("law"), Started: b.Created}))
	is := func(want bool) {
		f.Helper()
		in, err := f.store.Inputs(f.Context(), p)
		require.NoError(f, err)
		assert.Equal(f, want, in.Queued)
		assert.Equal(f, "law", string(in.Pinned))
		running, err := f.store.Running(f.Context())
		require.NoError(f, err)
		require.Len(f, running, 1)
		assert.Equal(f, want, running[0].Queued)
	}
	is(false)
	require.NoError(f, f.store.Queued(f.Context(), p))
	is(true)
	require.NoError(f, f.store.Advance(f.Context(), p, []byte("shares")))
	p.Number++
	is(false)
}

func resultsAreNotMixed(f *fixture) {
	b := f.succeeded(f.started("a", spec{}, 3).ID)
	n := 0
	for r, err := range f.engine.Results(f.Context(), b.ID, -1) {
		if n++; n == 2 {
			f.refused(batch.ResultsReplaced, err)
			break
		}
		require.NoError(f, err)
		assert.Zero(f, r.Revision)
		_, err = f.engine.Retry(f.Context(), b.ID)
		require.NoError(f, err)
		f.succeeded(b.ID)
	}
	assert.Equal(f, 2, n)
}

func manyBatches(f *fixture) {
	var all sync.WaitGroup
	digests := make([]string, 8)
	for i := range digests {
		all.Go(func() {
			b, err := f.engine.Create(f.Context(), fmt.Sprint(i), "", spec{}.bytes())
			assert.NoError(f, err)
			for c := range int64(10) {
				_, err := f.engine.Put(f.Context(), b.ID, rows(c))
				assert.NoError(f, err)
			}
			_, err = f.engine.Start(f.Context(), b.ID, 10, 100)
			assert.NoError(f, err)
			for b, err = range f.engine.Watch(f.Context(), b.ID) {
				assert.NoError(f, err)
			}
			digests[i] = b.ResultDigest
		})
	}
	all.Wait()
	assert.Len(f, slices.Compact(digests), 1)
	assert.NotEmpty(f, digests[0])
}

func watchTells(f *fixture) {
	held, open := f.gated(5)
	b := f.started("a", spec{}, 12)
	<-held
	var states []batch.State
	var decided []int64
	for b, err := range f.engine.Watch(f.Context(), b.ID) {
		require.NoError(f, err)
		states, decided = append(states, b.State), append(decided, b.Decided)
		open()
	}
	assert.GreaterOrEqual(f, len(states), 2)
	assert.Equal(f, batch.Running, states[0])
	assert.Equal(f, batch.Succeeded, states[len(states)-1])
	assert.IsNonDecreasing(f, decided)
}

func watchEnds(f *fixture) {
	b := f.uploaded("a", spec{}, 1)
	ctx, cancel := context.WithCancel(f.Context())
	defer cancel()
	n := 0
	for _, err := range f.engine.Watch(ctx, b.ID) {
		if n++; n == 1 {
			require.NoError(f, err)
			cancel()
			continue
		}
		require.ErrorIs(f, err, context.Canceled)
	}
	assert.Equal(f, 2, n)
}

func dueUsesMemoryAgain(f *fixture) {
	held, _ := f.gated(0)
	p := batch.Pass{Batch: f.started("a", spec{}, 2).ID, Number: 1}
	<-held
	memory := make([]byte, 0, 1000)
	for _, into := range [][]byte{memory, nil} {
		for i := range int64(2) {
			data, err := f.store.Due(f.Context(), p, i, into)
			require.NoError(f, err)
			assert.Equal(f, rows(i).Data, data)
			assert.Equal(f, cap(into) > 0, &data[0] == &memory[:1][0])
		}
	}
	_, err := f.store.Due(f.Context(), p, 2, nil)
	require.ErrorIs(f, err, batch.ErrState, "there are two")
}

// What a server keeps that was thought to be dead changes nothing.
func keptOnce(f *fixture) {
	held, open := f.gated(0)
	b := f.started("a", spec{}, 1)
	<-held
	p := batch.Pass{Batch: b.ID, Number: 1}
	mine := batch.Answer{Result: []byte("first"), Tally: []byte("t"), Counts: batch.Counts{Rejected: 10}}
	kept, err := f.store.Keep(f.Context(), p, 0, mine)
	require.NoError(f, err)
	assert.True(f, kept)
	kept, err = f.store.Keep(f.Context(), p, 0, batch.Answer{Result: []byte("second")})
	require.NoError(f, err)
	assert.False(f, kept)
	open()
	b = f.succeeded(b.ID)
	assert.Equal(f, mine.Counts, b.Counts)
	assert.Equal(f, batch.DigestOf([]byte("first")), b.ResultDigest)
	_, err = f.store.Keep(f.Context(), p, 1, mine)
	require.ErrorIs(f, err, batch.ErrState, "the batch has ended")
}
