package store

import (
	"bytes"
	"context"
	"database/sql"

	"example.org/rootward/server/batch"
)

// Put implements batch.Store.
func (s *Store) Put(ctx context.Context, id string, c *batch.Chunk) error {
	return s.transact(ctx, false, func(tx *sql.Tx) error {
		if err := s.require(ctx, tx, id, batch.Uploading); err != nil {
			return err
		}
		r, err := tx.ExecContext(ctx, `INSERT INTO chunk (batch, idx, first_row, row_count, sha256)
			VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`, id, c.Index, c.FirstRow, c.Rows, c.SHA256[:])
		if err := one(r, err); err == batch.ErrState {
			return same(ctx, tx, id, c)
		} else if err != nil {
			return err
		}
		return pressed(c.Data, func(data []byte) error {
			_, err := tx.ExecContext(ctx, `INSERT INTO chunk_data (batch, idx, data) VALUES ($1, $2, $3)`, id, c.Index, data)
			return err
		})
	})
}

// require holds a batch in its state until the transaction ends.
func (s *Store) require(ctx context.Context, tx *sql.Tx, id string, state batch.State) error {
	var is batch.State
	err := tx.QueryRowContext(ctx, `SELECT state FROM batch WHERE id = $1`+s.kind.share(), id).Scan(&is)
	if err != nil {
		return known(err, batch.ErrUnknown)
	}
	if is != state {
		return batch.ErrState
	}
	return nil
}

func same(ctx context.Context, tx *sql.Tx, id string, c *batch.Chunk) error {
	var sum []byte
	var first, rows int64
	err := tx.QueryRowContext(ctx, `SELECT sha256, first_row, row_count FROM chunk WHERE batch = $1 AND idx = $2`, id, c.Index).
		Scan(&sum, &first, &rows)
	if err == nil && !(bytes.Equal(sum, c.SHA256[:]) && first == c.FirstRow && rows == c.Rows) {
		err = batch.ErrDiffers
	}
	return err
}

// NextChunk implements batch.Store: it goes up from chunk to chunk, and stops at the
// first gap.
func (s *Store) NextChunk(ctx context.Context, id string, from int64) (int64, error) {
	var next int64
	err := s.read.QueryRowContext(ctx, `SELECT c.idx + 1 FROM chunk c WHERE c.batch = $1 AND c.idx >= $2
			AND NOT EXISTS (SELECT 1 FROM chunk n WHERE n.batch = c.batch AND n.idx = c.idx + 1)
			AND EXISTS (SELECT 1 FROM chunk f WHERE f.batch = c.batch AND f.idx = $2)
		ORDER BY c.idx LIMIT 1`, id, from).Scan(&next)
	if err == sql.ErrNoRows {
		return from, nil
	}
	return next, err
}

// Gap implements batch.Store.
func (s *Store) Gap(ctx context.Context, id string) (index, row int64, err error) {
	err = s.read.QueryRowContext(ctx, `SELECT idx, due FROM (
			SELECT idx, first_row, 1 + COALESCE(CAST(SUM(row_count) OVER
				(ORDER BY idx ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS BIGINT), 0) AS due
			FROM chunk WHERE batch = $1) AS c
		WHERE first_row <> due ORDER BY idx LIMIT 1`, id).Scan(&index, &row)
	if err == sql.ErrNoRows {
		return -1, 0, nil
	}
	return index, row, err
}
