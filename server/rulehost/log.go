package rulehost

import (
	"bytes"

	"github.com/rs/zerolog"
)

// What a plugin can write into the server's log for each of its streams.
const (
	maxLine  = 1 << 10
	maxLines = 200
)

// lineLog writes each line of a plugin's stream to the log at debug level. Long
// lines are cut and, after many, the rest is dropped: a plugin must not be able
// to fill the disk. It is used from one goroutine.
type lineLog struct {
	log    zerolog.Logger
	stream string
	line   []byte
	over   int // bytes of the line that were dropped
	lines  int
}

// Write implements io.Writer; it never fails.
func (l *lineLog) Write(b []byte) (int, error) {
	n := len(b)
	for len(b) > 0 {
		head, rest, whole := bytes.Cut(b, []byte{'\n'})
		l.add(head)
		if whole {
			l.flush()
		}
		b = rest
	}
	return n, nil
}

func (l *lineLog) add(b []byte) {
	kept := min(len(b), maxLine-len(l.line))
	l.line = append(l.line, b[:kept]...)
	l.over += len(b) - kept
}

func (l *lineLog) flush() {
	defer func() { l.line, l.over = l.line[:0], 0 }()
	if l.lines++; l.lines > maxLines {
		return
	}
	event := l.log.Debug().Str("stream", l.stream).Bytes("line", l.line)
	if l.over > 0 {
		event = event.Int("dropped_bytes", l.over)
	}
	if l.lines == maxLines {
		event = event.Bool("last_line_kept", true)
	}
	event.Msg("rule plugin wrote")
}
