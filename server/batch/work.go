package batch

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"runtime/debug"
	"strings"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
)

// chunks is a job: to decide some chunks of a pass that follow each other. Decided
// ones are passed over, so it may be done twice.
type chunks struct {
	Batch    string `json:"batch"`
	Revision int    `json:"revision"`
	Pass     int    `json:"pass"`
	First    int64  `json:"first"`
	End      int64  `json:"end"` // the first that is not of it
}

// Kind implements river.JobArgs.
func (chunks) Kind() string { return "decide_chunks" }

func (c chunks) pass() Pass { return Pass{c.Batch, c.Revision, c.Pass} }

const (
	// A job is queued, fetched and ended in a few milliseconds, as long as a chunk takes
	// to decide. Jobs have several chunks, but there are enough of them to share.
	jobsOfBatch = 32
	chunksOfJob = 16
	// An Evaluator that fails so often on the same chunk will not do better.
	failures = 5
	// A server that was killed so often over the same job is killed by it.
	kills = 100
	lost  = "the server that did it is gone"
)

// enqueue queues the jobs of a pass. With no chunks, or none that is left to decide,
// there is one all the same, which ends it.
func (e *Engine) enqueue(ctx context.Context, p Pass, n int64) error {
	left, err := e.Store.Left(ctx, p)
	if err == ErrState {
		return nil // cancelled, or done already
	}
	if err != nil {
		return err
	}
	first, size := int64(0), min(max(n/jobsOfBatch, 1), chunksOfJob)
	if left == 0 {
		first = n
	}
	var list []river.InsertManyParams
	for ; list == nil || first < n; first += size {
		list = append(list, river.InsertManyParams{
			Args:       chunks{p.Batch, p.Revision, p.Number, first, min(first+size, n)},
			InsertOpts: &river.InsertOpts{MaxAttempts: failures + kills + 1},
		})
	}
	if _, err := e.queue.InsertMany(ctx, list); err != nil {
		return err
	}
	if err := e.Store.Queued(ctx, p); err != ErrState {
		return err
	}
	return nil // cancelled, or done already
}

type worker struct {
	river.WorkerDefaults[chunks]
	engine *Engine
}

// Work implements river.Worker.
func (w *worker) Work(ctx context.Context, job *river.Job[chunks]) error {
	e := w.engine
	e.jobs.begin(job.ID)
	defer e.jobs.end(job.ID)
	if len(job.Errors)-failed(job.JobRow) >= kills {
		return e.giveUp(ctx, job.Args, fmt.Sprintf("%d servers ended while they decided chunks %d to %d",
			kills, job.Args.First, job.Args.End-1))
	}
	return e.settle(ctx, job.JobRow, job.Args, e.decide(ctx, job.Args))
}

var errGivenBack = errors.New("the server stops")

// fault is what an Evaluator failed with.
type fault struct{ error }

func (f fault) Unwrap() error { return f.error }

// decide decides those chunks of a job that are due, and ends the pass if they were
// the last.
func (e *Engine) decide(ctx context.Context, c chunks) error {
	p := c.pass()
	memory, ok := e.memory.Get().(*[]byte)
	if !ok {
		memory = new([]byte)
	}
	defer e.memory.Put(memory)
	var run Run
	defer func() { e.runs.put(p, run) }()
	for i := c.First; i < c.End; i++ {
		if e.stopping.Load() || ctx.Err() != nil {
			return errGivenBack
		}
		data, err := e.Store.Due(ctx, p, i, *memory)
		if err == nil && data != nil && run == nil {
			run, err = e.open(ctx, p)
		}
		if err != nil {
			return err
		}
		if data == nil {
			continue
		}
		*memory = data[:0]
		if !e.turns.take(ctx) {
			return errGivenBack
		}
		if err := e.answer(ctx, run, p, i, data); err != nil {
			run = nil // what state it is in nobody knows
			return err
		}
	}
	return e.finish(ctx, p)
}

// answer decides a chunk, in a turn that it gives back.
func (e *Engine) answer(ctx context.Context, run Run, p Pass, index int64, data []byte) error {
	var a Answer
	err := e.guard(func() (err error) {
		defer e.turns.giveBack()
		a, err = run.Answer(data, nil)
		return err
	})
	if err != nil {
		return fault{fmt.Errorf("chunk %d: %w", index, err)}
	}
	_, err = e.Store.Keep(ctx, p, index, a)
	return err
}

// guard makes a panic an error: a chunk that brings one about must not end a server
// after the other. Where it was is for the log alone.
func (e *Engine) guard(f func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
			e.Log.Error().Err(err).Bytes("stack", debug.Stack()).Msg("an evaluator failed")
		}
	}()
	return f()
}

// open takes a run that another job of the pass has left, or makes one.
func (e *Engine) open(ctx context.Context, p Pass) (Run, error) {
	if run := e.runs.take(p); run != nil {
		e.able(ctx, p)
		return run, nil
	}
	in, err := e.Store.Inputs(ctx, p)
	if err == nil && !in.Queued {
		// A server that this ends may not have come to note it, and the next would queue all again.
		err = e.Store.Queued(ctx, p)
	}
	if err != nil {
		return nil, err
	}
	var run Run
	err = e.guard(func() (err error) {
		run, err = e.Evaluator.Open(ctx, in.Request, in.Pinned, in.Shares)
		return err
	})
	if err != nil {
		return nil, fault{err}
	}
	e.able(ctx, p)
	return run, nil
}

