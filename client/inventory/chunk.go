package inventory

import (
	"math"

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
	columns  [chunkColumns]chunkColumn
	outlines []*treatmentv1.RowOutline
	numbers  []int64 // of the records
	size     int     // encoded, at most; columns without any value left out
	blank    int     // encoded, of a row without a value, in the columns in use
	staged   staged
	buffers  buffers
}

// chunkColumn is one column while its chunk grows.
type chunkColumn struct {
	values []int64 // up to the last row with a value
	used   bool    // a row has a value; without one the column stays empty
}

// staged is the row that is to be added: the columns in which it has a value.
type staged struct {
	site, species string
	id            []byte
	at            [chunkColumns]uint8
	values        [chunkColumns]int64
	used          int
	outline       []*treatmentv1.Ring
}

// put states a value; an absent one is none.
func (s *staged) put(column int, v int64) {
	if v != absent[column] {
		s.at[s.used], s.values[s.used] = uint8(column), v
		s.used++
	}
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
	c.put(colSite, site)
	c.put(colSpecies, species)
	for i, column := range row.at[:row.used] {
		c.put(int(column), row.values[i])
	}
	c.addOutline(row.outline)
	c.ids, c.numbers = append(c.ids, row.id...), append(c.numbers, number)
	c.idEnds = append(c.idEnds, uint32(len(c.ids)))
	return true
}

func (c *Chunker) clear() {
	const begin = 1 + 10 + 2*5 // the number of the first row, and the tags and lengths of the ids
	c.size, c.blank = begin, 0
	clear(c.wordAt)
	c.words, c.ids, c.idEnds, c.outlines = c.words[:0], c.ids[:0], c.idEnds[:0], c.outlines[:0]
	for i := range c.columns {
		c.columns[i] = chunkColumn{values: c.columns[i].values[:0]}
	}
}

// put gives the row that is being added a value.
func (c *Chunker) put(column int, v int64) {
	k := &c.columns[column]
	if !k.used {
		k.used = true
		c.blank += varint(absent[column])
	}
	k.pad(absent[column], len(c.numbers))
	k.values = append(k.values, v)
}

