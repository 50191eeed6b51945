package tabletext_test

import (
	"strings"
	"testing"
	"time"

	"example.org/rootward/plugins/tablefile/tabletext"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// faults reads a text that is not accepted.
func faults(t *testing.T, text string) tabletext.Faults {
	t.Helper()
	_, err := tabletext.Read("f.yaml", []byte(text))
	var faults tabletext.Faults
	require.ErrorAs(t, err, &faults)
	return faults
}

// What is not read at all, each refused where it stands.
func TestRefused(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "f.yaml:1:1: the text is empty"},
		{"comments alone", "# rows\n", "f.yaml:1:1: the text is empty"},
		{"a word", "rows", "f.yaml:1:1: the text \"rows\" is here; write keys with values: manifest, rows, cases"},
		{"not UTF-8", "rows: \xff", "f.yaml:1:1: the text is not UTF-8"},
		{"an anchor", "rows: &all []", "f.yaml:1:7: an anchor (&) is not read"},
		{"an alias", "rows: *all", "f.yaml:1:7: an alias (*) is not read"},
		{"a tag", "rows: !!seq []", "f.yaml:1:7: a tag (!) is not read"},
		{"a merge key", "manifest:\n  <<: {version: a}", "f.yaml:2:3: a merge key (<<) is not read"},
		{"a directive", "%YAML 1.2\n---\nrows: []", "f.yaml:1:1: a directive (%) is not read"},
		{"two documents", "rows: []\n---\nrows: []", "f.yaml:2:1: a second document begins"},
		{"an open bracket", "rows:\n  - {rule_id: a", "f.yaml:2:5: this is not YAML: "},
		{"a tab", "rows:\n\t- a", "f.yaml:2:1: this is not YAML: "},
		{"a long line", "rows: " + strings.Repeat("a", 5_000), "f.yaml:1:4096: the line has 5006 bytes; it may have at most 4096"},
		{"a large text", strings.Repeat("#\n", 600_000), "f.yaml:1:1: the text has 1200000 bytes; it may have at most 1048576"},
		{"deep brackets", "rows: " + strings.Repeat("[", 1_000), "f.yaml:1:"},
		{"deep brackets on many lines", "rows:\n" + strings.Repeat("[\n", 100_000), "nests deeper than 16"},
		{"deep dashes", "rows:\n" + strings.Repeat("- ", 1_000), "nests deeper than 16"},
		{"deep keys", deep(), "nests deeper than 16"},
		{"many keys", strings.Repeat("a: b\n", 100_000), "f.yaml:65:2: a mapping has more than 64 keys"},
		{"many keys in brackets", "rows: {\n" + strings.Repeat("a: b,\n", 100_000) + "}", "more than 64 keys"},
	} {
		t.Run(c.name, func(t *testing.T) {
			began := time.Now()
			assert.Contains(t, faults(t, c.text).Error(), c.want)
			// The slowest takes a quarter of a second on one idle core; without the limits
			// it is minutes.
			assert.Less(t, time.Since(began), 20*time.Second)
		})
	}
}

// deep is keys that each begin farther right.
func deep() string {
	var text strings.Builder
	for i := range 1_000 {
		text.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return text.String()
}

// However much is wrong, the listing ends.
func TestListingEnds(t *testing.T) {
	list := faults(t, "rows:\n"+strings.Repeat("  - {rule: a}\n", 20_000))
	assert.Len(t, list, 201)
	assert.Contains(t, list[200].Problem, "faults more from here on")
}

func TestCarriageReturnsAndByteOrderMark(t *testing.T) {
	text := strings.ReplaceAll(minimal, "\n", "\r\n")
	set, err := tabletext.Read("f.yaml", []byte(text))
	require.NoError(t, err)
	assert.Equal(t, "Nothing is done.", set.Table.Rows[0].Purpose)
	_, err = tabletext.Read("f.yaml", []byte("\ufeff"+minimal))
	require.NoError(t, err)
}

// minimal is the least that is accepted.
const minimal = `manifest:
  rule_set_id: least
  version: "1"
  title: The least
  publisher: Nobody
  layer: district
  scope: us/velmora/least
  valid_from: 2026-01-01
rows:
  - rule_id: nothing
    purpose: Nothing is done.
    citation: none; invented for this test
    valid_from: 2026-01-01
    effect: prohibit
`
