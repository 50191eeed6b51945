package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"example.org/rootward/server/ledger"
)

var _ ledger.Store = (*Store)(nil)

const logColumns = `number, name, version, kind, site, request, digest, time, leaf, body`

// scanEntry reads what logColumns names.
func scanEntry(scan func(...any) error) (*ledger.Kept, error) {
	var k ledger.Kept
	var digest, leaf []byte
	var at int64
	err := scan(&k.Number, &k.Name, &k.Version, &k.Kind, &k.Site, &k.Request, &digest, &at, &leaf, &k.Body)
	if err == nil && (copy(k.Digest[:], digest) != len(digest) || len(digest) != len(k.Digest) || len(leaf) != len(k.Leaf)) {
		err = fmt.Errorf("entry %d: digest or hash has not 32 bytes: %w", k.Number, ledger.ErrDamaged)
	}
	copy(k.Leaf[:], leaf)
	k.Time = time.UnixMicro(at).UTC()
	return &k, err
}

// entry gives the first that a query gives.
func entry(ctx context.Context, db queryer, where string, args ...any) (*ledger.Kept, error) {
	k, err := scanEntry(db.QueryRowContext(ctx, `SELECT `+logColumns+` FROM log_entry `+where, args...).Scan)
	if err != nil {
		return nil, known(err, ledger.ErrUnknown)
	}
	return k, nil
}

func entries(ctx context.Context, db queryer, where string, args ...any) ([]*ledger.Kept, error) {
	return all(ctx, db, scanEntry, `SELECT `+logColumns+` FROM log_entry e `+where, args...)
}

// lastOnly holds for last versions.
const lastOnly = `version = (SELECT MAX(m.version) FROM log_entry m WHERE m.name = e.name)`

// Checkpoint implements ledger.Store.
func (s *Store) Checkpoint(ctx context.Context) ([]byte, error) {
	return checkpoint(ctx, s.read, "")
}

func checkpoint(ctx context.Context, db queryer, lock string) ([]byte, error) {
	var signed []byte
	err := db.QueryRowContext(ctx, `SELECT checkpoint FROM log_head WHERE id = 1`+lock).Scan(&signed)
	return signed, known(err, fmt.Errorf("the row of the log's checkpoint is missing: %w", ledger.ErrDamaged))
}

// EntryOf implements ledger.Store.
func (s *Store) EntryOf(ctx context.Context, request string) (*ledger.Kept, error) {
	return entry(ctx, s.read, `WHERE request = $1`, request)
}

// Entry implements ledger.Store.
func (s *Store) Entry(ctx context.Context, name string, version int64) (*ledger.Kept, error) {
	if version == 0 {
		return entry(ctx, s.read, `WHERE name = $1 ORDER BY version DESC LIMIT 1`, name)
	}
	return entry(ctx, s.read, `WHERE name = $1 AND version = $2`, name, version)
}

// EntriesOfSite implements ledger.Store.
func (s *Store) EntriesOfSite(ctx context.Context, site string) ([]*ledger.Kept, error) {
	return entries(ctx, s.read, `WHERE site = $1 ORDER BY number`, site)
}

// EntriesOfKind implements ledger.Store.
func (s *Store) EntriesOfKind(ctx context.Context, kind string) ([]*ledger.Kept, error) {
	return entries(ctx, s.read, `WHERE kind = $1 AND `+lastOnly+` ORDER BY number`, kind)
}

// EntriesOfPage implements ledger.Store.
func (s *Store) EntriesOfPage(ctx context.Context, p ledger.Page) ([]*ledger.Kept, error) {
	where, args := `WHERE kind = $1 AND name > $2 AND `, []any{p.Kind, p.After, p.Size}
	if p.Site != "" {
		where, args = where+`site = $4 AND `, append(args, p.Site)
	}
	return entries(ctx, s.read, where+lastOnly+` ORDER BY name LIMIT $3`, args...)
}

// EntriesFrom implements ledger.Store.
func (s *Store) EntriesFrom(ctx context.Context, first, most int64) ([]*ledger.Kept, error) {
	return entries(ctx, s.read, `WHERE number >= $1 ORDER BY number LIMIT $2`, first, most)
}

// Hashes implements ledger.Store.
func (s *Store) Hashes(ctx context.Context, first, most int64) ([]tlog.Hash, error) {
	due := first
	return all(ctx, s.read, func(scan func(...any) error) (tlog.Hash, error) {
		at, h, err := scanHash(scan)
		if err == nil && at != due {
			err = fmt.Errorf("stored hash %d is missing: %w", due, ledger.ErrDamaged)
		}
		due++
		return h, err
	}, `SELECT idx, hash FROM log_hash WHERE idx >= $1 ORDER BY idx LIMIT $2`, first, most)
}

