package columnar

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
	"unicode/utf8"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Decode reads a chunk into one that may have been used before, whose memory it uses again.
// The chunk is then what proto.Unmarshal gives. It is for servers: of a chunk as it is
// usually encoded, with columns packed and each field once, it reads the numbers several
// times faster, and leaves any other to protobuf.
func Decode(data []byte, c *treatmentv1.StemChunk) error {
	if decode(data, c) {
		return nil
	}
	return proto.Unmarshal(data, c)
}

// field is one field of a message.
type field struct {
	number protowire.Number
	bytes  []byte // nil: a number
	value  uint64
}

// eachField hands on the fields of a message, and reports false where one comes twice that
// is not among those that may, or has another type than bytes or varint, or where take
// gives up.
func eachField(data []byte, twice uint64, take func(f *field) bool) bool {
	var seen uint64
	for len(data) > 0 {
		number, kind, n := protowire.ConsumeTag(data)
		if n < 0 || number > 63 {
			return false
		}
		data = data[n:]
		f := field{number: number}
		switch kind {
		case protowire.BytesType:
			f.bytes, n = protowire.ConsumeBytes(data)
		case protowire.VarintType:
			f.value, n = protowire.ConsumeVarint(data)
		default:
			return false
		}
		one := uint64(1) << number
		if n < 0 || seen&one&^twice != 0 || !take(&f) {
			return false
		}
		seen |= one
		data = data[n:]
	}
	return true
}

// The numbers of the fields that are lists of texts or of messages.
const (
	wordsField    = 2
	waterField    = 22
	placesField   = 24
	outlinesField = 29
	lists         = 1<<wordsField | 1<<waterField | 1<<placesField | 1<<outlinesField
)

func decode(data []byte, c *treatmentv1.StemChunk) bool {
	empty(c)
	return eachField(data, lists, func(f *field) bool { return take(c, f) })
}

// take reads a field of a chunk.
func take(c *treatmentv1.StemChunk, f *field) bool {
	if f.bytes == nil {
		c.FirstRow = int64(f.value)
		return f.number == 1
	}
	b := f.bytes
	switch f.number {
	case wordsField:
		return appendWord(&c.Words, b)
	case 3:
		c.StemIds = string(b)
		return utf8.ValidString(c.StemIds)
	case 4:
		return appendInt32(&c.Site, b)
	case 5:
		return appendInt32(&c.Species, b)
	case waterField:
		return takeWater(c, b)
	case placesField:
		return takePlaces(c, b)
	case 26:
		return appendDoubles(&c.LatitudeDeg, b)
	case 27:
		return appendDoubles(&c.LongitudeDeg, b)
	case outlinesField:
		o := &treatmentv1.RowOutline{}
		c.Outlines = append(c.Outlines, o)
		return proto.Unmarshal(b, o) == nil
	case 30:
		return appendFixed32(&c.StemIdEnds, b)
	}
	if column := wordColumn(c, f.number); column != nil {
		*column = append(*column, b...)
		return true
	}
	column := numberColumn(c, f.number)
	return column != nil && appendZigZag(column, b)
}

func wordColumn(c *treatmentv1.StemChunk, number protowire.Number) *[]byte {
	switch number {
	case 6:
		return &c.Form
	case 15:
		return &c.Desirable
	case 16:
		return &c.LandUse
	case 17:
		return &c.Soil
	case 18:
		return &c.Bark
	case 19:
		return &c.RootCheck
	case 20:
		return &c.SeedBearing
	}
	return nil
}

func numberColumn(c *treatmentv1.StemChunk, number protowire.Number) *[]int64 {
	switch number {
	case 7:
		return &c.DiameterUm
	case 8:
		return &c.HeightUm
	case 9:
		return &c.Count
	case 10:
		return &c.StemsPerHa
	case 11:
		return &c.AreaMm2
	case 12:
		return &c.CrownWidthUm
	case 13:
		return &c.LargerCount
	case 14:
		return &c.LargerDiameterUm
	case 21:
		return &c.SlopePermille
	case 23:
		return &c.OtherWaterBeyondUm
	case 25:
		return &c.OtherPlacesBeyondUm
	case 28:
		return &c.CoordinateUncertaintyUm
	}
	return nil
}

// empty makes a chunk an empty one, and keeps the memory of its columns.
func empty(c *treatmentv1.StemChunk) {
	c.ProtoReflect().SetUnknown(nil)
	c.FirstRow, c.StemIds, c.Outlines = 0, "", nil
	c.Words, c.StemIdEnds, c.Site, c.Species = c.Words[:0], c.StemIdEnds[:0], c.Site[:0], c.Species[:0]
	c.LatitudeDeg, c.LongitudeDeg = c.LatitudeDeg[:0], c.LongitudeDeg[:0]
	c.Water, c.Places = c.Water[:0], c.Places[:0]
	for number := range protowire.Number(outlinesField) {
		if column := wordColumn(c, number); column != nil {
			*column = (*column)[:0]
		}
		if column := numberColumn(c, number); column != nil {
			*column = (*column)[:0]
		}
	}
}

// again gives one more message of a list, an earlier one if its memory has one.
func again[M any](list *[]*M) *M {
	l := *list
	if len(l) < cap(l) {
		l = l[:len(l)+1]
	} else {
		l = append(l, nil)
	}
	*list = l
	last := &l[len(l)-1]
	if *last == nil {
		*last = new(M)
	}
	return *last
}

