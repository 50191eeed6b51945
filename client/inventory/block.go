package inventory

import (
	"io"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Limits of a block, beside those of its chunk.
const (
	maxRejected  = 16_384
	maxBlockText = 8 << 20
)

// Block is consecutive rows of an inventory, the good ones in columns and ready to
// be sent. The zero value is ready to be filled; filled again, it uses its memory
// again. It may be read by another goroutine than the one that fills it, one after
// the other.
type Block struct {
	// Stems are the good rows; nil where there are none.
	Stems *treatmentv1.StemChunk

	rows     []blockRow
	text     []byte // of the rows that were read quickly
	bytes    int    // of the texts of all rows
	rejected int
	chunker  *Chunker
	again    *csvSource
	reading  row
}

// blockRow is one row of a block.
type blockRow struct {
	number   int64
	line     int
	record   *Record // nil: read quickly
	site     *knownSite
	from, to uint32 // of its text
	index    int32  // in the chunk; -1: rejected
}

// fewRows is how many rows a block can have before it makes room for as many as it may
// have, at once: growing step by step, the first blocks of a large file would be copied
// again and again.
const fewRows = 1_024

// room gives a list that is full room for one more of the rows of a block.
func room[T any](list []T) []T {
	if n := len(list); n == cap(list) && n >= fewRows && n < chunkRows {
		return slices.Grow(list, chunkRows-n)
	}
	return list
}

// Len is the number of rows.
func (b *Block) Len() int { return len(b.rows) }

// Number is the Number of the record of the row with this index, from 0.
func (b *Block) Number(i int) int64 { return b.rows[i].number }

// Line is the line of the file on which the row begins.
func (b *Block) Line(i int) int { return b.rows[i].line }

// Index is the place of the row in Stems, from 0, and -1 for a rejected row.
func (b *Block) Index(i int) int { return int(b.rows[i].index) }

// Place is the place of the row's site.
func (b *Block) Place(i int) string {
	if r := &b.rows[i]; r.record == nil {
		return r.site.place
	}
	return b.rows[i].record.Place
}

// Record is the whole row, as Reader.Next gives it. That of a row which was read
// quickly is read again, the careful way.
func (b *Block) Record(i int) *Record {
	at := &b.rows[i]
	if at.record != nil {
		return at.record
	}
	fields, err := b.again.parse(b.text[at.from:at.to])
	if err != nil {
		panic("inventory: a row that was read quickly cannot be read: " + err.Error())
	}
	e := entry{line: at.line}
	b.again.cells(&e, fields)
	b.reading.assemble(at.number, &e)
	b.reading.seen = extent{}
	return b.reading.Record
}

// Only keeps the rows of one site, and rejected rows that do not tell their site;
// empty keeps all. It holds for the blocks to come.
func (r *Reader) Only(site string) { r.only = site }

// Uncertainty is how far true positions may lie from the stated ones, in metres, in
// rows that do not state it themselves; nil: it is not known. It holds for the
// blocks to come.
func (r *Reader) Uncertainty(metres *float64) { r.uncertainty = metres }

func (r *Reader) wants(site string, rejected bool) bool {
	return r.only == "" || site == r.only || rejected && site == ""
}

// Fill reads the next rows into a block: at most 16,384 good ones, as many rejected
// ones, and 8 MiB of text. The good rows of all blocks are numbered through from 1.
// Its errors are those of Next. A Reader is either asked for records or for blocks.
func (r *Reader) Fill(b *Block) error {
	b.begin(r)
	for {
		full, err := r.fillOne(b)
		if err != nil && !(err == io.EOF && len(b.rows) > 0) {
			return err
		}
		if full || err != nil {
			break
		}
	}
	if len(b.chunker.numbers) > 0 {
		b.Stems = b.chunker.message()
	}
	r.sent += int64(len(b.chunker.numbers))
	return nil
}

func (b *Block) begin(r *Reader) {
	if b.chunker == nil {
		b.chunker = NewChunker()
	}
	b.chunker.firstRow, b.chunker.Uncertainty = r.sent+1, r.uncertainty
	b.chunker.clear()
	b.chunker.numbers = b.chunker.numbers[:0]
	clear(b.rows)
	b.rows, b.text, b.bytes, b.rejected, b.Stems = b.rows[:0], b.text[:0], 0, 0, nil
	b.reading.ofRows = r.ofRows
	if s, ok := r.source.(*csvSource); ok && b.again == nil {
		b.again = &csvSource{columns: s.columns}
	}
}

// fillOne adds the next row, or reports that there is no room for it.
func (r *Reader) fillOne(b *Block) (full bool, err error) {
	if len(b.rows) > 0 && (b.bytes >= maxBlockText || b.rejected >= maxRejected) {
		return true, nil
	}
	if r.held == nil {
		if read, full := r.fillQuickly(b); read || full {
			return full, nil
		}
		if r.held, err = r.Next(); err != nil {
			return false, err
		}
		r.learn(r.held)
	}
	record := r.held
	if r.wants(record.SiteID, record.Rejected()) && !b.add(record) {
		return true, nil
	}
	r.held = nil
	return false, nil
}

// add takes a record that was read carefully, or reports that the chunk is full.
func (b *Block) add(r *Record) bool {
	at := blockRow{number: r.Number, line: r.Line, record: r, index: -1}
	switch {
	case r.Rejected():
		b.rejected++
	case !b.chunker.Add(r):
		return false
	default:
		at.index = int32(len(b.chunker.numbers) - 1)
	}
	const record = 1_000 // bytes, about
	b.bytes += record + len(r.Remarks) + len(r.geometry)
	b.rows = append(b.rows, at)
	return true
}

// fillQuickly adds the next row if it can be read quickly and is wanted, or passes
// over it if it is not. It reports whether it has, and whether the block is full.
func (r *Reader) fillQuickly(b *Block) (read, full bool) {
	s, ok := r.source.(*csvSource)
	if !ok {
		return false, false
	}
	if r.quick == nil {
		r.quick = newQuick(s.columns, &r.row.seen, &r.ids)
	}
	q := r.quick
	q.whole = false
	line, taken := s.lines.plain()
	if taken == 0 {
		return false, false
	}
	site := q.read(line)
	if site == nil {
		return false, false
	}
	number := r.rows + 1
	if r.wants(site.id, false) && !b.addQuickly(q, site, line, number, r.line(number, s.lines.line+1)) {
		return false, true
	}
	if number <= maxIDs {
		r.ids.add(q.hash, r.line(number, s.lines.line+1))
	}
	r.rows = number
	s.lines.takeLine(taken)
	return true, false
}

func (b *Block) addQuickly(q *quick, site *knownSite, line []byte, number int64, at int) bool {
	row := &q.row
	row.locate(b.chunker.Uncertainty)
	row.staged.site, row.staged.species, row.staged.id = site.id, q.species.of(row.species), row.id
	if !b.chunker.add(&row.staged, number) {
		return false
	}
	from := len(b.text)
	if n := len(b.rows); n >= fewRows && from+len(line) > cap(b.text) {
		// As much as the rows to come take if they are as long, and a sixteenth.
		b.text = slices.Grow(b.text, min(maxBlockText, max(0, chunkRows-n)*(from/n)*17/16)+longest)
	}
	b.text = append(b.text, line...)
	b.bytes += len(line)
	b.rows = append(room(b.rows), blockRow{number: number, line: at, site: site, from: uint32(from), to: uint32(len(b.text)), index: int32(len(b.chunker.numbers) - 1)})
	return true
}

// learn remembers how a good record states its site.
func (r *Reader) learn(record *Record) {
	if q := r.quick; q != nil && q.whole && !record.Rejected() {
		q.known.learn(q.key, record.SiteID, record.Place)
	}
}