func scanHash(scan func(...any) error) (at int64, h tlog.Hash, err error) {
	var b []byte
	err = scan(&at, &b)
	if err == nil && len(b) != len(h) {
		err = fmt.Errorf("stored hash %d has not 32 bytes: %w", at, ledger.ErrDamaged)
	}
	copy(h[:], b)
	return at, h, err
}

// Intact implements ledger.Store.
func (s *Store) Intact(ctx context.Context) error { return s.kind.intact(ctx) }

// PutTable implements ledger.Store.
func (s *Store) PutTable(ctx context.Context, digest string, t ledger.KeptTable) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO rule_table (digest, sha256, data) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING`,
			digest, t.Sum[:], present(t.Data))
		return err
	})
}

// Table implements ledger.Store.
func (s *Store) Table(ctx context.Context, digest string) (*ledger.KeptTable, error) {
	var t ledger.KeptTable
	var sum []byte
	err := s.read.QueryRowContext(ctx, `SELECT sha256, data FROM rule_table WHERE digest = $1`, digest).Scan(&sum, &t.Data)
	if err != nil {
		return nil, known(err, ledger.ErrUnknown)
	}
	if len(sum) != len(t.Sum) {
		return nil, fmt.Errorf("rule table %s: its sum has not 32 bytes: %w", digest, ledger.ErrDamaged)
	}
	copy(t.Sum[:], sum)
	return &t, nil
}

// Tables implements ledger.Store.
func (s *Store) Tables(ctx context.Context) ([]string, error) {
	return all(ctx, s.read, func(scan func(...any) error) (digest string, err error) {
		return digest, scan(&digest)
	}, `SELECT digest FROM rule_table ORDER BY digest`)
}

// WriteLog implements ledger.Store.
func (s *Store) WriteLog(ctx context.Context, f func(ledger.Tx) error) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		if _, err := checkpoint(ctx, tx, s.kind.lock()); err != nil {
			return err
		}
		return f(logTx{tx})
	})
}

// logTx is a ledger.Tx that holds the lock.
type logTx struct{ tx *sql.Tx }

// Checkpoint implements ledger.Tx.
func (t logTx) Checkpoint(ctx context.Context) ([]byte, error) { return checkpoint(ctx, t.tx, "") }

// EntryOf implements ledger.Tx.
func (t logTx) EntryOf(ctx context.Context, request string) (*ledger.Kept, error) {
	return entry(ctx, t.tx, `WHERE request = $1`, request)
}

// Last implements ledger.Tx.
func (t logTx) Last(ctx context.Context, name string) (version int64, err error) {
	err = t.tx.QueryRowContext(ctx, `SELECT COALESCE(MAX(version), 0) FROM log_entry WHERE name = $1`, name).Scan(&version)
	return version, err
}

// CountOfSite implements ledger.Tx.
func (t logTx) CountOfSite(ctx context.Context, site string) (n int64, err error) {
	err = t.tx.QueryRowContext(ctx, `SELECT COUNT(*) FROM log_entry WHERE site = $1`, site).Scan(&n)
	return n, err
}

// HashesAt implements ledger.Tx.
func (t logTx) HashesAt(ctx context.Context, indexes []int64) ([]tlog.Hash, error) {
	places, args := make([]string, len(indexes)), make([]any, len(indexes))
	for i, at := range indexes {
		places[i], args[i] = fmt.Sprintf("$%d", i+1), at
	}
	found := map[int64]tlog.Hash{}
	_, err := all(ctx, t.tx, func(scan func(...any) error) (struct{}, error) {
		at, h, err := scanHash(scan)
		found[at] = h
		return struct{}{}, err
	}, `SELECT idx, hash FROM log_hash WHERE idx IN (`+strings.Join(places, ", ")+`)`, args...)
	if err != nil {
		return nil, err
	}
	list := make([]tlog.Hash, len(indexes))
	for i, at := range indexes {
		h, there := found[at]
		if !there {
			return nil, ledger.ErrUnknown
		}
		list[i] = h
	}
	return list, nil
}

// Put implements ledger.Tx.
func (t logTx) Put(ctx context.Context, e *ledger.Kept, first int64, hashes []tlog.Hash) error {
	_, err := t.tx.ExecContext(ctx, `INSERT INTO log_entry (`+logColumns+`) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
		e.Number, e.Name, e.Version, e.Kind, e.Site, e.Request, e.Digest[:], e.Time.UnixMicro(), e.Leaf[:], e.Body)
	for i := 0; err == nil && i < len(hashes); i++ {
		_, err = t.tx.ExecContext(ctx, `INSERT INTO log_hash (idx, hash) VALUES ($1, $2)`, first+int64(i), hashes[i][:])
	}
	return err
}

// SetCheckpoint implements ledger.Tx.
func (t logTx) SetCheckpoint(ctx context.Context, signed []byte) error {
	_, err := t.tx.ExecContext(ctx, `UPDATE log_head SET checkpoint = $1 WHERE id = 1`, signed)
	return err
}
