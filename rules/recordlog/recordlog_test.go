package recordlog_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"maps"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"pgregory.net/rapid"

	"example.org/rootward/rules/recordlog"
)

func newKey(t require.TestingT) *recordlog.Key {
	private, err := recordlog.NewKey(nil)
	require.NoError(t, err)
	key, err := recordlog.ParseKey(private)
	require.NoError(t, err)
	return key
}

// entryOf is entry n of a log of two things.
func entryOf(n int64) *recordlog.Entry {
	site := fmt.Sprintf("sites/%c", 'a'+n%2)
	return &recordlog.Entry{Number: n, Name: site, Kind: "site", Site: site, Version: n/2 + 1, Request: fmt.Sprintf("request %d", n),
		Digest: sha256.Sum256([]byte{byte(n)}), Time: time.Date(2026, 8, 10, 9, int(n), 0, 5000, time.UTC), Body: fmt.Appendf(nil, `{"n":%d}`, n)}
}

// archiveOf is an archive of entries, signed.
func archiveOf(t require.TestingT, key *recordlog.Key, entries ...*recordlog.Entry) fstest.MapFS {
	tree := &recordlog.Tree{}
	var lines []byte
	for _, e := range entries {
		line, err := e.Line()
		require.NoError(t, err)
		require.NoError(t, tree.Add(line))
		lines = append(append(lines, line...), '\n')
	}
	table := []byte("a table")
	return fstest.MapFS{
		recordlog.CheckpointFile: {Data: signed(t, key, tree)},
		recordlog.EntriesFile:    {Data: lines},
		recordlog.TablesFolder + fmt.Sprintf("/%x", sha256.Sum256(table)): {Data: table},
	}
}

func signed(t require.TestingT, key *recordlog.Key, tree *recordlog.Tree) []byte {
	root, err := tree.Root(tree.Size())
	require.NoError(t, err)
	text, err := recordlog.Checkpoint{Origin: key.Verifier.Name(), Size: tree.Size(), Root: root}.Sign(key.Signer)
	require.NoError(t, err)
	return text
}

func several(n int64) (list []*recordlog.Entry) {
	for i := range n {
		list = append(list, entryOf(i))
	}
	return list
}

func checkBy(key *recordlog.Key, earlier ...[]byte) recordlog.Check {
	c := recordlog.Check{Verifier: key.Verifier, Table: func(digest string, table []byte) error {
		if sum := fmt.Sprintf("%x", sha256.Sum256(table)); sum != digest {
			return fmt.Errorf("it has digest %s", sum)
		}
		return nil
	}}
	for i, e := range earlier {
		c.Earlier = append(c.Earlier, recordlog.Earlier{Name: fmt.Sprintf("earlier %d", i), Signed: e})
	}
	return c
}

func faultsOf(t require.TestingT, archive fstest.MapFS, c recordlog.Check) (faults []string) {
	report, err := recordlog.Verify(archive, c)
	if err != nil {
		return []string{err.Error()}
	}
	for _, f := range report.Faults {
		faults = append(faults, f.Error())
	}
	return faults
}

// RFC 6962, 2.1: leaf hashes begin with a zero byte, nodes with a one. The root of two
// leaves is worked out by hand.
func TestRootIsThatOfRFC6962(t *testing.T) {
	tree := &recordlog.Tree{}
	require.NoError(t, tree.Add([]byte("one")))
	require.NoError(t, tree.Add([]byte("two")))
	one, two := sha256.Sum256([]byte("\x00one")), sha256.Sum256([]byte("\x00two"))
	want := sha256.Sum256(append(append([]byte{1}, one[:]...), two[:]...))
	got, err := tree.Root(2)
	require.NoError(t, err)
	assert.EqualValues(t, want, got)
	got, err = tree.Root(1)
	require.NoError(t, err)
	assert.EqualValues(t, one, got)
	_, err = tree.Root(3)
	assert.Error(t, err)
}

// C2SP tlog-checkpoint: origin, size in decimal without leading zeros, root in base64,
// a line each.
func TestCheckpointText(t *testing.T) {
	c := recordlog.Checkpoint{Origin: "example.org/rootward/records/x", Size: 20852163}
	text := "example.org/rootward/records/x\n20852163\n" + base64.StdEncoding.EncodeToString(make([]byte, 32)) + "\n"
	assert.Equal(t, text, c.Text())
	got, err := recordlog.ParseCheckpoint(text)
	require.NoError(t, err)
	assert.Equal(t, c, got)
	for name, bad := range map[string]string{
		"leading zero": strings.Replace(text, "\n2", "\n02", 1), "sign": strings.Replace(text, "\n2", "\n+2", 1),
		"negative": strings.Replace(text, "\n2", "\n-2", 1), "more": text + "x\n", "short": text[:len(text)-1],
		"no origin": text[strings.Index(text, "\n"):], "root": strings.Replace(text, "AAAA", "AAA", 1), "": "",
	} {
		_, err := recordlog.ParseCheckpoint(bad)
		assert.Error(t, err, name)
	}
}

