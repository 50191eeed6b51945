package store_test

import (
	"bytes"
	"database/sql"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite" // the driver "sqlite"

	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/ledger"
	"example.org/rootward/server/ledger/ledgertest"
	"example.org/rootward/server/store"
)

// filled writes a small log: two sites, records, a change, a plan, a rule table.
func filled(t *testing.T, l *ledger.Ledger) {
	t.Helper()
	f := &logFixture{T: t, log: l}
	f.append(draft("sites/a", "site", "sites/a"))
	f.append(draft("sites/b", "site", "sites/b"))
	f.append(draft("sites/a/records/r", "record", "sites/a"))
	f.append(next(draft("sites/a", "site", "sites/a"), 2))
	f.append(draft("plans/p", "plan", ""))
	require.NoError(t, l.PutTable(t.Context(), fmt.Sprintf("%064x", 7), []byte("a rule table")))
}

// told is all that a log says, through everything that finds entries; an error is told
// as one.
func told(t *testing.T, l *ledger.Ledger) (string, error) {
	var b bytes.Buffer
	ctx := t.Context()
	signed, size, err := l.Checkpoint(ctx)
	if err != nil {
		return "", err
	}
	_, checkpoint, _ := bytes.Cut(bytes.SplitN(signed, []byte("\n\n"), 2)[0], []byte("\n"))
	fmt.Fprintf(&b, "%s\n", checkpoint)
	var errs error
	add := func(list []*ledger.Entry, err error) {
		if err != nil {
			errs = err
			return
		}
		for _, e := range list {
			line, err := e.Line()
			require.NoError(t, err)
			fmt.Fprintf(&b, "%s\n", line)
		}
	}
	one := func(e *ledger.Entry, err error) { add([]*ledger.Entry{e}, err) }
	var whole []*ledger.Entry
	for e, err := range l.Entries(ctx, 0, size) {
		if err != nil {
			return "", err
		}
		whole = append(whole, e)
	}
	add(whole, nil)
	for _, site := range []string{"sites/a", "sites/b", ""} {
		add(l.Site(ctx, site))
	}
	for _, kind := range []string{"site", "record", "plan"} {
		add(l.Kind(ctx, kind))
		add(l.List(ctx, ledger.Page{Kind: kind, Size: 9}))
		add(l.List(ctx, ledger.Page{Kind: kind, Site: "sites/a", Size: 9}))
	}
	for _, e := range whole {
		one(l.Get(ctx, e.Name, e.Version))
		one(l.Get(ctx, e.Name, 0))
		one(l.Repeated(ctx, e.Request))
	}
	digests, err := l.Tables(ctx)
	if err != nil {
		return "", err
	}
	for _, digest := range digests {
		table, err := l.Table(ctx, digest)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(&b, "%s %s\n", digest, table)
	}
	return b.String(), errs
}

// tellsTheSame opens a log, and reports whether it was refused. What is not must tell
// what it told before.
func tellsTheSame(t *testing.T, s ledger.Store, key *recordlog.Key, want, change string) (refused bool) {
	t.Helper()
	l, err := ledger.Open(t.Context(), s, key)
	if err != nil {
		return true
	}
	got, err := told(t, l)
	if err != nil {
		return true
	}
	require.Equal(t, want, got, "%s: not found out", change)
	return false
}

// sqliteFile opens the database of a folder beside the store.
func sqliteFile(t *testing.T, folder string) *sql.DB {
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Opaque: filepath.Join(folder, "rootward.db")}).String()+"?_pragma=busy_timeout(10000)&_pragma=ignore_check_constraints(1)")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

// Every byte of every value of the log's tables is changed, and every bit of its numbers.
func TestEveryFlippedByteOfAValueIsFound(t *testing.T) {
	folder := t.TempDir()
	s := openStore(t, store.Config{Folder: folder})
	key := ledgertest.Key(t)
	l, err := ledger.Open(t.Context(), s, key)
	require.NoError(t, err)
	filled(t, l)
	want, err := told(t, l)
	require.NoError(t, err)
	db := sqliteFile(t, folder)
	flips, harmless := 0, map[string]int{}
	for table, columns := range map[string][]string{
		"log_entry":  {"number", "name", "version", "kind", "site", "request", "digest", "time", "leaf", "body"},
		"log_hash":   {"idx", "hash"},
		"log_head":   {"id", "checkpoint"},
		"rule_table": {"digest", "sha256", "data"},
	} {
		for _, column := range columns {
			for _, row := range valuesOf(t, db, table, column) {
				for _, changed := range row.changes() {
					// The row is found by its old value, and by its new one after. What the
					// database itself refuses, an id that is there already, cannot happen.
					if _, err := db.ExecContext(t.Context(), row.update(table, column), changed, row.value, row.number); err != nil {
						continue
					}
					flips++
					if !tellsTheSame(t, s, key, want, fmt.Sprintf("%s.%s %v of row %d becomes %v", table, column, row.value, row.number, changed)) {
						harmless[table+"."+column]++
					}
					_, err := db.ExecContext(t.Context(), row.update(table, column), row.value, changed, row.number)
					require.NoError(t, err)
				}
			}
		}
	}
	require.False(t, tellsTheSame(t, s, key, want, "nothing"), "all is as it was")
	t.Logf("%d flips; the same is told after %v", flips, harmless)
	assert.LessOrEqual(t, len(harmless), 1)
	assert.LessOrEqual(t, harmless["log_head.checkpoint"], 3, "bits at the end of base64 that say nothing")
}

