package command_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/client/command"
)

// clock is a clock that a test moves.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

// drive tells of two passes over a million rows, with pauses between.
func drive(p *command.Progress, c *clock) {
	p.Expect(1_000_000)
	for pass := 1; pass <= 2; pass++ {
		for rows := int64(0); rows <= 1_000_000; rows += 50_000 {
			p.Tell(pass, rows)
			c.at = c.at.Add(7 * time.Second)
		}
	}
	p.End()
}

func TestProgressInPlainLines(t *testing.T) {
	var out bytes.Buffer
	c := &clock{at: time.Date(2026, 8, 10, 6, 0, 0, 0, time.UTC)}
	drive(command.NewProgress(&out, false, c.now), c)
	golden(t, "progress.txt", out.String())
}

func TestProgressOfAnUnknownNumberOfRows(t *testing.T) {
	var out bytes.Buffer
	c := &clock{at: time.Date(2026, 8, 10, 6, 0, 0, 0, time.UTC)}
	p := command.NewProgress(&out, false, c.now)
	p.Tell(1, 0)
	c.at = c.at.Add(3 * time.Hour)
	p.Tell(1, 108)
	p.End()
	assert.Equal(t, "rootward: 108 rows answered; 0 a second\n", out.String())
}

// How many rows there are is told better while they are answered.
func TestProgressOfANumberOfRowsThatIsToldBetter(t *testing.T) {
	var out bytes.Buffer
	c := &clock{at: time.Date(2026, 8, 10, 6, 0, 0, 0, time.UTC)}
	p := command.NewProgress(&out, false, c.now)
	bar := command.NewProgress(&bytes.Buffer{}, true, c.now)
	for i := range int64(3) {
		rows := 100 * i
		for _, each := range []*command.Progress{p, bar} {
			each.Expect(1_000 - rows)
			each.Tell(1, rows)
		}
		c.at = c.at.Add(time.Minute)
	}
	p.End()
	bar.End()
	assert.Equal(t, "rootward: 100 of about 900 rows answered; 2 a second; about 8 min left\n"+
		"rootward: 200 of about 800 rows answered; 2 a second; about 6 min left\n", out.String())
}

func TestWhatIsDoneSoonSaysNothing(t *testing.T) {
	var out bytes.Buffer
	c := &clock{at: time.Date(2026, 8, 10, 6, 0, 0, 0, time.UTC)}
	p := command.NewProgress(&out, false, c.now)
	for rows := range int64(29) {
		p.Tell(1, rows)
		c.at = c.at.Add(time.Second)
	}
	p.End()
	assert.Empty(t, out.String())
	quiet := command.Quiet()
	quiet.Tell(1, 5)
	quiet.End()
}

func TestProgressOnATerminalIsABarThatGoesAway(t *testing.T) {
	var out bytes.Buffer
	c := &clock{at: time.Date(2026, 8, 10, 6, 0, 0, 0, time.UTC)}
	drive(command.NewProgress(&out, true, c.now), c)
	assert.Contains(t, out.String(), "rows answered")
	assert.Contains(t, out.String(), "once more with all that is known of the sites now")
	assert.NotContains(t, out.String(), "\n", "the bar stays on its line")
	left := out.String()[strings.LastIndex(strings.TrimRight(out.String(), "\r"), "\r")+1:]
	assert.Empty(t, strings.TrimSpace(left), "the bar is cleared")
}
