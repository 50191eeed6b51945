package store

import (
	"fmt"
	"sync"

	"github.com/klauspost/compress/s2"
)

// Chunks and answers are columns that repeat themselves: they are kept pressed to a
// tenth and less, in a fraction of the time that writing them takes, twice as SQLite does.

// buffers are as large as pressed answers can become.
var buffers = sync.Pool{New: func() any { return new([]byte) }}

// pressed hands bytes, pressed, to f, which must not keep them.
func pressed(b []byte, f func([]byte) error) error {
	buffer := buffers.Get().(*[]byte)
	defer buffers.Put(buffer)
	if need := s2.MaxEncodedLen(len(b)); cap(*buffer) < need {
		*buffer = make([]byte, need)
	}
	return f(s2.Encode((*buffer)[:cap(*buffer)], b))
}

// unpress gives back what was pressed, in the memory of into if that is enough: new memory
// of a chunk takes longer to be cleared than the chunk to be unpressed.
func unpress(into, b []byte) ([]byte, error) {
	out, err := s2.Decode(into, b)
	if err != nil {
		return nil, fmt.Errorf("the database is damaged, restore it from a backup: %w", err)
	}
	return present(out), nil
}
