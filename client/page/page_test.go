package page_test

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"example.org/rootward/client/page"
)

func TestAParagraphIsIndentedUnderItsLabel(t *testing.T) {
	var out strings.Builder
	p := page.On(&out)
	p.Heading("Two")
	p.Text("  - ", strings.Repeat("word ", 30))
	p.Text("empty ", "")
	assert.NoError(t, p.Err())
	assert.Equal(t, "\nTWO\n  - "+strings.TrimSpace(strings.Repeat("word ", 17))+"\n    "+strings.TrimSpace(strings.Repeat("word ", 13))+"\nempty\n", out.String())
}

func TestNoLineCommandsTheTerminalAndAllWordsStay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		var out strings.Builder
		page.On(&out).Text("> ", text)
		for _, line := range strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n") {
			assert.Equal(t, page.Clean(line), line)
			if words := strings.Fields(line); len(words) > 2 {
				assert.LessOrEqual(t, utf8.RuneCountInString(line), page.Width)
			}
		}
		want := page.Clean(strings.Join(strings.Fields(text), ""))
		got := strings.Join(strings.Fields(strings.TrimPrefix(out.String(), ">")), "")
		assert.Equal(t, want, got)
	})
}

func TestEscapesAndTurnsAreReplaced(t *testing.T) {
	assert.Equal(t, "a\uFFFD[31mb\uFFFDc", page.Clean("a\x1b[31mb\u202ec"))
}

type full struct{ err error }

func (f full) Write([]byte) (int, error) { return 0, f.err }

func TestTheFirstErrorStays(t *testing.T) {
	broken := errors.New("the pipe is broken")
	p := page.On(full{broken})
	p.Line("a")
	p.Line("b")
	assert.ErrorIs(t, p.Err(), broken)
}
