package batch

import (
	"context"
	"iter"
)

// Evaluator decides rows. Equal arguments give equal bytes, on every server of one
// version: that is what makes a chunk safe to decide twice.
type Evaluator interface {
	// Pin freezes what decides a request: the tables, what plugins computed for its
	// sites, the water layers, the version of the program. The bytes are all that another server needs.
	//
	// Before is what was pinned by an earlier revision, nil at the first: its tables and
	// layers stay, and what plugins could not compute then is asked anew.
	Pin(ctx context.Context, request, before []byte) (pinned []byte, err error)
	// Open makes a run. Shares are nil in the first pass. An error that has a method
	// Refusal() string ends the batch. One that has a method Elsewhere() says that this
	// server lacks what was pinned, and what helps: the chunks are left to others, or to later,
	// and Batch.Hindrances tell of it. Any other is tried again a few times.
	Open(ctx context.Context, request, pinned, shares []byte) (Run, error)
	// Sum closes a pass over all chunks, from their tallies in the order of the chunks.
	Sum(ctx context.Context, request, pinned, shares []byte, tallies iter.Seq2[[]byte, error]) (Sum, error)
}

// Run decides chunks of one pass of one batch, in any order. It is for one goroutine.
type Run interface {
	// Answer keeps nothing of the bytes of the chunk, nor of what they were read as by who
	// put it, if that is at hand: Chunk.Read.
	Answer(chunk []byte, read any) (Answer, error)
	// Close gives back what the run has. It is not called where Answer failed.
	Close()
}

// Answer is what became of the rows of a chunk. Its bytes are done with when the next
// is asked for.
type Answer struct {
	Result []byte // for ListResults
	Tally  []byte // for Sum
	Counts Counts
}

// Counts count rows by outcome.
type Counts struct{ Prescribed, Deferred, Undetermined, Rejected int64 }

// Rows is how many rows were counted.
func (c Counts) Rows() int64 { return c.Prescribed + c.Deferred + c.Undetermined + c.Rejected }

// Sum is what the tallies of a pass come to.
type Sum struct {
	// Shares, if not nil, ask for one more pass with them: a site is split over seasons.
	Shares []byte
	// Summary of the batch, unless another pass is due.
	Summary []byte
}
