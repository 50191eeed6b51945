package rulerelease_test

import (
	"strings"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAReleaseIsReadAsItWasWritten(t *testing.T) {
	for _, version := range []string{"2024", "2027-draft 3", "1.0+b2", "sha256:x"} {
		r := release(version)
		back, err := rulerelease.Parse(r.Text())
		require.NoError(t, err)
		assert.Equal(t, r, back)
	}
}

func TestWhatIsNoRelease(t *testing.T) {
	r := release("2024")
	text := r.Text()
	swap := func(old, with string) string {
		require.Contains(t, text, old)
		return strings.Replace(text, old, with, 1)
	}
	for name, c := range map[string]struct{ text, want string }{
		"empty":              {"", "no release"},
		"a later form":       {swap("release 1", "release 2"), "no release"},
		"an unknown line":    {text + "colour green\n", `"colour" is not known`},
		"an empty line":      {swap("version", "\nversion"), `"" is not known`},
		"a repeated line":    {text + "contract 1\n", "line 9: contract: is stated twice"},
		"a missing line":     {swap("version 2024\n", ""), "version: is missing"},
		"another order":      {swap("version 2024\nlayer state\n", "layer state\nversion 2024\n"), "another order"},
		"no line at its end": {strings.TrimSuffix(text, "\n"), "written otherwise"},
		"a wide space":       {swap("version 2024", "version  2024"), `version: " 2024"`},
		"a no-break space":   {swap("version 2024", "version 20\u00a024"), "version:"},
		"a returned line":    {swap("version 2024", "version 2024\r"), "version:"},
		"a wrong id":         {swap("rule-set velmora", "rule-set Velmora"), "lower-case slug"},
		"a wrong layer":      {swap("layer state", "layer county"), "layer: is not one of biology, federal, state"},
		"no layer":           {swap("layer state", "layer "), "layer: is not one of"},
		"a wrong place":      {swap("scope us/velmora", "scope us/../velmora"), `scope: "us/../velmora"`},
		"a wrong contract":   {swap("contract 1", "contract one"), "contract: is not a number"},
		"a padded contract":  {swap("contract 1", "contract 01"), "written otherwise"},
		"contract zero":      {swap("contract 1", "contract 0"), "contract: is not a number"},
		"a short digest":     {swap("binary sha256:"+r.Binary, "binary sha256:abc"), "64 lower-case hexadecimal digits"},
		"another digest":     {swap("binary sha256:", "binary "), "written otherwise"},
		"capital digits":     {swap(r.Table, strings.ToUpper(r.Table)), "table:"},
		"a long line":        {swap("version 2024", "version "+strings.Repeat("2", 2_000)), "at most 1000"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := rulerelease.Parse(c.text)
			require.ErrorContains(t, err, c.want)
			assert.IsType(t, rulerelease.Faults{}, err)
		})
	}
}

func TestEveryFaultOfAReleaseIsReportedAtOnce(t *testing.T) {
	_, err := rulerelease.Parse("rootward rule release 1\nrule-set V\nversion 1\nversion 1\nlayer x\nscope us\ncolour red\ncontract 1\nbinary sha256:1\n")
	for _, want := range []string{"line 2: rule-set", "line 4: version: is stated twice", "line 5: layer", `line 7: "colour"`, "line 9: binary", "table: is missing"} {
		assert.ErrorContains(t, err, want)
	}
}

func TestSigningAndCosigning(t *testing.T) {
	lands, water, stranger := newKey(t, "lands"), newKey(t, "water"), newKey(t, "stranger")
	one, err := rulerelease.Sign(release("2024"), lands.private)
	require.NoError(t, err)
	both, err := rulerelease.Cosign(one, water.private+"\n")
	require.NoError(t, err)
	again, err := rulerelease.Cosign(both, water.private)
	require.NoError(t, err)
	assert.Equal(t, 2, strings.Count(string(again), "\n— "), "a key signs once")

	s, err := rulerelease.Open(both, []string{water.verifier, lands.verifier, lands.verifier})
	require.NoError(t, err)
	assert.Equal(t, release("2024"), s.Release)
	assert.Equal(t, []string{water.verifier, lands.verifier, lands.verifier}, s.Keys)
	s, err = rulerelease.Open(both, []string{lands.verifier})
	require.NoError(t, err)
	assert.Equal(t, []string{lands.verifier}, s.Keys)
	assert.Equal(t, []string{"water"}, s.Unknown)
	_, err = rulerelease.Open(both, []string{stranger.verifier})
	assert.ErrorContains(t, err, "none of the known keys has signed it, only lands, water")
}

func TestWhatIsNotSignedDoesNotOpen(t *testing.T) {
	lands, other := newKey(t, "lands"), newKey(t, "lands")
	signed, err := rulerelease.Sign(release("2024"), lands.private)
	require.NoError(t, err)
	text := string(signed)
	forged, err := rulerelease.Sign(release("2024"), other.private)
	require.NoError(t, err)
	for name, c := range map[string]struct{ text, want string }{
		"changed":           {strings.Replace(text, "version 2024", "version 2025", 1), "the signature of lands does not hold"},
		"without signature": {text[:strings.Index(text, "— ")], "not a signed note"},
		"another's key":     {string(forged), "none of the known keys"},
		"empty":             {"", "not a signed note"},
		"too long":          {strings.Repeat("x", 1<<17), "has 131072 bytes; a release has at most 65536"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := rulerelease.Open([]byte(c.text), []string{lands.verifier})
			assert.ErrorContains(t, err, c.want)
		})
	}
}

func TestASignedTextThatIsNoReleaseDoesNotOpen(t *testing.T) {
	lands := newKey(t, "lands")
	signed, err := rulerelease.Sign(release("2024"), lands.private)
	require.NoError(t, err)
	_, err = rulerelease.Cosign([]byte(strings.Replace(string(signed), "layer state\n", "", 1)), lands.private)
	assert.ErrorContains(t, err, "layer: is missing", "nobody cosigns what is no release")
	_, err = rulerelease.Sign(rulerelease.Release{}, lands.private)
	assert.ErrorContains(t, err, "rule-set")
	_, err = rulerelease.Sign(release("2024"))
	assert.ErrorContains(t, err, "no key")
}

func TestAKeyThatIsNoneIsNotShown(t *testing.T) {
	_, err := rulerelease.Sign(release("2024"), "PRIVATE+KEY+lands+secret")
	require.ErrorContains(t, err, "keygen")
	assert.NotContains(t, err.Error(), "secret")
	for _, name := range []string{"", "two words", "a+b", "a\x01"} {
		_, _, err := rulerelease.NewKey(name, nil)
		assert.ErrorContains(t, err, "key name", "%q", name)
	}
}

func TestLayersAreTheirWords(t *testing.T) {
	r := release("2024")
	for _, l := range rules.Words[rules.Layer]() {
		r.Layer = l
		assert.Contains(t, r.Text(), "layer "+l.String()+"\n")
	}
}
