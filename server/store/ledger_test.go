package store_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules/recordlog"
	"example.org/rootward/server/ledger"
	"example.org/rootward/server/ledger/ledgertest"
	"example.org/rootward/server/store"
	"example.org/rootward/server/store/postgrestest"
)

func TestLedgerInMemory(t *testing.T) {
	conformLedger(t, func(t *testing.T) func() ledger.Store {
		m := &ledgertest.Memory{}
		return func() ledger.Store { return m }
	})
}

func TestLedgerOnSQLite(t *testing.T) {
	conformLedger(t, func(t *testing.T) func() ledger.Store {
		s := openStore(t, store.Config{Folder: t.TempDir()})
		return func() ledger.Store { return s }
	})
}

func TestLedgerOnPostgres(t *testing.T) {
	cluster := postgrestest.Start(t)
	conformLedger(t, func(t *testing.T) func() ledger.Store {
		at := store.Config{Database: cluster.Database(t)}
		return func() ledger.Store { return openStore(t, at) } // a server of its own each
	})
}

// logFixture is a log and the key that it is signed with.
type logFixture struct {
	*testing.T
	open func() ledger.Store
	key  *recordlog.Key
	log  *ledger.Ledger
}

// conformLedger checks a store through a ledger on it: what package ledger promises
// holds on each.
func conformLedger(t *testing.T, at func(*testing.T) func() ledger.Store) {
	for name, test := range map[string]func(*logFixture){
		"Empty":              emptyLog,
		"Versions":           versionsFollow,
		"Repeats":            repeatsGiveTheSame,
		"SitesAreSerial":     sitesAreSerial,
		"Lists":              listsAreInOrder,
		"Tables":             tablesAreKept,
		"SeveralWriteAtOnce": severalWrite,
		"OtherKey":           otherKeyIsRefused,
		"RefusedIsNotKept":   refusedIsNotKept,
		"BytesAreKept":       bytesAreKept,
	} {
		t.Run(name, func(t *testing.T) {
			f := &logFixture{T: t, open: at(t), key: ledgertest.Key(t)}
			f.log = f.another()
			test(f)
			require.NoError(t, f.log.Check(t.Context()))
		})
	}
}

// another is a ledger of one more server.
func (f *logFixture) another() *ledger.Ledger {
	f.Helper()
	l, err := ledger.Open(f.Context(), f.open(), f.key)
	require.NoError(f, err)
	return l
}

// draft is version 1 of a thing of a site.
func draft(name, kind, site string) ledger.Draft {
	return ledger.Draft{Name: name, Kind: kind, Site: site, Version: 1, Request: "make " + name, Digest: sha256.Sum256([]byte(name)),
		Time: time.Date(2026, 8, 10, 9, 30, 0, 1000, time.UTC), Body: fmt.Appendf(nil, `{"name":%q}`, name), Read: -1}
}

func next(d ledger.Draft, version int64) ledger.Draft {
	d.Version, d.Request = version, fmt.Sprintf("change %s to %d", d.Name, version)
	d.Body = fmt.Appendf(nil, `{"name":%q,"version":%d}`, d.Name, version)
	return d
}

func (f *logFixture) append(d ledger.Draft) *ledger.Entry {
	f.Helper()
	e, err := f.log.Append(f.Context(), d)
	require.NoError(f, err)
	return e
}

func (f *logFixture) checkpoint() recordlog.Checkpoint {
	f.Helper()
	signed, size, err := f.log.Checkpoint(f.Context())
	require.NoError(f, err)
	c, err := recordlog.OpenCheckpoint(signed, f.key.Verifier)
	require.NoError(f, err)
	require.Equal(f, size, c.Size)
	return c
}

func emptyLog(f *logFixture) {
	c := f.checkpoint()
	assert.Zero(f, c.Size)
	// RFC 6962, 2.1: the hash of an empty list is that of an empty string.
	assert.EqualValues(f, sha256.Sum256(nil), c.Root)
	_, err := f.log.Get(f.Context(), "sites/a", 0)
	assert.ErrorIs(f, err, ledger.ErrUnknown)
	_, err = f.log.Repeated(f.Context(), "none")
	assert.ErrorIs(f, err, ledger.ErrUnknown)
}

