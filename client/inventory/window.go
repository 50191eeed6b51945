package inventory

import (
	"bytes"
	"io"
)

// window stands between a file and a decoder. It holds back what is more than
// one feature ahead, since the decoder would buffer any length, and keeps count
// of lines.
type window struct {
	in     io.Reader
	offset int64 // read up to now
	limit  int64
	err    error // of the file, other than its end
	line   int   // of the last place asked for
	breaks []int64
}

// open lets the decoder read on to one feature behind the place that it has come to.
func (w *window) open(at int64) { w.limit = at + maxFeature }

// Read implements io.Reader; at the limit its error is errLongFeature.
func (w *window) Read(p []byte) (int, error) {
	if w.offset >= w.limit {
		return 0, errLongFeature
	}
	n, err := w.in.Read(p[:min(int64(len(p)), w.limit-w.offset)])
	for at := 0; ; {
		i := bytes.IndexByte(p[at:n], '\n')
		if i < 0 {
			break
		}
		at += i + 1
		w.breaks = append(w.breaks, w.offset+int64(at))
	}
	w.offset += int64(n)
	if err != nil && err != io.EOF {
		w.err = err
	}
	return n, err
}

// lineAt gives the line of a place in the file; places are asked for in order.
func (w *window) lineAt(offset int64) int {
	passed := 0
	for passed < len(w.breaks) && w.breaks[passed] <= offset {
		passed++
	}
	w.line += passed
	w.breaks = w.breaks[passed:]
	return w.line
}
