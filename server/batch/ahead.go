package batch

import (
	"context"
	"crypto/sha256"
	"fmt"
	"slices"
	"sync"
)

// Ahead decides the chunks of a batch while they are uploaded, under what Pin gives then.
// Where Start pins the same, on the same start of the same server, its answers are those
// of the first pass, since equal arguments give equal answers; else they are dropped, and
// every chunk is decided then. A batch is decided ahead under one law by one server, the
// first that does: so a chunk that brings about a server's end does so once.
//
// Its methods may be called from several goroutines.
type Ahead struct {
	engine *Engine
	by     string

	mu  sync.Mutex // of run: one takes longer to learn the law than two are faster
	run Run        // nil after a failure, which the jobs will tell
}

// Ahead opens what decides the chunks of an upload ahead; nil if nothing does. The caller
// closes it.
func (e *Engine) Ahead(ctx context.Context, id string) *Ahead {
	b, err := e.Store.Get(ctx, id)
	if err != nil || b.State != Uploading {
		return nil // who puts a chunk is told
	}
	var pinned []byte
	err = e.guard(func() (err error) {
		pinned, err = e.Evaluator.Pin(ctx, b.Request, nil)
		return err
	})
	if err != nil {
		return nil // who starts the batch is told
	}
	a := &Ahead{engine: e, by: e.ahead(pinned)}
	err = e.guard(func() (err error) {
		a.run, err = e.Evaluator.Open(ctx, b.Request, pinned, nil)
		return err
	})
	if err != nil {
		return nil
	}
	if own, err := e.Store.Ahead(ctx, id, a.by); err != nil || !own {
		a.Close()
		return nil
	}
	return a
}

// ahead names this start of this server with what it decides by.
func (e *Engine) ahead(pinned []byte) string {
	return fmt.Sprintf("%s %x", e.id, sha256.Sum256(pinned))
}

// Close gives back what was opened. Nothing may be put any more.
func (a *Ahead) Close() {
	if a != nil && a.run != nil {
		a.run.Close()
	}
}

// answer gives the answer to a chunk, in memory of its own; nil if it is not known ahead.
func (a *Ahead) answer(c *Chunk) *Draft {
	if a == nil {
		return nil
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.run == nil {
		return nil
	}
	d := &Draft{By: a.by}
	err := a.engine.guard(func() (err error) {
		d.Answer, err = a.run.Answer(c.Data, c.Read)
		return err
	})
	if err != nil {
		a.run = nil // what state it is in nobody knows
		return nil
	}
	d.Answer.Result, d.Answer.Tally = slices.Clone(d.Answer.Result), slices.Clone(d.Answer.Tally)
	return d
}
