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
	// Message is the good rows as an encoded StemChunk, in pieces that follow each other;
	// empty where there are none.
	Message [][]byte
	// FirstRow is the number of the first good row in the stream.
	FirstRow int64
	// Sites are those that no block before had a row of, in the order in which they
	// appear, with what the rows read up to now say of them.
	Sites []*treatmentv1.Site
	// FileRows is how many rows the file has, as Reader.Rows tells by now.
	FileRows int64

	rows     []blockRow
	records  []*Record    // of the rows that were read carefully
	sites    []*knownSite // of the others, each as often as it begins
	text     []byte       // of the rows that were read quickly
	bytes    int          // of the texts of all rows
	rejected int
	chunker  *Chunker
	again    *csvSource
	reading  row
}

// blockRow is one row of a block. It is kept small: what is kept of rows is written by
// one processor and read by another.
type blockRow struct {
	number int64
	line   int64
	end    uint32 // of its text, which begins where the one before ends
	of     int32  // the place of its site, or the complement of its record's
	index  int32  // in the chunk; -1: rejected
}

// fewRows is how many rows a block can have before it makes room for as many as it may
// have, at once: growing step by step, the first blocks of a large file would be copied
// again and again.
const fewRows = 1_024

// more adds so many to a list of the rows of a block, to be filled in: copied from where
// they were put together they would wait until all that was written before is in the cache.
func more[T any](list *[]T, rows int) []T {
	n := len(*list)
	if n+rows > cap(*list) {
		room := rows
		if n >= fewRows {
			room = max(rows, chunkRows-n)
		}
		*list = slices.Grow(*list, room)
	}
	*list = (*list)[:n+rows]
	return (*list)[n:]
}

// Len is the number of rows.
func (b *Block) Len() int { return len(b.rows) }

// Number is the Number of the record of the row with this index, from 0.
func (b *Block) Number(i int) int64 { return b.rows[i].number }

// Line is the line of the file on which the row begins.
func (b *Block) Line(i int) int { return int(b.rows[i].line) }

// Index is the place of the row among those of the message, from 0, and -1 for a rejected
// row.
func (b *Block) Index(i int) int { return int(b.rows[i].index) }

// Good is the number of rows that are not rejected.
func (b *Block) Good() int { return len(b.chunker.stems) }

// Stem is what is kept at hand of the good row with this index.
func (b *Block) Stem(index int) *Stem { return &b.chunker.stems[index] }

// ID is the id of the good row with this index. It belongs to the block.
func (b *Block) ID(index int) []byte {
	from := uint32(0)
	if index > 0 {
		from = b.chunker.idEnds[index-1]
	}
	return b.chunker.ids[from:b.chunker.idEnds[index]]
}

// Words are the sites and species of the good rows.
func (b *Block) Words() []string { return b.chunker.words }

// Place is the place of the row's site.
func (b *Block) Place(i int) string {
	if of := b.rows[i].of; of >= 0 {
		return b.sites[of].place
	}
	return b.Record(i).Place
}

// Record is the whole row, as Reader.Next gives it. That of a row which was read
// quickly is read again, the careful way.
func (b *Block) Record(i int) *Record {
	at := &b.rows[i]
	if at.of < 0 {
		return b.records[^at.of]
	}
	from := uint32(0)
	if i > 0 {
		from = b.rows[i-1].end
	}
	fields, err := b.again.parse(b.text[from:at.end])
	if err != nil {
		panic("inventory: a row that was read quickly cannot be read: " + err.Error())
	}
	e := entry{line: int(at.line)}
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
	if b.Good() > 0 {
		b.Message = b.chunker.message()
	}
	b.Sites, b.FileRows = r.sites.give(), r.Rows()
	r.sent += int64(b.Good())
	return nil
}

func (b *Block) begin(r *Reader) {
	if b.chunker == nil {
		b.chunker = NewChunker()
	}
	b.FirstRow = r.sent + 1
	b.chunker.firstRow, b.chunker.Uncertainty = b.FirstRow, r.uncertainty
	b.chunker.clear()
	clear(b.records)
	clear(b.sites)
	b.rows, b.records, b.sites = b.rows[:0], b.records[:0], b.sites[:0]
	b.text, b.bytes, b.rejected, b.Message = b.text[:0], 0, 0, nil
	b.reading.ofRows = r.ofRows
	if s, ok := r.source.(*csvSource); ok && b.again == nil {
		b.again = &csvSource{columns: s.columns}
	}
}

func (b *Block) isFull() bool {
	return len(b.rows) > 0 && (b.bytes >= maxBlockText || b.rejected >= maxRejected)
}

