package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"example.org/rootward/server/batch"
	"example.org/rootward/server/ledger"
)

const (
	sqliteFile = "rootward.db"
	ownerFile  = "owner.db"
	// A log of this many pages of 4 KiB is written back by the transaction that made it so
	// long, before it begins anew: 64 MiB. Chunks wait for that, and for the disk; so most of
	// it is written back beside them, each time that so many bytes have come.
	logPages = 16384
	logBytes = 16 << 20
	readers  = 4
)

// sqliteStore writes through one connection: SQLite has one writer, and a queue
// for it in front costs less than its own, which sleeps and tries again.
type sqliteStore struct {
	write, back *sql.DB
	written     atomic.Int64 // bytes since the log was last written back beside transactions
	writing     atomic.Bool  // it is written back
	running     sync.WaitGroup
}

func openSQLite(ctx context.Context, c Config) (*Store, error) {
	if err := os.MkdirAll(c.Folder, 0o700); err != nil {
		return nil, fmt.Errorf("make the data folder: %w", err)
	}
	release, err := own(ctx, c.Folder)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(c.Folder, sqliteFile)
	if err := makePrivate(path); err != nil {
		return nil, errors.Join(err, release())
	}
	// Of the writer's transactions, begin makes those last that must.
	write := connect(path, 1, "busy_timeout(10000)", "journal_mode(WAL)", "cache_size(-8192)",
		"synchronous(NORMAL)", fmt.Sprintf("wal_autocheckpoint(%d)", logPages))
	read := connect(path, readers, "busy_timeout(10000)", "query_only(1)")
	back := connect(path, 1)
	of := &sqliteStore{write: write, back: back}
	s := &Store{read: read, write: write, kind: of}
	s.close = func() error {
		of.running.Wait()
		return errors.Join(read.Close(), back.Close(), write.Close(), release())
	}
	if err := migrate(ctx, write, goose.DialectSQLite3, riversqlite.New(write), quiet(c.Log)); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", path, err), s.close())
	}
	return s, nil
}

// makePrivate makes an empty file that nobody else reads. SQLite takes it for an empty
// database, and gives its mode to the files beside it. None of this process may have it
// open: closing the file would end that one's locks.
func makePrivate(path string) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	return file.Close()
}

func connect(path string, connections int, pragmas ...string) *sql.DB {
	values := url.Values{"_txlock": {"immediate"}, "_pragma": pragmas}
	// The form of the name is right: this cannot fail.
	c, _ := newPreparing((&url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: values.Encode()}).String())
	db := sql.OpenDB(c)
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	return db
}

// own takes the folder for this process until release is called or the process ends.
// A lock that SQLite holds works wherever SQLite does.
func own(ctx context.Context, folder string) (release func() error, err error) {
	db := connect(filepath.Join(folder, ownerFile), 1)
	if _, err = db.ExecContext(ctx, "BEGIN EXCLUSIVE"); err == nil {
		return db.Close, nil
	}
	if fault := (*sqlite.Error)(nil); errors.As(err, &fault) && fault.Code()&0xff == sqlite3.SQLITE_BUSY {
		err = errors.New("another server works in it; give each a folder of its own, or a PostgreSQL database for all")
	}
	return nil, errors.Join(fmt.Errorf("data folder %s: %w", folder, err), db.Close())
}

// begin implements dialect: the log is synced at the end of a transaction that must
// last, and with it all that was written before.
func (s *sqliteStore) begin(ctx context.Context, lasting bool) (*sql.Tx, func(), error) {
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return nil, nil, err
	}
	end := func() { _ = conn.Close() }
	if lasting {
		end = func() {
			_, _ = conn.ExecContext(context.WithoutCancel(ctx), "PRAGMA synchronous=NORMAL")
			_ = conn.Close()
		}
		_, err = conn.ExecContext(ctx, "PRAGMA synchronous=FULL")
	}
	var tx *sql.Tx
	if err == nil {
		tx, err = conn.BeginTx(ctx, nil)
	}
	if err != nil {
		end()
		return nil, nil, err
	}
	return tx, end, nil
}

// wrote implements dialect. What of the log is not written back here, because somebody
// reads what was there before, is so later.
func (s *sqliteStore) wrote(bytes int) {
	if s.written.Add(int64(bytes)) < logBytes || !s.writing.CompareAndSwap(false, true) {
		return
	}
	s.written.Store(0)
	s.running.Go(func() {
		defer s.writing.Store(false)
		// It is tried again, and the transaction says what fails.
		_, _ = s.back.ExecContext(context.Background(), "PRAGMA wal_checkpoint(PASSIVE)")
	})
}

func (s *sqliteStore) share() string { return "" }

func (s *sqliteStore) lock() string { return "" }

// intact implements dialect: an index with another key in it would hide an entry.
func (s *sqliteStore) intact(ctx context.Context) error {
	for _, table := range []string{"log_entry", "log_hash", "log_head", "rule_table"} {
		var said string
		if err := s.write.QueryRowContext(ctx, `PRAGMA integrity_check('`+table+`')`).Scan(&said); err != nil {
			return err
		}
		if said != "ok" {
			return fmt.Errorf("table %s: %s: %w", table, said, ledger.ErrDamaged)
		}
	}
	return nil
}

func (s *sqliteStore) queue(c *river.Config) (batch.Queue, error) {
	return newQueue(riversqlite.New(s.write), c)
}

// alive implements dialect: a folder has one server.
func (s *sqliteStore) alive(_ context.Context, server string, _ float64) ([]string, error) {
	return []string{server}, nil
}

func (s *sqliteStore) gone(context.Context, string) error { return nil }
