package batch

import (
	"context"
	"maps"
	"slices"
	"sync"
	"time"
)

// Hindrance is why a server leaves a running batch to others, while it does.
type Hindrance struct {
	Server  string // its id
	Name    string // for people
	Problem string // what it lacks, and what helps
	Since   time.Time
}

// hindrances are those of this server, as they were noted last.
type hindrances struct {
	mu    sync.Mutex
	noted map[Pass]string // the problem; empty: whether the store has it nobody knows
}

// hinder notes that this server cannot decide a pass, once for each reason.
func (e *Engine) hinder(ctx context.Context, p Pass, why error) {
	problem := kept(why.Error())
	e.hindrances.mu.Lock()
	defer e.hindrances.mu.Unlock()
	if e.hindrances.noted[p] == problem {
		return
	}
	e.Log.Warn().Err(why).Str("batch", p.Batch).Msg("this server lacks what the batch needs; it is left to another, or decided later")
	if e.hindrances.noted == nil {
		e.hindrances.noted = map[Pass]string{}
	}
	e.hindrances.noted[p] = "" // what fails may be written all the same, and must be taken back
	if err := e.Store.Hinder(ctx, p, Hindrance{Server: e.id, Name: e.Name, Problem: problem, Since: e.Now()}); err != nil {
		return // it has ended, or is noted at the next attempt
	}
	e.hindrances.noted[p] = problem
	e.news.tell()
}

// able takes back what hinder noted.
func (e *Engine) able(ctx context.Context, p Pass) {
	e.hindrances.mu.Lock()
	defer e.hindrances.mu.Unlock()
	if _, noted := e.hindrances.noted[p]; !noted || e.Store.Unhinder(ctx, p.Batch, e.id) != nil {
		return
	}
	delete(e.hindrances.noted, p)
	e.news.tell()
}

// passes are those of which something was noted.
func (h *hindrances) passes() []Pass {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Collect(maps.Keys(h.noted))
}

// forget drops what was noted of a pass that is not due any more.
func (h *hindrances) forget(p Pass) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.noted, p)
}

// weigh keeps the hindrances of servers that live, and tells whether they are all.
func (e *Engine) weigh(b *Batch) {
	if len(b.Hindrances) == 0 {
		return
	}
	alive := *e.alive.Load()
	b.Hindrances = slices.DeleteFunc(b.Hindrances, func(h Hindrance) bool { return !slices.Contains(alive, h.Server) })
	b.Waiting = len(b.Hindrances) == len(alive)
}
