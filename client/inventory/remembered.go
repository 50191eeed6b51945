package inventory

import "encoding/binary"

// remembered holds what the texts of a column came to, of those that it met last: most
// columns repeat a few texts.
type remembered [1 << rememberedBits]cellValue

const (
	rememberedBits    = 9
	longestRemembered = 16 // bytes
)

// cellValue is a text of up to 16 bytes and what it comes to.
type cellValue struct {
	low, high uint64 // the text
	value     int64
	encoding  uint64 // of the value in a chunk
	length    uint8  // of the text, and one; zero: nothing is remembered here
	size      uint8  // of the encoding
	stated    uint8  // 1; 0: the text is empty
}

// placeOf is where a text is remembered.
func placeOf(low, high uint64) uint64 {
	const factor = 0xff51afd7ed558ccd // as mixed has it: it keeps texts of few digits well apart
	return (low ^ high*factor) * factor >> (64 - rememberedBits)
}

// ofLength has the bits of the bytes that belong to a text of some length, of 16.
var ofLength = func() (list [longestRemembered + 1]struct{ low, high uint64 }) {
	for n := range list {
		list[n].low, list[n].high = 1<<(8*min(n, 8))-1, 1<<(8*max(n-8, 0))-1
	}
	return list
}()

// look gives what a text with room behind it comes to, and whether that is known. It looks
// as quickColumn.readKnown does, whose loop a call would slow.
func (r *remembered) look(text []byte) (v *cellValue, known bool) {
	length := len(text)
	if length > longestRemembered {
		return nil, false
	}
	whole, only := text[:longestRemembered], &ofLength[length]
	low, high := binary.LittleEndian.Uint64(whole)&only.low, binary.LittleEndian.Uint64(whole[8:])&only.high
	v = &r[placeOf(low, high)]
	return v, v.low == low && v.high == high && v.length == uint8(length+1)
}

// valueOf is of a text what it is found by.
func valueOf(text []byte) (v cellValue) {
	var whole [longestRemembered]byte
	copy(whole[:], text)
	v.low, v.high = binary.LittleEndian.Uint64(whole[:]), binary.LittleEndian.Uint64(whole[8:])
	return v
}

// blankOf is what a column without a text comes to; nil: that needs care.
func blankOf(c *Column) *cellValue {
	v := cellValue{}
	if !v.read(c, nil) {
		return nil
	}
	return &v
}
