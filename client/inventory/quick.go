package inventory

import (
	"bytes"
	"encoding/binary"
	"math/bits"
	"slices"
)

// quick reads rows that need no care: every cell as plain as can be, nothing missing,
// nothing new about a site. It takes such rows into the columns of a chunk as the strict
// reading does, and leaves any other row to it. It reads a few lines at a time, column by
// column, so that what one column takes is done for all of them at once. What a column
// takes stands in the column's own plain, which is made from the same limits as the strict
// reading.
type quick struct {
	line quickLines

	// What of a line is wanted: fields, or columns that fields fill. A place is -1 where
	// there is none.
	columns             []quickColumn
	careful             []int // fields whose texts need care
	sites               []quickField
	waters              []aboutWater
	kept                keptColumns
	id, species         int // fields
	latitude, longitude int // fields
	uncertainty         int // a column

	// What the lines say, each; the columns say the rest.
	site      [linesAtOnce]*knownSite
	hashes    [linesAtOnce]uint64 // of ids
	names     [linesAtOnce]string
	placed    uint64                  // lines with a position, a bit each
	position  [2][linesAtOnce]float64 // latitude and longitude; NaN: not stated
	halfUnits [2][linesAtOnce]float64 // of their last decimals
	within    quickColumn             // how far they may lie from where they are stated
	held      int                     // lines that the columns hold

	lastSite nearSite
	known    knownSites
	key      []byte // of the site of a line
	keyOf    int    // that line, whose site is not known; -1: there is none
	whole    bool   // that line is the next
	kinds    knownNames
	near     [256]nearness
	seen     *extent // of the strict reading
	ids      *idSet  // of the strict reading
}

// linesAtOnce is how many lines are read at a time, at most: as many as a word has bits.
const linesAtOnce = 64

// quickColumn is a column of a chunk, or nowhere, as the lines at hand fill it.
type quickColumn struct {
	into   int
	fields []quickField // that fill it, a row one of them

	stated uint64 // lines with a value, a bit each
	values [linesAtOnce]int64
	text   [8 * (linesAtOnce + 1)]byte // of all lines, as a chunk has it
	size   int                         // of the text
	blank  bool                        // text and values are those of lines that state nothing
}

// quickField is a field of which something is wanted.
type quickField struct {
	at     int // in the line
	column *Column
	texts  *remembered
	long   cellValue  // of a text that is too long to be remembered
	blank  *cellValue // what no text comes to; nil: it needs care
}

// aboutWater is a column that says something of a distance, which another one states; -1:
// none does.
type aboutWater struct{ column, distance int }

// keptColumns are those of which a stem keeps something; nil: there is none.
type keptColumns struct{ form, diameter, count, density, area *quickColumn }

// nearSite is what a line says from the first field about its site to the last, and
// the site. Rows of a site follow each other.
type nearSite struct {
	text []byte
	site *knownSite // nil: none is remembered
}

func newQuick(columns []*Column, seen *extent, ids *idSet) *quick {
	q := &quick{line: newQuickLines(len(columns)), id: -1, species: -1, latitude: -1, longitude: -1, uncertainty: -1, keyOf: -1, seen: seen, ids: ids}
	q.within.into = colUncertainty
	for i, c := range columns {
		switch {
		case c == nil || c.unread:
		case c.site:
			q.sites = append(q.sites, quickField{at: i, column: c})
		case c.plain != nil:
			at := q.columnInto(c.into)
			q.columns[at].fields = append(q.columns[at].fields, quickField{at: i, column: c, texts: &remembered{}, blank: blankOf(c)})
			if c.quick != nil {
				*c.quick(q) = at
			}
		case c.quick != nil:
			*c.quick(q) = i
		default:
			q.careful = append(q.careful, i)
		}
	}
	if half := max(q.latitude, q.longitude); min(q.latitude, q.longitude) < 0 && half >= 0 {
		q.careful, q.latitude, q.longitude = append(q.careful, half), -1, -1
	}
	q.link()
	return q
}

// columnInto gives the place of the column of a chunk, which it adds where it is new.
func (q *quick) columnInto(into int) int {
	at := q.find(into)
	if at < 0 || into == nowhere {
		at = len(q.columns)
		q.columns = append(q.columns, quickColumn{into: into})
	}
	return at
}

