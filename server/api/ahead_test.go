package api_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync/atomic"
	"testing"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/proto/columnar"
	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
	"example.org/rootward/server/batch"
	"example.org/rootward/server/store"
)

// counting counts the chunks that an evaluator decides in a first pass.
type counting struct {
	batch.Evaluator
	chunks atomic.Int64
	read   atomic.Int64 // of these, as they were read when they were uploaded
}

func (c *counting) Open(ctx context.Context, request, pinned, shares []byte) (batch.Run, error) {
	r, err := c.Evaluator.Open(ctx, request, pinned, shares)
	if err != nil || shares != nil {
		return r, err
	}
	return &countedRun{r, c}, nil
}

type countedRun struct {
	batch.Run
	of *counting
}

func (r *countedRun) Answer(chunk []byte, read any) (batch.Answer, error) {
	r.of.chunks.Add(1)
	if read != nil {
		r.of.read.Add(1)
	}
	return r.Run.Answer(chunk, read)
}

// ended waits for the end of a batch.
func ended(t *testing.T, c inventoryv1.InventoryServiceClient, id string) *inventoryv1.Batch {
	t.Helper()
	s, err := c.WatchBatch(t.Context(), &inventoryv1.WatchBatchRequest{BatchId: id})
	require.NoError(t, err)
	var last *inventoryv1.Batch
	for {
		r, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return last
		}
		require.NoError(t, err)
		last = r.GetBatch()
	}
}

// serveDurable serves batches that an engine keeps in a folder.
func serveDurable(t *testing.T, law api.Law, with batch.Evaluator) inventoryv1.InventoryServiceClient {
	s, err := store.Open(t.Context(), store.Config{Folder: t.TempDir(), Log: zerolog.Nop()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	e, err := batch.Open(t.Context(), batch.Config{Store: s, Evaluator: with, Log: zerolog.Nop()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, e.Close(context.WithoutCancel(t.Context()))) })
	return serveAll(t, api.Services{Current: func() api.Law { return law }, Batches: e}).batches
}

// decidedBatch uploads and starts a batch, and waits until it is decided.
func decidedBatch(t *testing.T, c inventoryv1.InventoryServiceClient, number int, begin *treatmentv1.StreamBegin, chunks []*treatmentv1.StemChunk) *inventoryv1.Batch {
	made, err := c.CreateBatch(t.Context(), &inventoryv1.CreateBatchRequest{RequestId: fmt.Sprintf("6ba7b810-9dad-41d1-80b4-%012d", number), Begin: begin})
	require.NoError(t, err)
	id, rows := made.GetBatch().GetBatchId(), int64(0)
	var messages []*inventoryv1.UploadChunksRequest
	for i, chunk := range chunks {
		messages = append(messages, uploadOf(id, int64(i), bytesOf(t, chunk)))
		rows += int64(columnar.Rows(chunk))
	}
	_, err = uploaded(t, c, messages...)
	require.NoError(t, err)
	_, err = c.StartBatch(t.Context(), &inventoryv1.StartBatchRequest{BatchId: id, Chunks: int64(len(chunks)), Rows: rows})
	require.NoError(t, err)
	b := ended(t, c, id)
	require.Equal(t, inventoryv1.BatchState_BATCH_STATE_SUCCEEDED, b.GetState(), "%v", b.GetError())
	return b
}

// What is decided while a batch is uploaded is what the batch has: no chunk is decided
// again in the first pass. (Were it not used, the batch would come to the same, later.)
func TestWhatIsDecidedAheadIsUsed(t *testing.T) {
	computed, _ := pluginLaw(t)
	for name, law := range map[string]api.Law{"tables": lawOf(nation(t), state(t), creek(t), fen(t)), "a plugin that computes": computed} {
		t.Run(name, func(t *testing.T) {
			counted := &counting{Evaluator: evaluatorOf(t, law)}
			c := serveDurable(t, law, counted)

			passes := map[int32]bool{}
			for _, area := range []float64{10, 1_000_000} {
				d := newDraw(3)
				sites := d.sites(4)
				for _, site := range sites {
					site.AreaM2 = ptr(area)
				}
				chunks := d.chunked(sites, d.stems(200))
				counted.chunks.Store(0)
				counted.read.Store(0)
				b := decidedBatch(t, c, int(area), &treatmentv1.StreamBegin{Date: midsummer(), Sites: sites}, chunks)
				assert.EqualValues(t, len(chunks), counted.chunks.Load(), "each is decided once in the first pass")
				assert.EqualValues(t, len(chunks), counted.read.Load(), "and as it was uploaded")
				passes[b.GetPasses()] = true
			}
			assert.Len(t, passes, 2, "one batch has a second pass: %v", passes)
		})
	}
}