// fillOne adds the next rows, the last one read carefully, or reports that there is no
// room for them.
func (r *Reader) fillOne(b *Block) (full bool, err error) {
	if r.held == nil && r.fillQuickly(b) || b.isFull() {
		return true, nil
	}
	if r.held == nil {
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
	at := blockRow{number: r.Number, line: int64(r.Line), end: uint32(len(b.text)), of: ^int32(len(b.records)), index: -1}
	switch {
	case r.Rejected():
		b.rejected++
	case !b.chunker.addRecord(r):
		return false
	default:
		at.index = int32(b.Good() - 1)
	}
	b.records = append(b.records, r)
	const record = 1_000 // bytes, about
	b.bytes += record + len(r.Remarks) + len(r.geometry)
	b.rows = append(b.rows, at)
	return true
}

// fillQuickly adds the next rows, as far as they can be read quickly, and passes over
// those that are not wanted. It reports whether the block is full.
func (r *Reader) fillQuickly(b *Block) (full bool) {
	s, ok := r.source.(*csvSource)
	if !ok {
		return false
	}
	if r.quick == nil {
		r.quick = newQuick(s.columns, &r.row.seen, &r.ids)
	}
	q := r.quick
	q.whole = false
	for !b.isFull() {
		text := s.lines.ahead(roomBehind)
		if text == nil {
			return false
		}
		q.line.cut(text)
		good := q.read(b.chunker.Uncertainty)
		n, wanted := r.wanted(q, good)
		if wanted && n > 0 {
			if n = b.most(q, n); n == 0 {
				return true
			}
		}
		q.keep(n)
		if wanted && n > 0 && !b.chunker.fits(q, n) {
			if n == 1 {
				return true
			}
			q.line.most = (n + 1) / 2
			continue
		}
		number := r.rows + 1
		line := r.line(number, s.lines.line+1)
		taken := q.admit(n, number, line)
		q.keep(taken)
		if wanted && taken > 0 {
			b.addQuickly(q, taken, number, int64(line))
		}
		r.rows += int64(taken)
		s.lines.pass(q.line.end(taken), taken)
		if taken < n || n == good && good < q.line.n || q.line.n == 0 {
			const least = 8
			q.line.most = max(least, taken)
			q.whole = q.keyOf == taken
			return false
		}
		q.line.most = min(2*q.line.most, linesAtOnce)
	}
	return true
}

// wanted tells whether the first lines are, and how many of the first n those are.
func (r *Reader) wanted(q *quick, n int) (same int, are bool) {
	if r.only == "" || n == 0 {
		return n, true
	}
	are = q.site[0].id == r.only
	for same < n && (q.site[same].id == r.only) == are {
		same++
	}
	return same, are
}

// most is how many of the first n lines there is room for.
func (b *Block) most(q *quick, n int) int {
	n = min(n, chunkRows-b.Good())
	if b.bytes+q.line.end(n) < maxBlockText {
		return n
	}
	bytes := b.bytes
	for i := range n {
		if bytes >= maxBlockText && len(b.rows)+i > 0 {
			return i
		}
		bytes += q.line.length(i)
	}
	return n
}

// addQuickly takes the first n lines, whose rows are those from a number on and stand on the
// lines from another on.
func (b *Block) addQuickly(q *quick, n int, number, at int64) {
	first, begin := b.Good(), len(b.text)
	b.chunker.addQuickly(q, n)
	text := q.line.text[:q.line.end(n)]
	if rows := len(b.rows); rows >= fewRows && begin+len(text) > cap(b.text) {
		// As much as the rows to come take if they are as long, and a sixteenth.
		b.text = slices.Grow(b.text, min(maxBlockText, max(0, chunkRows-rows)*(begin/rows)*17/16)+linesAtOnce*longest)
	}
	b.text = append(b.text, text...)
	rows := more(&b.rows, n)
	for i := range rows {
		if k := len(b.sites); k == 0 || b.sites[k-1] != q.site[i] {
			b.sites = append(b.sites, q.site[i])
		}
		row := &rows[i]
		row.number, row.line, row.index = number+int64(i), at+int64(i), int32(first+i)
		row.end, row.of = uint32(begin+q.line.end(i+1)), int32(len(b.sites)-1)
		b.bytes += q.line.length(i)
	}
}

// learn remembers how a good record states its site.
func (r *Reader) learn(record *Record) {
	if q := r.quick; q != nil && q.whole && !record.Rejected() {
		q.known.learn(q.key, record.SiteID, record.Place)
	}
}