func (q *quick) find(into int) int {
	return slices.IndexFunc(q.columns, func(c quickColumn) bool { return c.into == into })
}

// link finds the columns that go with each other.
func (q *quick) link() {
	for i := range q.columns {
		if into := q.columns[i].into; isOfWater(into) {
			q.waters = append(q.waters, aboutWater{i, q.find(into - (into-colWater)%waterColumns)})
		}
		if of := q.columns[i].fields; len(of) == 2 && of[0].blank != nil {
			of[1].texts[placeOf(0, 0)] = *of[0].blank // see readKnownOfTwo
		}
	}
	for into, to := range map[int]**quickColumn{
		colForm: &q.kept.form, colDiameter: &q.kept.diameter, colCount: &q.kept.count, colDensity: &q.kept.density, colArea: &q.kept.area,
	} {
		if at := q.find(into); at >= 0 {
			*to = &q.columns[at]
		}
	}
}

// isOfWater tells the columns of a chunk that say something of a distance to water.
func isOfWater(column int) bool {
	return column >= colWater && column < colPlaces && (column-colWater)%waterColumns != 0
}

// read reads the lines at hand up to the first that needs care, and gives how many those
// are. Rows that state nothing themselves lie no farther from where they are stated than
// unstated says; nil: it is not known.
func (q *quick) read(unstated *float64) int {
	n := q.line.n
	q.held = n
	for _, at := range q.careful {
		n = q.readNone(at, n)
	}
	n = q.readSites(n)
	n = q.readNames(n)
	for i := range q.columns {
		n = q.columns[i].read(&q.line, n)
	}
	n = q.readPositions(n, unstated)
	for _, w := range q.waters {
		alone := q.columns[w.column].stated
		if w.distance >= 0 {
			alone &^= q.columns[w.distance].stated
		}
		n = min(n, bits.TrailingZeros64(alone))
	}
	return n
}

// keep forgets the lines behind the first n.
func (q *quick) keep(n int) {
	if n == q.held {
		return
	}
	q.held = n
	for i := range q.columns {
		q.columns[i].keep(n)
	}
	q.within.keep(n)
	q.placed &= upTo(n)
}

// upTo has the lowest n bits.
func upTo(n int) uint64 { return 1<<n - 1 }

// readNone passes over lines without a text in a field that is not read quickly.
func (q *quick) readNone(field, n int) int {
	for i := range n {
		if from, to := q.line.field(i, field); from != to {
			return i
		}
	}
	return n
}

// read reads a column of so many lines, up to the first that needs care: a line has a text
// in one of the fields at most.
func (c *quickColumn) read(l *quickLines, n int) int {
	switch blank := c.fields[0].blank; {
	case blank != nil && blank.size == 1 && c.isBlank(l, n):
		c.putBlank(n, blank)
		return n
	case len(c.fields) > 2 || l.uneven:
		return c.readAny(l, n)
	case len(c.fields) == 2:
		return c.readTwo(l, n)
	}
	return c.readOne(l, n)
}

// isBlank tells lines without a text in any of the fields.
func (c *quickColumn) isBlank(l *quickLines, n int) bool {
	cuts, columns := l.cuts, l.columns
	for k := range c.fields {
		at := c.fields[k].at
		for range n {
			if cuts[at]+1 != cuts[at+1] {
				return false
			}
			at += columns
		}
	}
	return true
}

// readOne reads a column that one field fills, of lines that are not uneven: most are so.
func (c *quickColumn) readOne(l *quickLines, n int) int {
	f := &c.fields[0]
	c.stated, c.size, c.blank = 0, 0, false
	for i := 0; ; i++ {
		if i = c.readKnown(l, i, n); i == n {
			return n
		}
		from, to := l.field(i, f.at)
		v := f.learn(l.text[from:to])
		if v == nil {
			return i
		}
		c.size = c.put(i, c.size, v)
	}
}

