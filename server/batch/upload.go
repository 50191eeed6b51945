package batch

import "context"

// Put keeps a chunk, with its answer if that is known. It gives the number of the first
// that is not kept.
func (e *Engine) Put(ctx context.Context, id string, c *Chunk) (next int64, err error) {
	hint, _ := e.hints.Load(id)
	from, _ := hint.(int64)
	var ahead *Ahead
	if c.Ahead != nil && c.Index >= from { // or it is kept already
		ahead = c.Ahead()
	}
	d := ahead.answer(c)
	err = e.Store.Put(ctx, id, c, d)
	ahead.done(d)
	switch err {
	case nil:
	case ErrState:
		return 0, refuse(NotUploading, "batch %s has been started or has ended, and takes no more chunks: create another", id)
	case ErrDiffers:
		return 0, refuse(ChunkDiffers, "chunk %d of batch %s is kept with other rows than these: upload the same inventory in the same chunks, or create another batch",
			c.Index, id)
	default:
		return 0, about(id, err)
	}
	if next, err = e.Store.NextChunk(ctx, id, from); err == nil {
		e.hint(id, next)
	}
	return next, err
}

// hint notes that no chunk of a batch is missing below this one.
func (e *Engine) hint(id string, next int64) {
	for {
		was, noted := e.hints.LoadOrStore(id, next)
		if !noted || was.(int64) >= next || e.hints.CompareAndSwap(id, was, next) {
			return
		}
	}
}

// Start pins what decides and queues the chunks. A batch that was started with the
// same numbers stays as it is.
func (e *Engine) Start(ctx context.Context, id string, chunks, rows int64) (*Batch, error) {
	b, err := e.Get(ctx, id)
	if err != nil {
		return nil, err
	}
	if b.State != Uploading {
		return started(b, chunks, rows)
	}
	if err := e.complete(ctx, b, chunks, rows); err != nil {
		return nil, err
	}
	pinned, err := e.Evaluator.Pin(ctx, b.Request, nil)
	if err != nil {
		return nil, err
	}
	if err := e.begin(ctx, b, pinned); err == ErrState || err == ErrDiffers {
		return e.Start(ctx, id, chunks, rows) // another start or upload came first
	} else if err != nil {
		return nil, err
	}
	e.hints.Delete(id)
	return e.Get(ctx, id)
}

func started(b *Batch, chunks, rows int64) (*Batch, error) {
	if b.Started.IsZero() {
		return nil, refuse(NotUploading, "batch %s was cancelled before it was started: create another", b.ID)
	}
	if b.Chunks != chunks || b.Rows != rows {
		return nil, refuse(NotUploading, "batch %s has been started with %d chunks of %d rows, not with %d of %d: create another",
			b.ID, b.Chunks, b.Rows, chunks, rows)
	}
	return b, nil
}

// complete refuses a batch that is not what its caller takes it for.
func (e *Engine) complete(ctx context.Context, b *Batch, chunks, rows int64) error {
	if b.Chunks != chunks || b.NextChunk != chunks {
		return refuse(ChunksMissing, "batch %s has %d chunks, and those before chunk %d are complete; it is to have %d: upload the rest, or state the right number",
			b.ID, b.Chunks, b.NextChunk, chunks)
	}
	index, row, err := e.Store.Gap(ctx, b.ID)
	if err != nil {
		return err
	}
	if index >= 0 {
		return refuse(RowsMissing, "chunk %d of batch %s does not begin with row %d, which follows the chunks before it: create another batch and number its rows from 1",
			index, b.ID, row)
	}
	if b.Rows != rows {
		return refuse(RowsMissing, "the %d chunks of batch %s have %d rows, not %d: state the right number, or create another batch",
			chunks, b.ID, b.Rows, rows)
	}
	return nil
}

// begin makes a batch Running and queues its first pass.
func (e *Engine) begin(ctx context.Context, b *Batch, pinned []byte) error {
	next := Revision{
		Pass:   Pass{Batch: b.ID, Revision: b.Revision, Number: 1},
		Chunks: b.Chunks, Rows: b.Rows, Pinned: pinned, Ahead: e.ahead(pinned), Started: e.Now(),
	}
	if b.State.Done() {
		next.Pass.Revision++
	}
	if err := e.Store.Begin(ctx, b, next); err != nil {
		return err
	}
	e.news.tell()
	// The batch has begun, whatever becomes of this call: the keeper queues what this
	// does not.
	if err := e.enqueue(context.WithoutCancel(ctx), next.Pass, b.Chunks); err != nil {
		e.Log.Warn().Err(err).Str("batch", b.ID).Msg("jobs are not queued yet")
	}
	return nil
}

// Retry decides a batch that has results once more, with what its Evaluator pins of
// computed answers asked anew. The results are served until it has succeeded.
func (e *Engine) Retry(ctx context.Context, id string) (*Batch, error) {
	b, err := e.Get(ctx, id)
	if err != nil {
		return nil, err
	}
	if !b.State.Done() {
		return nil, refuse(NotEnded, "batch %s has not ended: wait until it has, or cancel it", id)
	}
	if _, err := e.Store.Served(ctx, id); err == ErrState {
		return nil, refuse(NoResults, "batch %s has never succeeded, so there is nothing to decide again: create another", id)
	} else if err != nil {
		return nil, about(id, err)
	}
	pinned, err := e.Evaluator.Pin(ctx, b.Request, b.Pinned)
	if err != nil {
		return nil, err
	}
	if err := e.begin(ctx, b, pinned); err == ErrState {
		return e.Retry(ctx, id) // it has been begun, or deleted
	} else if err != nil {
		return nil, err
	}
	return e.Get(ctx, id)
}
