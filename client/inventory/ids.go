package inventory

import "encoding/binary"

// maxIDs is how many rows are checked for an id of their own. Beyond it memory
// would grow with the file.
const maxIDs = 1 << 20

// idSet holds the lines of rows by the hash of their ids, so that it takes the same
// memory however long they are: at most 24 MiB. Two ids with one hash would reject a
// good row, which is the careful side; for 2^20 rows the odds are 2^40/2^65, one
// file in 30 million (birthday bound).
type idSet struct {
	// slots are small, so that most of them stay near the processor: of an id that
	// is new, which is most, nothing else is looked at. A slot holds the place of the
	// id among all and bits of its hash, or zero where it is free; at most half are
	// used, and their number is a power of two.
	slots []uint32
	ids   [][]knownID // in pieces, so that none has to be moved
	used  int
}

type knownID struct {
	hash uint64
	line int
}

const (
	placeBits = 20      // of a slot
	idPiece   = 1 << 12 // ids
	fewSlots  = 1 << 11
)

// enter puts a row at fault whose id an earlier row has, be that one rejected or
// not. A row without an id that can be read is at fault already.
func (s *idSet) enter(r *row) {
	id := r.Stem.StemId
	if id == "" || r.Number > maxIDs {
		return
	}
	if first := s.add(hashOf([]byte(id)), r.Line); first > 0 {
		r.fault(r.Line, "occurrenceID", id, "was given to the row %s before; two rows for one stem are two doses for it: take one out, or give each row its own", r.where(first))
	}
}

// add keeps the line of an id that is new. It gives the line of one that is not.
// There is room for maxIDs.
func (s *idSet) add(hash uint64, line int) (first int) {
	s.room(1)
	slot, known := s.find(hash)
	if known != nil {
		return known.line
	}
	s.put(slot, hash, line)
	return 0
}

// put keeps the line of an id in the slot where it belongs.
func (s *idSet) put(free *uint32, hash uint64, line int) {
	*free = slotOf(hash, s.used)
	if s.used%idPiece == 0 {
		s.ids = append(s.ids, make([]knownID, idPiece))
	}
	*s.at(s.used) = knownID{hash, line}
	s.used++
}

// room makes room for more ids; there is always a free slot.
func (s *idSet) room(more int) {
	for 2*min(s.used+more, maxIDs) > len(s.slots) {
		s.grow()
	}
}

// fetch makes room for ids, and brings near what will be looked at for them: none then has
// to wait for another.
func (s *idSet) fetch(hashes []uint64) (slots uint32) {
	s.room(len(hashes))
	if len(s.slots) == 0 {
		return 0
	}
	last := uint64(len(s.slots) - 1)
	for _, hash := range hashes {
		slots |= s.slots[hash&last]
	}
	return slots
}

// find gives an id that was added, or else the free slot where it belongs.
func (s *idSet) find(hash uint64) (free *uint32, known *knownID) {
	last := uint64(len(s.slots) - 1)
	sign := slotOf(hash, 0)
	for at := hash & last; ; at = (at + 1) & last {
		slot := &s.slots[at]
		if *slot == 0 {
			return slot, nil
		}
		if *slot>>placeBits == sign>>placeBits {
			if id := s.at(int(*slot & (1<<placeBits - 1))); id.hash == hash {
				return nil, id
			}
		}
	}
}

// slotOf is the slot of an id at a place. It is never zero.
func slotOf(hash uint64, place int) uint32 {
	const signBits = 32 - placeBits - 1
	sign := (hash>>(64-signBits) ^ hash) & (1<<signBits - 1)
	return uint32(sign<<1|1)<<placeBits | uint32(place)
}

func (s *idSet) at(place int) *knownID { return &s.ids[place/idPiece][place%idPiece] }

func (s *idSet) grow() {
	s.slots = make([]uint32, max(fewSlots, 4*len(s.slots)))
	const page = 4096 / 4
	for i := 0; i < len(s.slots); i += page {
		s.slots[i] = 0 // memory that is read before it is written is given twice
	}
	for place := range s.used {
		hash := s.at(place).hash
		slot, _ := s.find(hash)
		*slot = slotOf(hash, place)
	}
}

// hashOf takes eight bytes at a time, and the last one, which counts up from row to row
// in most files, as it is: ids that follow each other come to lie beside each other.
// Each step can be undone, so that ids which differ in their last nine bytes alone
// have hashes of their own if they are as long.
func hashOf(id []byte) uint64 {
	n := len(id) - 1
	if n < 0 {
		return 0
	}
	last := uint64(id[n])
	hash := uint64(n)
	for id = id[:n]; len(id) > 8; id = id[8:] {
		hash = mixed(hash ^ binary.LittleEndian.Uint64(id))
	}
	var rest uint64
	if cap(id) >= 8 { // what lies behind the id in its text is read with it and taken off
		rest = binary.LittleEndian.Uint64(id[:8]) & (1<<(8*len(id)) - 1)
	} else {
		for i, b := range id {
			rest |= uint64(b) << (8 * i)
		}
	}
	return mixed(hash^rest) ^ last
}

// mixed lets every bit depend on every other (the end of MurmurHash3; from memory).
func mixed(v uint64) uint64 {
	v = (v ^ v>>33) * 0xff51afd7ed558ccd
	v = (v ^ v>>33) * 0xc4ceb9fe1a85ec53
	return v ^ v>>33
}
