package store_test

import (
	"database/sql"
	"encoding/binary"
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

func TestSQLiteIsRenewed(t *testing.T) {
	migrated(t, func(t *testing.T) store.Config { return store.Config{Folder: t.TempDir()} })
}

func TestPostgresIsRenewed(t *testing.T) {
	cluster := postgrestest.Start(t)
	migrated(t, func(t *testing.T) store.Config { return store.Config{Database: cluster.Database(t)} })
}

func migrated(t *testing.T, at func(t *testing.T) store.Config) {
	for name, test := range map[string]func(*testing.T, store.Config){
		"OfTheFirstVersion": renewed, "WithDrafts": draftsAreDropped, "WithChecksums": chunksAreCompared, "OfANewerVersion": newerIsRefused,
	} {
		t.Run(name, func(t *testing.T) { test(t, at(t)) })
	}
}

// database opens what is at a place beside the store, which need not be there yet.
func database(t *testing.T, at store.Config) *sql.DB {
	t.Helper()
	if at.Folder != "" {
		return sqliteFile(t, at.Folder)
	}
	db, err := sql.Open("pgx", at.Database)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func execute(t *testing.T, db *sql.DB, statement string, args ...any) {
	t.Helper()
	_, err := db.ExecContext(t.Context(), statement, args...)
	require.NoError(t, err)
}

// older makes the tables as a version made them, with something in them.
func older(t *testing.T, at store.Config, version int64, statements ...string) {
	t.Helper()
	db, dialect, steps := database(t, at), goose.DialectPostgres, "postgres"
	if at.Folder != "" {
		require.NoError(t, os.WriteFile(filepath.Join(at.Folder, "rootward.db"), nil, 0o600))
		dialect, steps = goose.DialectSQLite3, "sqlite3"
	}
	provider, err := goose.NewProvider(dialect, db, os.DirFS("migrations/"+steps), goose.WithTableName("rootward_migration"))
	require.NoError(t, err)
	_, err = provider.UpTo(t.Context(), version)
	require.NoError(t, err)
	for _, s := range statements {
		execute(t, db, s)
	}
	require.NoError(t, db.Close())
}

// renewed opens a database of the version that had batches alone, with one in it: the
// batch is still there, and a log can be begun.
func renewed(t *testing.T, at store.Config) {
	older(t, at, 1, oldBatch)
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

// draftsAreDropped opens a database of the version that kept drafts as results: those of
// batches that have begun are results, the others are not.
func draftsAreDropped(t *testing.T, at store.Config) {
	older(t, at, 3,
		`INSERT INTO batch VALUES ('uploading', 'a', 1, 0, 0, 0, -1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, '', '', '', '1', NULL, NULL, NULL, 'a server')`,
		`INSERT INTO batch VALUES ('begun', 'b', 2, 0, 1, 0, -1, 0, 1, 0, 0, 2, 20, 0, 0, 0, 0, 0, '', '', '', '1', '1', NULL, NULL, 'a server')`,
		`INSERT INTO result SELECT id, 0, 1, 0, 1, 0, 0, 0, '1' FROM batch`,
		`INSERT INTO result_data SELECT id, 0, 1, 0, '1', '1' FROM batch`)
	s := openStore(t, at)
	left, err := s.Left(t.Context(), batch.Pass{Batch: "begun", Number: 1})
	require.NoError(t, err)
	assert.EqualValues(t, 1, left, "of two")
	for _, table := range []string{"result", "result_data"} {
		var id string
		require.NoError(t, database(t, at).QueryRowContext(t.Context(), `SELECT batch FROM `+table).Scan(&id))
		assert.Equal(t, "begun", id, table)
	}
}

// chunksAreCompared opens a database of the version that told chunks by their checksums: one
// of its chunks is still told from others.
func chunksAreCompared(t *testing.T, at store.Config) {
	older(t, at, 5,
		`INSERT INTO batch VALUES ('uploading', 'a', 1, 0, 0, 0, -1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, '', '', '', '1', NULL, NULL, NULL, '')`,
		`INSERT INTO chunk VALUES ('uploading', 0, 1, 10, '1')`)
	s := openStore(t, at)
	require.ErrorContains(t, s.Put(t.Context(), "uploading", rows(0), nil), "restore it from a backup", "its rows are not there")
	execute(t, database(t, at), `INSERT INTO chunk_data VALUES ('uploading', 0, $1)`, pressedOtherwise(rows(0).Data))
	require.NoError(t, s.Put(t.Context(), "uploading", rows(0), nil))
	other := rows(1)
	other.Index, other.FirstRow = 0, 1
	require.ErrorIs(t, s.Put(t.Context(), "uploading", other, nil), batch.ErrDiffers)
	require.NoError(t, s.Put(t.Context(), "uploading", rows(1), nil))
}

// pressedOtherwise is a short text as no encoder gives it: two literals of S2.
func pressedOtherwise(text []byte) []byte {
	half := len(text) / 2
	b := binary.AppendUvarint(nil, uint64(len(text)))
	b = append(append(b, byte(half-1)<<2), text[:half]...)
	return append(append(b, byte(len(text)-half-1)<<2), text[half:]...)
}

// newerIsRefused opens a database that a newer version has renewed.
func newerIsRefused(t *testing.T, at store.Config) {
	require.NoError(t, openStore(t, at).Close())
	for _, c := range []struct{ newer, older, says string }{
		{`INSERT INTO rootward_migration (version_id, is_applied) VALUES (99, TRUE)`,
			`DELETE FROM rootward_migration WHERE version_id = 99`, "its tables are of version 99, and this program knows them to version 6: "},
		{`INSERT INTO river_migration (line, version) VALUES ('main', 98)`,
			`DELETE FROM river_migration WHERE version = 98`, "its tables of the queue are of version 98, and this program knows them to version "},
	} {
		db := database(t, at)
		execute(t, db, c.newer)
		require.NoError(t, db.Close())
		_, err := store.Open(t.Context(), at)
		require.ErrorContains(t, err, c.says)
		assert.ErrorContains(t, err, "start that or a newer one, or take back a backup from before")
		if at.Folder != "" {
			assert.ErrorContains(t, err, filepath.Join(at.Folder, "rootward.db"))
		} else {
			assert.ErrorContains(t, err, "PostgreSQL database ")
		}
		db = database(t, at)
		execute(t, db, c.older)
		require.NoError(t, db.Close())
		require.NoError(t, openStore(t, at).Close())
	}
}
