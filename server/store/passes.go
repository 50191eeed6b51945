package store

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"iter"
	"time"

	"example.org/rootward/server/batch"
)

// due holds for the batch of a pass that is the one to be decided: $1 to $3 are its.
var due = fmt.Sprintf(`id = $1 AND revision = $2 AND pass = $3 AND state = %d`, batch.Running)

// Begin implements batch.Store.
func (s *Store) Begin(ctx context.Context, b *batch.Batch, next batch.Revision) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		err := one(tx.ExecContext(ctx, `UPDATE batch SET state = $4, revision = $5, pass = 1, queued = 0, chunks = $6,
				row_count = $7, pinned = $8, shares = NULL, problem = '', started = $9, ended = 0
			WHERE id = $1 AND state = $2 AND revision = $3`, b.ID, b.State, b.Revision,
			batch.Running, next.Pass.Revision, next.Chunks, next.Rows, next.Pinned, stamp(next.Started)))
		if err != nil {
			return err
		}
		var kept int64
		var ahead string
		err = tx.QueryRowContext(ctx, `SELECT ahead, (SELECT COUNT(*) FROM chunk WHERE batch = $1) FROM batch WHERE id = $1`, b.ID).
			Scan(&ahead, &kept)
		switch {
		case err != nil:
			return err
		case kept != next.Chunks:
			return batch.ErrDiffers
		case b.State == batch.Uploading && ahead == next.Ahead:
			return promote(ctx, tx, b.ID)
		case b.State == batch.Uploading:
			return drop(ctx, tx, b.ID)
		}
		return nil
	})
}

// What was answered ahead has numbers in a revision, and bytes in a pass, that are nobody's
// until it is promoted: a version of this program that does not know of it takes it for
// nothing. The pass changes from 0 to 1, which are equally long in a record of SQLite: so it
// leaves the pages of the bytes as they are. To move 20 MB takes 20 ms, and 200 ms otherwise.
const (
	draftRevision = -1
	draftPass     = 0
)

// promote makes what was answered ahead the answers of the first pass.
func promote(ctx context.Context, tx *sql.Tx, id string) error {
	_, err := tx.ExecContext(ctx, `UPDATE result SET revision = 0 WHERE batch = $1 AND revision = $2`, id, draftRevision)
	if err == nil {
		_, err = tx.ExecContext(ctx, `UPDATE result_data SET pass = 1 WHERE batch = $1 AND revision = 0 AND pass = $2`, id, draftPass)
	}
	return err
}

// drop removes the results of a batch before its first pass.
func drop(ctx context.Context, tx *sql.Tx, id string) error {
	_, err := tx.ExecContext(ctx, `DELETE FROM result WHERE batch = $1`, id)
	if err == nil {
		_, err = tx.ExecContext(ctx, `DELETE FROM result_data WHERE batch = $1`, id)
	}
	return err
}

// Queued implements batch.Store.
func (s *Store) Queued(ctx context.Context, p batch.Pass) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		return one(tx.ExecContext(ctx, `UPDATE batch SET queued = 1 WHERE `+due, p.Batch, p.Revision, p.Number))
	})
}

// Running implements batch.Store.
func (s *Store) Running(ctx context.Context) ([]batch.Unfinished, error) {
	return all(ctx, s.read, func(scan func(...any) error) (r batch.Unfinished, err error) {
		var queued int
		var started int64
		err = scan(&r.Pass.Batch, &r.Pass.Revision, &r.Pass.Number, &r.Chunks, &queued, &started)
		r.Queued, r.Started = queued != 0, moment(started)
		return r, err
	}, `SELECT id, revision, pass, chunks, queued, started FROM batch WHERE state = $1 ORDER BY started`, batch.Running)
}

// Inputs implements batch.Store.
func (s *Store) Inputs(ctx context.Context, p batch.Pass) (*batch.Inputs, error) {
	var in batch.Inputs
	err := s.read.QueryRowContext(ctx, `SELECT request, pinned, shares, queued FROM batch WHERE `+due, p.Batch, p.Revision, p.Number).
		Scan(&in.Request, &in.Pinned, &in.Shares, &in.Queued)
	return &in, known(err, batch.ErrState)
}

