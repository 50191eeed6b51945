package api

import (
	"context"
	"iter"

	"example.org/rootward/server/batch"
)

// Batches is what InventoryService asks of the engine of durable batches. Its methods
// may be called from several goroutines, and what they have confirmed survives a kill.
// An error that has a method Refusal() string gives the reason in one word, which
// decides the status code.
type Batches interface {
	// Create opens a batch; the same request id gives the batch that it made before.
	Create(ctx context.Context, requestID, title string, request []byte) (*batch.Batch, error)
	// Ahead opens what decides the chunks of an upload ahead; nil if nothing does. The
	// caller closes it.
	Ahead(ctx context.Context, id string) *batch.Ahead
	// Put keeps a chunk. It gives the number of the first that is not kept.
	Put(ctx context.Context, id string, c *batch.Chunk) (next int64, err error)
	// Start pins what decides and queues the chunks. A batch that was started with the
	// same numbers stays as it is.
	Start(ctx context.Context, id string, chunks, rows int64) (*batch.Batch, error)
	Get(ctx context.Context, id string) (*batch.Batch, error)
	// List gives a page, the newest first, without requests and summaries, and the token
	// of the next one, empty after the last.
	List(ctx context.Context, size int, token string) ([]*batch.Batch, string, error)
	// Watch gives the batch at once and whenever it has got on, until it has ended.
	Watch(ctx context.Context, id string) iter.Seq2[*batch.Batch, error]
	Cancel(ctx context.Context, id string) (*batch.Batch, error)
	Delete(ctx context.Context, id string) error
	// Retry decides a batch that succeeded once more, with what its Evaluator pins of
	// computed answers asked anew.
	Retry(ctx context.Context, id string) (*batch.Batch, error)
	// Results gives the answers of a batch that succeeded, after a chunk's number; -1
	// for all.
	Results(ctx context.Context, id string, after int64) iter.Seq2[*batch.Result, error]
}
