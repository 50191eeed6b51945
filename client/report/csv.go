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
// each record. The caller flushes it. A writer that lends an AvailableBuffer, as those of
// bufio do, must not be written to by anybody else until then.
type CSV struct {
	out   io.Writer
	buf   []byte
	lent  bool // the buffer, by the writer
	most  int  // bytes in it, before they are written
	parts []part
	texts map[sharing]*sharedText
	near  []nearText // by the explanation's number in the answer at hand
	bytes int        // of the texts
	doses doseCells  // of the answer at hand
	names wordCells  // of the answer at hand
	at    rowAt
	err   error

	pieces knownPieces // whose texts explanations share

	explanations *CSV // where what rows share is written once; nil: it stands in each row
	last         int64
}

// part is columns that follow each other and whose values follow from the same.
type part struct {
	columns []Column
	origin
}

// nearText is the text that was found last for an explanation.
type nearText struct {
	of   sharing
	text *sharedText
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

// NewCSV writes the header of a table with columns from Columns, in their order.
func NewCSV(w io.Writer, columns []Column) (*CSV, error) {
	c := &CSV{out: w, parts: partsOf(columns), pieces: knownPieces{}}
	c.begin()
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
	e := &CSV{out: explanations, parts: partsOf(append([]Column{explanationColumn}, shared...)), pieces: knownPieces{}}
	c := &CSV{out: rows, parts: partsOf(append(own, explanationColumn)), explanations: e}
	c.begin()
	e.begin()
	if err := e.header(); err != nil {
		return nil, err
	}
	return c, c.header()
}

// explanationColumn is written apart from the others.
var explanationColumn = Column{Name: "explanation", Meaning: "number of the explanation in the table of explanations", origin: origin{explained: true}}

// isKept tells the explained columns that a compact table of rows has too.
func isKept(name string) bool {
	return name == outcomeName || name == "method" || name == "formulation_id"
}

func partsOf(columns []Column) []part {
	var parts []part
	for i, c := range columns {
		if i == 0 || c.origin != columns[i-1].origin {
			parts = append(parts, part{origin: c.origin})
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
	c.doses.clear(len(a.Answer.GetStems()))
	c.names.clear()
	clear(c.near)
	c.near = slices.Grow(c.near[:0], len(a.Explanations))[:len(a.Explanations)]
	r := &c.at
	r.begin(a)
	for i := range a.Len() {
		r.moveTo(i)
		c.rowAt(r)
	}
	*r = rowAt{cells: r.cells}
	return c.err
}

func (c *CSV) rowAt(r *rowAt) {
	shared := c.sharedBy(r)
	b := c.buf
	for i := range c.parts {
		p := &c.parts[i]
		switch {
		case p.explained:
			b = append(b, shared.parts[i]...)
		case p.dosed:
			b = append(b, c.dose(p, r)...)
		case p.worded && r.index >= 0:
			b = append(b, c.words(p, r)...)
		case p.rare && !r.isRare():
			b = append(b, blank[:len(p.columns)]...)
		default:
			b = p.append(b, r)
		}
	}
	c.buf = b
	c.endRecord()
}

// sharedBy gives the cells of the row's explained columns.
func (c *CSV) sharedBy(r *rowAt) *sharedText {
	of := sharing{outcome: r.outcome, second: r.second != nil}
	if of.outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
		return c.shared(of)
	}
	e := r.Answer.Explanation[r.index]
	of.explanation = r.Explanations[e]
	if near := &c.near[e]; near.text == nil || near.of != of {
		text := c.shared(of)
		*near = nearText{of, text}
	}
	return c.near[e].text
}

// dose gives the cells of the row's dose, which many rows of an answer share.
func (c *CSV) dose(p *part, r *rowAt) []byte {
	at := r.dose()
	if at < 0 {
		return blank[:len(p.columns)]
	}
	if c.doses.places[at].to == 0 {
		from := len(c.doses.text)
		c.doses.text = p.append(c.doses.text, r)
		c.doses.places[at] = span{from, len(c.doses.text)}
	}
	place := c.doses.places[at]
	return c.doses.text[place.from:place.to]
}

// doseCells are the cells of doses, once they are written.
type doseCells struct {
	text   []byte
	places []span // in the text, by the dose
}

type span struct{ from, to int }

// clear makes room for so many doses.
func (d *doseCells) clear(doses int) {
	clear(d.places)
	d.text, d.places = d.text[:0], slices.Grow(d.places[:0], doses)[:doses]
}

// words gives the cells of the row's site, species and form, which rows repeat.
func (c *CSV) words(p *part, r *rowAt) []byte {
	key := r.wordsKey()
	at := &c.names.places[scattered(key)]
	if at.key != key || at.to == 0 {
		from := len(c.names.text)
		c.names.text = p.append(c.names.text, r)
		*at = wordCell{key, span{from, len(c.names.text)}}
	}
	return c.names.text[at.from:at.to]
}

// wordCells are cells of words, those that were written last.
type wordCells struct {
	text   []byte
	places [256]wordCell // in the text
}

// scattered is a place among 256, far apart for numbers that are near (Fibonacci hashing:
// the factor is 2^64 by the golden ratio).
func scattered(v uint64) uint8 { return uint8(v * 0x9E3779B97F4A7C15 >> 56) }

type wordCell struct {
	key uint64
	span
}

func (w *wordCells) clear() {
	w.text = w.text[:0]
	clear(w.places[:])
}

// blank is as many empty cells as there can be.
var blank = bytes.Repeat([]byte{','}, len(columns))

func (p *part) append(b []byte, r *rowAt) []byte {
	for k := range p.columns {
		b = append(p.columns[k].append(b, r), ',')
	}
	return b
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
		clear(c.near)
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
			text.parts[i] = p.text(nil, r, text.number, c.pieces)
			c.bytes += len(text.parts[i])
		}
	}
	return text
}