// readKnown reads lines of readOne from one on, up to the first whose text is not
// remembered. It calls nothing, so that the processor's registers hold all it works with.
func (c *quickColumn) readKnown(l *quickLines, i, n int) int {
	columns, cuts, text, texts := l.columns, l.cuts, l.text, c.fields[0].texts
	at, size, stated := i*columns+c.fields[0].at, c.size, c.stated
	for n = min(n, linesAtOnce); i < n; i++ {
		from, to := int(cuts[at])+1, int(cuts[at+1])
		length := uint(to - from)
		if length > longestRemembered {
			break
		}
		whole, only := text[from:from+longestRemembered], &ofLength[length]
		low, high := binary.LittleEndian.Uint64(whole)&only.low, binary.LittleEndian.Uint64(whole[8:])&only.high
		v := &texts[placeOf(low, high)]
		if v.low != low || v.high != high || v.length != uint8(length+1) {
			break
		}
		binary.LittleEndian.PutUint64(c.text[size&(8*linesAtOnce-1):], v.encoding)
		c.values[i&(linesAtOnce-1)] = v.value
		stated |= uint64(v.stated) << (i & (linesAtOnce - 1))
		size += int(v.size)
		at += columns
	}
	c.size, c.stated = size, stated
	return i
}

// readTwo reads a column that two fields fill, of lines that are not uneven.
func (c *quickColumn) readTwo(l *quickLines, n int) int {
	c.stated, c.size, c.blank = 0, 0, false
	for i := 0; ; i++ {
		if i = c.readKnownOfTwo(l, i, n); i == n {
			return n
		}
		v := c.find(l, i)
		if v == nil {
			return i
		}
		c.size = c.put(i, c.size, v)
	}
}

// readKnownOfTwo is readKnown of two fields, one of which has no text.
func (c *quickColumn) readKnownOfTwo(l *quickLines, i, n int) int {
	columns, cuts, text := l.columns, l.cuts, l.text
	first, second := c.fields[0].at, c.fields[1].at
	texts := [2]*remembered{c.fields[0].texts, c.fields[1].texts}
	line, size, stated := i*columns, c.size, c.stated
	for n = min(n, linesAtOnce); i < n; i++ {
		from, to := int(cuts[line+first])+1, int(cuts[line+first+1])
		from2, to2 := int(cuts[line+second])+1, int(cuts[line+second+1])
		// Which one it is nothing foretells, so nothing is to jump.
		which, length := 0, uint(to-from)
		if length == 0 {
			which, from = 1, from2
		}
		length2 := uint(to2 - from2)
		both := length | length2
		if both > longestRemembered || min(length, length2) > 0 {
			break
		}
		whole, only := text[from:from+longestRemembered], &ofLength[both]
		low, high := binary.LittleEndian.Uint64(whole)&only.low, binary.LittleEndian.Uint64(whole[8:])&only.high
		v := &texts[which][placeOf(low, high)]
		if v.low != low || v.high != high || v.length != uint8(both+1) {
			break
		}
		binary.LittleEndian.PutUint64(c.text[size&(8*linesAtOnce-1):], v.encoding)
		c.values[i&(linesAtOnce-1)] = v.value
		stated |= uint64(v.stated) << (i & (linesAtOnce - 1))
		size += int(v.size)
		line += columns
	}
	c.size, c.stated = size, stated
	return i
}

// readAny reads a column of any fields and lines.
func (c *quickColumn) readAny(l *quickLines, n int) int {
	c.stated, c.size, c.blank = 0, 0, false
	for i := range n {
		v := c.find(l, i)
		if v == nil {
			return i
		}
		c.size = c.put(i, c.size, v)
	}
	return n
}

// find finds what a line says in the fields; nil: that needs care. It is good until the
// next line is looked at.
func (c *quickColumn) find(l *quickLines, line int) *cellValue {
	var stating *quickField
	var text []byte
	for k := range c.fields {
		f := &c.fields[k]
		from, to := l.field(line, f.at)
		if l.uneven {
			var ok bool
			if from, to, ok = l.trimmed(from, to); !ok {
				return nil
			}
		}
		if from == to {
			continue
		}
		if stating != nil {
			return nil
		}
		stating, text = f, l.text[from:to]
	}
	if stating == nil {
		return c.fields[0].blank
	}
	if v, known := stating.texts.look(text); known {
		return v
	}
	return stating.learn(text)
}

// learn finds what a text comes to that is not remembered, and remembers it unless it is
// long; nil: it needs care.
func (f *quickField) learn(text []byte) *cellValue {
	v, fresh := &f.long, valueOf(text)
	if len(text) <= longestRemembered {
		v = &f.texts[placeOf(fresh.low, fresh.high)]
	}
	if *v = fresh; !v.read(f.column, text) {
		return nil
	}
	return v
}

