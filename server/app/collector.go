package app

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"sync"
)

// The collector of garbage lets the heap grow by as much again as is in use before it
// collects. For a small heap that is often, and what grows with the sites and kinds of
// stems of a long stream takes its memory twice. Here a heap may grow up to ample whatever
// of it is in use, so that neither few rows nor very many take more; from two thirds of
// ample in use on it may grow by half of that. A server that starts has less in all.
// (Measured: with 40 MiB ten million rows took 1.11 times the memory of one million, with 64
// 1.06 times.)
const (
	ample        = 64 << 20
	leastPercent = 50
	mostPercent  = 800
	usualPercent = 100 // of Go
)

// percentFor is how much the heap may grow beyond what is in use, in percent of that.
func percentFor(used uint64) int {
	switch {
	case used >= ample*2/3:
		return leastPercent
	case used <= ample/9:
		return mostPercent
	}
	return int((ample - used) * 100 / used)
}

// collector sets the room of the collector after each of its turns.
type collector struct {
	sync.Mutex
	percent int
	stopped bool
}

// paceCollector does so until what it gives is called. Whoever set GOGC to
// anything but Go's own 100 has decided.
func paceCollector() (stop func()) {
	if stated := debug.SetGCPercent(mostPercent); stated != usualPercent {
		debug.SetGCPercent(stated)
		return func() {}
	}
	c := &collector{percent: mostPercent}
	c.wait()
	return func() {
		c.Lock()
		defer c.Unlock()
		c.stopped = true
		debug.SetGCPercent(usualPercent)
	}
}

// wait has the room set once the collector finds what nobody holds.
func (c *collector) wait() {
	runtime.AddCleanup(new([64]byte), func(c *collector) { c.turn() }, c)
}

func (c *collector) turn() {
	c.Lock()
	defer c.Unlock()
	if c.stopped {
		return
	}
	used := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(used)
	if used[0].Value.Kind() == metrics.KindUint64 {
		if percent := percentFor(used[0].Value.Uint64()); percent != c.percent {
			c.percent = percent
			debug.SetGCPercent(percent)
		}
	}
	c.wait()
}