func TestKeys(t *testing.T) {
	for range 50 { // keys with every character in them
		private, err := recordlog.NewKey(nil)
		require.NoError(t, err)
		key, err := recordlog.ParseKey(private + "\n")
		require.NoError(t, err)
		v, err := recordlog.ParseVerifier(key.VerifierText + "\n")
		require.NoError(t, err)
		assert.Equal(t, key.Signer.KeyHash(), v.KeyHash())
		n, err := note.Sign(&note.Note{Text: "a\n"}, key.Signer)
		require.NoError(t, err)
		_, err = note.Open(n, note.VerifierList(v))
		require.NoError(t, err)
		_, err = recordlog.ParseKey(private[:len(private)-8])
		require.Error(t, err)
		assert.NotContains(t, err.Error(), private[len(private)-20:len(private)-8], "errors do not show the key")
	}
}

func TestWholeArchive(t *testing.T) {
	key := newKey(t)
	archive := archiveOf(t, key, several(9)...)
	report, err := recordlog.Verify(archive, checkBy(key, archiveOf(t, key, several(4)...)[recordlog.CheckpointFile].Data))
	require.NoError(t, err)
	assert.Empty(t, report.Faults)
	assert.Equal(t, []int64{9, 9, 1}, []int64{report.Entries, report.Checkpoint.Size, int64(report.Tables)})
}

func TestWhatWasDoneToAnArchive(t *testing.T) {
	key := newKey(t)
	later := func(change func([]*recordlog.Entry) []*recordlog.Entry) []*recordlog.Entry { return change(several(9)) }
	earlier := archiveOf(t, key, several(4)...)[recordlog.CheckpointFile].Data
	for name, c := range map[string]struct {
		entries []*recordlog.Entry
		says    string
	}{
		"entry 1 changed and signed again": {later(func(l []*recordlog.Entry) []*recordlog.Entry {
			l[1].Body = []byte(`{"n":"forged"}`)
			return l
		}), "earlier 0: it states the root"},
		"cut back and signed again": {several(3), "earlier 0: it states 4 entries, and entries.jsonl has 3"},
		"a version left out":        {later(func(l []*recordlog.Entry) []*recordlog.Entry { l[6].Version = 5; return l }), "entries.jsonl:7: it is version 5 of sites/a, and 4 is due"},
		"a request made two":        {later(func(l []*recordlog.Entry) []*recordlog.Entry { l[6].Request = l[2].Request; return l }), "entries.jsonl:7: its request request 2 has made entry 2 already"},
		"a number left out":         {later(func(l []*recordlog.Entry) []*recordlog.Entry { l[6].Number = 7; return l }), "entries.jsonl:7: it has number 7, and 6 is due"},
		"a thing became another":    {later(func(l []*recordlog.Entry) []*recordlog.Entry { l[6].Kind = "visit"; return l }), "sites/a was a site"},
	} {
		faults := strings.Join(faultsOf(t, archiveOf(t, key, c.entries...), checkBy(key, earlier)), "\n")
		assert.Contains(t, faults, c.says, name)
	}
	archive := archiveOf(t, key, several(9)...)
	assert.NotEmpty(t, faultsOf(t, archive, checkBy(newKey(t))), "the key of another log")
	unsigned := maps.Clone(archive)
	unsigned[recordlog.EntriesFile] = &fstest.MapFile{Data: archiveOf(t, key, several(10)...)[recordlog.EntriesFile].Data}
	assert.Contains(t, faultsOf(t, unsigned, checkBy(key))[0], "entries were added that nobody signed")
}

// Every bit pattern of every byte is tried by a few: the lowest bit, the highest, all.
func TestEveryFlippedByteOfAnArchiveIsFound(t *testing.T) {
	key := newKey(t)
	archive := archiveOf(t, key, several(6)...)
	checkpoint := archive[recordlog.CheckpointFile].Data
	flips := 0
	for name, file := range archive {
		for at := range file.Data {
			for _, flip := range []byte{1, 0x80, 0xff} {
				changed := maps.Clone(archive)
				data := bytes.Clone(file.Data)
				data[at] ^= flip
				changed[name] = &fstest.MapFile{Data: data}
				flips++
				if len(faultsOf(t, changed, checkBy(key))) > 0 {
					continue
				}
				// The last character of the signature's base64 has bits that say nothing.
				require.Equal(t, recordlog.CheckpointFile, name, "byte %d", at)
				was, err := recordlog.OpenCheckpoint(checkpoint, key.Verifier)
				require.NoError(t, err)
				is, err := recordlog.OpenCheckpoint(data, key.Verifier)
				require.NoError(t, err)
				require.Equal(t, was, is)
				require.Greater(t, at, len(data)-6)
			}
		}
	}
	t.Logf("%d flips", flips)
}

