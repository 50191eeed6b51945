package inventory

import (
	"math"
	"slices"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
	"google.golang.org/protobuf/encoding/protowire"
)

const (
	chunkRows  = 16_384
	chunkBytes = 4 << 20 // encoded
)

// Chunk is rows in columns, ready to be sent.
type Chunk struct {
	// Stems is good until the next Add of the Chunker that made it.
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
	columns  [chunkColumns][]int64 // up to the last row with a value
	outlines []*treatmentv1.RowOutline
	numbers  []int64   // of the records
	used     columnSet // a row has a value; without one a column stays empty
	size     int       // encoded, at most; columns without any value left out
	blank    int       // encoded, of a row without a value, in the columns in use
	staged   staged
	buffers  buffers
}

// staged is the row that is to be added: the columns in which it has a value.
type staged struct {
	site, species string
	id            []byte
	at            [chunkColumns]uint8
	values        [chunkColumns]int64
	used          int
	filled        columnSet
	size          int // of the values, encoded
	outline       []*treatmentv1.Ring
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
		s.put(column, v, varint(v))
	}
}

// put states a value that takes so many bytes.
func (s *staged) put(column int, v int64, size int) {
	s.at[s.used], s.values[s.used] = uint8(column), v
	s.used++
	s.size += size
	s.filled.add(column)
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

// absent is what each column holds for a row without a value.
var absent = func() (values [chunkColumns]int64) {
	for i := range values {
		isWord := i >= colForm && i < colNumbers || i >= colWater && i < colPlaces && (i-colWater)%waterColumns != 0
		if !isWord {
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
	if r.Rejected() {
		panic("inventory: a rejected record is no stem to prescribe for")
	}
	c.staged.stage(r.Stem)
	c.staged.site = r.SiteID
	c.stagePosition(r)
	return c.add(&c.staged, r.Number)
}

// add takes a staged row into the chunk, or reports that it is full.
func (c *Chunker) add(row *staged, number int64) bool {
	switch len(c.numbers) {
	case 0:
		c.clear()
	case chunkRows:
		return false
	}
	words := len(c.words)
	site, species := c.word(row.site), c.word(row.species)
	cost := c.cost(row, words)
	if len(c.numbers) > 0 && c.size+cost > chunkBytes {
		c.forget(words)
		return false
	}
	c.size += cost
	c.use(&row.filled)
	c.put(colSite, site)
	c.put(colSpecies, species)
	for i, column := range row.at[:row.used] {
		c.put(int(column), row.values[i])
	}
	c.addOutline(row.outline)
	c.ids, c.numbers = append(c.ids, row.id...), append(room(c.numbers), number)
	c.idEnds = append(room(c.idEnds), uint32(len(c.ids)))
	return true
}

func (c *Chunker) clear() {
	const begin = 1 + 10 + 2*5 // the number of the first row, and the tags and lengths of the ids
	c.size, c.blank = begin, 0
	clear(c.wordAt)
	c.near = [nearWords]nearWord{}
	c.words, c.ids, c.idEnds, c.outlines = c.words[:0], c.ids[:0], c.idEnds[:0], c.outlines[:0]
	c.used = columnSet{}
	for i := range c.columns {
		c.columns[i] = c.columns[i][:0]
	}
}

// put gives the row that is being added a value in a column that is used.
func (c *Chunker) put(column int, v int64) {
	k := c.columns[column]
	if rows := len(c.numbers); len(k) < rows || rows == cap(k) {
		k = room(padded(k, absent[column], rows))
	}
	c.columns[column] = append(k, v)
}

// padded gives the rows without a value theirs, up to so many.
func padded(column []int64, absent int64, rows int) []int64 {
	if rows > fewRows && rows > cap(column) {
		column = slices.Grow(column, chunkRows-len(column))
	}
	for len(column) < rows {
		column = append(column, absent)
	}
	return column
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
	for _, column := range row.at[:row.used] {
		if !c.used.holds(int(column)) {
			// Distances to a class of water or of places are a message of columns.
			cost += 3*framing + len(c.numbers)*varint(absent[column])
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
	if len(c.numbers) == 0 {
		return nil
	}
	taken := &Chunk{Stems: c.message(), Numbers: c.numbers}
	c.firstRow += int64(len(c.numbers))
	c.numbers = make([]int64, 0, chunkRows)
	return taken
}

func (c *Chunker) message() *treatmentv1.StemChunk {
	b, k := &c.buffers, &c.columns
	for i := range k {
		if c.used.holds(i) {
			k[i] = padded(k[i], absent[i], len(c.numbers))
		}
	}
	m := &treatmentv1.StemChunk{
		FirstRow: c.firstRow, Words: c.words, StemIds: string(c.ids), StemIdEnds: c.idEnds,
		Site: narrow(&b.site, k[colSite]), Species: narrow(&b.species, k[colSpecies]),
		Form: narrow(&b.form, k[colForm]), Desirable: narrow(&b.desirable, k[colDesirable]),
		LandUse: narrow(&b.landUse, k[colLandUse]), Soil: narrow(&b.soil, k[colSoil]),
		Bark: narrow(&b.bark, k[colBark]), RootCheck: narrow(&b.rootCheck, k[colRootCheck]),
		SeedBearing: narrow(&b.seedBearing, k[colSeedBearing]),
		DiameterUm:  k[colDiameter], HeightUm: k[colHeight],
		Count: k[colCount], StemsPerHa: k[colDensity],
		AreaMm2: k[colArea], CrownWidthUm: k[colCrownWidth],
		LargerCount: k[colLargerCount], LargerDiameterUm: k[colLargerDiameter],
		SlopePermille: k[colSlope], OtherWaterBeyondUm: k[colOtherWater],
		OtherPlacesBeyondUm: k[colOtherPlaces],
		LatitudeDeg:         degreesOf(&b.latitude, k[colLatitude]), LongitudeDeg: degreesOf(&b.longitude, k[colLongitude]),
		CoordinateUncertaintyUm: k[colUncertainty], Outlines: c.outlines,
	}
	for _, class := range waterClasses {
		i := colWater + waterColumns*int(class)
		if c.used.holds(i) {
			m.Water = append(m.Water, &treatmentv1.WaterColumn{
				WaterClass: commonv1.WaterClass(class), DistanceUm: k[i],
				Origin: narrow(&b.origin[class], k[i+1]), State: narrow(&b.state[class], k[i+2]),
			})
		}
	}
	for _, class := range placeClasses {
		if i := colPlaces + int(class); c.used.holds(i) {
			m.Places = append(m.Places, &treatmentv1.PlaceColumn{PlaceClass: commonv1.PlaceClass(class), DistanceUm: k[i]})
		}
	}
	return m
}

// buffers hold the columns whose numbers are narrower in the message.
type buffers struct {
	site, species []int32
	latitude      []float64
	longitude     []float64
	form          []byte
	desirable     []byte
	landUse       []byte
	soil          []byte
	bark          []byte
	rootCheck     []byte
	seedBearing   []byte
	origin        [16][]byte
	state         [16][]byte
}

// narrow gives a column in a buffer.
func narrow[T int32 | byte](buffer *[]T, column []int64) []T {
	*buffer = slices.Grow((*buffer)[:0], len(column))[:len(column)]
	for i, v := range column {
		(*buffer)[i] = T(v)
	}
	return *buffer
}
