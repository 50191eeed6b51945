package columnar

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
	"unicode/utf8"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// Append adds the encoding of a chunk, byte for byte that of protobuf. It writes the
// numbers several times faster, and leaves a chunk with fields that it does not know to
// protobuf.
func Append(b []byte, c *treatmentv1.StemChunk) ([]byte, error) {
	if !isPlain(c) {
		return whole.MarshalAppend(b, c)
	}
	b = appendNumber(b, 1, uint64(c.GetFirstRow()))
	for _, w := range c.GetWords() {
		b = protowire.AppendString(protowire.AppendTag(b, wordsField, protowire.BytesType), w)
	}
	b = appendBytes(b, 3, c.GetStemIds())
	b = appendPacked(appendPacked(b, 4, c.GetSite(), plain), 5, c.GetSpecies(), plain)
	for number := protowire.Number(6); number <= 21; number++ {
		b = appendColumn(b, c, number)
	}
	for _, w := range c.GetWater() {
		b = appendWater(b, waterField, w)
	}
	b = appendColumn(b, c, 23)
	for _, p := range c.GetPlaces() {
		b = appendNested(b, placesField, func(b []byte) []byte {
			b = appendPacked(appendNumber(b, 1, uint64(p.GetPlaceClass())), 2, p.GetDistanceUm(), zigZag)
			return appendTruths(b, 3, p.GetAtLeast())
		})
	}
	b = appendColumn(b, c, 25)
	b = appendDegrees(appendDegrees(b, 26, c.GetLatitudeDeg()), 27, c.GetLongitudeDeg())
	b = appendColumn(b, c, 28)
	for _, o := range c.GetOutlines() {
		var err error
		if b, err = appendMessage(b, outlinesField, o); err != nil {
			return b, err
		}
	}
	return appendEnds(b, 30, c.GetStemIdEnds()), nil
}

// AppendAnswers is Append for the answer to a chunk.
func AppendAnswers(b []byte, a *treatmentv1.PrescriptionChunk) ([]byte, error) {
	if a == nil || len(a.ProtoReflect().GetUnknown()) > 0 || !arePlain(a.GetComputedWater()) {
		return whole.MarshalAppend(b, a)
	}
	b = appendBytes(appendNumber(b, 1, uint64(a.GetFirstRow())), 2, a.GetOutcome())
	for _, p := range a.GetPieces() {
		b = protowire.AppendBytes(protowire.AppendTag(b, piecesField, protowire.BytesType), p)
	}
	b = appendPacked(b, 4, a.GetExplanation(), plain)
	for number := protowire.Number(5); number <= 12; number++ {
		b = appendPacked(b, number, *amountColumn(a, number), plain)
	}
	b = appendPacked(b, 13, a.GetRateUgPerAc(), zigZag)
	var err error
	for _, d := range a.GetSecondDoses() {
		if b, err = appendMessage(b, secondField, d); err != nil {
			return b, err
		}
	}
	for _, r := range a.GetRejections() {
		if b, err = appendMessage(b, rejectionsField, r); err != nil {
			return b, err
		}
	}
	b = appendPacked(b, 16, a.GetCutUl(), plain)
	for _, w := range a.GetComputedWater() {
		b = appendWater(b, computedField, w)
	}
	b = appendPacked(appendPacked(b, 18, a.GetExplanationPieces(), plain), 19, a.GetExplanationEnds(), plain)
	return appendPacked(b, 20, a.GetDose(), plain), nil
}

// whole writes equal messages alike.
var whole = proto.MarshalOptions{Deterministic: true}

// isPlain reports whether a chunk has nothing but what Append writes, and all of its text
// can be written.
func isPlain(c *treatmentv1.StemChunk) bool {
	if c == nil || len(c.ProtoReflect().GetUnknown()) > 0 || !utf8.ValidString(c.GetStemIds()) || !arePlain(c.GetWater()) {
		return false
	}
	return !slices.ContainsFunc(c.GetWords(), func(w string) bool { return !utf8.ValidString(w) }) &&
		!slices.ContainsFunc(c.GetPlaces(), func(p *treatmentv1.PlaceColumn) bool { return len(p.ProtoReflect().GetUnknown()) > 0 })
}

func arePlain(list []*treatmentv1.WaterColumn) bool {
	return !slices.ContainsFunc(list, func(w *treatmentv1.WaterColumn) bool { return len(w.ProtoReflect().GetUnknown()) > 0 })
}

// appendColumn adds the column of words or numbers that has a number, if there is one.
func appendColumn(b []byte, c *treatmentv1.StemChunk, number protowire.Number) []byte {
	if column := wordColumn(c, number); column != nil {
		return appendBytes(b, number, *column)
	}
	return appendPacked(b, number, *numberColumn(c, number), zigZag)
}

func appendWater(b []byte, number protowire.Number, w *treatmentv1.WaterColumn) []byte {
	return appendNested(b, number, func(b []byte) []byte {
		b = appendPacked(appendNumber(b, 1, uint64(w.GetWaterClass())), 2, w.GetDistanceUm(), zigZag)
		b = appendTruths(appendBytes(b, 3, w.GetOrigin()), 4, w.GetAtLeast())
		return appendBytes(b, 5, w.GetState())
	})
}

func appendNumber(b []byte, number protowire.Number, v uint64) []byte {
	if v == 0 {
		return b
	}
	return protowire.AppendVarint(protowire.AppendTag(b, number, protowire.VarintType), v)
}

// appendLead adds what stands before so many bytes of a field.
func appendLead(b []byte, number protowire.Number, length int) []byte {
	return protowire.AppendVarint(protowire.AppendTag(b, number, protowire.BytesType), uint64(length))
}

