package inventory

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/bits"
	"unicode/utf8"
)

// quick reads rows that need no care: every cell as plain as can be, nothing
// missing, nothing new about a site. It takes such a row into the columns of a
// chunk as the strict reading does, and leaves any other row to it. What a column
// takes stands in the column's own quick reader, which is made from the same limits
// as the strict one.
type quick struct {
	fields  []quickField // that are read
	sites   []quickField // that are about the site
	cuts    []int        // ends of the fields of a line, behind a place before the line
	columns int
	quoted  bool // the line at hand has quotes
	key     []byte
	whole   bool // the key is that of the whole line
	known   knownSites
	near    nearSite
	species knownNames
	hash    uint64  // of the row's id
	seen    *extent // of the strict reading
	ids     *idSet  // of the strict reading
	row     quickRow
	line    []byte // that had no room behind it
}

// quickField is a field of which something is wanted.
type quickField struct {
	at      int // in the line
	column  *Column
	texts   *remembered // nil: its texts are not remembered
	alone   bool        // no other field fills the same column of a chunk
	ofWater bool        // it says something of a distance that another field states
}

// nearSite is what a line says from the first field about its site to the last, and
// the site. Rows of a site follow each other.
type nearSite struct {
	text   []byte
	site   *knownSite // nil: none is remembered
	stated uint64     // required columns
}

// quickRow is the row at hand.
type quickRow struct {
	staged
	stated      uint64 // required columns, by their order
	ofWater     bool   // something is said of a distance to water
	id, species []byte // of the row at hand

	placed      int        // halves of a position
	position    [2]float64 // latitude and longitude
	halfUnits   [2]float64 // of their last decimals
	uncertainty float64    // metres; 0: not stated
}

// longest is how long a line is that is read quickly: each of its fields is then
// short enough.
const longest = 4 << 10

func newQuick(columns []*Column, seen *extent, ids *idSet) *quick {
	q := &quick{columns: len(columns), cuts: make([]int, 1+len(columns)+cutsAhead), seen: seen, ids: ids}
	q.cuts[0] = -1
	for i, c := range columns {
		switch {
		case c == nil || c.unread:
		case c.site:
			q.sites = append(q.sites, quickField{at: i, column: c})
		default:
			f := quickField{at: i, column: c}
			if c.plain != nil {
				f.texts = &remembered{}
				f.ofWater = isOfWater(c.into)
				f.alone = count(columns, func(other *Column) bool { return other.plain != nil && other.into == c.into }) == 1
			}
			q.fields = append(q.fields, f)
		}
	}
	return q
}

func count(columns []*Column, is func(*Column) bool) (n int) {
	for _, c := range columns {
		if c != nil && is(c) {
			n++
		}
	}
	return n
}

// read gives the known site of a row whose line it has read, and nil where the row
// is not to be read quickly. The line comes without its line end.
func (q *quick) read(line []byte) *knownSite {
	q.row.reset()
	q.whole = false
	if len(line) > longest || !q.split(line) {
		return nil
	}
	if cap(line) < len(line)+longestRemembered {
		q.line = append(append(q.line[:0], line...), make([]byte, longestRemembered)...)
		line = q.line[:len(line)]
	}
	r := &q.row
	for i := range q.fields {
		f := &q.fields[i]
		from, to := q.cuts[f.at]+1, q.cuts[f.at+1]
		if from == to {
			continue
		}
		text := line[from:to]
		if q.quoted {
			text = unquoted(text)
		}
		if f.texts == nil || len(text) > longestRemembered || len(text) == 0 {
			if !f.read(r, text) {
				return nil
			}
			continue
		}
		v, known := f.texts.find(text)
		if !known && !v.read(f.column, text) || !f.put(r, v) {
			return nil
		}
	}
	site := q.site(line)
	if site == nil || !q.check() {
		return nil
	}
	return site
}

// read takes a cell whose text is not remembered, or reports that it needs care.
func (f *quickField) read(r *quickRow, text []byte) bool {
	c := f.column
	switch {
	case len(text) == 0:
		return false // a quoted blank
	case c.plain == nil:
		r.stated |= c.bit
		return !isSpaced(text) && c.quick != nil && c.quick(r, text)
	}
	var v cellValue
	return v.read(c, text) && f.put(r, &v)
}