// Due implements batch.Store.
func (s *Store) Due(ctx context.Context, p batch.Pass, index int64, into []byte) ([]byte, error) {
	var done bool
	err := s.read.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM result WHERE batch = $1 AND revision = $2 AND pass = $3 AND idx = $4)
		FROM batch WHERE `+due, p.Batch, p.Revision, p.Number, index).Scan(&done)
	if err != nil || done {
		return nil, known(err, batch.ErrState)
	}
	rows, err := s.read.QueryContext(ctx, `SELECT data FROM chunk_data WHERE batch = $1 AND idx = $2`, p.Batch, index)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	if !rows.Next() {
		return nil, cmp.Or(rows.Err(), batch.ErrState)
	}
	var pressed sql.RawBytes // the database's own, until the next row
	if err := rows.Scan(&pressed); err != nil {
		return nil, err
	}
	return unpress(into, pressed)
}

// Keep implements batch.Store. The answer is hashed and pressed before the
// transaction, which others wait for.
func (s *Store) Keep(ctx context.Context, p batch.Pass, index int64, a batch.Answer) (kept bool, err error) {
	err = pressed(nil, [][]byte{a.Result}, func(small [][]byte) error {
		r := prepare(p, index, a, small[0])
		defer s.kind.wrote(written(small))
		return s.transact(ctx, false, func(tx *sql.Tx) error {
			err := s.hold(ctx, tx, p)
			if err == nil {
				kept, err = r.insert(ctx, tx)
			}
			return err
		})
	})
	return kept && err == nil, err
}

// result is an answer as it is kept.
type result struct {
	numbers, bytes batch.Pass // of which they are kept
	index          int64
	counts         batch.Counts
	sum            [sha256.Size]byte // of the answer
	tally          []byte
	answer         []byte // pressed
}

// prepare hashes an answer, which is also given pressed.
func prepare(p batch.Pass, index int64, a batch.Answer, pressed []byte) *result {
	return &result{p, p, index, a.Counts, sha256.Sum256(a.Result), a.Tally, pressed}
}

// insert keeps a result, unless it has been kept.
func (r *result) insert(ctx context.Context, tx *sql.Tx) (bool, error) {
	c := &r.counts
	done, err := tx.ExecContext(ctx, `INSERT INTO result (batch, revision, pass, idx, prescribed, deferred, undetermined, rejected, sha256)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT DO NOTHING`,
		r.numbers.Batch, r.numbers.Revision, r.numbers.Number, r.index, c.Prescribed, c.Deferred, c.Undetermined, c.Rejected, r.sum[:])
	if err := one(done, err); err == batch.ErrState {
		return false, nil
	} else if err != nil {
		return false, err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO result_data (batch, revision, pass, idx, tally, answer) VALUES ($1, $2, $3, $4, $5, $6)`,
		r.bytes.Batch, r.bytes.Revision, r.bytes.Number, r.index, present(r.tally), r.answer)
	return err == nil, err
}

// present is bytes that are there, though they may be none.
func present(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}

// hold keeps a pass due until the transaction ends.
func (s *Store) hold(ctx context.Context, tx *sql.Tx, p batch.Pass) error {
	var is int
	err := tx.QueryRowContext(ctx, `SELECT 1 FROM batch WHERE `+due+s.kind.share(), p.Batch, p.Revision, p.Number).Scan(&is)
	return known(err, batch.ErrState)
}

