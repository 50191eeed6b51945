package inventory

import (
	"bytes"
	"encoding/binary"
	"math"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

const (
	chunkRows  = 16_384
	chunkBytes = 4 << 20 // encoded
)

// Chunk is rows in columns, ready to be sent.
type Chunk struct {
	Stems *treatmentv1.StemChunk
	// Numbers gives, for each row of the chunk, the Number of its Record. It
	// belongs to the caller.
	Numbers []int64
}

// Number gives the Number of the Record behind a row as the stream counts rows,
// and 0 for a row that is not in the chunk.
func (c *Chunk) Number(row int64) int64 {
	i := row - c.Stems.FirstRow
	if i < 0 || i >= int64(len(c.Numbers)) {
		return 0
	}
	return c.Numbers[i]
}

// Chunker gathers the stems of records into chunks of at most 16,384 rows and
// 4 MiB encoded; it numbers the rows of all chunks through from 1. It is for one
// goroutine, and uses its memory again for each chunk.
type Chunker struct {
	// Uncertainty is how far true positions may lie from the stated ones, in metres, in
	// rows that do not state it themselves; nil: it is not known.
	Uncertainty *float64

	firstRow int64
	ids      []byte   // of all rows, one behind the other
	idEnds   []uint32 // where each ends
	words    []string
	wordAt   map[string]int64
	near     [nearWords]nearWord
	columns  [chunkColumns]encodedColumn
	outlines []*treatmentv1.RowOutline
	stems    []Stem    // what is kept at hand of each
	numbers  []int64   // of the records, where they were added one by one
	used     columnSet // a row has a value; without one a column stays empty
	size     int       // encoded, at most; columns without any value left out
	blank    int       // encoded, of a row without a value, in the columns in use
	staged   staged
	encoding encoding
}

// Stem is what is kept at hand of a row that is sent.
type Stem struct {
	Site, Species int32 // places among the words
	Form          byte
	DiameterUm    int64 // -1: not known, as in a chunk
	Latitude      float64
	Longitude     float64 // NaN, like latitude: not known
	Count         int64   // of stems that it says it stands for
}

// staged is the row that is to be added: the columns in which it has a value.
type staged struct {
	site, species string
	id            []byte
	cells         [chunkColumns]stagedCell
	used          int
	values        [chunkColumns]int64 // by column, where filled
	filled        columnSet
	size          int // of the values, encoded
	outline       []*treatmentv1.Ring
}

// stagedCell is a value of a column as a chunk has it.
type stagedCell struct {
	text   uint64
	length uint8
	column uint8
}

// columnSet is some of the columns of a chunk.
type columnSet [(chunkColumns + 63) / 64]uint64

func (s *columnSet) add(column int) { s[column/64] |= 1 << (column % 64) }

func (s *columnSet) holds(column int) bool { return s[column/64]&(1<<(column%64)) != 0 }

// isWithin reports whether all of them are among others.
func (s *columnSet) isWithin(others *columnSet) bool {
	for i := range s {
		if s[i]&^others[i] != 0 {
			return false
		}
	}
	return true
}

// reset empties the row, but for its texts; values beyond those used are left as they
// are.
func (s *staged) reset() { s.used, s.size, s.filled = 0, 0, columnSet{} }

// state states a value; an absent one is none.
func (s *staged) state(column int, v int64) {
	if v != absent[column] {
		text, length := encoded(column, v)
		s.put(column, v, text, length, varint(v))
	}
}

// put states a value whose encoding is known, and how much it is counted for.
func (s *staged) put(column int, v int64, text uint64, length uint8, size int) {
	s.cells[s.used] = stagedCell{text, length, uint8(column)}
	s.values[column] = v
	s.used++
	s.size += size
	s.filled.add(column)
}

// value is that of a column, absent where there is none.
func (s *staged) value(column int) int64 {
	if !s.filled.holds(column) {
		return absent[column]
	}
	return s.values[column]
}

// keep keeps at hand what is kept of the row.
func (s *staged) keep(k *Stem, site, species int64) {
	count := countOf(s.value(colCount), s.value(colDensity), s.value(colArea))
	k.Site, k.Species, k.Form, k.DiameterUm, k.Count = int32(site), int32(species), byte(s.value(colForm)), s.value(colDiameter), count
	k.Latitude, k.Longitude = math.Float64frombits(uint64(s.value(colLatitude))), math.Float64frombits(uint64(s.value(colLongitude)))
}

// countOf is how many stems a row stands for, from its columns.
func countOf(count, density, area int64) int64 {
	switch {
	case count >= 0:
		return count
	case density >= 0 && area >= 0:
		return StemsOf(float64(density), quantity.SquareMillimetres(area).SquareMetres())
	}
	return 1
}

// StemsOf is how many stems stand on an area, rounded up.
func StemsOf(perHectare, squareMetres float64) int64 {
	const hectare = 10_000 // square metres
	return int64(math.Ceil(perHectare * squareMetres / hectare))
}

// The columns of a chunk: indexes, words, numbers; then the distance, its origin and
// the state for each class of water; then the distance to each class of places.
const (
	colSite = iota
	colSpecies
	colForm
	colDesirable
	colLandUse
	colSoil
	colBark
	colRootCheck
	colSeedBearing
	colDiameter
	colHeight
	colCount
	colDensity
	colArea
	colCrownWidth
	colLargerCount
	colLargerDiameter
	colSlope
	colOtherWater
	colOtherPlaces
	colLatitude // the bits of a float64, as in the next
	colLongitude
	colUncertainty
	colWater
	colPlaces    = colWater + waterColumns*16
	chunkColumns = colPlaces + 16
	colNumbers   = colDiameter
	waterColumns = 3 // of a class
)

// chunkColumnOf is the column that a quantity of a stem fills.
func chunkColumnOf(id quantityID) int {
	switch {
	case id >= placeDistance:
		return colPlaces + int(id-placeDistance)
	case id >= distance:
		return colWater + waterColumns*int(id-distance)
	}
	return map[quantityID]int{
		diameter: colDiameter, height: colHeight, density: colDensity, patchArea: colArea, crownWidth: colCrownWidth,
		largerDiameter: colLargerDiameter, otherWater: colOtherWater, otherPlaces: colOtherPlaces, slope: colSlope,
	}[id]
}

// isWord tells the columns of words, a byte each.
var isWord = func() (is [chunkColumns]bool) {
	for i := range is {
		is[i] = i >= colForm && i < colNumbers || i >= colWater && i < colPlaces && (i-colWater)%waterColumns != 0
	}
	return is
}()

// absent is what each column holds for a row without a value.
var absent = func() (values [chunkColumns]int64) {
	for i := range values {
		if !isWord[i] {
			values[i] = -1
		}
	}
	values[colLatitude], values[colLongitude] = notADegree, notADegree
	return values
}()

// NewChunker makes a Chunker whose first chunk begins with row 1.
func NewChunker() *Chunker { return &Chunker{firstRow: 1, wordAt: make(map[string]int64)} }

// Add takes a record's stem into the chunk. It reports false, and takes nothing,
// when the chunk is full: Take it, then Add the record again. A rejected record
// must not be added, and panics: nothing may be prescribed for it.
func (c *Chunker) Add(r *Record) bool {
	if !c.addRecord(r) {
		return false
	}
	c.numbers = append(c.numbers, r.Number)
	return true
}

func (c *Chunker) addRecord(r *Record) bool {
	if r.Rejected() {
		panic("inventory: a rejected record is no stem to prescribe for")
	}
	c.staged.stage(r.Stem)
	c.staged.site = r.SiteID
	c.stagePosition(r)
	return c.add(&c.staged)
}

// add takes a staged row into the chunk, or reports that it is full.
func (c *Chunker) add(row *staged) bool {
	n := len(c.stems)
	switch n {
	case 0:
		c.clear()
	case chunkRows:
		return false
	}
	words := len(c.words)
	site, species := c.word(row.site), c.word(row.species)
	cost := c.cost(row, words)
	if n > 0 && c.size+cost > chunkBytes {
		c.forget(words)
		return false
	}
	c.size += cost
	c.use(&row.filled)
	c.columns[colSite].addNumber(uint64(site))
	c.columns[colSpecies].addNumber(uint64(species))
	for i := range row.cells[:row.used] {
		cell := &row.cells[i]
		column := &c.columns[cell.column]
		if column.rows < n {
			column.pad(int(cell.column), n)
		}
		end := len(column.text)
		if cell.length > 8 || cap(column.text) < end+8 {
			column.add(cell)
			continue
		}
		text := column.text[:end+8]
		binary.LittleEndian.PutUint64(text[end:], cell.text)
		column.text, column.rows = text[:end+int(cell.length)], n+1
	}
	c.addOutline(row.outline)
	c.ids = append(c.ids, row.id...)
	more(&c.idEnds, 1)[0] = uint32(len(c.ids))
	row.keep(&more(&c.stems, 1)[0], site, species)
	return true
}

func (c *Chunker) clear() {
	const begin = 1 + 10 + 2*5 // the number of the first row, and the tags and lengths of the ids
	c.size, c.blank = begin, 0
	clear(c.wordAt)
	c.near = [nearWords]nearWord{}
	c.words, c.ids, c.idEnds, c.outlines = c.words[:0], c.ids[:0], c.idEnds[:0], c.outlines[:0]
	c.stems = c.stems[:0]
	c.used = columnSet{}
	for i := range c.columns {
		c.columns[i].clear()
	}
}

// use makes room for columns that no row before had a value in.
func (c *Chunker) use(columns *columnSet) {
	if columns.isWithin(&c.used) {
		return
	}
	for i := range c.columns {
		if columns.holds(i) && !c.used.holds(i) {
			c.used.add(i)
			c.blank += varint(absent[i])
		}
	}
}

// varint is the size of a number of a column, at most.
func varint(v int64) int { return protowire.SizeVarint(protowire.EncodeZigZag(v)) }

// cost is what the staged row adds to the encoded size, at most; words behind the
// first so many are new. The first row with a value in a column adds the rows
// before it to that column.
func (c *Chunker) cost(row *staged, words int) int {
	const (
		framing = 2 + 3 // tag and length of a field of less than 2 MiB
		index   = 3     // a varint below 2^21
		idEnd   = 4
	)
	cost := idEnd + len(row.id) + 2*index + c.blank + outlineCost(row.outline)
	for _, w := range c.words[words:] {
		cost += framing + len(w)
	}
	cost += row.size
	if row.filled.isWithin(&c.used) {
		return cost
	}
	for i := range row.cells[:row.used] {
		if column := int(row.cells[i].column); !c.used.holds(column) {
			// Distances to a class of water or of places are a message of columns.
			cost += 3*framing + len(c.stems)*varint(absent[column])
		}
	}
	return cost
}

// word gives the index of a word in the chunk, which it adds where it is new.
func (c *Chunker) word(w string) int64 {
	near := &c.near[nearPlace(w)]
	if near.word == w && w != "" {
		return near.at
	}
	i, known := c.wordAt[w]
	if !known {
		i = int64(len(c.words))
		c.wordAt[w] = i
		c.words = append(c.words, w)
	}
	*near = nearWord{w, i}
	return i
}

// nearWord is one of the words that were asked for last.
type nearWord struct {
	word string
	at   int64
}

// nearPlace is where a text is kept among a few that were met last.
func nearPlace[T string | []byte](w T) int {
	n := len(w)
	if n == 0 {
		return 0
	}
	return (n*7 + int(w[n-1]) + int(w[n/2])*3) & (nearWords - 1)
}

const nearWords = 64

// forget takes back the words behind the first n.
func (c *Chunker) forget(n int) {
	for _, w := range c.words[n:] {
		delete(c.wordAt, w)
		c.near[nearPlace(w)] = nearWord{}
	}
	c.words = c.words[:n]
}

// stage begins a row with the numbers of a stem, but for its position.
func (row *staged) stage(s *treatmentv1.Stem) {
	row.reset()
	row.id, row.species, row.outline = []byte(s.StemId), s.ScientificName, s.Outline
	row.state(colForm, wordOf(s.Form))
	row.state(colDiameter, whole(s.DiameterCm, func(v float64) int64 { return int64(quantity.Centimetres(v)) }))
	row.state(colHeight, whole(s.HeightM, func(v float64) int64 { return int64(quantity.Metres(v)) }))
	row.state(colCount, given(s.Count))
	row.state(colDensity, whole(s.StemDensityPerHa, func(v float64) int64 { return int64(nextUp(v)) }))
	row.state(colArea, whole(s.AreaM2, func(v float64) int64 { return int64(quantity.SquareMetres(v)) }))
	row.state(colCrownWidth, whole(s.CrownWidthM, func(v float64) int64 { return int64(quantity.Metres(v)) }))
	row.state(colLargerCount, given(s.LargerCount))
	row.state(colLargerDiameter, whole(s.LargerDiameterCm, func(v float64) int64 { return int64(quantity.Centimetres(v)) }))
	// Steeper is the careful side: rules keep steep ground farther from water.
	row.state(colSlope, whole(s.SlopePercent, func(v float64) int64 { return int64(nextUp(v * 10)) }))
	// So is nearer to water and to places.
	row.state(colOtherWater, whole(s.OtherWaterBeyondM, metresDown.convert))
	row.state(colOtherPlaces, whole(s.OtherPlacesBeyondM, metresDown.convert))
	row.state(colDesirable, wordOf(s.Desirable))
	row.state(colLandUse, wordOf(s.LandUse))
	row.state(colSoil, wordOf(s.Soil))
	row.state(colBark, wordOf(s.Bark))
	row.state(colRootCheck, wordOf(s.RootCheck))
	row.state(colSeedBearing, wordOf(s.SeedBearing))
	for _, w := range s.WaterDistances {
		i := colWater + waterColumns*int(w.WaterClass)
		row.state(i, metresDown.convert(w.DistanceM))
		row.state(i+1, wordOf(w.Origin))
		row.state(i+2, wordOf(w.State))
	}
	for _, p := range s.PlaceDistances {
		row.state(colPlaces+int(p.PlaceClass), metresDown.convert(p.DistanceM))
	}
}

// wordOf is the number of a word as a byte holds it; one that no byte holds, and no server
// knows, becomes the last.
func wordOf[E ~int32](v E) int64 {
	if v < 0 || v > math.MaxUint8 {
		return math.MaxUint8
	}
	return int64(v)
}

func whole(v *float64, convert func(float64) int64) int64 {
	if v == nil {
		return -1
	}
	return convert(*v)
}

func given(v *int64) int64 {
	if v == nil {
		return -1
	}
	return *v
}

// Take gives the chunk that was gathered and begins the next one. It gives nil
// where there are no rows.
func (c *Chunker) Take() *Chunk {
	if len(c.stems) == 0 {
		return nil
	}
	taken := &Chunk{Stems: &treatmentv1.StemChunk{}, Numbers: c.numbers}
	if err := proto.Unmarshal(bytes.Join(c.message(), nil), taken.Stems); err != nil {
		panic("inventory: a chunk that was made cannot be read: " + err.Error())
	}
	c.firstRow += int64(len(c.stems))
	c.stems, c.numbers = c.stems[:0], nil
	return taken
}
