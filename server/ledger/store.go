package ledger

import (
	"context"

	"golang.org/x/mod/sumdb/tlog"
)

// Kept is an entry with the hash of its line, as both were stored.
type Kept struct {
	Entry
	Leaf tlog.Hash
}

// KeptTable is a rule table with the SHA-256 of its digest and bytes, as both were
// stored.
type KeptTable struct {
	Data []byte
	Sum  [32]byte
}

// Store keeps one log. It changes nothing that is kept but the checkpoint, and removes
// nothing. ErrUnknown comes unwrapped from it.
type Store interface {
	// WriteLog runs f in a transaction that writes and survives a loss of power, in
	// which nobody else writes the log. What f read stays so until its end.
	WriteLog(ctx context.Context, f func(Tx) error) error
	// Checkpoint gives the last signed checkpoint; empty if there is none yet.
	Checkpoint(ctx context.Context) ([]byte, error)

	// EntryOf gives the entry that a request made.
	EntryOf(ctx context.Context, request string) (*Kept, error)
	// Entry gives a version of a thing, the last one for 0.
	Entry(ctx context.Context, name string, version int64) (*Kept, error)
	// EntriesOfSite gives all entries of a site in the order of the log.
	EntriesOfSite(ctx context.Context, site string) ([]*Kept, error)
	// EntriesOfKind gives the last versions of all of a kind in the order of the log.
	EntriesOfKind(ctx context.Context, kind string) ([]*Kept, error)
	// EntriesOfPage gives last versions by name, in the order of bytes.
	EntriesOfPage(ctx context.Context, p Page) ([]*Kept, error)
	// EntriesFrom gives entries in the order of the log, so many at most.
	EntriesFrom(ctx context.Context, first, most int64) ([]*Kept, error)
	// Hashes gives stored hashes in order, so many at most.
	Hashes(ctx context.Context, first, most int64) ([]tlog.Hash, error)

	// Intact is an error if what finds entries does not fit what is kept. A database
	// that cannot tell gives none.
	Intact(ctx context.Context) error

	// PutTable keeps a table, unless one is kept under its digest.
	PutTable(ctx context.Context, digest string, t KeptTable) error
	Table(ctx context.Context, digest string) (*KeptTable, error)
	// Tables lists digests in order.
	Tables(ctx context.Context) ([]string, error)
}

// Tx is what a transaction that writes the log does.
type Tx interface {
	// Checkpoint gives the last signed checkpoint.
	Checkpoint(ctx context.Context) ([]byte, error)
	EntryOf(ctx context.Context, request string) (*Kept, error)
	// Last gives the last version of a name, 0 if there is none.
	Last(ctx context.Context, name string) (int64, error)
	// CountOfSite is how many entries a site has.
	CountOfSite(ctx context.Context, site string) (int64, error)
	// HashesAt gives stored hashes by their indexes, in the order of these; ErrUnknown
	// if one is missing.
	HashesAt(ctx context.Context, indexes []int64) ([]tlog.Hash, error)
	// Put keeps an entry with its stored hashes, which begin at an index.
	Put(ctx context.Context, e *Kept, first int64, hashes []tlog.Hash) error
	// SetCheckpoint takes the place of the last one.
	SetCheckpoint(ctx context.Context, signed []byte) error
}