// text appends the cells of explained columns, with a comma behind each.
func (p *part) text(b []byte, r *client.Row, number int64, known knownPieces) []byte {
	for i := range p.columns {
		switch column := &p.columns[i]; {
		case column.value == nil:
			b = strconv.AppendInt(b, number, 10)
		case column.pieces != nil:
			b = appendCell(b, column.pieces(r, known))
		default:
			b = appendCell(b, column.value(r))
		}
		b = append(b, ',')
	}
	return b
}

// explain writes a record of the table of explanations.
func (c *CSV) explain(r *client.Row, number int64) {
	for i := range c.parts {
		c.buf = c.parts[i].text(c.buf, r, number, c.pieces)
	}
	c.endRecord()
}

// endRecord ends the record that is in the buffer with a line feed for the last
// comma, and writes when there is much.
func (c *CSV) endRecord() {
	c.buf[len(c.buf)-1] = '\n'
	if len(c.buf) >= c.most {
		c.write()
		c.begin()
	}
}

// begin empties the buffer, or takes one of the writer's, where nothing has to be copied.
func (c *CSV) begin() {
	const record = 32 << 10 // longer than most
	c.most = writeBytes
	if w, ok := c.out.(interface{ AvailableBuffer() []byte }); ok {
		if lent := w.AvailableBuffer(); cap(lent) > 2*record {
			c.buf, c.lent, c.most = lent, true, cap(lent)-record
			return
		}
	}
	if c.lent {
		c.buf, c.lent = nil, false
	}
	c.buf = c.buf[:0]
}

func (c *CSV) write() {
	if c.err == nil {
		_, c.err = c.out.Write(c.buf)
	}
}

// Flush writes what is still held back, and gives the first error of all writes.
func (c *CSV) Flush() error {
	c.write()
	c.buf = nil
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
func appendText[T string | []byte](b []byte, text T) []byte {
	if isBare(text) {
		return append(b, text...)
	}
	s := harmless(string(text))
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

// isBare tells most of the texts that are written as they are, and no other.
func isBare[T string | []byte](s T) bool {
	if len(s) == 0 || !bareAtFirst[s[0]] {
		return false
	}
	for i := range len(s) {
		if !bare[s[i]] {
			return false
		}
	}
	return true
}

// bare are characters without a meaning to a reader of tables, of those in ASCII;
// bareAtFirst those which have none where they begin a cell.
var bare, bareAtFirst = func() (inside, first [256]bool) {
	for b := byte(' '); b <= '~'; b++ {
		inside[b] = b != ',' && b != '"'
		first[b] = inside[b] && strings.IndexByte(` =+-@\`, b) < 0
	}
	return inside, first
}()

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
