package batch

import (
	"context"
	"iter"
	"slices"
	"time"
)

// Watch gives the batch at once and whenever it has got on, until it has ended.
func (e *Engine) Watch(ctx context.Context, id string) iter.Seq2[*Batch, error] {
	return func(yield func(*Batch, error) bool) {
		tick := time.NewTicker(look)
		defer tick.Stop()
		var last Progress
		var lives *[]string // when the batch was read
		var hindrances []Hindrance
		var waiting bool
		for {
			news := e.news.next() // before it is looked at: what comes later wakes
			alive := e.alive.Load()
			p, err := e.Store.Progress(ctx, id)
			var b *Batch
			// Of a server that came, that went, or that lacks something else now, progress does
			// not tell. To read the batch is dear: it is done at each of the keeper's rounds.
			if err == nil && (p != last || p.Hindered > 0 && alive != lives) {
				lives = alive
				b, err = e.Get(ctx, id)
			}
			if err != nil {
				yield(nil, about(id, err))
				return
			}
			if b != nil && (p != last || b.Waiting != waiting || !slices.Equal(b.Hindrances, hindrances)) {
				if !yield(b, nil) || b.State.Done() {
					return
				}
				hindrances, waiting = b.Hindrances, b.Waiting
			}
			last = p
			select {
			case <-ctx.Done():
				yield(nil, ctx.Err())
				return
			case <-e.stopped:
				yield(nil, refuse(Stopping, "the server stops; batch %s goes on when it, or another that shares its database, serves again: watch it there", id))
				return
			case <-news:
			case <-tick.C:
			}
		}
	}
}

// Results gives the answers of a batch that succeeded, after a chunk's number; -1 for
// all. One that is retried has those of before until the retry has succeeded.
func (e *Engine) Results(ctx context.Context, id string, after int64) iter.Seq2[*Result, error] {
	return func(yield func(*Result, error) bool) {
		b, p, err := e.served(ctx, id)
		if err != nil {
			yield(nil, err)
			return
		}
		for next := after + 1; next < b.Chunks; next++ {
			r, err := e.Store.Result(ctx, p, next-1)
			if err == nil && (r == nil || r.Index != next) {
				err = refuse(ResultsReplaced, "the results of batch %s were replaced by a retry or deleted before chunk %d was read: read them again from the first", id, next)
			}
			if err != nil {
				yield(nil, err)
				return
			}
			if !yield(r, nil) {
				return
			}
		}
	}
}

func (e *Engine) served(ctx context.Context, id string) (*Batch, Pass, error) {
	b, err := e.Get(ctx, id)
	if err != nil {
		return nil, Pass{}, err
	}
	p, err := e.Store.Served(ctx, id)
	if err == ErrState {
		err = refuse(NoResults, "batch %s has no results: only one that has succeeded has; WatchBatch tells when", id)
	}
	return b, p, about(id, err)
}
