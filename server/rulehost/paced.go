package rulehost

import (
	"io"
	"time"
)

// What a plugin can write at full speed, and how fast after that. Its messages are
// a few kilobytes; what floods must not keep the server's processors busy. The figures are common practice,
// no source.
const (
	freely       = 64 << 10 // bytes
	pacedPerTick = 2_560    // bytes, so 256 kB a second
	paceTick     = 10 * time.Millisecond
)

// paced passes on what is written to it, and makes who writes too much wait: the
// pipe then fills, and the plugin stands. It is used from one goroutine.
type paced struct {
	io.Writer
	due int // bytes not yet waited for; below zero while some are free
}

func newPaced(w io.Writer) *paced { return &paced{Writer: w, due: -freely} }

// Write implements io.Writer.
func (p *paced) Write(b []byte) (int, error) {
	p.due += len(b)
	if ticks := p.due / pacedPerTick; ticks > 0 {
		time.Sleep(time.Duration(ticks) * paceTick)
		p.due -= ticks * pacedPerTick
	}
	return p.Writer.Write(b)
}
