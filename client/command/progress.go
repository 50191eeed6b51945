package command

import (
	"fmt"
	"io"
	"os"
)

// progress shows on a terminal how far a long command is; elsewhere it is silent.
type progress struct {
	out   io.Writer // nil: not a terminal
	shown bool
}

func newProgress(stderr io.Writer) *progress {
	file, ok := stderr.(*os.File)
	if !ok {
		return &progress{}
	}
	info, err := file.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return &progress{}
	}
	return &progress{out: file}
}

func (p *progress) tell(pass int, rows int64) {
	if p.out == nil {
		return
	}
	p.shown = true
	again := ""
	if pass > 1 {
		again = ", once more with the season's shares"
	}
	fmt.Fprintf(p.out, "\r%d rows answered%s\x1b[K", rows, again)
}

// end clears the line.
func (p *progress) end() {
	if p.shown {
		fmt.Fprint(p.out, "\r\x1b[K")
	}
}