// pad gives the rows without a value theirs, up to so many.
func (k *chunkColumn) pad(absent int64, rows int) {
	for len(k.values) < rows {
		k.values = append(k.values, absent)
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
	for i, column := range row.at[:row.used] {
		if !c.columns[column].used {
			// Distances to a class of water or of places are a message of columns.
			cost += 3*framing + len(c.numbers)*varint(absent[column])
		}
		cost += varint(row.values[i])
	}
	return cost
}

// word gives the index of a word in the chunk, which it adds where it is new.
func (c *Chunker) word(w string) int64 {
	i, known := c.wordAt[w]
	if !known {
		i = int64(len(c.words))
		c.wordAt[w] = i
		c.words = append(c.words, w)
	}
	return i
}

// forget takes back the words behind the first n.
func (c *Chunker) forget(n int) {
	for _, w := range c.words[n:] {
		delete(c.wordAt, w)
	}
	c.words = c.words[:n]
}

// stage begins a row with the numbers of a stem, but for its position.
func (row *staged) stage(s *treatmentv1.Stem) {
	row.id, row.species, row.outline, row.used = []byte(s.StemId), s.ScientificName, s.Outline, 0
	row.put(colForm, wordOf(s.Form))
	row.put(colDiameter, whole(s.DiameterCm, func(v float64) int64 { return int64(quantity.Centimetres(v)) }))
	row.put(colHeight, whole(s.HeightM, func(v float64) int64 { return int64(quantity.Metres(v)) }))
	row.put(colCount, given(s.Count))
	row.put(colDensity, whole(s.StemDensityPerHa, func(v float64) int64 { return int64(nextUp(v)) }))
	row.put(colArea, whole(s.AreaM2, func(v float64) int64 { return int64(quantity.SquareMetres(v)) }))
	row.put(colCrownWidth, whole(s.CrownWidthM, func(v float64) int64 { return int64(quantity.Metres(v)) }))
	row.put(colLargerCount, given(s.LargerCount))
	row.put(colLargerDiameter, whole(s.LargerDiameterCm, func(v float64) int64 { return int64(quantity.Centimetres(v)) }))
	// Steeper is the careful side: rules keep steep ground farther from water.
	row.put(colSlope, whole(s.SlopePercent, func(v float64) int64 { return int64(nextUp(v * 10)) }))
	// So is nearer to water and to places.
	row.put(colOtherWater, whole(s.OtherWaterBeyondM, metresDown.convert))
	row.put(colOtherPlaces, whole(s.OtherPlacesBeyondM, metresDown.convert))
	row.put(colDesirable, wordOf(s.Desirable))
	row.put(colLandUse, wordOf(s.LandUse))
	row.put(colSoil, wordOf(s.Soil))
	row.put(colBark, wordOf(s.Bark))
	row.put(colRootCheck, wordOf(s.RootCheck))
	row.put(colSeedBearing, wordOf(s.SeedBearing))
	for _, w := range s.WaterDistances {
		i := colWater + waterColumns*int(w.WaterClass)
		row.put(i, metresDown.convert(w.DistanceM))
		row.put(i+1, wordOf(w.Origin))
		row.put(i+2, wordOf(w.State))
	}
	for _, p := range s.PlaceDistances {
		row.put(colPlaces+int(p.PlaceClass), metresDown.convert(p.DistanceM))
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
		if k[i].used {
			k[i].pad(absent[i], len(c.numbers))
		}
	}
	m := &treatmentv1.StemChunk{
		FirstRow: c.firstRow, Words: c.words, StemIds: string(c.ids), StemIdEnds: c.idEnds,
		Site: narrow(&b.site, &k[colSite]), Species: narrow(&b.species, &k[colSpecies]),
		Form: narrow(&b.form, &k[colForm]), Desirable: narrow(&b.desirable, &k[colDesirable]),
		LandUse: narrow(&b.landUse, &k[colLandUse]), Soil: narrow(&b.soil, &k[colSoil]),
		Bark: narrow(&b.bark, &k[colBark]), RootCheck: narrow(&b.rootCheck, &k[colRootCheck]),
		SeedBearing: narrow(&b.seedBearing, &k[colSeedBearing]),
		DiameterUm:  k[colDiameter].values, HeightUm: k[colHeight].values,
		Count: k[colCount].values, StemsPerHa: k[colDensity].values,
		AreaMm2: k[colArea].values, CrownWidthUm: k[colCrownWidth].values,
		LargerCount: k[colLargerCount].values, LargerDiameterUm: k[colLargerDiameter].values,
		SlopePermille: k[colSlope].values, OtherWaterBeyondUm: k[colOtherWater].values,
		OtherPlacesBeyondUm: k[colOtherPlaces].values,
		LatitudeDeg:         degreesOf(&b.latitude, &k[colLatitude]), LongitudeDeg: degreesOf(&b.longitude, &k[colLongitude]),
		CoordinateUncertaintyUm: k[colUncertainty].values, Outlines: c.outlines,
	}
	for _, class := range waterClasses {
		i := colWater + waterColumns*int(class)
		if k[i].used {
			m.Water = append(m.Water, &treatmentv1.WaterColumn{
				WaterClass: commonv1.WaterClass(class), DistanceUm: k[i].values,
				Origin: narrow(&b.origin[class], &k[i+1]), State: narrow(&b.state[class], &k[i+2]),
			})
		}
	}
	for _, class := range placeClasses {
		if column := &k[colPlaces+int(class)]; column.used {
			m.Places = append(m.Places, &treatmentv1.PlaceColumn{PlaceClass: commonv1.PlaceClass(class), DistanceUm: column.values})
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
func narrow[T int32 | byte](buffer *[]T, k *chunkColumn) []T {
	*buffer = (*buffer)[:0]
	for _, v := range k.values {
		*buffer = append(*buffer, T(v))
	}
	return *buffer
}
