package batch

import (
	"maps"
	"slices"
	"sync"
)

// runs are open and idle: to open one is dear. There is at most one a worker, because
// each is made for one, and puts it back.
type runs struct {
	mu   sync.Mutex
	idle map[Pass][]Run
}

func (r *runs) take(p Pass) Run {
	r.mu.Lock()
	defer r.mu.Unlock()
	list := r.idle[p]
	if len(list) == 0 {
		return nil
	}
	r.idle[p] = list[:len(list)-1]
	return list[len(list)-1]
}

func (r *runs) put(p Pass, run Run) {
	if run == nil {
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.idle == nil {
		r.idle = map[Pass][]Run{}
	}
	r.idle[p] = append(r.idle[p], run)
}

// drop closes the runs of a pass.
func (r *runs) drop(p Pass) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, run := range r.idle[p] {
		run.Close()
	}
	delete(r.idle, p)
}

// passes are those that have idle runs.
func (r *runs) passes() []Pass {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Collect(maps.Keys(r.idle))
}

// jobs are those that this server does.
type jobs struct {
	mu  sync.Mutex
	ids map[int64]bool
}

func (j *jobs) begin(id int64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.ids == nil {
		j.ids = map[int64]bool{}
	}
	j.ids[id] = true
}

func (j *jobs) end(id int64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	delete(j.ids, id)
}

func (j *jobs) has(id int64) bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.ids[id]
}
