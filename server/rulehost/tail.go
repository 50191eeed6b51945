package rulehost

import (
	"bytes"
	"slices"
	"strings"
	"sync"
	"unicode"
)

// What is kept of a plugin's standard error for the operator.
const (
	tailLines = 20
	tailLine  = 500 // bytes
)

// tail keeps the last lines that were written to it, cut to a length and cleaned of
// what a terminal would obey. Its methods may be called from several goroutines.
type tail struct {
	mu    sync.Mutex
	lines []string
	line  []byte // the one that is being written
}

// Write implements io.Writer; it never fails.
func (t *tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	n := len(b)
	for len(b) > 0 {
		head, rest, whole := bytes.Cut(b, []byte{'\n'})
		t.line = append(t.line, head[:min(len(head), tailLine-len(t.line))]...)
		if whole {
			t.end()
		}
		b = rest
	}
	return n, nil
}

func (t *tail) end() {
	if len(t.lines) == tailLines {
		t.lines = slices.Delete(t.lines, 0, 1)
	}
	t.lines = append(t.lines, printable(string(t.line)))
	t.line = t.line[:0]
}

// last gives the lines, the latest last.
func (t *tail) last() []string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return slices.Clone(t.lines)
}

// printableLines is printable of a text that may have several lines.
func printableLines(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = printable(lines[i])
	}
	return strings.Join(lines, "\n")
}

// printable replaces what is no visible character: a foreign text must not move the
// cursor, colour the screen or turn the direction of writing.
func printable(text string) string {
	return strings.Map(func(c rune) rune {
		if c == '\t' {
			return ' '
		}
		if !unicode.IsPrint(c) {
			return unicode.ReplacementChar
		}
		return c
	}, strings.ToValidUTF8(text, string(unicode.ReplacementChar)))
}
