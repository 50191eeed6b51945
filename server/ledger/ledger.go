package ledger

import (
	"context"
	"crypto/sha256"
	"fmt"
	"iter"
	"regexp"

	"example.org/rootward/rules/recordlog"
)

// Ledger writes and reads a log. Its methods may be called from several goroutines, and
// several servers may have one over the same store, with the same key. What Append has
// confirmed survives a kill and a loss of power.
type Ledger struct {
	store Store
	key   *recordlog.Key
}

// Open opens a log, or begins one. It reads all of it and refuses what does not fit the
// last signed checkpoint, or was signed by another key: ErrDamaged.
func Open(ctx context.Context, s Store, key *recordlog.Key) (*Ledger, error) {
	l := &Ledger{s, key}
	if err := s.WriteLog(ctx, func(tx Tx) error { return l.begin(ctx, tx) }); err != nil {
		return nil, err
	}
	if err := l.Check(ctx); err != nil {
		return nil, err
	}
	return l, nil
}

// begin signs the empty log, so that it belongs to the key from the start.
func (l *Ledger) begin(ctx context.Context, tx Tx) error {
	signed, err := tx.Checkpoint(ctx)
	if err != nil || len(signed) > 0 {
		return err
	}
	empty := &recordlog.Tree{}
	root, err := empty.Root(0)
	if err != nil {
		return err
	}
	signed, err = recordlog.Checkpoint{Origin: l.Origin(), Root: root}.Sign(l.key.Signer)
	if err != nil {
		return err
	}
	return tx.SetCheckpoint(ctx, signed)
}

// Verifier is the public key of the log, as signed notes have it.
func (l *Ledger) Verifier() string { return l.key.VerifierText }

// Origin is the first line of the log's checkpoints.
func (l *Ledger) Origin() string { return l.key.Verifier.Name() }

// Checkpoint gives the signed checkpoint of the log as it is, with its size.
func (l *Ledger) Checkpoint(ctx context.Context) (signed []byte, size int64, err error) {
	signed, err = l.store.Checkpoint(ctx)
	if err != nil {
		return nil, 0, err
	}
	c, err := l.open(signed)
	return signed, c.Size, err
}

func (l *Ledger) open(signed []byte) (recordlog.Checkpoint, error) {
	c, err := recordlog.OpenCheckpoint(signed, l.key.Verifier)
	if err != nil {
		return c, damaged("%v", err)
	}
	return c, nil
}

func damaged(format string, args ...any) error {
	return fmt.Errorf("%s: %w", fmt.Sprintf(format, args...), ErrDamaged)
}

// intact gives the entry if it is as it was written.
func intact(k *Kept) (*Entry, error) {
	line, err := k.Line()
	if err != nil {
		return nil, damaged("%v", err)
	}
	if recordlog.LeafHash(line) != k.Leaf {
		return nil, damaged("entry %d, %.200q, is not what was written", k.Number, k.Name)
	}
	return &k.Entry, nil
}

func one(k *Kept, err error) (*Entry, error) {
	if err != nil {
		return nil, err
	}
	return intact(k)
}

func several(list []*Kept, err error) ([]*Entry, error) {
	if err != nil {
		return nil, err
	}
	entries := make([]*Entry, len(list))
	for i, k := range list {
		if entries[i], err = intact(k); err != nil {
			return nil, err
		}
	}
	return entries, nil
}

// Repeated gives the entry that a request made; ErrUnknown if it made none.
func (l *Ledger) Repeated(ctx context.Context, request string) (*Entry, error) {
	return one(l.store.EntryOf(ctx, request))
}

// Get gives a version of a thing, the last one for 0; ErrUnknown if there is none.
func (l *Ledger) Get(ctx context.Context, name string, version int64) (*Entry, error) {
	return one(l.store.Entry(ctx, name, version))
}

// Site gives all entries of a site in the order of the log.
func (l *Ledger) Site(ctx context.Context, site string) ([]*Entry, error) {
	return several(l.store.EntriesOfSite(ctx, site))
}

// List gives a page of last versions, by name.
func (l *Ledger) List(ctx context.Context, p Page) ([]*Entry, error) {
	return several(l.store.EntriesOfPage(ctx, p))
}

// Kind gives the last versions of all of a kind, in the order of the log.
func (l *Ledger) Kind(ctx context.Context, kind string) ([]*Entry, error) {
	return several(l.store.EntriesOfKind(ctx, kind))
}

// atOnce is how many entries are read at once: each may have megabytes.
const atOnce = 16

// Entries gives entries in the order of the log, from one number to before another. It
// ends with an error where one is missing.
func (l *Ledger) Entries(ctx context.Context, first, end int64) iter.Seq2[*Entry, error] {
	return func(yield func(*Entry, error) bool) {
		for first < end {
			list, err := several(l.store.EntriesFrom(ctx, first, min(atOnce, end-first)))
			if err == nil && len(list) == 0 {
				err = damaged("entry %d is missing", first)
			}
			if err != nil {
				yield(nil, err)
				return
			}
			for _, e := range list {
				if e.Number != first {
					yield(nil, damaged("entry %d is missing", first))
					return
				}
				if !yield(e, nil) {
					return
				}
				first++
			}
		}
	}
}

var digestForm = regexp.MustCompile(`^[0-9a-f]{64}$`)

// PutTable keeps a rule table under its digest, in hexadecimal digits. The first one of
// a digest stays.
func (l *Ledger) PutTable(ctx context.Context, digest string, table []byte) error {
	if !digestForm.MatchString(digest) || len(table) > recordlog.MaxTable {
		return fmt.Errorf("rule table %.80q of %d bytes cannot be kept: a digest has 64 hexadecimal digits, and a table at most %d bytes", digest, len(table), recordlog.MaxTable)
	}
	return l.store.PutTable(ctx, digest, KeptTable{Data: table, Sum: tableSum(digest, table)})
}

// Table gives a rule table; ErrUnknown if it is not kept.
func (l *Ledger) Table(ctx context.Context, digest string) ([]byte, error) {
	t, err := l.store.Table(ctx, digest)
	if err != nil {
		return nil, err
	}
	if tableSum(digest, t.Data) != t.Sum {
		return nil, damaged("rule table %s is not what was written", digest)
	}
	return t.Data, nil
}

// tableSum covers the name of a table, too.
func tableSum(digest string, table []byte) [32]byte {
	return sha256.Sum256(append([]byte(digest), table...))
}

// Tables lists the digests of the tables that are kept.
func (l *Ledger) Tables(ctx context.Context) ([]string, error) { return l.store.Tables(ctx) }