// putBlank states nothing of so many lines.
func (c *quickColumn) putBlank(n int, blank *cellValue) {
	c.stated, c.size = 0, n
	if c.blank {
		return
	}
	c.blank = true
	for i := range c.values {
		c.text[i], c.values[i] = byte(blank.encoding), blank.value
	}
}

// put states the value of a line at a place of the text, and gives that of the next.
func (c *quickColumn) put(i, at int, v *cellValue) int {
	binary.LittleEndian.PutUint64(c.text[at&(8*linesAtOnce-1):], v.encoding)
	c.values[i&(linesAtOnce-1)] = v.value
	c.stated |= uint64(v.stated) << (i & (linesAtOnce - 1))
	return at + int(v.size)
}

// keep forgets the lines behind the first n.
func (c *quickColumn) keep(n int) {
	c.stated &= upTo(n)
	if c.into == nowhere || isWord[c.into] { // a byte each, or none
		c.size = min(c.size, n)
		return
	}
	end := 0
	for range n {
		for c.text[end] >= 0x80 { // a varint goes on
			end++
		}
		end++
	}
	c.size = end
}

// read finds what a text comes to, or reports that it needs care.
func (v *cellValue) read(c *Column, text []byte) (ok bool) {
	stated := len(text) > 0
	switch {
	case stated && isSpaced(text) || !stated && c.bit != 0:
		return false
	case stated:
		if v.value, ok = c.plain(text); !ok {
			return false
		}
		v.stated = 1
	case c.into != nowhere:
		v.value = absent[c.into]
	}
	if c.into != nowhere {
		v.encoding, v.size = encoded(c.into, v.value)
	}
	if v.size > 8 {
		return false
	}
	v.length = uint8(len(text) + 1)
	return true
}

// readSites finds the sites of lines, up to the first whose site is not known or needs care.
func (q *quick) readSites(n int) int {
	q.keyOf = -1
	if len(q.sites) == 0 {
		return 0
	}
	l, first, last := &q.line, q.sites[0].at, q.sites[len(q.sites)-1].at
	for i := range n {
		about := l.text[l.cuts[i*l.columns+first]+1 : l.cuts[i*l.columns+last+1]]
		if near := &q.lastSite; near.site == nil || !bytes.Equal(about, near.text) {
			site := q.findSite(i)
			if q.lastSite = (nearSite{append(near.text[:0], about...), site}); site == nil {
				return i
			}
		}
		q.site[i] = q.lastSite.site
	}
	return n
}

// findSite finds the site of a line by all that it says of it; nil: it is not known, or
// needs care.
func (q *quick) findSite(i int) *knownSite {
	q.key = q.key[:0]
	for _, f := range q.sites {
		text, ok := q.line.cell(i, f.at)
		if !ok {
			return nil
		}
		if len(text) == 0 {
			continue
		}
		if isSpaced(text) {
			return nil
		}
		q.key = appendKey(q.key, f.at, text)
	}
	site := q.known.find(q.key)
	if site == nil {
		q.keyOf = i
	}
	return site
}

// readNames reads the ids and species of lines, up to the first that needs care.
func (q *quick) readNames(n int) int {
	for i := range n {
		id, ok := q.line.cell(i, q.id)
		if !ok || isSpaced(id) || len(id) > maxName {
			n = i
			break
		}
		q.hashes[i] = hashOf(id)
	}
	for i := range n {
		name, ok := q.line.cell(i, q.species)
		if !ok || isSpaced(name) || len(name) > maxName {
			return i
		}
		q.names[i] = q.kinds.of(name)
	}
	return n
}

// admit takes the ids and positions of lines for seen, up to the first at fault. The rows
// are those from a number on, and stand on the lines from another on.
func (q *quick) admit(n int, number int64, line int) int {
	q.ids.fetch(q.hashes[:n])
	for i, hash := range q.hashes[:n] {
		slot, known := q.ids.find(hash)
		if known != nil || q.placed>>i&1 != 0 && !q.seen.takes(position{lat: q.position[0][i], lon: q.position[1][i]}) {
			return i
		}
		if number+int64(i) <= maxIDs {
			q.ids.put(slot, hash, line+i)
		}
	}
	return n
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
