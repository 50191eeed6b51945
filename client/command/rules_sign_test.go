package command_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAKeyIsKeptFromOthersAndNeverReplaced(t *testing.T) {
	folder := t.TempDir()
	got := direct(t, "rules", "keygen", "lands", "--out", folder)
	require.Zero(t, got.code, got.stderr)
	contains(t, got.stdout, "- lands+", "trust.yaml", "Keep it secret")
	path := filepath.Join(folder, "lands.key")
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(before), "PRIVATE+KEY+lands+"))
	assert.NotContains(t, got.stdout, strings.TrimSpace(string(before)))

	again := direct(t, "rules", "keygen", "lands", "--out", folder)
	assert.Equal(t, 1, again.code)
	contains(t, again.stderr, "is there already and is not replaced")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	for _, name := range []string{"two words", "a+b", "../up", ".hidden"} {
		assert.Equal(t, 2, direct(t, "rules", "keygen", name, "--out", folder).code, name)
	}
}

func TestABuildIsSignedByTwo(t *testing.T) {
	folder, keys := t.TempDir(), t.TempDir()
	build := filepath.Join(folder, "federal")
	require.NoError(t, os.Link(filepath.Join(bin, "rules", "federal"), build))
	verifiers := ""
	for _, name := range []string{"one", "two"} {
		made := direct(t, "rules", "keygen", name, "--out", keys)
		require.Zero(t, made.code, made.stderr)
		lines := strings.Split(strings.TrimSpace(made.stdout), "\n")
		verifiers += lines[len(lines)-1] + "\n"
	}
	trust := filepath.Join(folder, "trust.yaml")
	require.NoError(t, os.WriteFile(trust, []byte("agencies:\n  - name: The Agency\n    keys:\n"+verifiers+"    places: [us]\n    layers: [federal]\n    threshold: 2\n"), 0o600))

	verify := func() outcome { return direct(t, "rules", "verify", build, "--trust", trust) }
	signWith := func(key string) outcome {
		return direct(t, "rules", "sign", build, "--key", filepath.Join(keys, key+".key"))
	}
	assert.Equal(t, 1, verify().code)
	contains(t, verify().stderr, "it is not signed")
	first := signWith("one")
	require.Zero(t, first.code, first.stderr)
	contains(t, first.stdout, "written and signed", "rule set federal", "federal law of us")
	assert.Equal(t, 1, verify().code, "two have to sign")
	second := signWith("two")
	require.Zero(t, second.code, second.stderr)
	contains(t, second.stdout, "signed beside the signatures that it had")
	good := verify()
	require.Zero(t, good.code, good.stderr)
	contains(t, good.stdout, "is what The Agency released", "signed by one, two")

	// Another build with the signatures of the first.
	require.NoError(t, os.Remove(build))
	content, err := os.ReadFile(filepath.Join(bin, "rules", "federal"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(build, append(content, 0), 0o700))
	bad := verify()
	assert.Equal(t, 1, bad.code)
	contains(t, bad.stderr, "it was changed, or its release is of another build")
	third := signWith("two")
	require.Zero(t, third.code, third.stderr)
	contains(t, third.stdout, "written anew and signed")
	assert.Equal(t, 1, verify().code, "the signature of the first build is not kept")
}

func TestWhatCannotBeSigned(t *testing.T) {
	folder := t.TempDir()
	key := filepath.Join(folder, "lands.key")
	require.Zero(t, direct(t, "rules", "keygen", "lands", "--out", folder).code)
	script := filepath.Join(folder, "broken")
	require.NoError(t, os.WriteFile(script, []byte("#!/bin/sh\necho row 3: no citation >&2\nexit 1\n"), 0o700))
	chatty := filepath.Join(folder, "chatty")
	require.NoError(t, os.WriteFile(chatty, []byte("#!/bin/sh\necho hello\n"), 0o700))
	copied := filepath.Join(folder, "copied")
	federal := filepath.Join(bin, "rules", "federal")
	require.NoError(t, os.WriteFile(copied, []byte("#!/bin/sh\n'"+federal+"' --describe | sed 's/Rootward project[^\"]*/New District (invented)/'\n"), 0o700))
	wrong := filepath.Join(folder, "wrong.key")
	require.NoError(t, os.WriteFile(wrong, []byte("secret"), 0o600))
	for name, c := range map[string]struct {
		build, key, want string
	}{
		"a build that fails":  {script, key, "row 3: no citation"},
		"no description":      {chatty, key, "not a description in JSON"},
		"no build":            {filepath.Join(folder, "none"), key, "no such file"},
		"words of a template": {copied, key, `the publisher of rule set federal is "New District (invented)", which is that of the template's`},
		"no key":              {federal, filepath.Join(folder, "none.key"), "no such file"},
		"a key that is wrong": {federal, wrong, "is not one that rootward rules keygen wrote"},
	} {
		t.Run(name, func(t *testing.T) {
			got := direct(t, "rules", "sign", c.build, "--key", c.key)
			assert.Equal(t, 1, got.code)
			contains(t, got.stderr, c.want)
			assert.NotContains(t, got.stderr, "secret")
			assert.NoFileExists(t, c.build+".release")
		})
	}
}

func TestPinningNamesWhatIsWrong(t *testing.T) {
	folder := releases(t)
	unsigned := direct(t, "rules", "pin", folder, "--decided-by", "A. Operator")
	assert.Equal(t, 1, unsigned.code)
	contains(t, unsigned.stderr, "holds no release")
	sign(t, folder, "velmora", "velmora-2027")
	two := direct(t, "rules", "pin", folder, "--decided-by", "A. Operator")
	assert.Equal(t, 1, two.code)
	contains(t, two.stderr, "name the one that is to be active")
	assert.NoFileExists(t, filepath.Join(folder, "rules.lock"))
	one := direct(t, "rules", "pin", folder, "--decided-by", "A. Operator", "--file", "velmora-2027")
	require.Zero(t, one.code, one.stderr)
	contains(t, one.stdout, "velmora 2027-draft, velmora-2027, table")
}