// Left implements batch.Store.
func (s *Store) Left(ctx context.Context, p batch.Pass) (left int64, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT chunks -
			(SELECT COUNT(*) FROM result WHERE batch = $1 AND revision = $2 AND pass = $3)
		FROM batch WHERE `+due, p.Batch, p.Revision, p.Number).Scan(&left)
	return left, known(err, batch.ErrState)
}

// Tallies implements batch.Store.
func (s *Store) Tallies(ctx context.Context, p batch.Pass) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		rows, err := s.read.QueryContext(ctx, `SELECT tally FROM result_data
			WHERE batch = $1 AND revision = $2 AND pass = $3 ORDER BY idx`, p.Batch, p.Revision, p.Number)
		if err != nil {
			yield(nil, err)
			return
		}
		defer rows.Close()
		for rows.Next() {
			var tally []byte
			if err := rows.Scan(&tally); !yield(tally, err) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(nil, err)
		}
	}
}

// Sums implements batch.Store.
func (s *Store) Sums(ctx context.Context, p batch.Pass) ([][]byte, error) {
	return all(ctx, s.read, func(scan func(...any) error) (sum []byte, err error) {
		return sum, scan(&sum)
	}, `SELECT sha256 FROM result WHERE batch = $1 AND revision = $2 AND pass = $3 ORDER BY idx`, p.Batch, p.Revision, p.Number)
}

// Advance implements batch.Store.
func (s *Store) Advance(ctx context.Context, p batch.Pass, shares []byte) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		err := one(tx.ExecContext(ctx, `UPDATE batch SET pass = pass + 1, queued = 0, shares = $4 WHERE `+due,
			p.Batch, p.Revision, p.Number, shares))
		if err != nil {
			return err
		}
		if err := unhinder(ctx, tx, p.Batch); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `DELETE FROM result_data WHERE batch = $1 AND revision = $2`, p.Batch, p.Revision)
		return err
	})
}

// Succeed implements batch.Store.
func (s *Store) Succeed(ctx context.Context, p batch.Pass, summary []byte, digest string, ended time.Time) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		decided, c, err := counts(ctx, tx, p)
		if err != nil {
			return err
		}
		err = one(tx.ExecContext(ctx, `UPDATE batch SET state = $4, served_revision = revision, served_pass = pass,
				summary = $5, digest = $6, ended = $7, decided = $8,
				prescribed = $9, deferred = $10, undetermined = $11, rejected = $12 WHERE `+due,
			p.Batch, p.Revision, p.Number, batch.Succeeded, summary, digest, stamp(ended),
			decided, c.Prescribed, c.Deferred, c.Undetermined, c.Rejected))
		if err != nil {
			return err
		}
		for _, table := range []string{"result", "result_data"} {
			if _, err := tx.ExecContext(ctx, `DELETE FROM `+table+` WHERE batch = $1 AND revision < $2`, p.Batch, p.Revision); err != nil {
				return err
			}
		}
		return unhinder(ctx, tx, p.Batch)
	})
}

// Stop implements batch.Store.
func (s *Store) Stop(ctx context.Context, b *batch.Batch, to batch.State, problem string, ended time.Time) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		decided, c, err := counts(ctx, tx, batch.Pass{Batch: b.ID, Revision: b.Revision, Number: b.Passes})
		if err != nil {
			return err
		}
		err = one(tx.ExecContext(ctx, `UPDATE batch SET state = $4, problem = $5, ended = $6, decided = $7,
				prescribed = $8, deferred = $9, undetermined = $10, rejected = $11
			WHERE id = $1 AND state = $2 AND revision = $3`, b.ID, b.State, b.Revision, to, problem, stamp(ended),
			decided, c.Prescribed, c.Deferred, c.Undetermined, c.Rejected))
		if err == nil && b.State == batch.Uploading {
			err = drop(ctx, tx, b.ID)
		}
		if err != nil {
			return err
		}
		return unhinder(ctx, tx, b.ID)
	})
}

// Delete implements batch.Store.
func (s *Store) Delete(ctx context.Context, id string) error {
	return s.in(ctx, func(tx *sql.Tx) error {
		err := one(tx.ExecContext(ctx, `DELETE FROM batch WHERE id = $1 AND state <> $2`, id, batch.Running))
		if err == batch.ErrState {
			_, err = s.require(ctx, tx, id, -1)
			return err
		}
		for _, table := range []string{"chunk", "chunk_data", "result", "result_data"} {
			if err == nil {
				_, err = tx.ExecContext(ctx, `DELETE FROM `+table+` WHERE batch = $1`, id)
			}
		}
		return err
	})
}

// Served implements batch.Store.
func (s *Store) Served(ctx context.Context, id string) (batch.Pass, error) {
	p := batch.Pass{Batch: id}
	err := s.read.QueryRowContext(ctx, `SELECT served_revision, served_pass FROM batch WHERE id = $1`, id).Scan(&p.Revision, &p.Number)
	if err == nil && p.Revision < 0 {
		err = batch.ErrState
	}
	return p, known(err, batch.ErrUnknown)
}

// Result implements batch.Store.
func (s *Store) Result(ctx context.Context, p batch.Pass, after int64) (*batch.Result, error) {
	r := batch.Result{Revision: p.Revision}
	c := &r.Counts
	err := s.read.QueryRowContext(ctx, `SELECT r.idx, r.prescribed, r.deferred, r.undetermined, r.rejected, c.data, d.answer
		FROM result r
		JOIN result_data d ON d.batch = r.batch AND d.revision = r.revision AND d.pass = r.pass AND d.idx = r.idx
		JOIN chunk_data c ON c.batch = r.batch AND c.idx = r.idx
		WHERE r.batch = $1 AND r.revision = $2 AND r.pass = $3 AND r.idx > $4 ORDER BY r.idx LIMIT 1`,
		p.Batch, p.Revision, p.Number, after).
		Scan(&r.Index, &c.Prescribed, &c.Deferred, &c.Undetermined, &c.Rejected, &r.Data, &r.Answer)
	if err == sql.ErrNoRows {
		return nil, nil
	}
	if err == nil {
		r.Data, err = unpress(nil, r.Data)
	}
	if err == nil {
		r.Answer, err = unpress(nil, r.Answer)
	}
	return &r, err
}

// Alive implements batch.Store.
func (s *Store) Alive(ctx context.Context, server string, within time.Duration) ([]string, error) {
	return s.kind.alive(ctx, server, within.Seconds())
}

// Gone implements batch.Store.
func (s *Store) Gone(ctx context.Context, server string) error { return s.kind.gone(ctx, server) }
