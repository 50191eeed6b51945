package rulerelease_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulerelease"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func district() rulerelease.Release {
	r := release("7")
	r.RuleSet, r.Layer, r.Scope = "ossel-creek", rules.District, "us/velmora/ossel-creek"
	return r
}

func TestTheFirstSetUpPinsWhatIsSigned(t *testing.T) {
	dir, k := t.TempDir(), newKey(t, "lands")
	trust := trusting(t, "1", k)
	put(t, dir, "state", release("2024"), k)
	put(t, dir, "district", district(), k)
	l, err := rulerelease.Pin(dir, nil, trust, noon, "A. Operator")
	require.NoError(t, err)
	active := l.Active("velmora")
	require.NotNil(t, active)
	assert.Equal(t, "state", active.File)
	assert.Equal(t, []string{"lands"}, active.Signers)
	assert.Equal(t, noon, active.Since)
	require.NotNil(t, l.Active("ossel-creek"))
	read, err := rulerelease.ReadLock(dir)
	require.NoError(t, err)
	assert.Equal(t, string(l.Text()), string(read.Text()))

	later, err := rulerelease.Pin(dir, nil, trust, noon.Add(time.Hour), "B. Operator")
	require.NoError(t, err)
	assert.Equal(t, string(l.Text()), string(later.Text()), "what is pinned stays as it is")
}

// A build of the same table by another compiler is the same law.
func TestThePinFollowsANewBuildOfTheSameTable(t *testing.T) {
	dir, k := t.TempDir(), newKey(t, "lands")
	put(t, dir, "state", release("2024"), k)
	first, err := rulerelease.Pin(dir, nil, trusting(t, "1", k), noon, "A")
	require.NoError(t, err)
	require.NoError(t, os.Rename(filepath.Join(dir, "state"), filepath.Join(dir, "gone")))
	require.NoError(t, os.Remove(filepath.Join(dir, "state"+rulerelease.Extension)))
	put(t, dir, "rebuilt", release("2024"), k)
	second, err := rulerelease.Pin(dir, nil, trusting(t, "1", k), noon, "A")
	require.NoError(t, err)
	assert.NotEqual(t, first.Active("velmora").Release.Binary, second.Active("velmora").Release.Binary)
	assert.Equal(t, "rebuilt", second.Active("velmora").File)
	assert.Empty(t, second.Set("velmora").Past)
}

func TestWhatIsNotPinned(t *testing.T) {
	k, stranger := newKey(t, "lands"), newKey(t, "stranger")
	pinned := func(t *testing.T, dir string) {
		put(t, dir, "state", release("2024"), k)
		_, err := rulerelease.Pin(dir, nil, trusting(t, "1", k), noon, "A")
		require.NoError(t, err)
	}
	for name, c := range map[string]struct {
		make  func(t *testing.T, dir string)
		files []string
		by    string
		want  []string
	}{
		"nothing there": {func(*testing.T, string) {}, nil, "A", []string{"holds no release"}},
		"unsigned":      {func(*testing.T, string) {}, []string{"state"}, "A", []string{"state: it is not signed"}},
		"a stranger's":  {func(t *testing.T, dir string) { put(t, dir, "state", release("2024"), stranger) }, nil, "A", []string{"state: none of the known keys"}},
		"changed": {func(t *testing.T, dir string) {
			put(t, dir, "state", release("2024"), k)
			require.NoError(t, os.WriteFile(filepath.Join(dir, "state"), []byte("other"), 0o700))
		}, nil, "A", []string{"state: the file has SHA-256", "fetch both anew"}},
		"two of one set": {func(t *testing.T, dir string) {
			put(t, dir, "a", release("2024"), k)
			put(t, dir, "b", release("2027"), k)
		}, nil, "A", []string{"b: holds rule set velmora, as does a; name the one"}},
		"another version": {func(t *testing.T, dir string) { pinned(t, dir); put(t, dir, "b", release("2027"), k) }, []string{"b"}, "A",
			[]string{"release 2024 of rule set velmora is pinned already", "rules activate"}},
		"other content of one version": {func(t *testing.T, dir string) {
			pinned(t, dir)
			r := release("2024")
			r.Table = sha("other")
			put(t, dir, "b", r, k)
		}, []string{"b"}, "A", []string{"never has other content"}},
		"an overlap": {func(t *testing.T, dir string) {
			r := release("1")
			r.RuleSet = "velmora-too"
			put(t, dir, "a", release("2024"), k)
			put(t, dir, "b", r, k)
		}, nil, "A", []string{"b: rule set velmora-too is of the layer state for us/velmora, as is the active velmora"}},
		"nobody decides":  {func(t *testing.T, dir string) { put(t, dir, "state", release("2024"), k) }, nil, " ", []string{"does not say who decides"}},
		"faults together": {func(t *testing.T, dir string) { put(t, dir, "a", release("2024"), stranger) }, []string{"a", "b"}, "", []string{"who decides", "a: none of", "b: it is not signed"}},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			c.make(t, dir)
			before, _ := os.ReadFile(filepath.Join(dir, rulerelease.LockFile))
			_, err := rulerelease.Pin(dir, c.files, trusting(t, "1", k), noon, c.by)
			for _, want := range c.want {
				require.ErrorContains(t, err, want)
			}
			after, _ := os.ReadFile(filepath.Join(dir, rulerelease.LockFile))
			assert.Equal(t, string(before), string(after), "nothing is written")
		})
	}
}