// put states a value, and reports false for the second one of a column of the chunk.
func (f *quickField) put(r *quickRow, v *cellValue) bool {
	c := f.column
	r.stated |= c.bit
	r.ofWater = r.ofWater || f.ofWater
	switch {
	case c.into == nowhere:
		return true
	case !f.alone && r.filled.holds(c.into):
		return false
	}
	r.staged.put(c.into, v.value, v.encoding, v.size, int(v.size))
	return true
}

// read remembers what a text comes to, or reports that it needs care.
func (v *cellValue) read(c *Column, text []byte) (ok bool) {
	if isSpaced(text) {
		return false
	}
	if v.value, ok = c.plain(text); ok {
		if c.into != nowhere {
			v.encoding, v.size = encoded(c.into, v.value)
		}
		v.length = uint8(min(len(text), longestRemembered+1))
	}
	return ok
}

// site finds the site of a line; nil: it is not known, or needs care.
func (q *quick) site(line []byte) *knownSite {
	if len(q.sites) == 0 {
		return nil
	}
	r := &q.row
	about := line[q.cuts[q.sites[0].at]+1 : q.cuts[q.sites[len(q.sites)-1].at+1]]
	if near := &q.near; near.site != nil && bytes.Equal(about, near.text) {
		r.stated |= near.stated
		return near.site
	}
	stated := uint64(0)
	q.key = q.key[:0]
	for _, f := range q.sites {
		text := line[q.cuts[f.at]+1 : q.cuts[f.at+1]]
		if len(text) == 0 {
			continue
		}
		if text = unquoted(text); isSpaced(text) {
			return nil
		}
		stated |= f.column.bit
		q.key = appendKey(q.key, f.at, text)
	}
	r.stated |= stated
	q.whole = true
	site := q.known.find(q.key)
	q.near = nearSite{append(q.near.text[:0], about...), site, stated}
	return site
}

// check sees to what holds between the cells of a row, and between rows.
func (q *quick) check() bool {
	r := &q.row
	if r.stated != allRequired || r.placed == 1 || !r.watersAreStated() {
		return false
	}
	if q.hash = hashOf(r.id); q.ids.has(q.hash) {
		return false
	}
	return r.placed != 2 || q.seen.admit(position{lat: r.position[0], lon: r.position[1]}) == nil
}

// cutsAhead is how many more places than there are fields are written to.
const cutsAhead = 64 + 4

// split finds the ends of the fields, and reports whether there are as many as
// columns, in UTF-8. Quotes are looked through only where they enclose a whole field.
func (q *quick) split(line []byte) bool {
	if q.quoted = bytes.IndexByte(line, '"') >= 0; q.quoted {
		return utf8.Valid(line) && q.splitQuoted(line)
	}
	if !isASCII(line) {
		return utf8.Valid(line) && q.splitQuoted(line)
	}
	n, last, at := 1, q.columns, 0
	for ; at < len(line) && n <= last; at += 64 {
		var commas uint64 // a bit for each of 64 bytes
		rest := line[at:]
		if len(rest) >= 64 {
			block := rest[:64]
			for i := 0; i < 64; i += 8 {
				word := binary.LittleEndian.Uint64(block[i:])
				commas |= gathered(commasIn(word)) << i
			}
		} else {
			i := 0
			for ; i+8 <= len(rest); i += 8 {
				word := binary.LittleEndian.Uint64(rest[i:])
				commas |= gathered(commasIn(word)) << i
			}
			for ; i < len(rest); i++ {
				if rest[i] == ',' {
					commas |= 1 << i
				}
			}
		}
		found := bits.OnesCount64(commas)
		// Four at a time, whether there are as many or not: how many there are
		// nothing foretells.
		for i := n; i < n+found; i += 4 {
			four := q.cuts[i : i+4 : i+4]
			four[0] = at + bits.TrailingZeros64(commas)
			commas &= commas - 1
			four[1] = at + bits.TrailingZeros64(commas)
			commas &= commas - 1
			four[2] = at + bits.TrailingZeros64(commas)
			commas &= commas - 1
			four[3] = at + bits.TrailingZeros64(commas)
			commas &= commas - 1
		}
		n += found
	}
	if n != last {
		return false
	}
	q.cuts[last] = len(line)
	return true
}

