package command_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/recordlog"
	"example.org/rootward/rules/recordlog/derivation"
	"example.org/rootward/rules/rulewire"
)

// A log is written by a server, exported, and checked without one.
func TestALogIsExportedAndVerified(t *testing.T) {
	folder := t.TempDir()
	data, site := filepath.Join(folder, "data"), filepath.Join(folder, "site.yaml")
	require.NoError(t, os.WriteFile(site, []byte("title: North bank\nplace: us/velmora\ntime_zone: America/New_York\narea_m2: 5000\n"), 0o600))
	on := func(args ...string) outcome {
		got := rootward(t, append(args, "--data", data)...)
		require.Zero(t, got.code, got.stderr)
		return got
	}
	const request = "6ba7b810-9dad-41d1-80b4-00c04fd430c8"
	on("sites", "add", "north", "--file", site, "--request-id", request)
	on("sites", "add", "north", "--file", site, "--request-id", request) // after an answer that was lost
	on("sites", "add", "south", "--file", site)
	twice := rootward(t, "sites", "add", "south", "--file", site, "--data", data)
	assert.Equal(t, 1, twice.code)
	contains(t, twice.stderr, `there is "sites/south" already: give what is new another id, or read and change what is there`)
	key := strings.TrimSpace(on("records", "key").stdout)
	info, err := os.Stat(filepath.Join(data, "record.key"))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "nobody else reads the key")

	first, second := filepath.Join(folder, "first"), filepath.Join(folder, "second")
	on("records", "export", first)
	on("sites", "change", "sites/north", "--file", site)
	on("records", "export", second)
	again := rootward(t, "records", "export", second, "--data", data)
	contains(t, again.stderr, "is there already and is not replaced")

	since := filepath.Join(first, recordlog.CheckpointFile)
	got := direct(t, "records", "verify", second, "--key", key, "--since", since)
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "is whole and unchanged", "entries 3", "checkpoints 1 earlier ones, all kept to")

	entries := filepath.Join(second, recordlog.EntriesFile)
	text, err := os.ReadFile(entries)
	require.NoError(t, err)
	forged := bytes.Replace(text, []byte("North bank"), []byte("South bank"), 1)
	require.NoError(t, os.WriteFile(entries, forged, 0o600))
	got = direct(t, "records", "verify", second, "--key", key, "--since", since)
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "checkpoint: it states the root", "for the first 2 entries")
	assert.Equal(t, 2, direct(t, "records", "verify", first, "--key", "none").code)
	assert.Equal(t, 1, direct(t, "records", "verify", filepath.Join(folder, "nothing"), "--key", key).code)
}

// lawOf is a rule table of one rule.
func lawOf(t *testing.T) *rules.Set {
	t.Helper()
	valid := civil.Of(2026, time.January, 1)
	set, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{ID: "example", Version: "1.0.0", Title: "An example", Publisher: "An example", Layer: rules.Federal, Scope: "us", ValidFrom: valid},
		Rows:     []rules.Row{{ID: "never", Purpose: "Nothing is applied.", Citation: "an example", ValidFrom: valid, Effect: rules.Prohibit{}}},
	})
	require.NoError(t, err)
	return set
}

// recordBy is a record that was judged by a rule table.
func recordBy(set *rules.Set) *campaignv1.Record {
	on := civil.Of(2026, time.August, 10)
	site := rules.Surroundings{}
	treatment := rules.Treatment{}
	decision, names := derivation.Judge(rules.Govern("us", on, []*rules.Set{set}), treatment, &site)
	return &campaignv1.Record{Name: "sites/a/records/r", Version: 1, Derivation: &campaignv1.Derivation{
		Date: rulewire.EncodeDate(on), Place: "us", RuleSets: []*commonv1.RuleSetRef{rulewire.EncodeRef(set.Ref)}, Treatment: rulewire.EncodeTreatment(&treatment),
		Decisions: []*campaignv1.DerivedDecision{{Surroundings: rulewire.EncodeSurroundings(&site), Decision: rulewire.EncodeDecision(decision), Rules: names}},
	}}
}

// archivedRecord writes an archive of one record and its rule table, and gives the
// folder and the key.
func archivedRecord(t *testing.T, r *campaignv1.Record, set *rules.Set) (folder, key string) {
	t.Helper()
	folder = t.TempDir()
	body, err := protojson.Marshal(r)
	require.NoError(t, err)
	line, err := (&recordlog.Entry{Name: "sites/a/records/r", Kind: "record", Site: "sites/a", Version: 1, Request: "one", Body: body}).Line()
	require.NoError(t, err)
	private, err := recordlog.NewKey(nil)
	require.NoError(t, err)
	k, err := recordlog.ParseKey(private)
	require.NoError(t, err)
	tree := &recordlog.Tree{}
	require.NoError(t, tree.Add(line))
	root, err := tree.Root(1)
	require.NoError(t, err)
	signed, err := recordlog.Checkpoint{Origin: k.Verifier.Name(), Size: 1, Root: root}.Sign(k.Signer)
	require.NoError(t, err)
	table, err := proto.Marshal(rulewire.EncodeTable(&set.Table))
	require.NoError(t, err)
	require.NoError(t, os.Mkdir(filepath.Join(folder, recordlog.TablesFolder), 0o700))
	for name, content := range map[string][]byte{
		recordlog.CheckpointFile: signed, recordlog.EntriesFile: append(line, '\n'), recordlog.TablesFolder + "/" + set.Ref.Digest: table,
	} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), content, 0o600))
	}
	return folder, k.VerifierText
}

// A record is judged again by the rule tables of the archive: one whose signature holds,
// and that says something else than they do, is found out.
func TestARecordIsJudgedAgain(t *testing.T) {
	set := lawOf(t)
	folder, key := archivedRecord(t, recordBy(set), set)
	got := direct(t, "records", "verify", folder, "--key", key)
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "records 1, of which 1 judged again")

	table := filepath.Join(folder, recordlog.TablesFolder, set.Ref.Digest)
	require.NoError(t, os.Remove(table))
	got = direct(t, "records", "verify", folder, "--key", key)
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, fmt.Sprintf("tables/%s, by which it was judged, is missing", set.Ref.Digest))

	lenient := recordBy(set)
	lenient.Derivation.Decisions[0].Decision = commonv1.Decision_DECISION_ALLOWED
	folder, key = archivedRecord(t, lenient, set)
	got = direct(t, "records", "verify", folder, "--key", key)
	assert.Equal(t, 1, got.code)
	contains(t, got.stderr, "entries.jsonl:1: sites/a/records/r version 1: derivation.decisions[0]: the record says ALLOWED, and its rule tables say PROHIBITED")
}
