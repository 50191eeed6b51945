package decline

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/rootward/client/page"
	"example.org/rootward/rules/civil"
)

// textWidth is the most columns that a chart takes as text.
const textWidth = 72

// barWidth is how long the bar of the greatest number is.
const barWidth = 28

// WriteText draws a chart as lines of text, one for each count: a bar for what was
// seen, square brackets round what was expected.
func (c *Chart) WriteText(w io.Writer) error {
	var lines []string
	for _, s := range c.series() {
		lines = append(lines, c.block(s)...)
	}
	if len(c.Points) == 0 {
		lines = []string{"Nothing was counted yet."}
	} else {
		lines = append(lines, "[ ] expected from published efficacy; + at least, a part was counted")
	}
	for _, line := range lines {
		line = strings.TrimRight(page.Clean(line), " ")
		if utf8.RuneCountInString(line) > textWidth {
			line = string([]rune(line)[:textWidth-1]) + "…"
		}
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
	}
	return nil
}

// row is a line of text on its day.
type row struct {
	on   civil.Date
	text string
}

func (c *Chart) block(s series) []string {
	head := fmt.Sprintf("%s (%s)", s.name, s.unit)
	first := c.first(s)
	if first != nil {
		head += fmt.Sprintf(", %s on %s = 100 %%", number(*s.value(first)), first.On)
	}
	var rows []row
	for _, day := range c.Treated {
		rows = append(rows, row{day, fmt.Sprintf("%-10s  treated", day)})
	}
	for i := range c.Points {
		p := &c.Points[i]
		rows = append(rows, row{p.On, c.rowText(s, p, first)})
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(a.on, b.on) })
	lines := []string{head}
	for _, r := range rows {
		lines = append(lines, r.text)
	}
	return append(lines, "")
}

func (c *Chart) rowText(s series, p, first *Point) string {
	if p.Gap != "" {
		return fmt.Sprintf("%-10s  not looked enough", p.Gap)
	}
	v, band := s.value(p), s.expected(p)
	if !shown(v) {
		return fmt.Sprintf("%-10s %7s |%s|", p.On, "?", bar(0, band, c.most(s)))
	}
	count := number(*v)
	if p.Partial {
		count += "+"
	}
	text := fmt.Sprintf("%-10s %7s |%s|", p.On, count, bar(*v, band, c.most(s)))
	if first != nil && *s.value(first) > 0 {
		text += fmt.Sprintf(" %4s %%", percent(*v / *s.value(first)))
	}
	if shownBand(band) {
		text += " " + p.Verdict
	}
	return text
}

// percent writes a part of the first count; something is never written as nothing.
func percent(part float64) string {
	if part > 0 && part < 0.005 {
		return "<1"
	}
	return number(math.Round(part * 100))
}

// bar is a number as a bar; something is never drawn as nothing.
func bar(v float64, band *Band, most float64) string {
	cells := []rune(strings.Repeat(" ", barWidth))
	at := func(v float64) int { return int(math.Ceil(v / most * barWidth * (1 - 1e-9))) }
	for i := range at(v) {
		cells[i] = '#'
	}
	if shownBand(band) {
		high := max(1, at(band.High)-1)
		low := min(max(0, at(band.Low)-1), high-1)
		cells[low], cells[high] = '[', ']'
	}
	return string(cells)
}
