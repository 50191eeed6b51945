package inventory

import (
	"encoding/binary"
	"slices"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	"example.org/rootward/proto/columnar"
)

// encodedColumn is a column of a chunk as the message has it, up to the last row with a
// value.
type encodedColumn struct {
	text []byte
	rows int
}

func (c *encodedColumn) clear() { c.text, c.rows = c.text[:0], 0 }

// add adds a value to a column that has all rows before it.
func (c *encodedColumn) add(cell *stagedCell) {
	if cell.length > 8 {
		c.addNumber(cell.text)
		return
	}
	if cap(c.text) < len(c.text)+8 {
		c.grow()
	}
	end := len(c.text)
	c.text = binary.LittleEndian.AppendUint64(c.text, cell.text)[:end+int(cell.length)]
	c.rows++
}

func (c *encodedColumn) addNumber(v uint64) {
	c.text = protowire.AppendVarint(c.text, v)
	c.rows++
}

// addAll adds values, encoded, of so many rows to a column that has all rows before them.
func (c *encodedColumn) addAll(text []byte, rows int) {
	if cap(c.text) < len(c.text)+len(text) {
		c.grow()
	}
	c.text = append(c.text, text...)
	c.rows += rows
}

// grow makes room for one more value; a chunk of many rows will have as many as it may.
func (c *encodedColumn) grow() {
	more := 64
	if c.rows >= fewRows {
		more = (chunkRows - c.rows) * (len(c.text)/c.rows + 1)
	}
	c.text = slices.Grow(c.text, more+8)
}

// pad gives the rows without a value theirs, up to so many.
func (c *encodedColumn) pad(column, rows int) {
	if isDegrees(column) {
		for ; c.rows < rows; c.rows++ {
			c.text = binary.LittleEndian.AppendUint64(c.text, uint64(notADegree))
		}
		return
	}
	blank := &blankNumbers
	if isWord[column] {
		blank = &blankWords
	}
	for c.rows < rows {
		more := min(rows-c.rows, len(blank))
		if cap(c.text) < len(c.text)+more {
			c.grow()
		}
		c.text = append(c.text, blank[:more]...)
		c.rows += more
	}
}

// What columns of words and of numbers hold for rows without a value.
var blankWords, blankNumbers = func() (words, numbers [256]byte) {
	for i := range words {
		word, _ := encoded(colForm, absent[colForm])
		number, _ := encoded(colDiameter, absent[colDiameter])
		words[i], numbers[i] = byte(word), byte(number)
	}
	return words, numbers
}()

func isDegrees(column int) bool { return column == colLatitude || column == colLongitude }

// encoded is a value of a column as the message has it, from the lowest byte up, and how
// many bytes it has; where there are more than eight, it is the number itself.
func encoded(column int, v int64) (text uint64, length uint8) {
	switch {
	case isDegrees(column):
		return uint64(v), 8
	case isWord[column]:
		return uint64(v), 1
	}
	number := protowire.EncodeZigZag(v)
	if number >= 1<<56 {
		return number, uint8(protowire.SizeVarint(number))
	}
	text, n := columnar.Varint(number)
	return text, uint8(n)
}

// The fields of a chunk, and of its distances to a class.
const (
	fieldFirstRow = 1
	fieldWords    = 2
	fieldIDs      = 3
	fieldWater    = 22
	fieldPlaces   = 24
	fieldOutlines = 29
	fieldIDEnds   = 30

	fieldClass    = 1
	fieldDistance = 2
	fieldOrigin   = 3
	fieldState    = 5
)

// The columns that are fields of their own, in the order of their numbers: before the
// distances to water, between those and the distances to places, and behind them.
var fieldsBefore, fieldsBetween, fieldsBehind = fieldsFrom(4, colSite, colSpecies, colForm, colDiameter, colHeight, colCount, colDensity, colArea, colCrownWidth,
	colLargerCount, colLargerDiameter, colDesirable, colLandUse, colSoil, colBark, colRootCheck, colSeedBearing, colSlope),
	fieldsFrom(23, colOtherWater), fieldsFrom(25, colOtherPlaces, colLatitude, colLongitude, colUncertainty)

