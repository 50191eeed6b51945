package command

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
)

// progress shows how far a long command is: as a bar on a terminal, and elsewhere in
// plain lines from time to time. It is for one goroutine.
type progress struct {
	out   io.Writer // nil: quiet
	now   func() time.Time
	total int64 // rows, about; 0: not known
	pass  int
	began time.Time // the pass
	last  time.Time // that a line was written

	bar      *progressbar.ProgressBar
	terminal bool
}

// plainEvery is how often a plain line is written; what is done sooner says nothing.
const plainEvery = 30 * time.Second

func (r *run) newProgress() *progress {
	if r.quiet {
		return &progress{}
	}
	return &progress{out: r.stderr, now: time.Now, terminal: isTerminal(r.stderr)}
}

func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// expect tells how many rows there are in all, about.
func (p *progress) expect(rows int64) {
	if p.total = rows; p.bar != nil && rows > 0 {
		p.bar.ChangeMax64(rows)
	}
}

// tell says how many rows are answered in a pass, which goes over all of them.
func (p *progress) tell(pass int, rows int64) {
	if p.out == nil {
		return
	}
	if p.began.IsZero() || pass != p.pass {
		p.begin(pass)
	}
	if p.terminal {
		_ = p.bar.Set64(rows) // it fails beyond the total, and then shows nothing
		return
	}
	if now := p.now(); now.Sub(p.last) >= plainEvery {
		p.last = now
		fmt.Fprintln(p.out, "rootward: "+p.line(rows, now.Sub(p.began)))
	}
}

func (p *progress) begin(pass int) {
	p.end()
	p.pass, p.began = pass, p.now()
	p.last = p.began
	if !p.terminal {
		return
	}
	total := p.total
	if total == 0 {
		total = -1 // a bar without an end
	}
	p.bar = progressbar.NewOptions64(total, progressbar.OptionSetWriter(p.out), progressbar.OptionSetDescription("rows answered"+again(pass)),
		progressbar.OptionShowCount(), progressbar.OptionShowIts(), progressbar.OptionSetItsString("rows"),
		progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionSetWidth(20),
		progressbar.OptionSetSpinnerChangeInterval(0)) // it turns when it is told something, not by itself
}

func again(pass int) string {
	if pass > 1 {
		return ", once more with all that is known of the sites now"
	}
	return ""
}

// line says how far a pass is after a while.
func (p *progress) line(rows int64, passed time.Duration) string {
	of := ""
	if p.total > 0 {
		of = fmt.Sprintf(" of about %d", p.total)
	}
	line := fmt.Sprintf("%d%s rows answered%s", rows, of, again(p.pass))
	rate := float64(rows) / passed.Seconds()
	if rows == 0 || passed <= 0 {
		return line
	}
	line += fmt.Sprintf("; %.0f a second", rate)
	if p.total > rows {
		left := time.Duration(float64(p.total-rows) / rate * float64(time.Second))
		line += "; about " + roughly(left) + " left"
	}
	return line
}

// roughly gives a time in the largest unit that says enough.
func roughly(d time.Duration) string {
	switch {
	case d < 90*time.Second:
		return fmt.Sprintf("%d s", max(1, int64(d.Round(time.Second)/time.Second)))
	case d < 90*time.Minute:
		return fmt.Sprintf("%d min", int64(d.Round(time.Minute)/time.Minute))
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}

// clear takes the bar away until something is told.
func (p *progress) clear() {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}

// end takes the bar away.
func (p *progress) end() {
	p.clear()
	p.bar = nil
}
