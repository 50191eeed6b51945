package inventory

import (
	"bufio"
	"bytes"
	"errors"
	"io"
)

// maxLine is how long a row of a CSV file may be, line ends in quotes included.
const maxLine = 1 << 20

// errLongLine says that the next line is longer than the buffer; drop it.
var errLongLine = errors.New("line too long")

// lines cuts a CSV file into records and counts its lines. A record stays in the
// buffer until it is taken, so that a record that turns out not to be one is
// given up after its first line and the lines behind it are read again.
type lines struct {
	in   *bufio.Reader
	line int // the last one taken
}

// newLines begins with a small buffer, which is enough for most files.
func newLines(in io.Reader) *lines { return &lines{in: bufio.NewReaderSize(in, maxField)} }

// span is a record in the buffer, good until the next call.
type span struct {
	text  []byte
	first int  // bytes of its first line
	open  bool // a quote in it is not closed; text is the first line alone
}

// record finds the next record. Blank lines are no records.
func (l *lines) record() (span, error) {
	if err := l.skipBlank(); err != nil {
		return span{}, err
	}
	first, err := l.end(0)
	if err != nil {
		return span{}, err
	}
	// A record is whole when its quotes are even: a quote inside a field is
	// written twice.
	end := first
	quotes, last := l.quotes(0, end)
	for quotes%2 == 1 {
		next, err := l.end(end)
		more, at := l.quotes(end, max(end, next))
		if err != nil || more == 0 && next-last > maxField+1 {
			return span{text: l.peek(first), first: first, open: true}, nil
		}
		if more > 0 {
			last = at
		}
		quotes, end = quotes+more, next
	}
	return span{text: l.peek(end), first: first}, nil
}

func (l *lines) peek(n int) []byte {
	text, _ := l.in.Peek(n)
	return text
}

// quotes counts the quotes between two places of the buffer, and tells where the
// last one is.
func (l *lines) quotes(from, to int) (n, last int) {
	text := l.peek(to)[from:]
	return bytes.Count(text, []byte{'"'}), from + bytes.LastIndexByte(text, '"')
}

// skipBlank passes over lines without anything in them.
func (l *lines) skipBlank() error {
	for {
		end, err := l.end(0)
		if err != nil {
			return err
		}
		switch string(l.peek(end)) {
		case "\n", "\r\n", "\r": // a lone return ends the file
		default:
			return nil
		}
		l.take(end)
	}
}

// end finds the end of the line that begins at a place of the buffer: behind its
// line end, or at the end of the file. Its error is errLongLine where the buffer
// cannot hold the line.
func (l *lines) end(from int) (int, error) {
	for searched := from; ; {
		text := l.peek(l.in.Buffered())
		if i := bytes.IndexByte(text[searched:], '\n'); i >= 0 {
			return searched + i + 1, nil
		}
		searched = len(text)
		switch _, err := l.in.Peek(len(text) + 1); {
		case err == nil:
		case err == io.EOF && searched > from:
			return searched, nil
		case err == bufio.ErrBufferFull && l.in.Size() < maxLine:
			l.in = bufio.NewReaderSize(l.in, maxLine)
			l.peek(searched)
		case err == bufio.ErrBufferFull:
			return 0, errLongLine
		default:
			return 0, err
		}
	}
}

// take passes over n bytes, which are whole lines in the buffer.
func (l *lines) take(n int) {
	l.line += max(1, bytes.Count(l.peek(n), []byte{'\n'}))
	l.in.Discard(n)
}

// each hands on the next lines, without their line ends, and passes over those that are
// taken: up to the first that is not, or that does not end with a line feed. It passes
// over blank lines.
func (l *lines) each(take func(text []byte) bool) {
	for {
		text, used := l.peek(l.in.Buffered()), 0
		for {
			end := bytes.IndexByte(text[used:], '\n')
			if end < 0 {
				break
			}
			line := text[used : used+end]
			if end > 0 && line[end-1] == '\r' {
				line = line[:end-1]
			}
			if len(line) > 0 && !take(line) {
				l.in.Discard(used)
				return
			}
			l.line++
			used += end + 1
		}
		l.in.Discard(used)
		if end, err := l.end(0); err != nil || l.peek(end)[end-1] != '\n' {
			return
		}
	}
}

// ahead gives what is at hand of the file from the next line on that is not blank, which is
// whole, with room behind that line and its end; it is empty where there is no such line, or
// it is long or does not end with a line feed.
func (l *lines) ahead(room int) []byte {
	for range 3 {
		text := l.peek(l.in.Buffered())
		length := bytes.IndexByte(text, '\n')
		for length == 0 || length == 1 && text[0] == '\r' {
			l.pass(length+1, 1)
			text = text[length+1:]
			length = bytes.IndexByte(text, '\n')
		}
		switch {
		case length < 0:
			if end, err := l.end(0); err != nil || l.peek(end)[end-1] != '\n' {
				return nil
			}
		case cap(text) <= length+room:
			l.peek(len(text) + 1) // which moves it to the beginning of the buffer
		default:
			return text
		}
	}
	return nil
}

// pass passes over so many bytes, which are so many lines in the buffer.
func (l *lines) pass(n, lines int) {
	l.line += lines
	l.in.Discard(n)
}

// drop passes over the rest of a line that is too long for the buffer.
func (l *lines) drop() error {
	l.line++
	for {
		_, err := l.in.ReadSlice('\n')
		if err != bufio.ErrBufferFull {
			return err
		}
	}
}
