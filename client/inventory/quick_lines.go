package inventory

import (
	"bytes"
	"math/bits"
	"unicode/utf8"

	"example.org/rootward/client/inventory/marks"
)

// quickLines are lines that follow each other, cut into their fields.
type quickLines struct {
	columns int
	text    []byte  // from the first line on, with room behind the last
	cuts    []int32 // before the first field of the first line, and behind each field of all
	n       int
	uneven  bool // a line has quotes, or a return before its line feed
	most    int  // lines to be cut next
	marks   marks.Marks
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
	return quickLines{columns: columns, cuts: make([]int32, 1+linesAtOnce*columns+cutsAhead), most: linesAtOnce}
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
	var feeds lineFeeds
	cuts, lines, plain := l.find(text, &feeds)
	from := int32(0)
	for l.n = 0; l.n < min(l.most, lines, cuts/l.columns); l.n++ {
		end := feeds[l.n]
		if end == from || end-from > longest || end > plain || end != l.cuts[(l.n+1)*l.columns] {
			break
		}
		l.uneven = l.uneven || text[end-1] == '\r'
		from = end + 1
	}
}

// lineFeeds is where they are, of the lines to be cut and of what is looked at with the last.
type lineFeeds [linesAtOnce + 64]int32

// find finds the commas and line feeds of as many lines as are wanted, and how many it has
// found; only up to plain the text is ASCII without quotes.
func (l *quickLines) find(text []byte, feeds *lineFeeds) (ends, lines int, plain int32) {
	cuts, last := l.cuts[1:], l.most*l.columns
	for at := 0; at < len(text) && (lines > 0 || at <= longest); at += marks.Size {
		l.marks.Find(text[at:])
		for i, found := range l.marks.Ends {
			first := int32(at + 64*i)
			more := bits.OnesCount64(found)
			// Four at a time, whether there are as many or not: how many there are
			// nothing foretells.
			for k := ends; k < ends+more; k += 4 {
				four := cuts[k : k+4 : k+4]
				four[0] = first + int32(bits.TrailingZeros64(found))
				found &= found - 1
				four[1] = first + int32(bits.TrailingZeros64(found))
				found &= found - 1
				four[2] = first + int32(bits.TrailingZeros64(found))
				found &= found - 1
				four[3] = first + int32(bits.TrailingZeros64(found))
				found &= found - 1
			}
			ends += more
			feed := l.marks.Feeds[i]
			feeds[lines&(len(feeds)-1)] = first + int32(bits.TrailingZeros64(feed))
			for k, rest := lines+1, feed&(feed-1); rest != 0; k, rest = k+1, rest&(rest-1) {
				feeds[k&(len(feeds)-1)] = first + int32(bits.TrailingZeros64(rest))
			}
			lines += bits.OnesCount64(feed)
			if odd := l.marks.Odd[i]; odd != 0 {
				return ends, lines, first + int32(bits.TrailingZeros64(odd))
			}
			if ends >= last || lines >= l.most {
				return ends, lines, first + 64
			}
		}
	}
	return ends, lines, int32(len(text))
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
			cuts[i] += int32(from)
		}
		cuts[l.columns-1] = int32(from + length)
		from += length + 1
	}
}

// field is where a field of a line begins and ends.
func (l *quickLines) field(line, field int) (from, to int) {
	at := line*l.columns + field
	return int(l.cuts[at]) + 1, int(l.cuts[at+1])
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
func (l *quickLines) end(n int) int { return int(l.cuts[n*l.columns]) + 1 }

// length is that of a line, without its line end.
func (l *quickLines) length(line int) int {
	from, to := l.end(line), l.end(line+1)-1
	if l.uneven && l.text[to-1] == '\r' {
		to--
	}
	return to - from
}

// splitQuoted finds the ends of the fields of a line with quotes.
func splitQuoted(line []byte, ends []int32) bool {
	at := 0
	for n := range ends {
		if at > len(line) {
			return false
		}
		end := fieldEnd(line, at)
		if end < 0 {
			return false
		}
		ends[n], at = int32(end), end+1
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
