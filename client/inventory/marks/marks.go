// Package marks finds where the fields and lines of comma-separated values end, in many
// bytes at once.
package marks

import (
	"encoding/binary"
	"unicode/utf8"
)

// Size is how many bytes of a text are looked at in one go.
const Size = 256

// Marks has a bit for each byte of a text, the first of 64 bytes the lowest of a word.
type Marks struct {
	Ends  [Size / 64]uint64 // commas and line feeds
	Feeds [Size / 64]uint64 // line feeds
	Odd   [Size / 64]uint64 // quotes, and what is not ASCII
}

// Find marks the bytes that a text begins with, as many as there are up to Size. Bits
// behind its end are zero.
func (m *Marks) Find(text []byte) {
	if len(text) < Size {
		var whole [Size]byte
		copy(whole[:], text)
		find(&whole, m)
		return
	}
	find((*[Size]byte)(text), m)
}

// findAnywhere does with words what some processors do with more.
func findAnywhere(text *[Size]byte, m *Marks) {
	for i := range Size / 64 {
		block := (*[64]byte)(text[64*i:])
		ends, feeds, odd := uint64(0), uint64(0), uint64(0)
		for k := 0; k < len(block); k += 8 {
			word := binary.LittleEndian.Uint64(block[k:])
			feed := ^other(word, '\n')
			ends |= gather(^other(word, ',')|feed) << k
			feeds |= feed
			odd |= word | ^other(word, '"')
		}
		if odd&highest != 0 {
			m.Ends[i], m.Feeds[i], m.Odd[i] = ofEach(block)
			continue
		}
		m.Ends[i], m.Feeds[i], m.Odd[i] = ends, 0, 0
		for k := 0; k < len(block) && feeds&highest != 0; k += 8 {
			m.Feeds[i] |= gather(^other(binary.LittleEndian.Uint64(block[k:]), '\n')) << k
		}
	}
}

const (
	each    = 0x0101010101010101 // of the bytes of a word, its lowest bit
	highest = 0x80 * each
)

// other sets the highest bit of each byte of ASCII that is not this one: added to the
// largest, any but zero carries into it.
func other(word uint64, b byte) uint64 {
	const largest = highest - each
	return (word ^ each*uint64(b)) + largest
}

// gather brings the highest bits of eight bytes together: a factor has a bit for each that
// moves it to its place at the top.
func gather(word uint64) uint64 {
	const factor = 0x0002040810204081
	return word & highest * factor >> 56
}

// ofEach looks at one byte after the other.
func ofEach(block *[64]byte) (ends, feeds, odd uint64) {
	for i, b := range block {
		bit := uint64(1) << i
		switch {
		case b == '\n':
			ends, feeds = ends|bit, feeds|bit
		case b == ',':
			ends |= bit
		case b == '"' || b >= utf8.RuneSelf:
			odd |= bit
		}
	}
	return ends, feeds, odd
}