// finish ends a pass of which nothing is left to decide.
func (e *Engine) finish(ctx context.Context, p Pass) error {
	if left, err := e.Store.Left(ctx, p); err != nil || left > 0 {
		return err
	}
	e.closing.Lock()
	defer e.closing.Unlock()
	in, err := e.Store.Inputs(ctx, p) // ErrState, if another job has ended it meanwhile
	if err != nil {
		return err
	}
	var sum Sum
	err = e.guard(func() (err error) {
		sum, err = e.Evaluator.Sum(ctx, in.Request, in.Pinned, in.Shares, e.Store.Tallies(ctx, p))
		return err
	})
	if err != nil {
		return fault{fmt.Errorf("sum up pass %d: %w", p.Number, err)}
	}
	e.runs.drop(p)
	if sum.Shares != nil {
		return e.advance(ctx, p, sum.Shares)
	}
	answers, err := e.Store.Sums(ctx, p)
	if err != nil {
		return err
	}
	err = e.Store.Succeed(ctx, p, sum.Summary, digest(answers), e.Now())
	e.news.tell()
	return err
}

func (e *Engine) advance(ctx context.Context, p Pass, shares []byte) error {
	if p.Number > 1 {
		return fault{fmt.Errorf("pass %d asks for another, and two are the most", p.Number)}
	}
	b, err := e.Store.Get(ctx, p.Batch)
	if err != nil {
		return err
	}
	if err := e.Store.Advance(ctx, p, shares); err != nil {
		return err
	}
	p.Number++
	return e.enqueue(ctx, p, b.Chunks)
}

// DigestOf is the digest of a batch with these answers: the SHA-256 over the SHA-256
// of each, in order. They are hashed where they are made, and not read again.
func DigestOf(answers ...[]byte) string {
	sums := make([][]byte, len(answers))
	for i, a := range answers {
		sum := sha256.Sum256(a)
		sums[i] = sum[:]
	}
	return digest(sums)
}

func digest(sums [][]byte) string {
	h := sha256.New()
	for _, sum := range sums {
		h.Write(sum)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// settle tells River what became of a job, and ends a batch that cannot be decided.
func (e *Engine) settle(ctx context.Context, job *rivertype.JobRow, c chunks, err error) error {
	var f fault
	var elsewhere interface{ Elsewhere() }
	switch {
	case err == nil, errors.Is(err, ErrState), errors.Is(err, ErrUnknown): // the pass is not due any more
		return nil
	case err == errGivenBack || ctx.Err() != nil:
		return river.JobSnooze(0)
	case errors.As(err, &elsewhere):
		e.hinder(ctx, c.pass(), err)
		return river.JobSnooze(4 * e.Backoff)
	case errors.As(err, &f):
		return e.fail(ctx, job, c, f.error)
	}
	e.Log.Warn().Err(err).Str("batch", c.Batch).Msg("the database failed; the job is done later")
	return river.JobSnooze(round)
}

// fail ends a batch that its Evaluator refuses, or has failed on too often.
func (e *Engine) fail(ctx context.Context, job *rivertype.JobRow, c chunks, err error) error {
	if refusal := (interface{ Refusal() string })(nil); !errors.As(err, &refusal) {
		if n := failed(job) + 1; n < failures {
			return err
		}
		err = fmt.Errorf("it failed %d times, at last with: %w", failures, err)
	}
	return e.giveUp(ctx, c, err.Error())
}

func (e *Engine) giveUp(ctx context.Context, c chunks, problem string) error {
	b, err := e.Store.Get(ctx, c.Batch)
	if err == nil && b.Revision == c.Revision && b.State == Running {
		err = e.stopBatch(ctx, b, Failed, kept(problem))
	}
	if err == nil {
		e.Log.Error().Str("batch", c.Batch).Str("problem", problem).Msg("batch failed")
	}
	return e.settle(ctx, nil, c, err) // it holds no fault of the Evaluator
}

// kept is a text as every database takes it, whatever an Evaluator says.
func kept(text string) string {
	return strings.ToValidUTF8(strings.ReplaceAll(text, "\x00", "\uFFFD"), "\uFFFD")
}

// failed counts how often a job failed, but for servers that are gone.
func failed(job *rivertype.JobRow) int {
	n := 0
	for _, attempt := range job.Errors {
		if attempt.Error != lost {
			n++
		}
	}
	return n
}

// backoff is how long a job waits after its first failure. It is doubled twice: up to
// 5 s River needs no leader to take it up again, which is elected after a while only.
type backoff time.Duration

// NextRetry implements river.ClientRetryPolicy.
func (b backoff) NextRetry(job *rivertype.JobRow) time.Time {
	return time.Now().Add(time.Duration(b) << min(failed(job), 2))
}
