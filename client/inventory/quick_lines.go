package inventory

import (
	"bytes"
	"encoding/binary"
	"math/bits"
	"unicode/utf8"
)

// quickLines are lines that follow each other, cut into their fields.
type quickLines struct {
	columns int
	text    []byte // from the first line on, with room behind the last
	cuts    []int  // before the first field of the first line, and behind each field of all
	n       int
	uneven  bool // a line has quotes, or a return before its line feed
	most    int  // lines to be cut next
}

const (
	// longest is how long a line is that is read quickly: each of its fields is then
	// short enough.
	longest = 4 << 10
	// roomBehind is what is read behind the end of a line, and not taken for it.
	roomBehind = longestRemembered
	// cutsAhead is how many more cuts are written than are found.
	cutsAhead = 64 + 4
)

func newQuickLines(columns int) quickLines {
	return quickLines{columns: columns, cuts: make([]int, 1+linesAtOnce*columns+cutsAhead), most: linesAtOnce}
}

// cut cuts the lines that a text begins with, up to the first that needs care.
func (l *quickLines) cut(text []byte) {
	l.text, l.uneven = text[:min(len(text)+roomBehind, cap(text))], false
	text = l.text[:min(len(text), len(l.text)-roomBehind)]
	l.cuts[0] = -1
	if l.cutPlain(text); l.n == 0 {
		l.cutQuoted(text)
	}
}

// cutPlain cuts lines of ASCII without quotes.
func (l *quickLines) cutPlain(text []byte) {
	l.find(text)
	from := 0
	for l.n = 0; l.n < l.most; l.n++ {
		length := bytes.IndexByte(text[from:], '\n')
		if length <= 0 || length > longest || l.cuts[(l.n+1)*l.columns] != from+length {
			break
		}
		l.uneven = l.uneven || text[from+length-1] == '\r'
		from += length + 1
	}
	if quote := bytes.IndexByte(text[:from], '"'); quote >= 0 || !isASCII(text[:from]) {
		l.n, from = 0, 0
	}
}

// find finds the commas and line feeds of as many lines as are wanted, of ASCII, and
// marks behind the last where there are fewer.
func (l *quickLines) find(text []byte) {
	cuts, n, last := l.cuts, 1, l.most*l.columns
	for at := 0; n <= last && at < len(text); at += 64 {
		block := text[at:]
		if len(block) < 64 {
			var rest [64]byte
			copy(rest[:], block)
			block = rest[:]
		}
		found := endsIn((*[64]byte)(block))
		more := bits.OnesCount64(found)
		// Four at a time, whether there are as many or not: how many there are
		// nothing foretells.
		for i := n; i < n+more; i += 4 {
			four := cuts[i : i+4 : i+4]
			four[0] = at + bits.TrailingZeros64(found)
			found &= found - 1
			four[1] = at + bits.TrailingZeros64(found)
			found &= found - 1
			four[2] = at + bits.TrailingZeros64(found)
			found &= found - 1
			four[3] = at + bits.TrailingZeros64(found)
			found &= found - 1
		}
		n += more
	}
	for ; n <= last; n++ {
		cuts[n] = -1
	}
}

// cutQuoted cuts lines in UTF-8. Quotes are looked through only where they enclose a
// whole field.
func (l *quickLines) cutQuoted(text []byte) {
	from := 0
	l.uneven = true
	for l.n = 0; l.n < l.most; l.n++ {
		length := bytes.IndexByte(text[from:], '\n')
		if length <= 0 || length > longest {
			break
		}
		line := text[from : from+length]
		if line[length-1] == '\r' {
			line = line[:length-1]
		}
		cuts := l.cuts[l.n*l.columns+1:][:l.columns]
		if !utf8.Valid(line) || !splitQuoted(line, cuts) {
			break
		}
		for i := range cuts {
			cuts[i] += from
		}
		cuts[l.columns-1] = from + length
		from += length + 1
	}
}

// field is where a field of a line begins and ends.
func (l *quickLines) field(line, field int) (from, to int) {
	at := line*l.columns + field
	return l.cuts[at] + 1, l.cuts[at+1]
}