func versionsFollow(f *logFixture) {
	a := draft("sites/a", "site", "sites/a")
	_, err := f.log.Append(f.Context(), next(a, 2))
	assert.ErrorIs(f, err, ledger.ErrVersion, "there is no first")
	first := f.append(a)
	assert.EqualValues(f, 0, first.Number)
	again := next(a, 1)
	_, err = f.log.Append(f.Context(), again)
	assert.ErrorIs(f, err, ledger.ErrVersion, "it is there already")
	second := f.append(next(a, 2))
	assert.EqualValues(f, 1, second.Number)
	for version, want := range map[int64]*ledger.Entry{0: second, 1: first, 2: second} {
		got, err := f.log.Get(f.Context(), "sites/a", version)
		require.NoError(f, err)
		assert.Equal(f, want, got)
	}
	_, err = f.log.Get(f.Context(), "sites/a", 3)
	assert.ErrorIs(f, err, ledger.ErrUnknown)
	assert.EqualValues(f, 2, f.checkpoint().Size)
}

func repeatsGiveTheSame(f *logFixture) {
	a := draft("sites/a", "site", "sites/a")
	first := f.append(a)
	a.Time, a.Body = a.Time.Add(time.Hour), []byte(`{"later":true}`)
	assert.Equal(f, first, f.append(a))
	got, err := f.log.Repeated(f.Context(), a.Request)
	require.NoError(f, err)
	assert.Equal(f, first, got)
	a.Digest[0]++
	_, err = f.log.Append(f.Context(), a)
	assert.ErrorIs(f, err, ledger.ErrRequest)
	assert.EqualValues(f, 1, f.checkpoint().Size)
}

func sitesAreSerial(f *logFixture) {
	f.append(draft("sites/a", "site", "sites/a"))
	f.append(draft("sites/b", "site", "sites/b"))
	d := draft("sites/a/records/r", "record", "sites/a")
	d.Read = 0
	_, err := f.log.Append(f.Context(), d)
	assert.ErrorIs(f, err, ledger.ErrChanged)
	d.Read = 1
	f.append(d)
	list, err := f.log.Site(f.Context(), "sites/a")
	require.NoError(f, err)
	assert.Equal(f, []string{"sites/a", "sites/a/records/r"}, namesOf(list))
}

func namesOf(list []*ledger.Entry) (names []string) {
	for _, e := range list {
		names = append(names, e.Name)
	}
	return names
}

func listsAreInOrder(f *logFixture) {
	for _, name := range []string{"plans/z", "plans/b-c", "plans/ba", "plans/b"} {
		f.append(draft(name, "plan", ""))
	}
	for _, name := range []string{"sites/a/records/2", "sites/a/records/1", "sites/b/records/1"} {
		f.append(draft(name, "record", name[:len("sites/a")]))
	}
	f.append(next(draft("plans/z", "plan", ""), 2))
	list, err := f.log.List(f.Context(), ledger.Page{Kind: "plan", Size: 3})
	require.NoError(f, err)
	assert.Equal(f, []string{"plans/b", "plans/b-c", "plans/ba"}, namesOf(list), "by bytes, whatever the database's language")
	list, err = f.log.List(f.Context(), ledger.Page{Kind: "plan", Size: 3, After: "plans/ba"})
	require.NoError(f, err)
	require.Equal(f, []string{"plans/z"}, namesOf(list))
	assert.EqualValues(f, 2, list[0].Version)
	list, err = f.log.List(f.Context(), ledger.Page{Kind: "record", Site: "sites/a", Size: 9})
	require.NoError(f, err)
	assert.Equal(f, []string{"sites/a/records/1", "sites/a/records/2"}, namesOf(list))
	list, err = f.log.Kind(f.Context(), "plan")
	require.NoError(f, err)
	assert.Equal(f, []string{"plans/b-c", "plans/ba", "plans/b", "plans/z"}, namesOf(list), "in the order of the log")
	var numbers []int64
	for e, err := range f.log.Entries(f.Context(), 2, 5) {
		require.NoError(f, err)
		numbers = append(numbers, e.Number)
	}
	assert.Equal(f, []int64{2, 3, 4}, numbers)
	for _, err := range f.log.Entries(f.Context(), 8, 9) {
		assert.ErrorIs(f, err, ledger.ErrDamaged)
	}
}

