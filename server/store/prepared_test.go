package store

import (
	"context"
	"database/sql"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// onOne opens an empty database with one connection, and gives that, too.
func onOne(t *testing.T) (*sql.Conn, *prepared) {
	db := connect(filepath.Join(t.TempDir(), "a.db"), 1)
	t.Cleanup(func() { assert.NoError(t, db.Close()) })
	c, err := db.Conn(t.Context())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, c.Close()) })
	var p *prepared
	require.NoError(t, c.Raw(func(driver any) error { p = driver.(*prepared); return nil }))
	_, err = c.ExecContext(t.Context(), `CREATE TABLE t (a INTEGER PRIMARY KEY, b BLOB)`)
	require.NoError(t, err)
	return c, p
}

func TestPreparedStatementsAreRunAgain(t *testing.T) {
	c, p := onOne(t)
	const insert, list = `INSERT INTO t (a, b) VALUES ($1, $2)`, `SELECT a FROM t WHERE a >= $1 ORDER BY a`
	for i := range 3 {
		r, err := c.ExecContext(t.Context(), insert, i, []byte{byte(i)})
		require.NoError(t, err)
		n, err := r.RowsAffected()
		require.NoError(t, err)
		assert.EqualValues(t, 1, n)
	}
	kept := p.idle[insert]
	require.NotNil(t, kept)
	_, err := c.ExecContext(t.Context(), insert, 0, nil)
	require.ErrorContains(t, err, "UNIQUE")
	assert.Nil(t, p.idle[insert], "what failed is not run again")

	outer, err := c.QueryContext(t.Context(), list, 0)
	require.NoError(t, err)
	var seen []int
	for outer.Next() {
		var a, inner int
		require.NoError(t, outer.Scan(&a))
		require.NoError(t, c.QueryRowContext(t.Context(), list, 2).Scan(&inner), "the same while it is run")
		seen = append(seen, a, inner)
	}
	require.NoError(t, outer.Close())
	assert.Equal(t, []int{0, 2, 1, 2, 2, 2}, seen)
	assert.Len(t, p.idle, 1)

	_, err = c.ExecContext(t.Context(), `ALTER TABLE t ADD COLUMN c`)
	require.NoError(t, err, "nothing that is kept holds the table")
	var a int
	require.NoError(t, c.QueryRowContext(t.Context(), list, 1).Scan(&a))
	assert.Equal(t, 1, a)
}

func TestPreparedStatementsAreFew(t *testing.T) {
	c, p := onOne(t)
	for i := range 2 * maxPrepared {
		var is int
		require.NoError(t, c.QueryRowContext(t.Context(), "SELECT "+strconv.Itoa(i)).Scan(&is))
		require.Equal(t, i, is)
	}
	assert.Len(t, p.idle, maxPrepared)
}

func TestWhatLasts(t *testing.T) {
	for query, want := range map[string]bool{
		"SELECT 1": true, "INSERT INTO t VALUES (1)": true, "UPDATE t SET a = 1": true, "DELETE FROM t": true,
		"-- name: A :one\nSELECT\n  1": true, "\n  SELECT 1": true, "-- a\n-- b\n\nUPDATE t SET a = 1": true,
		"PRAGMA synchronous=FULL": false, "-- SELECT\nPRAGMA synchronous=FULL": false, "BEGIN EXCLUSIVE": false,
		"CREATE TABLE t (a)": false, "EXPLAIN SELECT 1": false, "SELECTED 1": false, "": false, "-- SELECT 1": false,
	} {
		assert.Equal(t, want, lasts(query), query)
	}
}

// A statement that is prepared once must not keep a transaction from being synced.
func TestLastingTransactionsAreSynced(t *testing.T) {
	s, err := Open(t.Context(), Config{Folder: t.TempDir()})
	require.NoError(t, err)
	defer s.Close()
	for range 3 {
		for _, lasting := range []bool{true, false} {
			var synchronous int // 1: NORMAL, 2: FULL
			require.NoError(t, s.transact(context.Background(), lasting, func(tx *sql.Tx) error {
				return tx.QueryRow("PRAGMA synchronous").Scan(&synchronous)
			}))
			assert.Equal(t, map[bool]int{false: 1, true: 2}[lasting], synchronous)
		}
	}
}
