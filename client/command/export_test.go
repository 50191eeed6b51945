package command

import (
	"io"
	"strings"
	"time"
)

// Progress is what a long command tells, with a clock of the test's.
type Progress struct{ progress }

// NewProgress is a Progress as on a terminal or elsewhere.
func NewProgress(out io.Writer, terminal bool, now func() time.Time) *Progress {
	return &Progress{progress{out: out, terminal: terminal, now: now}}
}

// Quiet is a Progress that is not wanted.
func Quiet() *Progress { return &Progress{*(&run{quiet: true}).newProgress()} }

// Expect, Tell and End are what a command calls.
func (p *Progress) Expect(rows int64)         { p.expect(rows) }
func (p *Progress) Tell(pass int, rows int64) { p.tell(pass, rows) }
func (p *Progress) End()                      { p.end() }

// Complaint is what is told of an error.
func Complaint(err error) string {
	var told strings.Builder
	complain(&told, err)
	return told.String()
}
