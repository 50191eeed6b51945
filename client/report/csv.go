package report

import (
	"bytes"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
)

// CSV writes the result as a table with a header: UTF-8, commas, a line feed after
// each record. The caller flushes it.
type CSV struct {
	out   io.Writer
	buf   []byte
	parts []part
	texts map[sharing]*sharedText
	bytes int      // of the texts
	doses [][]byte // cells of the doses of the answer at hand, once they are written
	err   error

	explanations *CSV // where what rows share is written once; nil: it stands in each row
	last         int64
}

// part is columns that follow each other, all explained, all of the dose, or neither.
type part struct {
	columns          []Column
	explained, dosed bool
}

// sharing is what rows have in common that have the same explained columns.
type sharing struct {
	explanation *treatmentv1.Explanation
	outcome     treatmentv1.Outcome
	second      bool
}

// sharedText is the cells of explained columns, as they are written.
type sharedText struct {
	parts  [][]byte // by the part
	number int64    // in the table of explanations
}

const (
	writeBytes = 256 << 10
	// maxTexts bounds the cells that are kept to be written again.
	maxTexts = 64 << 20
)

// NewCSV writes the header.
func NewCSV(w io.Writer) (*CSV, error) {
	c := &CSV{out: w, parts: partsOf(columns)}
	return c, c.header()
}

// NewCompactCSV writes the headers of two tables: one of the rows, and one of what
// rows share, each of which has a number that the rows refer to.
func NewCompactCSV(rows, explanations io.Writer) (*CSV, error) {
	var own, shared []Column
	for _, c := range columns {
		if c.explained {
			shared = append(shared, c)
		}
		if !c.explained || isKept(c.Name) {
			own = append(own, c)
		}
	}
	e := &CSV{out: explanations, parts: partsOf(append([]Column{explanationColumn}, shared...))}
	c := &CSV{out: rows, parts: partsOf(append(own, explanationColumn)), explanations: e}
	if err := e.header(); err != nil {
		return nil, err
	}
	return c, c.header()
}

// explanationColumn is written apart from the others.
var explanationColumn = Column{Name: "explanation", Meaning: "number of the explanation in the table of explanations", explained: true}

// isKept tells the explained columns that a compact table of rows has too.
func isKept(name string) bool {
	return name == "outcome" || name == "method" || name == "formulation_id"
}

func partsOf(columns []Column) []part {
	var parts []part
	for i, c := range columns {
		if i == 0 || c.explained != columns[i-1].explained || c.dosed != columns[i-1].dosed {
			parts = append(parts, part{explained: c.explained, dosed: c.dosed})
		}
		last := &parts[len(parts)-1]
		last.columns = append(last.columns, c)
	}
	return parts
}

func (c *CSV) header() error {
	for _, p := range c.parts {
		for _, column := range p.columns {
			c.buf = append(appendText(c.buf, column.Name), ',')
		}
	}
	c.endRecord()
	return c.err
}

// Row writes the record of one row.
func (c *CSV) Row(r *client.Row) error {
	shared := c.shared(sharing{r.Explanation, r.Outcome, r.Second != nil})
	for i := range c.parts {
		p := &c.parts[i]
		if p.explained {
			c.buf = append(c.buf, shared.parts[i]...)
			continue
		}
		for k := range p.columns {
			c.buf = append(appendCell(c.buf, p.columns[k].value(r)), ',')
		}
	}
	c.endRecord()
	return c.err
}

// Rows writes the records of many rows.
func (c *CSV) Rows(a *client.Answered) error {
	clear(c.doses)
	c.doses = slices.Grow(c.doses[:0], len(a.Answer.GetStems()))[:len(a.Answer.GetStems())]
	for i := range a.Len() {
		c.rowAt(&rowAt{Answered: a, i: i, index: a.Block.Index(i)})
	}
	return c.err
}

func (c *CSV) rowAt(r *rowAt) {
	shared := c.shared(sharingOf(r))
	for i := range c.parts {
		p := &c.parts[i]
		switch {
		case p.explained:
			c.buf = append(c.buf, shared.parts[i]...)
		case p.dosed:
			c.buf = append(c.buf, c.dose(p, r)...)
		default:
			c.buf = p.append(c.buf, r)
		}
	}
	c.endRecord()
}

// dose gives the cells of the row's dose, which many rows of an answer share.
func (c *CSV) dose(p *part, r *rowAt) []byte {
	at := r.dose()
	if at < 0 {
		return blank[:len(p.columns)]
	}
	if c.doses[at] == nil {
		c.doses[at] = p.append(nil, r)
	}
	return c.doses[at]
}

// blank is as many empty cells as there can be.
var blank = bytes.Repeat([]byte{','}, len(columns))

