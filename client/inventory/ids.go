package inventory

// maxIDs is how many rows are checked for an id of their own. Beyond it memory
// would grow with the file.
const maxIDs = 1 << 20

// idSet holds the lines of rows by the hash of their ids (FNV-1a, 64 bits), so
// that it takes the same memory however long they are: at most 32 MiB. Two ids with one hash would reject a
// good row, which is the careful side; for 2^20 rows the odds are 2^40/2^65, one
// file in 30 million (birthday bound).
type idSet struct {
	slots []idSlot // of which at most half are used; their number is a power of two
	used  int
}

// idSlot is one id; a line of zero is a free slot.
type idSlot struct {
	hash uint64
	line int
}

// enter puts a row at fault whose id an earlier row has, be that one rejected or
// not. A row without an id that can be read is at fault already.
func (s *idSet) enter(r *row) {
	id := r.Stem.StemId
	if id == "" || r.Number > maxIDs {
		return
	}
	if first := s.add(hashOf(id), r.Line); first > 0 {
		r.fault(r.Line, "occurrenceID", id, "was given to the row %s before; two rows for one stem are two doses for it: take one out, or give each row its own", r.where(first))
	}
}

// add keeps the line of an id that is new. It gives the line of one that is not.
func (s *idSet) add(hash uint64, line int) (first int) {
	if 2*s.used >= len(s.slots) {
		s.grow()
	}
	slot := s.find(hash)
	if slot.line > 0 {
		return slot.line
	}
	*slot = idSlot{hash, line}
	s.used++
	return 0
}

// has tells an id that was added.
func (s *idSet) has(hash uint64) bool { return len(s.slots) > 0 && s.find(hash).line > 0 }

// find gives the slot of an id, or the free one where it belongs.
func (s *idSet) find(hash uint64) *idSlot {
	last := uint64(len(s.slots) - 1)
	for at := hash & last; ; at = (at + 1) & last {
		if slot := &s.slots[at]; slot.line == 0 || slot.hash == hash {
			return slot
		}
	}
}

func (s *idSet) grow() {
	old := s.slots
	s.slots = make([]idSlot, max(1<<10, 2*len(old)))
	for _, slot := range old {
		if slot.line > 0 {
			*s.find(slot.hash) = slot
		}
	}
}

// hashOf is FNV-1a.
func hashOf[T string | []byte](id T) uint64 {
	const offset, prime = 14695981039346656037, 1099511628211
	hash := uint64(offset)
	for i := range len(id) {
		hash = (hash ^ uint64(id[i])) * prime
	}
	return hash
}
