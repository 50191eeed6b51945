package store

import (
	"context"
	"database/sql"
	"time"

	"example.org/rootward/server/batch"
)

const (
	// columns of a batch without its bytes, in the order of scan.
	columns = `id, request_id, title, state, problem, chunks, row_count, decided, pass,
		prescribed, deferred, undetermined, rejected, digest, revision, created, started, ended`
	whole = columns + `, request, pinned, summary`
)

// Create implements batch.Store.
func (s *Store) Create(ctx context.Context, b *batch.Batch) (*batch.Batch, error) {
	err := s.in(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO batch (`+whole+`, queued, served_revision, served_pass)
			VALUES ($1, $2, $3, $4, '', 0, 0, 0, 0, 0, 0, 0, 0, '', 0, $5, 0, 0, $6, NULL, NULL, 0, -1, 0)
			ON CONFLICT (request_id) DO NOTHING`,
			b.ID, b.RequestID, b.Title, b.State, stamp(b.Created), present(b.Request))
		return err
	})
	if err != nil {
		return nil, err
	}
	var id string
	if err := s.read.QueryRowContext(ctx, `SELECT id FROM batch WHERE request_id = $1`, b.RequestID).Scan(&id); err != nil {
		return nil, known(err, batch.ErrUnknown)
	}
	return s.Get(ctx, id)
}

// Get implements batch.Store.
func (s *Store) Get(ctx context.Context, id string) (*batch.Batch, error) {
	row := s.read.QueryRowContext(ctx, `SELECT `+whole+` FROM batch WHERE id = $1`, id)
	var b batch.Batch
	if err := scan(row.Scan, &b, &b.Request, &b.Pinned, &b.Summary); err != nil {
		return nil, known(err, batch.ErrUnknown)
	}
	return &b, s.count(ctx, &b)
}

// List implements batch.Store.
func (s *Store) List(ctx context.Context, size int, before batch.Place) ([]*batch.Batch, error) {
	q, args := `SELECT `+columns+` FROM batch ORDER BY created DESC, id DESC LIMIT $1`, []any{size}
	if before.ID != "" {
		q = `SELECT ` + columns + ` FROM batch WHERE (created, id) < ($2, $3) ORDER BY created DESC, id DESC LIMIT $1`
		args = append(args, stamp(before.Created), before.ID)
	}
	list, err := all(ctx, s.read, func(scanRow func(...any) error) (*batch.Batch, error) {
		var b batch.Batch
		return &b, scan(scanRow, &b)
	}, q, args...)
	for i := 0; err == nil && i < len(list); i++ {
		err = s.count(ctx, list[i])
	}
	return list, err
}

// Progress implements batch.Store.
func (s *Store) Progress(ctx context.Context, id string) (batch.Progress, error) {
	p := batch.Progress{Pass: batch.Pass{Batch: id}}
	err := s.read.QueryRowContext(ctx, `SELECT state, revision, pass, (SELECT
			CAST(COALESCE(SUM(prescribed + deferred + undetermined + rejected), 0) AS BIGINT)
			FROM result r WHERE r.batch = b.id AND r.revision = b.revision AND r.pass <= b.pass),
			(SELECT COUNT(*) FROM hindered h WHERE h.batch = b.id) FROM batch b WHERE id = $1`,
		id).Scan(&p.State, &p.Pass.Revision, &p.Pass.Number, &p.Decided, &p.Hindered)
	return p, known(err, batch.ErrUnknown)
}

// count fills in what is summed up while a batch is uploaded and decided.
func (s *Store) count(ctx context.Context, b *batch.Batch) error {
	b.NextChunk = b.Chunks
	if b.Started.IsZero() {
		err := s.read.QueryRowContext(ctx, `SELECT COUNT(*), CAST(COALESCE(SUM(row_count), 0) AS BIGINT) FROM chunk WHERE batch = $1`,
			b.ID).Scan(&b.Chunks, &b.Rows)
		if err != nil {
			return err
		}
		b.NextChunk, err = s.NextChunk(ctx, b.ID, 0)
		return err
	}
	if b.State != batch.Running {
		return nil
	}
	var err error
	if b.Hindrances, err = s.hindrances(ctx, b.ID); err != nil {
		return err
	}
	b.Decided, b.Counts, err = counts(ctx, s.read, batch.Pass{Batch: b.ID, Revision: b.Revision, Number: b.Passes})
	return err
}

// counts sums up a revision, and one pass of it.
func counts(ctx context.Context, db queryer, p batch.Pass) (decided int64, c batch.Counts, err error) {
	of := func(column string) string {
		return `CAST(COALESCE(SUM(CASE WHEN pass = $3 THEN ` + column + ` ELSE 0 END), 0) AS BIGINT)`
	}
	err = db.QueryRowContext(ctx, `SELECT
			CAST(COALESCE(SUM(prescribed + deferred + undetermined + rejected), 0) AS BIGINT), `+
		of("prescribed")+`, `+of("deferred")+`, `+of("undetermined")+`, `+of("rejected")+`
		FROM result WHERE batch = $1 AND revision = $2`, p.Batch, p.Revision, p.Number).
		Scan(&decided, &c.Prescribed, &c.Deferred, &c.Undetermined, &c.Rejected)
	return decided, c, err
}

type queryer interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// all gives what a query gives, row by row.
func all[T any](ctx context.Context, db queryer, read func(scan func(...any) error) (T, error), query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []T
	for rows.Next() {
		v, err := read(rows.Scan)
		if err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, rows.Err()
}

func scan(row func(...any) error, b *batch.Batch, more ...any) error {
	var created, started, ended int64
	c := &b.Counts
	err := row(append([]any{&b.ID, &b.RequestID, &b.Title, &b.State, &b.Problem, &b.Chunks, &b.Rows, &b.Decided, &b.Passes,
		&c.Prescribed, &c.Deferred, &c.Undetermined, &c.Rejected, &b.ResultDigest, &b.Revision, &created, &started, &ended}, more...)...)
	b.Created, b.Started, b.Ended = moment(created), moment(started), moment(ended)
	return err
}

// stamp is a time as it is kept.
func stamp(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMicro()
}

func moment(stamp int64) time.Time {
	if stamp == 0 {
		return time.Time{}
	}
	return time.UnixMicro(stamp).UTC()
}
