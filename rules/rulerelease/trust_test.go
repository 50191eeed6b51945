package rulerelease_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestATrustFile(t *testing.T) {
	lands, deputy := newKey(t, "lands"), newKey(t, "deputy")
	text := `
# Who may state the law here.
agencies:
  - name: Velmora Department of Lands
    keys:
      - ` + lands.verifier + `
      - "` + deputy.verifier + `"
    places: [us/velmora]
    layers: [state, district]
    threshold: 2
    first_party: true
    may_read: [/usr/bin/python3, /usr/lib/python3]
`
	trust, err := rulerelease.ParseTrust([]byte(text), "trust.yaml")
	require.NoError(t, err)
	assert.Equal(t, []rulerelease.Agency{{
		Name: "Velmora Department of Lands", Keys: []string{lands.verifier, deputy.verifier}, Places: []string{"us/velmora"},
		Layers: []rules.Layer{rules.State, rules.District}, Threshold: 2, FirstParty: true,
		MayRead: []string{"/usr/bin/python3", "/usr/lib/python3"},
	}}, trust.Agencies)
}

func TestEveryFaultOfATrustFileIsReportedAtOnce(t *testing.T) {
	k := newKey(t, "lands")
	renamed := strings.Replace(k.verifier, "lands", "lands-too", 1) // its hash is wrong then
	text := `agencies:
  - name: Lands
    keys: [` + k.verifier + `, nonsense, ` + renamed + `]
    places: [us/Velmora]
    layers: [county]
    threshold: 4
    may_read: [relative, /, /etc/../root]
    colour: green
  - name: Lands
    keys: [` + k.verifier + `]
    places: []
    layers: []
    first_party: perhaps
  - keys: one
    places: [us]
    layers: [state]
    threshold: 1.5
  - just a text
`
	_, err := rulerelease.ParseTrust([]byte(text), "rules/trust.yaml")
	for _, want := range []string{
		`rules/trust.yaml:3:`, `agencies[1].keys[2]: "nonsense" is not the verifier of a key`, `agencies[1].keys[3]:`,
		`rules/trust.yaml:4:14: agencies[1].places[1]: "us/Velmora" is not a place`,
		`rules/trust.yaml:5:14: agencies[1].layers[1]: "county" is not one of biology, federal`,
		`rules/trust.yaml:6:16: agencies[1].threshold: 4 is more than the 3 keys`,
		`agencies[1].may_read[1]: "relative"`, `agencies[1].may_read[2]: "/"`, `agencies[1].may_read[3]: "/etc/../root"`,
		`rules/trust.yaml:8:5: agencies[1]: "colour" is not known here; known are name, keys, places`,
		`agencies[2].keys[1]: this key is listed already at agencies[1].keys[1]`,
		`agencies[2].places: is empty`, `agencies[2].layers: is empty`, `agencies[2].first_party: "perhaps" is neither true nor false`,
		`agencies[3]: "name" is missing`, `agencies[3].keys: is not a list`, `agencies[3].threshold: "1.5" is not a number from 1 to 100`,
		`rules/trust.yaml:18:5: agencies[4]: is not a mapping`, `name "Lands" is used twice`,
	} {
		assert.ErrorContains(t, err, want)
	}
}

func TestWhatIsNoTrustFile(t *testing.T) {
	for text, want := range map[string]string{
		"":                                   "it needs one",
		"agencies: [\n":                      "trust.yaml:1:",
		"- agencies":                         "is not a mapping",
		"agencies: []\nagencies: []":         `"agencies" is stated twice`,
		"agencies: []\n---\nagencies: []":    "has 2 documents",
		"agencies: &a []\nmore: *a":          `"more" is not known`,
		"agencies: !!binary aGVsbG8=":        "is not a list",
		"agencies: [{<<: {name: x}}]":        "not known",
		strings.Repeat("# nothing\n", 1<<20): "bytes",
	} {
		_, err := rulerelease.ParseTrust([]byte(text), "trust.yaml")
		assert.ErrorContains(t, err, want, "%.40q", text)
	}
}

func TestAMissingTrustFileTrustsNobody(t *testing.T) {
	trust, err := rulerelease.ReadTrust(t.TempDir())
	require.NoError(t, err)
	signed, err := rulerelease.Sign(release("2024"), newKey(t, "lands").private)
	require.NoError(t, err)
	_, err = trust.Check(signed)
	assert.ErrorContains(t, err, "no agency is trusted")
	assert.ErrorContains(t, err, "trust.yaml")
}

func TestATrustFileThatCannotBeReadIsAnError(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, rulerelease.TrustFile), 0o700))
	_, err := rulerelease.ReadTrust(dir)
	assert.ErrorContains(t, err, "cannot be read")
}

func TestWhoseWordCounts(t *testing.T) {
	lands, deputy, stranger := newKey(t, "lands"), newKey(t, "deputy"), newKey(t, "stranger")
	as := func(change func(*rulerelease.Release)) rulerelease.Release {
		r := release("2024")
		change(&r)
		return r
	}
	same := func(*rulerelease.Release) {}
	for name, c := range map[string]struct {
		threshold string
		release   rulerelease.Release
		by        []key
		want      string // empty where it counts
	}{
		"its own place":        {"1", as(same), []key{lands}, ""},
		"a place below":        {"1", as(func(r *rulerelease.Release) { r.Scope = "us/velmora/ossel-creek"; r.Layer = rules.District }), []key{lands}, ""},
		"the place above":      {"1", as(func(r *rulerelease.Release) { r.Scope = "us" }), []key{lands}, "Velmora Lands: it may publish for us/velmora and below, not for us"},
		"a place beside":       {"1", as(func(r *rulerelease.Release) { r.Scope = "us/velmora-north" }), []key{lands}, "not for us/velmora-north"},
		"another layer":        {"1", as(func(r *rulerelease.Release) { r.Layer = rules.Owner }), []key{lands}, "may not publish in the layer owner"},
		"one of two":           {"2", as(same), []key{lands}, "1 of its keys signed and 2 must; have it cosigned"},
		"one of two and other": {"2", as(same), []key{lands, stranger}, "1 of its keys signed and 2 must"},
		"two of two":           {"2", as(same), []key{lands, deputy}, ""},
		"a stranger":           {"1", as(same), []key{stranger}, "none of the known keys"},
		"everything at once":   {"2", as(func(r *rulerelease.Release) { r.Scope = "us"; r.Layer = rules.Federal }), []key{lands}, "cosigned, and it may publish for us/velmora and below, not for us, and it may not"},
	} {
		t.Run(name, func(t *testing.T) {
			trust := trusting(t, c.threshold, lands, deputy)
			var privates []string
			for _, k := range c.by {
				privates = append(privates, k.private)
			}
			signed, err := rulerelease.Sign(c.release, privates...)
			require.NoError(t, err)
			e, err := trust.Check(signed)
			if c.want != "" {
				assert.ErrorContains(t, err, c.want)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.release, e.Release)
			assert.Equal(t, "Velmora Lands", e.Agency.Name)
			assert.Len(t, e.Signers, len(c.by))
		})
	}
}
