package batch

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"log/slog"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/riverqueue/river"
	"github.com/rs/zerolog"
)

// Config says what an engine works with.
type Config struct {
	Store     Store // stays open until after Close
	Evaluator Evaluator
	Log       zerolog.Logger
	Workers   int              // chunks that are decided at once, by jobs and uploads; a processor each, if 0
	Now       func() time.Time // time.Now, if nil
	Backoff   time.Duration    // after the first failure of an Evaluator, doubled twice; 1 s if 0
	Name      string           // of this server, for people; its id, if empty
}

// Engine decides batches. Its methods may be called from several goroutines.
type Engine struct {
	Config
	id     string // of this start of this server
	queue  Queue
	runs   runs
	news   news                     // of batches that have begun or ended here
	memory sync.Pool                // of *[]byte: of chunks that were decided
	turns  turns                    // of those that decide
	jobs   jobs                     // that run here
	alive  atomic.Pointer[[]string] // servers, with this one; another pointer at each round
	hindrances
	closing  sync.Mutex // one pass is summed up at a time
	hints    sync.Map   // by batch: a chunk below which none is missing
	stopping atomic.Bool
	stop     context.CancelFunc // of the keeper
	stopped  chan struct{}
}

const (
	// A server that gave no sign for this long is taken for dead, and others do its
	// jobs: three signs, so that a pause does not count. One that lives after all does
	// work twice, which is kept once.
	silence = 3 * time.Second
	round   = time.Second
	// How often an idle server looks for jobs that others queued, and a watched batch is
	// looked at.
	idle = 250 * time.Millisecond
	look = 100 * time.Millisecond
	// A job is ended between two chunks after this long, and goes on as another
	// attempt: what River itself takes for stuck it frees a minute later.
	longest = 5 * time.Minute
)

// Open starts to work. What an earlier server left unfinished goes on at once.
func Open(ctx context.Context, c Config) (*Engine, error) {
	if c.Workers == 0 {
		c.Workers = runtime.GOMAXPROCS(0)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Backoff == 0 {
		c.Backoff = time.Second
	}
	e := &Engine{Config: c, id: rand.Text(), turns: make(turns, c.Workers), stopped: make(chan struct{})}
	if e.Name == "" {
		e.Name = e.id
	}
	workers := river.NewWorkers()
	river.AddWorker(workers, &worker{engine: e})
	var err error
	if e.queue, err = c.Store.Queue(e.queueConfig(workers)); err != nil {
		return nil, err
	}
	k := keeper{Engine: e}
	if err := k.round(ctx); err != nil {
		return nil, fmt.Errorf("take up the batches that are not finished: %w", err)
	}
	if err := e.queue.Start(context.WithoutCancel(ctx)); err != nil {
		return nil, fmt.Errorf("start the queue of jobs: %w", err)
	}
	keeping, stop := context.WithCancel(context.WithoutCancel(ctx))
	e.stop = stop
	go k.run(keeping)
	return e, nil
}

// turns are as many as chunks may be decided at once.
type turns chan struct{}

// take waits for a turn. It reports false if ctx ends before.
func (t turns) take(ctx context.Context) bool {
	select {
	case t <- struct{}{}:
		return true
	case <-ctx.Done():
		return false
	}
}

// try takes a turn if one is free.
func (t turns) try() bool {
	select {
	case t <- struct{}{}:
		return true
	default:
		return false
	}
}

func (t turns) giveBack() { <-t }

func (e *Engine) queueConfig(workers *river.Workers) *river.Config {
	return &river.Config{
		ID:                          e.id,
		Queues:                      map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: e.Workers}},
		Workers:                     workers,
		Logger:                      slog.New(zerolog.NewSlogHandler(e.Log.Level(max(e.Log.GetLevel(), zerolog.WarnLevel)))),
		FetchCooldown:               river.FetchCooldownMin,
		FetchPollInterval:           idle,
		JobTimeout:                  longest,
		RescueStuckJobsAfter:        longest + time.Minute,
		CompletedJobRetentionPeriod: time.Hour,
		RetryPolicy:                 backoff(e.Backoff),
	}
}

