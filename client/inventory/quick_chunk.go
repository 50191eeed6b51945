package inventory

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// each hands on the columns of a chunk that lines fill, but for their positions, site and
// species.
func (q *quick) each(yield func(*quickColumn)) {
	for i := range q.columns {
		if c := &q.columns[i]; c.into != nowhere && c.stated != 0 {
			yield(c)
		}
	}
	if q.within.stated != 0 {
		yield(&q.within)
	}
}

// filled are the columns of a chunk in which a line has a value.
func (q *quick) filled() (set columnSet) {
	q.each(func(c *quickColumn) { set.add(c.into) })
	if q.placed != 0 {
		set.add(colLatitude)
		set.add(colLongitude)
	}
	return set
}

// quickCost is what the values of the first n lines add to the encoded size, at most, as
// cost counts it row by row; ids and words apart.
func (c *Chunker) quickCost(q *quick, n int) int {
	const (
		framing = 3 * (2 + 3)
		row     = 4 + 2*3 // the end of the id, and the places of two words
	)
	cost := n * (row + c.blank)
	for i := range n {
		if q.placed>>i&1 != 0 {
			cost += varint(int64(math.Float64bits(q.position[0][i]))) + varint(int64(math.Float64bits(q.position[1][i])))
		}
	}
	q.each(func(of *quickColumn) { cost += of.size - (n - bits.OnesCount64(of.stated)) })
	if filled := q.filled(); !filled.isWithin(&c.used) {
		for i := range c.columns {
			if filled.holds(i) && !c.used.holds(i) {
				cost += framing + (len(c.stems)+n-1)*varint(absent[i])
			}
		}
	}
	return cost
}

// wordFraming is the tag and the length of a word.
const wordFraming = 2 + 3

// fits reports whether the first n lines fit into the chunk; of several it may say that they
// do not where they nearly do not.
func (c *Chunker) fits(q *quick, n int) bool {
	texts := q.line.end(n) + 2*n*wordFraming // ids and words at most
	if n == 1 {
		texts = c.textCost(q)
	}
	return n == 1 && len(c.stems) == 0 || c.size+c.quickCost(q, n)+texts <= chunkBytes
}

// textCost is what the id and the words of the first line add to the encoded size.
func (c *Chunker) textCost(q *quick) int {
	id, _ := q.line.cell(0, q.id)
	cost, site := len(id), q.site[0].id
	for _, w := range [2]string{site, q.names[0]} {
		if _, known := c.wordAt[w]; !known {
			cost += wordFraming + len(w)
		}
	}
	if _, known := c.wordAt[site]; !known && site == q.names[0] {
		cost -= wordFraming + len(site)
	}
	return cost
}

// addQuickly takes the first n lines, the only ones that are kept, into the chunk.
func (c *Chunker) addQuickly(q *quick, n int) {
	words, rows, ids := len(c.words), len(c.stems), len(c.ids)
	c.size += c.quickCost(q, n)
	filled := q.filled()
	c.use(&filled)
	c.addStems(q, n)
	q.each(func(of *quickColumn) {
		column := &c.columns[of.into]
		column.pad(of.into, rows)
		column.addAll(of.text[:of.size], n)
	})
	if q.placed != 0 {
		c.addPositions(q, n, rows)
	}
	ends := more(&c.idEnds, n)
	for i := range ends {
		id, _ := q.line.cell(i, q.id)
		c.ids = append(c.ids, id...)
		ends[i] = uint32(len(c.ids))
	}
	c.size += len(c.ids) - ids
	for _, w := range c.words[words:] {
		c.size += wordFraming + len(w)
	}
}

// addPositions takes the positions of lines, behind those of so many rows.
func (c *Chunker) addPositions(q *quick, n, rows int) {
	for half := range q.position {
		column := &c.columns[colLatitude+half]
		column.pad(colLatitude+half, rows)
		var text [8 * linesAtOnce]byte
		for i, v := range q.position[half][:n] {
			binary.LittleEndian.PutUint64(text[8*i:], math.Float64bits(v))
		}
		column.addAll(text[:8*n], n)
	}
}

// addStems takes the sites and species of lines, and what is kept at hand of each.
func (c *Chunker) addStems(q *quick, n int) {
	var of *knownSite
	site := int64(0)
	stems := more(&c.stems, n)
	for i := range stems {
		if q.site[i] != of {
			of = q.site[i]
			site = c.word(of.id)
		}
		s := &stems[i]
		s.Site, s.Species = int32(site), int32(c.word(q.names[i]))
		c.columns[colSite].addNumber(uint64(s.Site))
		c.columns[colSpecies].addNumber(uint64(s.Species))
		s.Form = byte(q.kept.form.at(i, absent[colForm]))
		s.DiameterUm = q.kept.diameter.at(i, -1)
		s.Latitude, s.Longitude = math.NaN(), math.NaN()
		if q.placed>>i&1 != 0 {
			s.Latitude, s.Longitude = q.position[0][i], q.position[1][i]
		}
		s.Count = countOf(q.kept.count.at(i, -1), q.kept.density.at(i, -1), q.kept.area.at(i, -1))
	}
}

// at is the value of a line, and another one where there is no such column.
func (c *quickColumn) at(i int, other int64) int64 {
	if c == nil {
		return other
	}
	return c.values[i&(linesAtOnce-1)]
}
