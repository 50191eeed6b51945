package app

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"sync"
)

// The collector of garbage lets the heap grow by as much again as is in use before it
// collects. Beyond ample that is more than it needs: what grows with the sites and kinds
// of stems of a long stream would take its memory twice. From there on the room stays the
// same, and from twice as much in use on it is half of that, so that a large heap is not
// collected all the time. A server starts with some 15 MiB, through which the collector would
// go five times: its first turn is due at 32 MiB.
const (
	ample        = 12 << 20
	leastPercent = 50
	usualPercent = 100
	firstPercent = 800 // of 4 MiB
)

// percentFor is how much the heap may grow beyond what is in use, in percent of that.
func percentFor(used uint64) int {
	if used <= ample {
		return usualPercent
	}
	return max(leastPercent, int(usualPercent*ample/used))
}

// collector sets the room of the collector after each of its turns.
type collector struct {
	sync.Mutex
	percent int
	stopped bool
}

// paceCollector does so until what it gives is called. Whoever set GOGC has decided.
func paceCollector() (stop func()) {
	if stated := debug.SetGCPercent(firstPercent); stated != usualPercent {
		debug.SetGCPercent(stated)
		return func() {}
	}
	c := &collector{percent: firstPercent}
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