// Close takes no more jobs, and waits until each that runs has kept the chunk at hand;
// the rest is done by another server or after the next start. Calls that are under
// way go on.
func (e *Engine) Close(ctx context.Context) error {
	e.stopping.Store(true)
	err := e.queue.Stop(ctx)
	if err != nil {
		hard, cancel := context.WithTimeout(context.WithoutCancel(ctx), round)
		err = errors.Join(err, e.queue.StopAndCancel(hard))
		cancel()
	}
	e.stop()
	<-e.stopped
	return errors.Join(err, e.Store.Gone(context.WithoutCancel(ctx), e.id))
}

// Create opens a batch for upload; the same request id gives the batch that it made
// before.
func (e *Engine) Create(ctx context.Context, requestID, title string, request []byte) (*Batch, error) {
	return e.Store.Create(ctx, &Batch{
		ID: strings.ToLower(rand.Text()), RequestID: requestID, Title: title,
		State: Uploading, Created: e.Now(), Request: request,
	})
}

// Get gives a batch as it stands.
func (e *Engine) Get(ctx context.Context, id string) (*Batch, error) {
	b, err := e.Store.Get(ctx, id)
	if err != nil {
		return nil, about(id, err)
	}
	e.weigh(b)
	return b, nil
}

// List gives a page, the newest first, without requests, pinned bytes and summaries,
// and the token of the next one, empty after the last.
func (e *Engine) List(ctx context.Context, size int, token string) ([]*Batch, string, error) {
	before, err := parsePlace(token)
	if err != nil {
		return nil, "", err
	}
	page, err := e.Store.List(ctx, size+1, before)
	for _, b := range page {
		e.weigh(b)
	}
	if err != nil || len(page) <= size {
		return page, "", err
	}
	page = page[:size]
	last := page[size-1]
	return page, Place{last.Created, last.ID}.token(), nil
}

func (p Place) token() string {
	return base64.RawURLEncoding.EncodeToString(fmt.Appendf(nil, "%d %s", p.Created.UnixMicro(), p.ID))
}

func parsePlace(token string) (Place, error) {
	if token == "" {
		return Place{}, nil
	}
	text, err := base64.RawURLEncoding.DecodeString(token)
	created, id, _ := strings.Cut(string(text), " ")
	micros, err2 := strconv.ParseInt(created, 10, 64)
	if err != nil || err2 != nil || id == "" || kept(id) != id {
		return Place{}, refuse(UnknownPage, "the page token %.80q is none that ListBatches gave; leave it out for the first page", token)
	}
	return Place{time.UnixMicro(micros), id}, nil
}

// Cancel stops a batch between two chunks. One that has ended stays as it is.
func (e *Engine) Cancel(ctx context.Context, id string) (*Batch, error) {
	for {
		b, err := e.Get(ctx, id)
		if err != nil || b.State.Done() {
			return b, err
		}
		// It may have been started or have ended in between.
		if err := e.stopBatch(ctx, b, Cancelled, ""); err != nil && err != ErrState {
			return nil, err
		}
	}
}

// stopBatch ends a batch without success.
func (e *Engine) stopBatch(ctx context.Context, b *Batch, to State, problem string) error {
	err := e.Store.Stop(ctx, b, to, problem, e.Now())
	e.news.tell()
	return err
}

// Delete removes a batch that is not being decided, with all that belongs to it.
func (e *Engine) Delete(ctx context.Context, id string) error {
	err := e.Store.Delete(ctx, id)
	if err == ErrState {
		return refuse(NotEnded, "batch %s is being decided: cancel it first, or wait until it has ended", id)
	}
	e.hints.Delete(id)
	return about(id, err)
}
