package columnar

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
	"unicode/utf8"
	"unsafe"

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
	return decodeOr(data, c, func(b []byte) string { return string(b) })
}

// DecodeIn is Decode into a chunk whose ids lie in data: they are valid, as the chunk is,
// while data stays as it is. Who keeps an id for longer copies it.
func DecodeIn(data []byte, c *treatmentv1.StemChunk) error {
	return decodeOr(data, c, func(b []byte) string { return unsafe.String(unsafe.SliceData(b), len(b)) })
}

func decodeOr(data []byte, c *treatmentv1.StemChunk, text func([]byte) string) error {
	empty(c)
	if eachField(data, lists, func(f *field) bool { return take(c, f, text) }) {
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

// take reads a field of a chunk, and the text of the ids by text.
func take(c *treatmentv1.StemChunk, f *field, text func([]byte) string) bool {
	if f.bytes == nil {
		c.FirstRow = int64(f.value)
		return f.number == 1
	}
	b := f.bytes
	switch f.number {
	case wordsField:
		return appendWord(&c.Words, b)
	case 3:
		c.StemIds = text(b)
		return utf8.ValidString(c.StemIds)
	case 4:
		return appendNumbers(&c.Site, b, plain)
	case 5:
		return appendNumbers(&c.Species, b, plain)
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
	return column != nil && appendNumbers(column, b, zigZag)
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
			return appendNumbers(&w.DistanceUm, f.bytes, zigZag)
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
			return appendNumbers(&p.DistanceUm, f.bytes, zigZag)
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

// read undoes of.
func read[T int32 | int64](as writing, v uint64) T {
	if as == zigZag {
		return T(v>>1 ^ -(v & 1))
	}
	return T(v)
}

// ends are the highest bits of eight bytes: a number ends in the byte without its own.
const (
	ends        = 0x8080808080808080
	endsOfPairs = 0x8000800080008000 // of four numbers of two bytes each
	endsOfFours = 0x8000000080000000 // of two numbers of four bytes each
	noneKnown   = 0x0101010101010101 // eight numbers that are -1, as those that are not known are
)

// appendNumbers adds the numbers of a packed column, and reports false if they are none. It
// reads two that end within the next eight bytes without a jump that depends on their
// lengths, which nothing foretells: -1 takes one byte and a distance six. What lay in the
// memory behind the column may be overwritten.
func appendNumbers[T int32 | int64](column *[]T, b []byte, as writing) bool {
	values, n := (*column)[:cap(*column)], len(*column)
	for at := 0; at < len(b); {
		if len(values) < n+8 {
			values = slices.Grow(values[:n], count(b[at:])+8)
			values = values[:cap(values)]
		}
		into := (*[8]T)(values[n:])
		if at+8 > len(b) {
			v, length := protowire.ConsumeVarint(b[at:])
			if length < 0 {
				return false
			}
			into[0] = read[T](as, v)
			n, at = n+1, at+length
			continue
		}
		w := binary.LittleEndian.Uint64(b[at:])
		last := ^w & ends
		switch {
		case w == noneKnown:
			one := read[T](as, 1)
			into[0], into[1], into[2], into[3], into[4], into[5], into[6], into[7] = one, one, one, one, one, one, one, one
			n, at = n+8, at+8
			continue
		case last == ends:
			into[0], into[1], into[2], into[3] = read[T](as, w&0x7f), read[T](as, w>>8&0x7f), read[T](as, w>>16&0x7f), read[T](as, w>>24&0x7f)
			into[4], into[5], into[6], into[7] = read[T](as, w>>32&0x7f), read[T](as, w>>40&0x7f), read[T](as, w>>48&0x7f), read[T](as, w>>56)
			n, at = n+8, at+8
			continue
		case last == endsOfPairs:
			w = pairs(w)
			into[0], into[1], into[2], into[3] = read[T](as, w&0x3fff), read[T](as, w>>16&0x3fff), read[T](as, w>>32&0x3fff), read[T](as, w>>48)
			n, at = n+4, at+8
			continue
		case last == endsOfFours:
			w = fours(pairs(w))
			into[0], into[1] = read[T](as, w&0x0fffffff), read[T](as, w>>32)
			n, at = n+2, at+8
			continue
		case last == 0: // one of more than eight bytes
			v, length := protowire.ConsumeVarint(b[at:])
			if length < 0 {
				return false
			}
			into[0] = read[T](as, v)
			n, at = n+1, at+length
			continue
		}
		first := bits.TrailingZeros64(last)
		into[0] = read[T](as, joined(w&(math.MaxUint64>>(63-first))))
		if last &= last - 1; last == 0 {
			n, at = n+1, at+first/8+1
			continue
		}
		second := bits.TrailingZeros64(last)
		into[1] = read[T](as, joined(w&(math.MaxUint64>>(63-second))>>(first&63)>>1))
		n, at = n+2, at+second/8+1
	}
	*column = values[:n]
	return true
}

// pairs puts the seven bits of both of each two bytes together, and fours what it gives of
// each two of those.
func pairs(w uint64) uint64 { return w&0x007f007f007f007f | w&0x7f007f007f007f00>>1 }
func fours(w uint64) uint64 { return w&0x00003fff00003fff | w&0x3fff00003fff0000>>2 }

// joined puts the seven bits of each of up to eight bytes together.
func joined(w uint64) uint64 {
	w = fours(pairs(w))
	return w&0x000000000fffffff | w&0x0fffffff00000000>>4
}

// count is how many numbers end in a text.
func count(b []byte) int {
	const ones = ends >> 7
	n := 0
	for len(b) >= 8 {
		var sums uint64 // of each of eight bytes
		for range min(255, len(b)/8) {
			sums += ^binary.LittleEndian.Uint64(b) >> 7 & ones
			b = b[8:]
		}
		const even = 0x00ff00ff00ff00ff
		n += int((sums&even + sums>>8&even) * 0x0001000100010001 >> 48)
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
	n, from := len(b)/8, len(*column)
	*column = slices.Grow(*column, n)[:from+n]
	into := (*column)[from:]
	for i := range into {
		into[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return len(b)%8 == 0
}

func appendFixed32(column *[]uint32, b []byte) bool {
	n, from := len(b)/4, len(*column)
	*column = slices.Grow(*column, n)[:from+n]
	into := (*column)[from:]
	for i := range into {
		into[i] = binary.LittleEndian.Uint32(b[4*i:])
	}
	return len(b)%4 == 0
}
