package batch

import (
	"context"
	"crypto/sha256"
	"fmt"
	"sync"
)

// Ahead decides the chunks of a batch while they are uploaded, under what Pin gives then.
// Where Start pins the same, on the same start of the same server, its answers are those
// of the first pass, since equal arguments give equal answers; else they are dropped, and
// every chunk is decided then. A batch is decided ahead under one law by one server, the
// first that does: so tables or a chunk that bring about a server's end do so once. What
// comes while as many chunks are decided as may be is left to the jobs: an upload does not
// wait for others.
//
// Its methods may be called from several goroutines.
type Ahead struct {
	engine *Engine
	by     string

	mu  sync.Mutex // of run: one takes longer to learn the law than two are faster
	run Run        // nil after a failure, which the jobs will tell

	// Whose memory is used again. Who has had an answer kept does not wait here until
	// another is decided.
	idle sync.Pool
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
	if own, err := e.Store.Ahead(ctx, id, a.by); err != nil || !own {
		return nil
	}
	err = e.guard(func() (err error) {
		a.run, err = e.Evaluator.Open(ctx, b.Request, pinned, nil)
		return err
	})
	if err != nil {
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

// answer gives the answer to a chunk, in memory of its own until it is done with; nil if
// it is not known ahead.
func (a *Ahead) answer(c *Chunk) *Draft {
	if a == nil {
		return nil
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.run == nil || !a.engine.turns.try() {
		return nil
	}
	defer a.engine.turns.giveBack()
	var of Answer
	err := a.engine.guard(func() (err error) {
		of, err = a.run.Answer(c.Data, c.Read)
		return err
	})
	if err != nil {
		a.run = nil // what state it is in nobody knows
		return nil
	}
	d, _ := a.idle.Get().(*Draft)
	if d == nil {
		d = &Draft{By: a.by}
	}
	into := d.Answer
	d.Answer = Answer{append(into.Result[:0], of.Result...), append(into.Tally[:0], of.Tally...), of.Counts}
	return d
}

// done gives back an answer that was kept, or could not be.
func (a *Ahead) done(d *Draft) {
	if d != nil {
		a.idle.Put(d)
	}
}
