package store_test

import (
	"context"
	"fmt"
	"iter"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
	"example.org/rootward/server/store"
	"example.org/rootward/server/store/postgrestest"
)

// copier answers with bytes that cost nothing: what a batch takes then is the engine's
// and the store's.
type copier struct{ answer []byte }

func (copier) Pin(context.Context, []byte, []byte) ([]byte, error) { return []byte("law"), nil }
func (c copier) Open(context.Context, []byte, []byte, []byte) (batch.Run, error) {
	return c, nil
}

func (c copier) Answer([]byte, any) (batch.Answer, error) {
	return batch.Answer{Result: c.answer, Tally: c.answer[:1000], Counts: batch.Counts{Prescribed: 16384}}, nil
}

func (copier) Close() {}

func (copier) Sum(_ context.Context, _, _, _ []byte, tallies iter.Seq2[[]byte, error]) (batch.Sum, error) {
	for _, err := range tallies {
		if err != nil {
			return batch.Sum{}, err
		}
	}
	return batch.Sum{Summary: []byte("sum")}, nil
}

// columns are bytes that can be pressed about as well as those of chunks and answers.
func columns(n int) (b []byte) {
	random := rand.New(rand.NewPCG(3, 0))
	for len(b) < n {
		b = fmt.Appendf(b, "a word that comes again with a number %d", random.IntN(100))
	}
	return b[:n]
}

// BenchmarkBatch is a batch of chunks of 16,384 rows in 2 MiB, with answers of 5 MiB,
// as an inventory with positions has: the time of each chunk to keep it, to decide it for nothing, and to read it.
func BenchmarkBatch(b *testing.B) {
	b.Run("sqlite", func(b *testing.B) { benchmark(b, store.Config{Folder: b.TempDir()}) })
	b.Run("postgres", func(b *testing.B) {
		benchmark(b, store.Config{Database: postgrestest.Start(b, "fsync=on").Database(b)})
	})
}

func benchmark(b *testing.B, at store.Config) {
	at.Log = zerolog.Nop()
	s, err := store.Open(b.Context(), at)
	require.NoError(b, err)
	defer s.Close()
	data, answer := columns(2<<20), columns(5<<20)
	e, err := batch.Open(b.Context(), batch.Config{Store: s, Evaluator: copier{answer}, Log: at.Log})
	require.NoError(b, err)
	defer e.Close(context.Background())
	const chunks = 64
	var put, decide, read time.Duration
	for n := 0; b.Loop(); n++ {
		made, err := e.Create(b.Context(), fmt.Sprint(n), "", nil)
		require.NoError(b, err)
		begin := time.Now()
		for i := range int64(chunks) {
			_, err := e.Put(b.Context(), made.ID, &batch.Chunk{
				Index: i, FirstRow: 1 + i*16384, Rows: 16384, Data: data})
			require.NoError(b, err)
		}
		put += time.Since(begin)
		begin = time.Now()
		_, err = e.Start(b.Context(), made.ID, chunks, chunks*16384)
		require.NoError(b, err)
		for made, err = range e.Watch(b.Context(), made.ID) {
			require.NoError(b, err)
		}
		require.Equal(b, batch.Succeeded, made.State)
		decide += time.Since(begin)
		begin = time.Now()
		for _, err := range e.Results(b.Context(), made.ID, -1) {
			require.NoError(b, err)
		}
		read += time.Since(begin)
		require.NoError(b, e.Delete(b.Context(), made.ID))
	}
	for unit, took := range map[string]time.Duration{"put-ms": put, "decide-ms": decide, "read-ms": read} {
		b.ReportMetric(took.Seconds()*1000/float64(b.N*chunks), unit+"/chunk")
	}
}