func (p *part) append(b []byte, r *rowAt) []byte {
	for k := range p.columns {
		b = append(p.columns[k].append(b, r), ',')
	}
	return b
}

func sharingOf(r *rowAt) sharing {
	s := sharing{outcome: r.Outcome(r.i), second: r.Second(r.i) != nil}
	if s.outcome != treatmentv1.Outcome_OUTCOME_REJECTED {
		s.explanation = r.Explanations[r.Answer.Explanation[r.index]]
	}
	return s
}

func (c *Column) append(b []byte, r *rowAt) []byte {
	if c.quick != nil {
		if b, ok := c.quick(b, r); ok {
			return b
		}
	}
	return appendCell(b, c.value(r.whole()))
}

// shared gives the cells of explained columns, which many rows repeat.
func (c *CSV) shared(of sharing) *sharedText {
	if known := c.texts[of]; known != nil {
		return known
	}
	if c.texts == nil || c.bytes > maxTexts {
		c.texts, c.bytes = map[sharing]*sharedText{}, 0
	}
	text := c.textOf(of)
	const explanation = 4 << 10 // bytes, about, that are kept with the text
	c.texts[of], c.bytes = text, c.bytes+explanation
	return text
}

func (c *CSV) textOf(of sharing) *sharedText {
	r := &client.Row{Outcome: of.outcome, Explanation: of.explanation}
	if of.second {
		r.Second = &treatmentv1.Dose{}
	}
	text := &sharedText{parts: make([][]byte, len(c.parts))}
	if c.explanations != nil {
		c.last++
		text.number = c.last
		c.explanations.explain(r, text.number)
	}
	for i, p := range c.parts {
		if p.explained {
			text.parts[i] = p.text(r, text.number)
			c.bytes += len(text.parts[i])
		}
	}
	return text
}

// text gives the cells of explained columns, with a comma behind each.
func (p *part) text(r *client.Row, number int64) []byte {
	var b []byte
	for _, column := range p.columns {
		if column.value == nil {
			b = strconv.AppendInt(b, number, 10)
		} else {
			b = appendCell(b, column.value(r))
		}
		b = append(b, ',')
	}
	return b
}

// explain writes a record of the table of explanations.
func (c *CSV) explain(r *client.Row, number int64) {
	for i := range c.parts {
		c.buf = append(c.buf, c.parts[i].text(r, number)...)
	}
	c.endRecord()
}

// endRecord ends the record that is in the buffer with a line feed for the last
// comma, and writes when there is much.
func (c *CSV) endRecord() {
	c.buf[len(c.buf)-1] = '\n'
	if len(c.buf) >= writeBytes {
		c.write()
	}
}

func (c *CSV) write() {
	if c.err == nil {
		_, c.err = c.out.Write(c.buf)
	}
	c.buf = c.buf[:0]
}

// Flush writes what is still held back, and gives the first error of all writes.
func (c *CSV) Flush() error {
	c.write()
	if c.err == nil && c.explanations != nil {
		return c.explanations.Flush()
	}
	return c.err
}

// listSeparator stands between the entries of a list within one cell; the entries
// hold commas and semicolons of their own.
const listSeparator = " | "

func appendCell(b []byte, value any) []byte {
	switch v := value.(type) {
	case string:
		return appendText(b, v)
	case []string:
		return appendText(b, strings.Join(v, listSeparator))
	case int64:
		return strconv.AppendInt(b, v, 10)
	case float64:
		return appendDecimal(b, v)
	}
	return b
}

// appendText appends a text, between quotes where RFC 4180 or a reader needs them.
func appendText(b []byte, s string) []byte {
	s = harmless(s)
	if !needsQuotes(s) {
		return append(b, s...)
	}
	b = append(b, '"')
	for {
		quote := strings.IndexByte(s, '"')
		if quote < 0 {
			break
		}
		b = append(append(b, s[:quote+1]...), '"')
		s = s[quote+1:]
	}
	return append(append(b, s...), '"')
}

// needsQuotes agrees with the writer of encoding/csv.
func needsQuotes(s string) bool {
	if s == "" {
		return false
	}
	if s == `\.` || strings.ContainsAny(s, ",\"\r\n") {
		return true
	}
	first, _ := utf8.DecodeRuneInString(s)
	return unicode.IsSpace(first)
}

// decimal writes a number with its shortest digits that read back as the same.
func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// harmless keeps a spreadsheet from taking a text for a formula, which it would
// run: such a text gets an apostrophe in front.
func harmless(s string) string {
	if s != "" && strings.IndexByte("=+-@\t\r\n", s[0]) >= 0 {
		return "'" + s
	}
	return s
}