// cell is a value of a row; rows are told apart by their order.
type cell struct {
	number int64
	value  any
	key    string // the column that the row is found by; empty: the changed one
}

var keyOf = map[string]string{"log_entry": "number", "log_hash": "idx", "log_head": "id"}

func valuesOf(t *testing.T, db *sql.DB, table, column string) (cells []cell) {
	key := keyOf[table]
	if key == column {
		key = ""
	}
	number := key
	if number == "" {
		number = "0"
	}
	rows, err := db.QueryContext(t.Context(), `SELECT `+number+`, `+column+` FROM `+table)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		c := cell{key: key}
		require.NoError(t, rows.Scan(&c.number, &c.value))
		cells = append(cells, c)
	}
	require.NoError(t, rows.Err())
	return cells
}

func (c cell) update(table, column string) string {
	where := column + ` = $2`
	if c.key != "" {
		where += ` AND ` + c.key + ` = $3`
	} else {
		where += ` AND $3 = 0`
	}
	return `UPDATE ` + table + ` SET ` + column + ` = $1 WHERE ` + where
}

func (c cell) changes() (list []any) {
	switch v := c.value.(type) {
	case int64:
		for bit := range 64 {
			list = append(list, v^(1<<bit))
		}
	case string:
		for at := range len(v) {
			b := []byte(v)
			b[at] ^= 1
			list = append(list, string(b))
		}
	case []byte:
		for at := range v {
			b := bytes.Clone(v)
			b[at] ^= 1
			list = append(list, b)
		}
	}
	return list
}

// Bytes of the database's file are changed while no server has it open.
func TestFlippedBytesOfAFileAreFound(t *testing.T) {
	folder := t.TempDir()
	key := ledgertest.Key(t)
	s := openStore(t, store.Config{Folder: folder})
	l, err := ledger.Open(t.Context(), s, key)
	require.NoError(t, err)
	filled(t, l)
	want, err := told(t, l)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	file, err := os.ReadFile(filepath.Join(folder, "rootward.db"))
	require.NoError(t, err)
	_, err = os.Stat(filepath.Join(folder, "rootward.db-wal"))
	require.ErrorIs(t, err, fs.ErrNotExist, "all is in the file")
	places := placesOf(file)
	random := rand.New(rand.NewPCG(5, 0))
	refused, n := 0, 15*killsWanted(t)
	for range n {
		at, flip := places[random.IntN(len(places))], byte(1+random.IntN(255))
		if flippedFileIsRefused(t, file, at, flip, key, want) {
			refused++
		}
	}
	t.Logf("%d flips among %d bytes of pages that have the log in them: %d refused, the rest tell the same", n, len(places), refused)
}

// placesOf are the bytes of pages in which something of the log stands. Empty space in
// them is mostly left out: flips there are harmless.
func placesOf(file []byte) (places []int) {
	const page = 16384
	for start := 0; start+page <= len(file); start += page {
		p := file[start : start+page]
		if !bytes.Contains(p, []byte("sites/a")) && !bytes.Contains(p, []byte("rule table")) && !bytes.Contains(p, []byte("recordsmade")) {
			continue
		}
		for i, b := range p {
			if b != 0 || i < 128 {
				places = append(places, start+i)
			}
		}
	}
	return places
}

func flippedFileIsRefused(t *testing.T, file []byte, at int, flip byte, key *recordlog.Key, want string) bool {
	folder := t.TempDir()
	changed := bytes.Clone(file)
	changed[at] ^= flip
	require.NoError(t, os.WriteFile(filepath.Join(folder, "rootward.db"), changed, 0o600))
	s, err := store.Open(t.Context(), store.Config{Folder: folder})
	if err != nil {
		return true
	}
	defer s.Close()
	return tellsTheSame(t, s, key, want, fmt.Sprintf("byte %d changed by %#x", at, flip))
}