func TestEveryCutIsFound(t *testing.T) {
	key := newKey(t)
	archive := archiveOf(t, key, several(4)...)
	for name, file := range archive {
		for n := range file.Data {
			changed := maps.Clone(archive)
			changed[name] = &fstest.MapFile{Data: file.Data[:n]}
			require.NotEmpty(t, faultsOf(t, changed, checkBy(key)), "%s of %d bytes", name, n)
		}
	}
}

func TestLinesAreReadAsTheyWereWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[^\x00-\x1f]{1,20}`)
		e := &recordlog.Entry{
			Number: rapid.Int64Min(0).Draw(t, "number"), Name: text.Draw(t, "name"), Kind: text.Draw(t, "kind"),
			Site: rapid.OneOf(rapid.Just(""), text).Draw(t, "site"), Version: rapid.Int64Min(1).Draw(t, "version"), Request: text.Draw(t, "request"),
			Time: time.UnixMicro(rapid.Int64Range(0, 1<<52).Draw(t, "time")).UTC(), Body: []byte(`{"a": [1 ,2]}`),
		}
		copy(e.Digest[:], rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "digest"))
		line, err := e.Line()
		require.NoError(t, err)
		require.NotContains(t, string(line), "\n")
		got, err := recordlog.ParseLine(line)
		require.NoError(t, err)
		require.Equal(t, e, got)
	})
}

// Two different entries have different lines: what stands in a body cannot pass for
// what stands before it.
func TestALineHasOneReading(t *testing.T) {
	line, err := entryOf(0).Line()
	require.NoError(t, err)
	for name, other := range map[string]string{
		"twice":       strings.Replace(string(line), `"version":1`, `"version":2,"version":1`, 1),
		"case":        strings.Replace(string(line), `"version"`, `"Version"`, 1),
		"more":        strings.Replace(string(line), `"body"`, `"more":1,"body"`, 1),
		"space":       strings.Replace(string(line), `,"kind"`, `, "kind"`, 1),
		"order":       strings.Replace(string(line), `"number":0,"name":"sites/a"`, `"name":"sites/a","number":0`, 1),
		"after":       string(line) + " ",
		"digest":      strings.Replace(string(line), `"digest":"`, `"digest":"00`, 1),
		"time's zone": strings.Replace(string(line), `Z"`, `+00:00"`, 1),
	} {
		require.NotEqual(t, string(line), other, name)
		_, err := recordlog.ParseLine([]byte(other))
		assert.Error(t, err, name)
	}
}

func FuzzParseLine(f *testing.F) {
	line, err := entryOf(3).Line()
	require.NoError(f, err)
	f.Add(line)
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		e, err := recordlog.ParseLine(line)
		if err != nil {
			return
		}
		again, err := e.Line()
		require.NoError(t, err)
		require.Equal(t, string(line), string(again))
	})
}

func FuzzCheckpoint(f *testing.F) {
	private, err := recordlog.NewKey(nil)
	require.NoError(f, err)
	key, err := recordlog.ParseKey(private)
	require.NoError(f, err)
	f.Add(signed(f, key, &recordlog.Tree{}))
	f.Fuzz(func(t *testing.T, text []byte) {
		_, _ = recordlog.OpenCheckpoint(text, key.Verifier) // no panic
		if c, err := recordlog.ParseCheckpoint(string(text)); err == nil {
			require.Equal(t, string(text), c.Text())
		}
	})
}

func FuzzVerify(f *testing.F) {
	key := newKey(f)
	archive := archiveOf(f, key, several(3)...)
	f.Add(archive[recordlog.EntriesFile].Data)
	f.Add([]byte("\n\n"))
	whole := archive[recordlog.EntriesFile].Data
	f.Fuzz(func(t *testing.T, entries []byte) {
		changed := maps.Clone(archive)
		changed[recordlog.EntriesFile] = &fstest.MapFile{Data: entries}
		faults := faultsOf(t, changed, checkBy(key))
		require.Equal(t, bytes.Equal(entries, whole), len(faults) == 0)
	})
}
