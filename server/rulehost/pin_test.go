package rulehost_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulerelease"
	"example.org/rootward/server/rulehost"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A pinned release that cannot be run is a gap where it is the law, and nowhere
// else.
func TestAPinnedReleaseThatFailsIsAGapInItsPlace(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(t *testing.T, dir string)
		want  string
	}{
		"gone":        {func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, "velmora"))) }, "is not in the folder; put its file back, or roll back"},
		"changed":     {func(t *testing.T, dir string) { rewrite(t, filepath.Join(dir, "velmora"), "x") }, "it was changed, and is not run"},
		"not signed":  {func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, "velmora.release"))) }, "it is not signed"},
		"not trusted": {func(t *testing.T, dir string) { trust(t, dir, "    places: [us]\n    layers: [federal]\n", key()) }, "may not publish in the layer state"},
		"another build": {func(t *testing.T, dir string) {
			require.NoError(t, os.Remove(filepath.Join(dir, "velmora")))
			require.NoError(t, os.Link(filepath.Join(built, "velmora-2027"), filepath.Join(dir, "velmora")))
			sign(t, dir, "velmora", nil, key())
		}, "it was changed, and is not run; put the file back, or activate the new one"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := released(t, "federal", "velmora")
			pin(t, dir)
			c.spoil(t, dir)
			host := start(t, dir)
			assert.Equal(t, []string{"federal"}, ids(host.Catalog()))
			require.Len(t, host.Catalog().NotLoaded, 1)
			assert.Equal(t, "us/velmora", host.Catalog().NotLoaded[0].Scope)
			assert.Contains(t, host.Catalog().NotLoaded[0].Problem, c.want)
			assert.Equal(t, rules.Undetermined, decide(host.Catalog(), "us/velmora", demoDay, quantity.Mile))
			assert.Equal(t, rules.Conditional, decide(host.Catalog(), "us", demoDay, quantity.Mile))
		})
	}
}

func TestARenamedFileIsStillWhatWasPinned(t *testing.T) {
	dir := released(t, "federal", "velmora")
	pin(t, dir)
	for _, end := range []string{"", rulerelease.Extension} {
		require.NoError(t, os.Rename(filepath.Join(dir, "velmora"+end), filepath.Join(dir, "renamed"+end)))
	}
	assert.Equal(t, []string{"federal", "velmora"}, ids(start(t, dir).Catalog()))
}

// A later load that fails leaves the last valid set in force; one that lost its
// trust does not.
func TestAFailedReloadKeepsTheLastValidSet(t *testing.T) {
	dir := released(t, "federal", "velmora")
	pin(t, dir)
	host := start(t, dir)
	before, _ := host.Catalog().Set("velmora")
	rewrite(t, filepath.Join(dir, "velmora"), "x")
	require.NoError(t, host.Load(t.Context(), dir))
	after, ok := host.Catalog().Set("velmora")
	require.True(t, ok)
	assert.Equal(t, before.Ref, after.Ref)
	require.Len(t, host.Catalog().Kept, 1)
	assert.Contains(t, host.Catalog().Kept[0].Problem, "version 2024, which this server read before, goes on deciding until it ends")
	assert.Equal(t, rules.Conditional, decide(host.Catalog(), "us/velmora", demoDay, quantity.Mile))
	require.Len(t, host.Status(), 1)
	assert.Contains(t, host.Status()[0].Problem, "it was changed")
	list, err := host.Releases(t.Context())
	require.NoError(t, err)
	assert.Equal(t, rulehost.Active, list[1].State)
	assert.Contains(t, list[1].Problem, "goes on deciding")

	trust(t, dir, "    places: [us]\n    layers: [federal]\n", key())
	require.NoError(t, os.Remove(filepath.Join(dir, "velmora")))
	require.NoError(t, os.Link(filepath.Join(built, "velmora"), filepath.Join(dir, "velmora")))
	require.NoError(t, host.Load(t.Context(), dir))
	assert.Equal(t, []string{"federal"}, ids(host.Catalog()), "its agency may not publish state law any more")
}

func TestABrokenTrustOrLockFileChangesNothing(t *testing.T) {
	dir := released(t, "federal")
	pin(t, dir)
	host := start(t, dir)
	for _, name := range []string{rulerelease.TrustFile, rulerelease.LockFile} {
		whole, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte("colour: green\n"), 0o600))
		err = host.Load(t.Context(), dir)
		require.ErrorContains(t, err, name+":1:1:")
		require.ErrorContains(t, err, `"colour" is not known`)
		_, err = host.Releases(t.Context())
		require.ErrorContains(t, err, name)
		assert.Equal(t, []string{"federal"}, ids(host.Catalog()))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), whole, 0o600))
	}
}

// The state's rules are to be reviewed by a day that its manifest names.
func TestOverdueSetsAreNamed(t *testing.T) {
	dir := released(t, "velmora")
	pin(t, dir)
	set := load(t, folder(t, "velmora")).Sets[0]
	by := set.Table.Manifest.ReviewBy
	require.True(t, by.Known())
	year, month, day := by.Parts()
	last := time.Date(year, month, day, 23, 0, 0, 0, time.UTC)
	for days, want := range []string{"", "was to be reviewed by " + by.String()} {
		var log journal
		host := operated(t, rulehost.Config{Log: log.logger(), Now: func() time.Time { return last.AddDate(0, 0, days) }})
		require.NoError(t, host.Load(t.Context(), dir))
		list, err := host.Releases(t.Context())
		require.NoError(t, err)
		assert.Equal(t, want != "", strings.Contains(list[0].Problem, "was to be reviewed"), list[0].Problem)
		assert.Equal(t, want != "", strings.Contains(log.String(), "was to be reviewed"))
		assert.Contains(t, list[0].Problem, want)
	}
}
