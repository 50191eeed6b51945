// Package page lays out text for a terminal of ninety columns.
package page

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Page writes lines and wrapped paragraphs, and keeps the first error of the
// writer below.
type Page struct {
	out io.Writer
	err error
}

// Width is the number of columns.
const Width = 90

// On makes a page on a writer.
func On(w io.Writer) *Page { return &Page{out: w} }

// Err gives the first error of writing.
func (p *Page) Err() error { return p.err }

// Line writes one line, formatted as by fmt.Printf and cleaned.
func (p *Page) Line(format string, args ...any) {
	if p.err == nil {
		_, p.err = io.WriteString(p.out, Clean(strings.TrimRight(fmt.Sprintf(format, args...), " "))+"\n")
	}
}

// Clean replaces what could command a terminal or turn a text around: names come
// from files that others wrote.
func Clean(line string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
			return unicode.ReplacementChar
		}
		return r
	}, line)
}

// Heading begins a section.
func (p *Page) Heading(title string) {
	p.Line("")
	p.Line("%s", strings.ToUpper(title))
}

// Text writes a paragraph under a label; its further lines are indented like its
// first.
func (p *Page) Text(label, text string) {
	width := Width - utf8.RuneCountInString(label)
	for i, part := range wrap(text, width) {
		if i > 0 {
			label = strings.Repeat(" ", utf8.RuneCountInString(label))
		}
		p.Line("%s", label+part)
	}
}

// wrap breaks a text between words. A word that is wider than the width stands on
// a line of its own.
func wrap(text string, width int) []string {
	var lines []string
	line, used := "", 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case used == 0:
			line, used = word, n
		case used+1+n > width:
			lines = append(lines, line)
			line, used = word, n
		default:
			line, used = line+" "+word, used+1+n
		}
	}
	return append(lines, line)
}