// isASCII tells a text without a byte whose highest bit is set.
func isASCII(text []byte) bool {
	const highest = 0x8080808080808080
	var all uint64
	for ; len(text) >= 32; text = text[32:] {
		four := text[:32]
		all |= binary.LittleEndian.Uint64(four) | binary.LittleEndian.Uint64(four[8:]) |
			binary.LittleEndian.Uint64(four[16:]) | binary.LittleEndian.Uint64(four[24:])
	}
	for ; len(text) >= 8; text = text[8:] {
		all |= binary.LittleEndian.Uint64(text)
	}
	for _, b := range text {
		all |= uint64(b)
	}
	return all&highest == 0
}

// commasIn sets the highest bit of each of eight bytes of ASCII that is a comma, and no
// other: added to the largest of them, any but zero carries into it.
func commasIn(word uint64) uint64 {
	const commas, low = 0x2C2C2C2C2C2C2C2C, 0x7F7F7F7F7F7F7F7F
	return ^((word ^ commas) + low) &^ low
}

// gathered puts the highest bits of eight bytes into the lowest byte, the first byte's
// at the bottom: each is brought to its place at the top by one bit of the factor.
func gathered(highest uint64) uint64 {
	return highest >> 7 * 0x0102040810204080 >> 56
}

func (q *quick) splitQuoted(line []byte) bool {
	return splitQuoted(line, q.cuts[1:1+q.columns])
}

// splitQuoted finds the ends of the fields of a line with quotes.
func splitQuoted(line []byte, ends []int) bool {
	at := 0
	for n := range ends {
		if at > len(line) {
			return false
		}
		end := fieldEnd(line, at)
		if end < 0 {
			return false
		}
		ends[n], at = end, end+1
	}
	return at == len(line)+1
}

// fieldEnd is the end of the field that begins at a place of a line, and -1 where
// its quotes need care.
func fieldEnd(line []byte, at int) int {
	from := at
	if at < len(line) && line[at] == '"' {
		closing := bytes.IndexByte(line[at+1:], '"')
		if closing < 0 {
			return -1
		}
		from = at + 1 + closing + 1
		if from < len(line) && line[from] != ',' {
			return -1
		}
	}
	end := bytes.IndexByte(line[from:], ',')
	if end < 0 {
		end = len(line) - from
	}
	if from == at && bytes.IndexByte(line[from:from+end], '"') >= 0 {
		return -1
	}
	return from + end
}

func unquoted(text []byte) []byte {
	if text[0] == '"' {
		return text[1 : len(text)-1]
	}
	return text
}

// isSpaced tells a text that is empty, or that begins or ends with what could be
// space.
func isSpaced(text []byte) bool {
	return len(text) == 0 || !isPlain(text[0]) || !isPlain(text[len(text)-1])
}

func isPlain(b byte) bool { return b > ' ' && b < utf8.RuneSelf }

// reset empties the row; values beyond those used are left as they are.
func (r *quickRow) reset() {
	r.staged.reset()
	r.stated, r.placed, r.uncertainty, r.ofWater = 0, 0, 0, false
}

// watersAreStated reports whether each origin and state goes with a distance.
func (r *quickRow) watersAreStated() bool {
	if !r.ofWater {
		return true
	}
	for i := range r.cells[:r.used] {
		column := int(r.cells[i].column)
		if isOfWater(column) && !r.filled.holds(column-(column-colWater)%waterColumns) {
			return false
		}
	}
	return true
}

// isOfWater tells the columns of a chunk that say something of a distance to water.
func isOfWater(column int) bool {
	return column >= colWater && column < colPlaces && (column-colWater)%waterColumns != 0
}

// place takes half a position; a row has each column once.
func (r *quickRow) place(half int, text []byte) bool {
	unsigned, sign := text, 1.0
	if text[0] == '-' {
		unsigned, sign = text[1:], -1
	}
	v, decimals, ok := plainDecimals(unsigned)
	r.position[half], r.halfUnits[half] = sign*v, halfUnits[decimals]
	r.placed++
	return ok
}

