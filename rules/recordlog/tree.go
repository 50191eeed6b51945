package recordlog

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// Tree is all hashes of a log, as tlog stores them, in memory: 64 bytes an entry.
type Tree struct {
	size   int64
	hashes []tlog.Hash
}

// Add appends the line of an entry.
func (t *Tree) Add(line []byte) error {
	more, err := tlog.StoredHashes(t.size, line, t)
	if err != nil {
		return err
	}
	t.size++
	t.hashes = append(t.hashes, more...)
	return nil
}

// Size is the number of entries.
func (t *Tree) Size() int64 { return t.size }

// Hashes are those of the tree in the order in which tlog stores them. They must not
// be changed.
func (t *Tree) Hashes() []tlog.Hash { return t.hashes }

// Root gives the root that the tree had when it had so many entries.
func (t *Tree) Root(size int64) (tlog.Hash, error) {
	if size < 0 || size > t.size {
		return tlog.Hash{}, fmt.Errorf("the log has %d entries, and no root for %d", t.size, size)
	}
	return tlog.TreeHash(size, t)
}

// ReadHashes implements tlog.HashReader.
func (t *Tree) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	list := make([]tlog.Hash, len(indexes))
	for i, at := range indexes {
		if at < 0 || at >= int64(len(t.hashes)) {
			return nil, fmt.Errorf("the log has no hash %d", at)
		}
		list[i] = t.hashes[at]
	}
	return list, nil
}

// LeafHash is the hash of an entry's line in the tree.
func LeafHash(line []byte) tlog.Hash { return tlog.RecordHash(line) }