func tablesAreKept(f *logFixture) {
	digest := fmt.Sprintf("%064x", 7)
	_, err := f.log.Table(f.Context(), digest)
	assert.ErrorIs(f, err, ledger.ErrUnknown)
	require.NoError(f, f.log.PutTable(f.Context(), digest, []byte("table")))
	require.NoError(f, f.log.PutTable(f.Context(), digest, []byte("table")))
	table, err := f.log.Table(f.Context(), digest)
	require.NoError(f, err)
	assert.Equal(f, "table", string(table))
	assert.Error(f, f.log.PutTable(f.Context(), "../checkpoint", nil))
	list, err := f.log.Tables(f.Context())
	require.NoError(f, err)
	assert.Equal(f, []string{digest}, list)
}

func severalWrite(f *logFixture) {
	var all sync.WaitGroup
	for w := range 4 {
		l := f.another()
		all.Go(func() {
			for i := range 10 {
				_, err := l.Append(f.Context(), draft(fmt.Sprintf("plans/%d-%d", w, i), "plan", ""))
				assert.NoError(f, err)
				_, err = l.Append(f.Context(), draft(fmt.Sprintf("plans/shared-%d", i), "plan", ""))
				assert.NoError(f, err, "the same request from several servers gives the same")
			}
		})
	}
	all.Wait()
	assert.EqualValues(f, 50, f.checkpoint().Size)
}

func otherKeyIsRefused(f *logFixture) {
	f.append(draft("sites/a", "site", "sites/a"))
	_, err := ledger.Open(f.Context(), f.open(), ledgertest.Key(f.T))
	assert.ErrorIs(f, err, ledger.ErrDamaged)
	assert.ErrorContains(f, err, f.log.Origin()[:len("example.org/rootward/records/")])
}

func refusedIsNotKept(f *logFixture) {
	for name, change := range map[string]func(*ledger.Draft){
		"no name":       func(d *ledger.Draft) { d.Name = "" },
		"no request":    func(d *ledger.Draft) { d.Request = "" },
		"two lines":     func(d *ledger.Draft) { d.Body = []byte("{\n}") },
		"no JSON":       func(d *ledger.Draft) { d.Body = []byte("{") },
		"no object":     func(d *ledger.Draft) { d.Body = []byte("1") },
		"nothing":       func(d *ledger.Draft) { d.Body = nil },
		"nanoseconds":   func(d *ledger.Draft) { d.Time = d.Time.Add(1) },
		"not UTF-8":     func(d *ledger.Draft) { d.Name = "\xff" },
		"NUL":           func(d *ledger.Draft) { d.Request = "a\x00b" },
		"version 0":     func(d *ledger.Draft) { d.Version = 0 },
		"space outside": func(d *ledger.Draft) { d.Body = []byte(" {}") },
	} {
		d := draft("sites/a", "site", "sites/a")
		change(&d)
		_, err := f.log.Append(f.Context(), d)
		assert.Error(f, err, name)
	}
	assert.Zero(f, f.checkpoint().Size)
}

func bytesAreKept(f *logFixture) {
	d := draft("sites/a", "site", "sites/a")
	d.Body = []byte(`{"b":1, "a":"<é\u00e9>","b":1e2}`)
	f.append(d)
	e, err := f.another().Get(f.Context(), "sites/a", 1)
	require.NoError(f, err)
	assert.Equal(f, string(d.Body), string(e.Body))
	assert.True(f, d.Time.Equal(e.Time))
	assert.Equal(f, d.Digest, e.Digest)
}

// archived writes the archive of a log into a new folder.
func archived(t *testing.T, l *ledger.Ledger) string {
	t.Helper()
	dir := t.TempDir()
	signed, size, err := l.Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, recordlog.CheckpointFile), signed, 0o600))
	var lines []byte
	for e, err := range l.Entries(t.Context(), 0, size) {
		require.NoError(t, err)
		line, err := e.Line()
		require.NoError(t, err)
		lines = append(append(lines, line...), '\n')
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, recordlog.EntriesFile), lines, 0o600))
	return dir
}

func BenchmarkLedgerAppend(b *testing.B) {
	s, err := store.Open(b.Context(), store.Config{Folder: b.TempDir()})
	require.NoError(b, err)
	defer s.Close()
	l, err := ledger.Open(b.Context(), s, ledgertest.Key(b))
	require.NoError(b, err)
	body := fmt.Appendf(nil, `{"text":"%0500d"}`, 1)
	for i := 0; b.Loop(); i++ {
		d := draft(fmt.Sprintf("sites/a/records/%d", i), "record", "sites/a")
		d.Body, d.Read = body, int64(i)
		_, err := l.Append(context.Background(), d)
		require.NoError(b, err)
	}
}
