package store_test

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"

	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/batch"
	"example.org/rootward/server/ledger"
	"example.org/rootward/server/ledger/ledgertest"
	"example.org/rootward/server/store"
	"example.org/rootward/server/store/postgrestest"
)

// oldBatch is a row as the first version wrote it.
const oldBatch = `INSERT INTO batch VALUES ('old', 'request', 1, 0, 0, 0, -1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, '', 'kept since', '', '1', NULL, NULL, NULL)`

func TestSQLiteOfTheFirstVersionIsRenewed(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "rootward.db"), nil, 0o600))
	renewed(t, goose.DialectSQLite3, "sqlite3", sqliteFile(t, folder), store.Config{Folder: folder})
}

func TestPostgresOfTheFirstVersionIsRenewed(t *testing.T) {
	database := postgrestest.Start(t).Database(t)
	db, err := sql.Open("pgx", database)
	require.NoError(t, err)
	renewed(t, goose.DialectPostgres, "postgres", db, store.Config{Database: database})
}

// renewed opens a database of the version that had batches alone, with one in it: the
// batch is still there, and a log can be begun.
func renewed(t *testing.T, dialect goose.Dialect, steps string, db *sql.DB, at store.Config) {
	first, err := goose.NewProvider(dialect, db, os.DirFS("migrations/"+steps), goose.WithTableName("rootward_migration"))
	require.NoError(t, err)
	_, err = first.UpTo(t.Context(), 1)
	require.NoError(t, err)
	_, err = db.ExecContext(t.Context(), oldBatch)
	require.NoError(t, err)
	require.NoError(t, db.Close())

	s := openStore(t, at)
	b, err := s.Get(t.Context(), "old")
	require.NoError(t, err)
	assert.Equal(t, "kept since", b.Title)
	assert.Equal(t, batch.Uploading, b.State)
	l, err := ledger.Open(t.Context(), s, ledgertest.Key(t))
	require.NoError(t, err)
	filled(t, l)
	require.NoError(t, l.Check(t.Context()))
}
