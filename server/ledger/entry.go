package ledger

import (
	"errors"
	"time"

	"example.org/rootward/rules/recordlog"
)

// Entry is one line of the log: one version of one thing that is kept. It is never
// changed.
type Entry = recordlog.Entry

// Draft is an entry to be. Digest is of the whole write, so that a request id that is
// used twice for different things is found out.
type Draft struct {
	Name, Kind, Site string
	Version          int64 // 1: nothing of the name is kept yet
	Request          string
	Digest           [32]byte
	Time             time.Time
	Body             []byte
	// Read is how many entries of the site the writer had read when it decided what to
	// write: with more by now it would decide otherwise, perhaps. -1: it does not matter.
	Read int64
}

// What the ledger says when it does not do as it is asked.
var (
	ErrUnknown = errors.New("no such entry")
	ErrVersion = errors.New("the version is not the next one")
	ErrChanged = errors.New("the site has changed since it was read")
	ErrRequest = errors.New("the request id was used for another write")
	ErrDamaged = errors.New("the log is damaged or was changed from outside: nothing is written to it; restore it from a backup, and compare that with an archive by rootward records verify")
)

// Page asks for a part of a list, by name.
type Page struct {
	Kind  string
	Site  string // of this site alone, where it is not empty
	After string // names after this one
	Size  int
}
