package inventory

import "encoding/binary"

// remembered holds what the texts of a column came to, of those that it met last: most
// columns repeat a few texts.
type remembered [1 << rememberedBits]cellValue

const (
	rememberedBits    = 8
	longestRemembered = 16 // bytes
)

// cellValue is a text of up to 16 bytes and what it comes to.
type cellValue struct {
	low, high uint64 // the text
	value     int64
	encoding  uint64 // of the value in a chunk
	length    uint8  // zero: nothing is remembered here
	size      uint8  // of the encoding
}

// find gives the place of a text of 1 to 16 bytes, and whether it is remembered there;
// if not, the place is the text's, but for its value.
func (m *remembered) find(text []byte) (at *cellValue, known bool) {
	low, high := wordsOf(text)
	const factor = 0x9E3779B97F4A7C15 // 2^64 by the golden ratio: Fibonacci hashing
	at = &m[(low^high*factor^uint64(len(text)))*factor>>(64-rememberedBits)]
	if at.low == low && at.high == high && int(at.length) == len(text) {
		return at, true
	}
	*at = cellValue{low: low, high: high}
	return at, false
}

// wordsOf puts up to 16 bytes into two words.
func wordsOf(text []byte) (low, high uint64) {
	n := len(text)
	if cap(text) < 16 {
		text = append(make([]byte, 0, 16), text...)
	}
	whole := text[:16] // what is behind the text falls out: a shift by 64 leaves nothing
	low, high = binary.LittleEndian.Uint64(whole), binary.LittleEndian.Uint64(whole[8:])
	if n <= 8 {
		return low << (64 - 8*n) >> (64 - 8*n), 0
	}
	return low, high << (128 - 8*n) >> (128 - 8*n)
}