// cell is the text of a field, and false for quotes without anything between them.
func (l *quickLines) cell(line, field int) (text []byte, ok bool) {
	from, to := l.field(line, field)
	if l.uneven {
		if from, to, ok = l.trimmed(from, to); !ok {
			return nil, false
		}
	}
	return l.text[from:to], true
}

// trimmed leaves out what encloses the text of a field, and reports false for quotes
// without anything between them.
func (l *quickLines) trimmed(from, to int) (int, int, bool) {
	if from < to && l.text[to] == '\n' && l.text[to-1] == '\r' {
		to--
	}
	if from == to || l.text[from] != '"' {
		return from, to, true
	}
	return from + 1, to - 1, from+2 < to
}

// end is where the line behind the first n begins.
func (l *quickLines) end(n int) int { return l.cuts[n*l.columns] + 1 }

// length is that of a line, without its line end.
func (l *quickLines) length(line int) int {
	from, to := l.end(line), l.end(line+1)-1
	if l.uneven && l.text[to-1] == '\r' {
		to--
	}
	return to - from
}

// isASCII tells a text without a byte whose highest bit is set.
func isASCII(text []byte) bool {
	const highest = 0x8080808080808080
	var all uint64
	for ; len(text) >= 32; text = text[32:] {
		four := text[:32]
		all |= binary.LittleEndian.Uint64(four) | binary.LittleEndian.Uint64(four[8:]) |
			binary.LittleEndian.Uint64(four[16:]) | binary.LittleEndian.Uint64(four[24:])
	}
	for ; len(text) >= 8; text = text[8:] {
		all |= binary.LittleEndian.Uint64(text)
	}
	for _, b := range text {
		all |= uint64(b)
	}
	return all&highest == 0
}

// endsIn sets a bit for each of 64 bytes of ASCII that is a comma or a line feed.
func endsIn(block *[64]byte) uint64 {
	return ^(others(block[:8]) | others(block[8:16])<<8 | others(block[16:24])<<16 | others(block[24:32])<<24 |
		others(block[32:40])<<32 | others(block[40:48])<<40 | others(block[48:56])<<48 | others(block[56:])<<56)
}

// others sets a bit for each of eight bytes of ASCII that is neither a comma nor a line
// feed: added to the largest of them, any but zero carries into the highest bit, and each
// of these is brought to its place at the top by one bit of the factor.
func others(eight []byte) uint64 {
	const commas, feeds, low, highest, factor = 0x2C2C2C2C2C2C2C2C, 0x0A0A0A0A0A0A0A0A, 0x7F7F7F7F7F7F7F7F, 0x8080808080808080, 0x0002040810204081
	word := binary.LittleEndian.Uint64(eight)
	return ((word ^ commas) + low) & ((word ^ feeds) + low) & highest * factor >> 56
}

// splitQuoted finds the ends of the fields of a line with quotes.
func splitQuoted(line []byte, ends []int) bool {
	at := 0
	for n := range ends {
		if at > len(line) {
			return false
		}
		end := fieldEnd(line, at)
		if end < 0 {
			return false
		}
		ends[n], at = end, end+1
	}
	return at == len(line)+1
}

// fieldEnd is the end of the field that begins at a place of a line, and -1 where
// its quotes need care.
func fieldEnd(line []byte, at int) int {
	from := at
	if at < len(line) && line[at] == '"' {
		closing := bytes.IndexByte(line[at+1:], '"')
		if closing < 0 {
			return -1
		}
		from = at + 1 + closing + 1
		if from < len(line) && line[from] != ',' {
			return -1
		}
	}
	end := bytes.IndexByte(line[from:], ',')
	if end < 0 {
		end = len(line) - from
	}
	if from == at && bytes.IndexByte(line[from:from+end], '"') >= 0 {
		return -1
	}
	return from + end
}

func unquoted(text []byte) []byte {
	if text[0] == '"' {
		return text[1 : len(text)-1]
	}
	return text
}

// isSpaced tells a text that is empty, or that begins or ends with what could be
// space.
func isSpaced(text []byte) bool {
	return len(text) == 0 || !isPlain(text[0]) || !isPlain(text[len(text)-1])
}

func isPlain(b byte) bool { return b > ' ' && b < utf8.RuneSelf }