type field struct {
	number protowire.Number
	column int
}

func fieldsFrom(first protowire.Number, columns ...int) []field {
	list := make([]field, len(columns))
	for i, c := range columns {
		list[i] = field{first + protowire.Number(i), c}
	}
	return list
}

// encoding is the encoded chunk while it is put together: what is large stays where it is.
type encoding struct {
	pieces [][]byte
	rest   []byte // what is not
	cuts   int    // bytes of rest that are in pieces
}

const largePiece = 1 << 10

func (e *encoding) clear() { e.pieces, e.rest, e.cuts = e.pieces[:0], e.rest[:0], 0 }

// field adds a field, unless it is empty.
func (e *encoding) field(number protowire.Number, text []byte) {
	if len(text) > 0 {
		e.lead(number, len(text))
		e.put(text)
	}
}

// lead begins a field of so many bytes.
func (e *encoding) lead(number protowire.Number, size int) {
	e.rest = protowire.AppendVarint(protowire.AppendTag(e.rest, number, protowire.BytesType), uint64(size))
}

func (e *encoding) number(number protowire.Number, v uint64) {
	e.rest = protowire.AppendVarint(protowire.AppendTag(e.rest, number, protowire.VarintType), v)
}

func (e *encoding) put(text []byte) {
	if len(text) < largePiece {
		e.rest = append(e.rest, text...)
		return
	}
	e.cut()
	e.pieces = append(e.pieces, text)
}

// cut makes a piece of what is not large and in none yet.
func (e *encoding) cut() {
	if n := len(e.rest); n > e.cuts {
		e.pieces, e.cuts = append(e.pieces, e.rest[e.cuts:n:n]), n
	}
}

// message encodes the chunk, in pieces that are together, byte for byte, what protobuf
// writes. They are good until the chunk is begun anew.
func (c *Chunker) message() [][]byte {
	for i := range c.columns {
		if c.used.holds(i) {
			c.columns[i].pad(i, len(c.stems))
		}
	}
	e := &c.encoding
	e.clear()
	e.number(fieldFirstRow, uint64(c.firstRow))
	for _, w := range c.words {
		e.lead(fieldWords, len(w))
		e.rest = append(e.rest, w...)
	}
	e.field(fieldIDs, c.ids)
	e.columns(c, fieldsBefore)
	for _, class := range waterClasses {
		if i := colWater + waterColumns*int(class); c.used.holds(i) {
			e.class(c, fieldWater, int(class), field{fieldDistance, i}, field{fieldOrigin, i + 1}, field{fieldState, i + 2})
		}
	}
	e.columns(c, fieldsBetween)
	for _, class := range placeClasses {
		if i := colPlaces + int(class); c.used.holds(i) {
			e.class(c, fieldPlaces, int(class), field{fieldDistance, i})
		}
	}
	e.columns(c, fieldsBehind)
	for _, o := range c.outlines {
		e.lead(fieldOutlines, proto.Size(o))
		e.rest, _ = proto.MarshalOptions{Deterministic: true}.MarshalAppend(e.rest, o) // of numbers alone
	}
	e.lead(fieldIDEnds, 4*len(c.idEnds))
	for _, end := range c.idEnds {
		e.rest = binary.LittleEndian.AppendUint32(e.rest, end)
	}
	e.cut()
	return e.pieces
}

func (e *encoding) columns(c *Chunker, list []field) {
	for _, f := range list {
		e.field(f.number, c.columns[f.column].text)
	}
}

// class adds the distances to a class of water or of places.
func (e *encoding) class(c *Chunker, number protowire.Number, class int, list ...field) {
	size := protowire.SizeTag(fieldClass) + protowire.SizeVarint(uint64(class))
	for _, f := range list {
		if n := len(c.columns[f.column].text); n > 0 {
			size += protowire.SizeTag(f.number) + protowire.SizeBytes(n)
		}
	}
	e.lead(number, size)
	e.number(fieldClass, uint64(class))
	e.columns(c, list)
}
