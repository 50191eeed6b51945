package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/rs/zerolog"

	"example.org/rootward/server/batch"
)

// Config says where the database is.
type Config struct {
	Folder   string // of the SQLite file; it is made if it is missing
	Database string // URL of a PostgreSQL database, in place of a folder
	Log      zerolog.Logger
}

// Store is a batch.Store and a ledger.Store over SQL.
type Store struct {
	read, write *sql.DB
	kind        dialect
	close       func() error
}

var _ batch.Store = (*Store)(nil)

// dialect is what differs between the two databases.
type dialect interface {
	// begin starts a transaction that writes. One that is not lasting survives the end
	// of the process, but perhaps not a loss of power.
	begin(ctx context.Context, lasting bool) (*sql.Tx, func(), error)
	// wrote is told how many bytes of chunks or answers a transaction has written.
	wrote(bytes int)
	// share ends a SELECT of a row that must stay as it is until the transaction ends.
	share() string
	// lock ends a SELECT of a row that no other transaction may lock until this one ends.
	lock() string
	intact(ctx context.Context) error
	queue(c *river.Config) (batch.Queue, error)
	alive(ctx context.Context, server string, seconds float64) ([]string, error)
	gone(ctx context.Context, server string) error
}

// Open opens the database, and makes or renews its tables. Several servers may do so
// at once on PostgreSQL; a folder belongs to one.
func Open(ctx context.Context, c Config) (*Store, error) {
	if c.Database != "" {
		return openPostgres(ctx, c)
	}
	return openSQLite(ctx, c)
}

// Close closes the database. Nothing may be in use.
func (s *Store) Close() error { return s.close() }

// Queue implements batch.Store.
func (s *Store) Queue(c *river.Config) (batch.Queue, error) { return s.kind.queue(c) }

// in runs f in a transaction that writes and survives a loss of power.
func (s *Store) in(ctx context.Context, f func(*sql.Tx) error) error {
	return s.transact(ctx, true, f)
}

func (s *Store) transact(ctx context.Context, lasting bool, f func(*sql.Tx) error) error {
	tx, end, err := s.kind.begin(ctx, lasting)
	if err != nil {
		return err
	}
	defer end()
	if err := f(tx); err != nil {
		_ = tx.Rollback() // the first error says more
		return err
	}
	return tx.Commit()
}

// one tells what a statement that names one batch has done: nothing, if the batch was
// not as it names it.
func one(r sql.Result, err error) error {
	if err != nil {
		return err
	}
	if n, err := r.RowsAffected(); err != nil || n == 1 {
		return err
	}
	return batch.ErrState
}

// known makes the absence of a row an error that says so.
func known(err, absent error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return absent
	}
	return err
}

// queue is a River client with the transaction of its driver.
type queue[T any] struct {
	*river.Client[T]
	driver riverdriver.Driver[T]
}

func newQueue[T any](driver riverdriver.Driver[T], c *river.Config) (batch.Queue, error) {
	driver = polled[T]{driver}
	client, err := river.NewClient(driver, c)
	if err != nil {
		return nil, fmt.Errorf("open the queue of jobs: %w", err)
	}
	return &queue[T]{client, driver}, nil
}

// polled is a driver that sends and gets no messages through the database: servers look
// for jobs. So it works through a pooler, SQLite writes no messages into a table, and
// River begins a job that was queued in its own process at once.
type polled[T any] struct{ riverdriver.Driver[T] }

func (polled[T]) SupportsListener() bool     { return false }
func (polled[T]) SupportsListenNotify() bool { return false }

// Rescue makes jobs available that a server ran which is no more. River does so by
// itself, but after minutes.
func (q *queue[T]) Rescue(ctx context.Context, params *riverdriver.JobRescueManyParams) error {
	_, err := q.driver.GetExecutor().JobRescueMany(ctx, params)
	return err
}

// quiet passes on what River and goose warn of.
func quiet(log zerolog.Logger) *slog.Logger {
	return slog.New(zerolog.NewSlogHandler(log.Level(max(log.GetLevel(), zerolog.WarnLevel))))
}
