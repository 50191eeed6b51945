package inventory

import "hash/fnv"

// maxIDs is how many rows are checked for an id of their own. Beyond it memory
// would grow with the file.
const maxIDs = 1 << 20

// idSet holds the lines of rows by the hash of their ids (FNV-1a, 64 bits), so
// that it takes the same memory however long they are: at most about 38 MB. Two ids with one hash would reject a
// good row, which is the careful side; for 2^20 rows the odds are 2^40/2^65, one
// file in 30 million (birthday bound).
type idSet map[uint64]int

// enter puts a row at fault whose id an earlier row has, be that one rejected or
// not. A row without an id that can be read is at fault already.
func (s *idSet) enter(r *row) {
	id := r.Stem.StemId
	if id == "" || r.Number > maxIDs {
		return
	}
	if *s == nil {
		*s = make(idSet)
	}
	hash := fnv.New64a()
	hash.Write([]byte(id))
	key := hash.Sum64()
	if first, repeated := (*s)[key]; repeated {
		r.fault(r.Line, "occurrenceID", id, "was given to the row on line %d before; two rows for one stem are two doses for it: take one out, or give each row its own", first)
		return
	}
	(*s)[key] = r.Line
}
