package store_test

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/riverqueue/river"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
	"example.org/rootward/server/store"
	"example.org/rootward/server/store/postgrestest"
)

// The suite that every store must pass.
func TestSQLite(t *testing.T) {
	conform(t, func(t *testing.T) store.Config { return store.Config{Folder: t.TempDir()} })
}

func TestPostgres(t *testing.T) {
	cluster := postgrestest.Start(t)
	conform(t, func(t *testing.T) store.Config { return store.Config{Database: cluster.Database(t)} })
}

// fixture is a database with engines on it.
type fixture struct {
	*testing.T
	at     store.Config
	store  *store.Store
	engine *batch.Engine
	hasher *hasher
	name   string        // of the server
	stops  chan struct{} // closed once the engine is told to stop
	queued atomic.Int64  // how often the engine noted that jobs are queued
}

// telling is a store whose queue says when it is told to stop, and that counts notes.
type telling struct {
	*store.Store
	stops  chan struct{}
	queued *atomic.Int64
}

func (s telling) Queued(ctx context.Context, p batch.Pass) error {
	s.queued.Add(1)
	return s.Store.Queued(ctx, p)
}

func (s telling) Queue(c *river.Config) (batch.Queue, error) {
	q, err := s.Store.Queue(c)
	return stopping{q, s.stops}, err
}

type stopping struct {
	batch.Queue
	stops chan struct{}
}

func (q stopping) Stop(ctx context.Context) error {
	select {
	case <-q.stops:
	default:
		close(q.stops)
	}
	return q.Queue.Stop(ctx)
}

func newFixture(t *testing.T, at store.Config) *fixture {
	f := &fixture{T: t, at: at, hasher: &hasher{}, name: "here"}
	f.at.Log = zerolog.New(zerolog.NewTestWriter(t)).Level(zerolog.WarnLevel)
	f.open()
	return f
}

// open starts a server on the database; it ends with the test, if not before.
func (f *fixture) open() {
	f.Helper()
	f.store = openStore(f.T, f.at)
	f.engine = f.engineOn(f.store)
}

func openStore(t *testing.T, at store.Config) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), at)
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() }) // it may be closed already
	return s
}

func (f *fixture) engineOn(s *store.Store) *batch.Engine {
	f.Helper()
	f.stops = make(chan struct{})
	e, err := batch.Open(f.Context(), batch.Config{Store: telling{s, f.stops, &f.queued}, Evaluator: f.hasher, Log: f.at.Log, Workers: 2, Backoff: 10 * time.Millisecond, Name: f.name})
	require.NoError(f, err)
	f.Cleanup(func() { _ = e.Close(context.Background()) })
	return e
}

// close stops the server in order.
func (f *fixture) close() {
	f.Helper()
	require.NoError(f, f.engine.Close(context.Background()))
	require.NoError(f, f.store.Close())
}

// rows is chunk i of an inventory, of 10 rows.
func rows(i int64) *batch.Chunk {
	data := fmt.Appendf(nil, "chunk %d", i)
	return &batch.Chunk{Index: i, FirstRow: 1 + i*int64(10), Rows: 10, Data: data}
}

// uploaded is a batch with so many chunks that has not been started.
func (f *fixture) uploaded(request string, s spec, n int64) *batch.Batch {
	f.Helper()
	b, err := f.engine.Create(f.Context(), request, "an inventory", s.bytes())
	require.NoError(f, err)
	for i := range n {
		next, err := f.engine.Put(f.Context(), b.ID, rows(i))
		require.NoError(f, err)
		require.Equal(f, i+1, next)
	}
	return b
}

func (f *fixture) started(request string, s spec, n int64) *batch.Batch {
	f.Helper()
	b, err := f.engine.Start(f.Context(), f.uploaded(request, s, n).ID, n, n*10)
	require.NoError(f, err)
	return b
}

// ended watches a batch until it has ended.
func (f *fixture) ended(id string) *batch.Batch {
	f.Helper()
	return endedOn(f.T, f.engine, id)
}

func endedOn(t *testing.T, e *batch.Engine, id string) (last *batch.Batch) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 60*time.Second)
	defer cancel()
	for b, err := range e.Watch(ctx, id) {
		require.NoError(t, err)
		last = b
	}
	require.True(t, last.State.Done())
	return last
}

// succeeded is ended of a batch that must succeed.
func (f *fixture) succeeded(id string) *batch.Batch {
	f.Helper()
	b := f.ended(id)
	require.Equal(f, batch.Succeeded, b.State, b.Problem)
	return b
}

func (f *fixture) results(id string, after int64) []*batch.Result {
	f.Helper()
	list, err := resultsOn(f.Context(), f.engine, id, after)
	require.NoError(f, err)
	return list
}

func resultsOn(ctx context.Context, e *batch.Engine, id string, after int64) (list []*batch.Result, err error) {
	for r, err := range e.Results(ctx, id, after) {
		if err != nil {
			return list, err
		}
		list = append(list, r)
	}
	return list, nil
}

// word requires a refusal and gives its word.
func (f *fixture) refused(word string, err error) {
	f.Helper()
	var r interface{ Refusal() string }
	require.ErrorAs(f, err, &r)
	require.Equal(f, word, r.Refusal(), err)
}
