package inventory

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
	"google.golang.org/protobuf/encoding/protowire"
)

const (
	chunkRows  = 16_384
	chunkBytes = 1 << 20 // encoded
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
// 1 MiB encoded; it numbers the rows of all chunks through from 1. It is for one
// goroutine, and uses its memory again for each chunk.
type Chunker struct {
	firstRow int64
	ids      []string
	words    []string
	wordAt   map[string]int64
	columns  [chunkColumns]chunkColumn
	numbers  []int64 // of the records
	size     int     // encoded, columns without any value left out
	staged   [chunkColumns]int64
	buffers  buffers
}

// chunkColumn is one column while its chunk grows.
type chunkColumn struct {
	values []int64
	used   bool // a row has a value; without one the column stays empty
}

// The columns of a chunk: indexes, words, numbers; then the distance and its
// origin for each class of water.
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
	colWater
	chunkColumns = colWater + 2*16
	colNumbers   = colDiameter
)

// absent is what each column holds for a row without a value.
var absent = func() (values [chunkColumns]int64) {
	for i := range values {
		isWord := i >= colForm && i < colNumbers || i >= colWater && (i-colWater)%2 == 1
		if !isWord {
			values[i] = -1
		}
	}
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
	switch len(c.numbers) {
	case 0:
		c.clear()
	case chunkRows:
		return false
	}
	words := len(c.words)
	stage(r.Stem, &c.staged)
	c.staged[colSite], c.staged[colSpecies] = c.word(r.SiteID), c.word(r.Stem.ScientificName)
	cost := c.cost(r.Stem.StemId, c.words[words:])
	if len(c.numbers) > 0 && c.size+cost > chunkBytes {
		c.forget(words)
		return false
	}
	c.size += cost
	for i := range c.columns {
		c.columns[i].add(c.staged[i], absent[i], len(c.numbers))
	}
	c.ids, c.numbers = append(c.ids, r.Stem.StemId), append(c.numbers, r.Number)
	return true
}

func (c *Chunker) clear() {
	const firstRow = 1 + 10 // tag and number
	c.size = firstRow
	clear(c.wordAt)
	c.words, c.ids = c.words[:0], c.ids[:0]
	for i := range c.columns {
		c.columns[i] = chunkColumn{values: c.columns[i].values[:0]}
	}
}

// add appends a row's value; a column gets its rows with the first value in it.
func (k *chunkColumn) add(v, absent int64, rows int) {
	if !k.used && v == absent {
		return
	}
	for !k.used && len(k.values) < rows {
		k.values = append(k.values, absent)
	}
	k.used = true
	k.values = append(k.values, v)
}

func varint(v int64) int { return protowire.SizeVarint(uint64(v)) }

// cost is what the staged row adds to the encoded size. The first row with a
// value in a column adds the rows before it to that column.
func (c *Chunker) cost(id string, words []string) int {
	const framing = 2 + 3 // tag and length of a field of less than 2 MiB
	cost := framing + len(id)
	for _, w := range words {
		cost += framing + len(w)
	}
	for i, v := range c.staged {
		switch {
		case c.columns[i].used:
			cost += varint(v)
		case v != absent[i]:
			// Distances to a class of water are a message of two columns.
			cost += 3*framing + len(c.numbers)*varint(absent[i]) + varint(v)
		}
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

// stage turns a stem into the numbers of its row.
func stage(s *treatmentv1.Stem, row *[chunkColumns]int64) {
	copy(row[colWater:], absent[colWater:])
	row[colForm] = int64(s.Form)
	row[colDiameter] = whole(s.DiameterCm, func(v float64) int64 { return int64(quantity.Centimetres(v)) })
	row[colHeight] = whole(s.HeightM, func(v float64) int64 { return int64(quantity.Metres(v)) })
	row[colCount] = given(s.Count)
	row[colDensity] = whole(s.StemDensityPerHa, func(v float64) int64 { return int64(nextUp(v)) })
	row[colArea] = whole(s.AreaM2, func(v float64) int64 { return int64(quantity.SquareMetres(v)) })
	row[colCrownWidth] = whole(s.CrownWidthM, func(v float64) int64 { return int64(quantity.Metres(v)) })
	row[colLargerCount] = given(s.LargerCount)
	row[colLargerDiameter] = whole(s.LargerDiameterCm, func(v float64) int64 { return int64(quantity.Centimetres(v)) })
	// Steeper is the careful side: rules keep steep ground farther from water.
	row[colSlope] = whole(s.SlopePercent, func(v float64) int64 { return int64(nextUp(v * 10)) })
	// So is nearer to water.
	row[colOtherWater] = whole(s.OtherWaterBeyondM, metresDown.convert)
	row[colDesirable], row[colLandUse] = int64(s.Desirable), int64(s.LandUse)
	row[colSoil], row[colBark] = int64(s.Soil), int64(s.Bark)
	row[colRootCheck], row[colSeedBearing] = int64(s.RootCheck), int64(s.SeedBearing)
	for _, w := range s.WaterDistances {
		i := colWater + 2*int(w.WaterClass)
		row[i], row[i+1] = metresDown.convert(w.DistanceM), int64(w.Origin)
	}
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
	m := &treatmentv1.StemChunk{
		FirstRow: c.firstRow, Words: c.words, StemIds: c.ids,
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
	}
	for _, class := range waterClasses {
		i := colWater + 2*int(class)
		if k[i].used {
			m.Water = append(m.Water, &treatmentv1.WaterColumn{
				WaterClass: commonv1.WaterClass(class), DistanceUm: k[i].values, Origin: narrow(&b.origin[class], &k[i+1]),
			})
		}
	}
	return m
}

// buffers hold the columns whose numbers are narrower in the message.
type buffers struct {
	site, species []int32
	form          []commonv1.GrowthForm
	desirable     []commonv1.Desirable
	landUse       []commonv1.LandUse
	soil          []commonv1.SoilState
	bark          []commonv1.BarkState
	rootCheck     []commonv1.RootCheck
	seedBearing   []commonv1.YesNo
	origin        [16][]commonv1.DistanceOrigin
}

// narrow gives a column in a buffer.
func narrow[T ~int32](buffer *[]T, k *chunkColumn) []T {
	*buffer = (*buffer)[:0]
	for _, v := range k.values {
		*buffer = append(*buffer, T(v))
	}
	return *buffer
}