// locate puts the position into the row, as Chunker.stagePosition does.
func (r *quickRow) locate(unstated *float64) {
	if r.placed == 0 {
		return
	}
	for half, v := range r.position {
		bits := degreeBits(&v)
		r.staged.put(colLatitude+half, bits, uint64(bits), 8, varint(bits))
	}
	metres := r.uncertainty
	if metres == 0 && unstated != nil {
		metres = *unstated
	}
	if metres > 0 || unstated != nil {
		metres += roundingAt(r.position[0], r.halfUnits[0], r.halfUnits[1])
		r.state(colUncertainty, metresUp.convert(metres))
	}
}

// knownSite is what rows with the same cells about their site say of it: the
// strict reading has found them to agree with the file.
type knownSite struct{ id, place string }

// knownSites finds sites by the cells that state them.
type knownSites struct {
	byKey   map[string]*knownSite
	lastKey []byte
	last    *knownSite
}

// maxKnown bounds the ways in which sites are stated that are remembered, and
// longestKey each of them.
const (
	maxKnown   = maxSites
	longestKey = 600
)

func (k *knownSites) find(key []byte) *knownSite {
	if k.last == nil || !bytes.Equal(key, k.lastKey) {
		k.last, k.lastKey = k.byKey[string(key)], append(k.lastKey[:0], key...)
	}
	return k.last
}

// learn remembers that a good record states its site so.
func (k *knownSites) learn(key []byte, id, place string) {
	if len(key) == 0 || len(key) > longestKey || len(k.byKey) == maxKnown {
		return
	}
	if k.byKey == nil {
		k.byKey = make(map[string]*knownSite)
	}
	k.byKey[string(key)], k.last = &knownSite{id, place}, nil
}

// knownNames keeps one text of each name, of a few.
type knownNames struct {
	texts map[string]string
	near  [nearWords]string // of those that were met last
}

func (k *knownNames) of(name []byte) string {
	near := &k.near[nearPlace(name)]
	if *near == string(name) {
		return *near
	}
	text, known := k.texts[string(name)]
	const few = 1_000
	if !known {
		text = string(name)
		if k.texts == nil {
			k.texts = map[string]string{}
		}
		if len(k.texts) < few {
			k.texts[text] = text
		}
	}
	*near = text
	return text
}

// appendKey adds a cell to the key of a site: no two rows with other cells have
// the same.
func appendKey(key []byte, column int, text []byte) []byte {
	key = append(key, byte(column), byte(column>>8), byte(len(text)), byte(len(text)>>8))
	return append(key, text...)
}

// plainDecimal reads a decimal number of few digits, without a sign, exactly as
// strconv.ParseFloat does: both parts of the division are whole numbers that a
// float64 holds, so that it rounds once.
func plainDecimal(text []byte) (v float64, ok bool) {
	v, _, ok = plainDecimals(text)
	return v, ok
}

// plainDecimals tells how many digits are behind the point besides.
func plainDecimals(text []byte) (v float64, decimals int, ok bool) {
	const digits = 15 // 10^15 < 2^53
	if len(text) > digits || len(text) == 0 {
		return 0, 0, false
	}
	whole, point := uint64(0), -1
	for i, b := range text {
		switch {
		case b-'0' <= 9:
			whole = whole*10 + uint64(b-'0')
		case b == '.' && point < 0:
			point = i
		default:
			return 0, 0, false
		}
	}
	switch {
	case point < 0:
		return float64(whole), 0, true
	case len(text) == 1:
		return 0, 0, false // a point alone
	}
	decimals = len(text) - 1 - point
	return float64(whole) / powersOfTen[decimals], decimals, true
}

var powersOfTen = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// halfUnits are half a unit of the last decimal place, by their number, as halfUnit has
// them.
var halfUnits = func() (list [len(powersOfTen)]float64) {
	for n := range list {
		list[n] = math.Pow10(-n) / 2
	}
	return list
}()

// plainWhole reads digits alone.
func plainWhole(text []byte) (v int64, ok bool) {
	const digits = 15
	if len(text) > digits {
		return 0, false
	}
	for _, b := range text {
		if b-'0' > 9 {
			return 0, false
		}
		v = v*10 + int64(b-'0')
	}
	return v, true
}
