package store

import (
	"context"
	"database/sql"

	"example.org/rootward/server/batch"
)

// Hinder implements batch.Store.
func (s *Store) Hinder(ctx context.Context, p batch.Pass, h batch.Hindrance) error {
	return s.transact(ctx, false, func(tx *sql.Tx) error {
		if err := s.hold(ctx, tx, p); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO hindered (batch, server, name, problem, since) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (batch, server) DO UPDATE SET name = excluded.name, problem = excluded.problem, since = excluded.since`,
			p.Batch, h.Server, h.Name, h.Problem, stamp(h.Since))
		return err
	})
}

// Unhinder implements batch.Store.
func (s *Store) Unhinder(ctx context.Context, batch, server string) error {
	return s.transact(ctx, false, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM hindered WHERE batch = $1 AND server = $2`, batch, server)
		return err
	})
}

// unhinder takes back what all servers noted of a batch.
func unhinder(ctx context.Context, tx *sql.Tx, batch string) error {
	_, err := tx.ExecContext(ctx, `DELETE FROM hindered WHERE batch = $1`, batch)
	return err
}

// hindrances gives what was noted of a batch, in the order of the servers' names.
func (s *Store) hindrances(ctx context.Context, id string) ([]batch.Hindrance, error) {
	return all(ctx, s.read, func(scan func(...any) error) (h batch.Hindrance, err error) {
		var since int64
		err = scan(&h.Server, &h.Name, &h.Problem, &since)
		h.Since = moment(since)
		return h, err
	}, `SELECT server, name, problem, since FROM hindered WHERE batch = $1 ORDER BY name, server`, id)
}