func appendBytes[T string | []byte](b []byte, number protowire.Number, v T) []byte {
	if len(v) == 0 {
		return b
	}
	return append(appendLead(b, number, len(v)), v...)
}

func appendTruths(b []byte, number protowire.Number, column []bool) []byte {
	if len(column) == 0 {
		return b
	}
	b = appendLead(b, number, len(column))
	for _, v := range column {
		b = append(b, byte(protowire.EncodeBool(v)))
	}
	return b
}

func appendDegrees(b []byte, number protowire.Number, column []float64) []byte {
	if len(column) == 0 {
		return b
	}
	b = slices.Grow(appendLead(b, number, 8*len(column)), 8*len(column))
	for _, v := range column {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

func appendEnds(b []byte, number protowire.Number, column []uint32) []byte {
	if len(column) == 0 {
		return b
	}
	b = slices.Grow(appendLead(b, number, 4*len(column)), 4*len(column))
	for _, v := range column {
		b = binary.LittleEndian.AppendUint32(b, v)
	}
	return b
}

func appendMessage(b []byte, number protowire.Number, m proto.Message) ([]byte, error) {
	var err error
	b = appendNested(b, number, func(b []byte) []byte {
		b, err = whole.MarshalAppend(b, m)
		return b
	})
	return b, err
}

// appendNested adds a field whose length shows once it is written. It leaves room for the
// length, and closes the gap if it was too much.
func appendNested(b []byte, number protowire.Number, write func([]byte) []byte) []byte {
	b = protowire.AppendTag(b, number, protowire.BytesType)
	at := len(b)
	b = write(append(b, "length"...))
	return putLength(b, at, at+len("length"))
}

// putLength writes how long the text from a place on is, in front of it, and moves the
// text where it does not fit.
func putLength(b []byte, at, from int) []byte {
	var length [binary.MaxVarintLen64]byte
	n := binary.PutUvarint(length[:], uint64(len(b)-from))
	if at+n != from {
		text := b[from:]
		b = slices.Grow(b, n)[:at+n+len(text)]
		copy(b[at+n:], text)
	}
	copy(b[at:], length[:n])
	return b
}

// writing is how the numbers of a column are written.
type writing bool

const (
	plain  writing = false // as they are
	zigZag writing = true  // shifted by one to make room for the sign, which turns the other bits of a number below zero
)

func of[T int32 | int64](as writing, v T) uint64 {
	if as == zigZag {
		return uint64(v)<<1 ^ uint64(int64(v)>>63)
	}
	return uint64(v)
}

// appendPacked adds a column of numbers. Eight in a row that take a byte each, as those
// that are not known do, are written together; of others the length of each is worked out
// without a jump, for nothing foretells it.
func appendPacked[T int32 | int64](b []byte, number protowire.Number, column []T, as writing) []byte {
	if len(column) == 0 {
		return b
	}
	b = protowire.AppendTag(b, number, protowire.BytesType)
	// The length takes as much as if each number took a byte; if not, the text is moved.
	at, from := len(b), len(b)+protowire.SizeVarint(uint64(len(column)))
	b = slices.Grow(b, from-at+binary.MaxVarintLen64*len(column)+8)[:from]
	text, n := b[from:cap(b)], 0
	for ; len(column) >= 8; column = column[8:] {
		c := (*[8]T)(column)
		if as == zigZag && c[0]&c[1]&c[2]&c[3]&c[4]&c[5]&c[6]&c[7] == -1 {
			binary.LittleEndian.PutUint64(text[n:], noneKnown)
			n += 8
			continue
		}
		// Where the first takes more, most do.
		if of(as, c[0]) < 0x80 && of(as, c[1])|of(as, c[2])|of(as, c[3])|of(as, c[4])|of(as, c[5])|of(as, c[6])|of(as, c[7]) < 0x80 {
			eight := of(as, c[0]) | of(as, c[1])<<8 | of(as, c[2])<<16 | of(as, c[3])<<24 | of(as, c[4])<<32 | of(as, c[5])<<40 | of(as, c[6])<<48 | of(as, c[7])<<56
			binary.LittleEndian.PutUint64(text[n:], eight)
			n += 8
			continue
		}
		for _, v := range c {
			u := of(as, v)
			if u >= 1<<56 {
				n += binary.PutUvarint(text[n:], u)
				continue
			}
			w, length := Varint(u)
			binary.LittleEndian.PutUint64(text[n:], w)
			n += length
		}
	}
	for _, v := range column {
		n += binary.PutUvarint(text[n:], of(as, v))
	}
	return putLength(b[:from+n], at, from)
}

// Varint gives a number of at most 56 bits as a column has it, from the lowest byte up, and
// how many bytes it takes.
func Varint(v uint64) (text uint64, length int) {
	form := &forms[bits.Len64(v|1)&63]
	return parted(v) | form.more, form.length
}

// forms is how numbers of so many bits are written: in how many bytes, and the bits that
// tell of each but the last that more follow.
var forms = func() (list [64]struct {
	more   uint64
	length int
}) {
	for n := range list[:57] {
		length := max(1, (n+6)/7)
		list[n].length, list[n].more = length, ends&(1<<(8*(length-1))-1)
	}
	return list
}()

// parted puts seven bits of a number into each of eight bytes: it undoes joined.
func parted(w uint64) uint64 {
	w = w&0x000000000fffffff | w<<4&0x0fffffff00000000
	w = w&0x00003fff00003fff | w<<2&0x3fff00003fff0000
	return w&0x007f007f007f007f | w<<1&0x7f007f007f007f00
}
