package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"

	"example.org/rootward/server/batch"
)

// Ahead implements batch.Store.
func (s *Store) Ahead(ctx context.Context, id, by string) (bool, error) {
	err := s.transact(ctx, false, func(tx *sql.Tx) error {
		return one(tx.ExecContext(ctx, `UPDATE batch SET ahead = $2 WHERE id = $1 AND state = $3 AND ahead IN ('', $2)`,
			id, by, batch.Uploading))
	})
	if err == batch.ErrState {
		return false, nil
	}
	return err == nil, err
}

// Put implements batch.Store. What is kept is pressed before the transaction, which
// others wait for.
func (s *Store) Put(ctx context.Context, id string, c *batch.Chunk, d *batch.Draft) error {
	list := [][]byte{c.Data}
	if d != nil {
		list = append(list, d.Answer.Result)
	}
	return pressed(c.Room, list, func(small [][]byte) error {
		var ahead *draft
		if d != nil {
			r := prepare(batch.Pass{Batch: id, Number: 1}, c.Index, d.Answer, small[1])
			r.numbers.Revision, r.bytes.Number = draftRevision, draftPass
			ahead = &draft{d.By, r}
		}
		err := s.put(ctx, id, c, small[0], ahead)
		s.kind.wrote(written(small))
		return err
	})
}

// draft is an answer as it is kept.
type draft struct {
	by     string
	result *result
}

func (s *Store) put(ctx context.Context, id string, c *batch.Chunk, data []byte, d *draft) error {
	return s.transact(ctx, false, func(tx *sql.Tx) error {
		ahead, err := s.require(ctx, tx, id, batch.Uploading)
		if err != nil {
			return err
		}
		r, err := tx.ExecContext(ctx, `INSERT INTO chunk (batch, idx, first_row, row_count)
			VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING`, id, c.Index, c.FirstRow, c.Rows)
		if err := one(r, err); err == batch.ErrState {
			return same(ctx, tx, id, c, data)
		} else if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO chunk_data (batch, idx, data) VALUES ($1, $2, $3)`, id, c.Index, data)
		if err == nil && d != nil && d.by == ahead {
			_, err = d.result.insert(ctx, tx)
		}
		return err
	})
}

// require holds a batch in its state until the transaction ends, and tells who decides it
// ahead.
func (s *Store) require(ctx context.Context, tx *sql.Tx, id string, state batch.State) (ahead string, err error) {
	var is batch.State
	err = tx.QueryRowContext(ctx, `SELECT state, ahead FROM batch WHERE id = $1`+s.kind.share(), id).Scan(&is, &ahead)
	if err != nil {
		return "", known(err, batch.ErrUnknown)
	}
	if is != state {
		return "", batch.ErrState
	}
	return ahead, nil
}

// same tells whether what is kept is this chunk, which is also given pressed.
func same(ctx context.Context, tx *sql.Tx, id string, c *batch.Chunk, pressed []byte) error {
	var first, rows int64
	var small []byte
	err := tx.QueryRowContext(ctx, `SELECT first_row, row_count FROM chunk WHERE batch = $1 AND idx = $2`, id, c.Index).Scan(&first, &rows)
	if err != nil {
		return err
	}
	if first != c.FirstRow || rows != c.Rows {
		return batch.ErrDiffers
	}
	err = tx.QueryRowContext(ctx, `SELECT data FROM chunk_data WHERE batch = $1 AND idx = $2`, id, c.Index).Scan(&small)
	if err != nil {
		return known(err, errors.New("the database is damaged, restore it from a backup: a chunk has no rows"))
	}
	if bytes.Equal(small, pressed) {
		return nil
	}
	kept, err := unpress(nil, small) // another version may press otherwise
	if err == nil && !bytes.Equal(kept, c.Data) {
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
