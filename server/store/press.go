package store

import (
	"fmt"
	"sync"

	"github.com/klauspost/compress/s2"
)

// Chunks and answers are columns that repeat themselves: pressed, they take less than half.
// That takes less time than writing them does, twice and to a disk, as SQLite does. (It was
// tried to leave out what can hardly be pressed, as positions: a batch took longer.)

// rooms are for what is pressed, where a caller has none.
var rooms = sync.Pool{New: func() any { return new([]byte) }}

// pressed hands each of some bytes, pressed, to f, which must not keep them. They lie in
// room, which grows to what they need, or in the store's own if it is nil.
func pressed(room *[]byte, list [][]byte, f func([][]byte) error) error {
	if room == nil {
		room = rooms.Get().(*[]byte)
		defer rooms.Put(room)
	}
	need := 0
	for _, b := range list {
		need += s2.MaxEncodedLen(len(b))
	}
	if cap(*room) < need {
		*room = make([]byte, 0, need)
	}
	left, small := (*room)[:0], make([][]byte, len(list))
	for i, b := range list {
		n := s2.MaxEncodedLen(len(b))
		small[i] = s2.Encode(left[:0:n], b)
		left = left[n:n]
	}
	return f(small)
}

// written is how many bytes that is.
func written(small [][]byte) (n int) {
	for _, b := range small {
		n += len(b)
	}
	return n
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