func takeWater(c *treatmentv1.StemChunk, b []byte) bool {
	w := again(&c.Water)
	w.ProtoReflect().SetUnknown(nil)
	w.WaterClass = 0
	w.DistanceUm, w.Origin, w.AtLeast, w.State = w.DistanceUm[:0], w.Origin[:0], w.AtLeast[:0], w.State[:0]
	return eachField(b, 0, func(f *field) bool {
		switch {
		case f.number == 1 && f.bytes == nil:
			w.WaterClass = commonv1.WaterClass(f.value)
			return true
		case f.bytes == nil:
			return false
		}
		switch f.number {
		case 2:
			return appendZigZag(&w.DistanceUm, f.bytes)
		case 3:
			w.Origin = append(w.Origin, f.bytes...)
			return true
		case 4:
			return appendBools(&w.AtLeast, f.bytes)
		case 5:
			w.State = append(w.State, f.bytes...)
			return true
		}
		return false
	})
}

func takePlaces(c *treatmentv1.StemChunk, b []byte) bool {
	p := again(&c.Places)
	p.ProtoReflect().SetUnknown(nil)
	p.PlaceClass = 0
	p.DistanceUm, p.AtLeast = p.DistanceUm[:0], p.AtLeast[:0]
	return eachField(b, 0, func(f *field) bool {
		switch {
		case f.number == 1 && f.bytes == nil:
			p.PlaceClass = commonv1.PlaceClass(f.value)
			return true
		case f.number == 2 && f.bytes != nil:
			return appendZigZag(&p.DistanceUm, f.bytes)
		case f.number == 3 && f.bytes != nil:
			return appendBools(&p.AtLeast, f.bytes)
		}
		return false
	})
}

// appendWord adds a text. The one that stood there before is taken again if it is equal:
// chunks of a stream repeat their words.
func appendWord(list *[]string, b []byte) bool {
	l := *list
	if n := len(l); n < cap(l) {
		if before := l[:n+1][n]; before == string(b) {
			*list = l[:n+1]
			return true
		}
	}
	*list = append(l, string(b))
	return utf8.Valid(b)
}

// appendZigZag adds the numbers of a packed column, and reports false if they are none.
func appendZigZag(column *[]int64, b []byte) bool {
	from := len(*column)
	if !appendNumbers(column, b) {
		return false
	}
	for i, v := range (*column)[from:] {
		(*column)[from+i] = int64(uint64(v)>>1) ^ -(v & 1)
	}
	return true
}

func appendInt32(column *[]int32, b []byte) bool {
	return appendNumbers(column, b)
}

// ends are the highest bits of eight bytes: a number ends in the byte without its own.
const ends = 0x8080808080808080

// appendNumbers reads the varints that end within the next eight bytes together, whatever
// their lengths, which nothing foretells: -1 takes one byte and a distance six.
func appendNumbers[T int32 | int64](column *[]T, b []byte) bool {
	begin := len(*column)
	values := slices.Grow(*column, count(b))
	values = values[:begin+count(b)]
	i, at := begin, 0
	for at+8 <= len(b) {
		w := binary.LittleEndian.Uint64(b[at:])
		last := ^w & ends
		if last == 0 {
			v, n := protowire.ConsumeVarint(b[at:]) // one of more than eight bytes
			if n < 0 {
				return false
			}
			values[i] = T(v)
			i, at = i+1, at+n
			continue
		}
		if last == ends {
			for k := range values[i : i+8] {
				values[i+k] = T(w & 0x7f)
				w >>= 8
			}
			i, at = i+8, at+8
			continue
		}
		used := 64 - bits.LeadingZeros64(last)
		for last != 0 {
			n := bits.TrailingZeros64(last) + 1
			values[i] = T(joined(w & (math.MaxUint64 >> (64 - n))))
			i++
			w, last = w>>n, last>>n
		}
		at += used / 8
	}
	for at < len(b) {
		v, n := protowire.ConsumeVarint(b[at:])
		if n < 0 {
			return false
		}
		values[i] = T(v)
		i, at = i+1, at+n
	}
	*column = values
	return true
}

// joined puts the seven bits of each of up to eight bytes together.
func joined(w uint64) uint64 {
	w = w&0x007f007f007f007f | w&0x7f007f007f007f00>>1
	w = w&0x00003fff00003fff | w&0x3fff00003fff0000>>2
	return w&0x000000000fffffff | w&0x0fffffff00000000>>4
}

// count is how many numbers end in a text.
func count(b []byte) int {
	n := 0
	for ; len(b) >= 8; b = b[8:] {
		n += bits.OnesCount64(^binary.LittleEndian.Uint64(b) & ends)
	}
	for _, v := range b {
		if v < 0x80 {
			n++
		}
	}
	return n
}

func appendBools(column *[]bool, b []byte) bool {
	for _, v := range b {
		if v > 1 {
			return false // a number of several bytes
		}
		*column = append(*column, v == 1)
	}
	return true
}

func appendDoubles(column *[]float64, b []byte) bool {
	*column = slices.Grow(*column, len(b)/8)
	for ; len(b) >= 8; b = b[8:] {
		*column = append(*column, math.Float64frombits(binary.LittleEndian.Uint64(b)))
	}
	return len(b) == 0
}

func appendFixed32(column *[]uint32, b []byte) bool {
	*column = slices.Grow(*column, len(b)/4)
	for ; len(b) >= 4; b = b[4:] {
		*column = append(*column, binary.LittleEndian.Uint32(b))
	}
	return len(b) == 0
}
