package rulehost_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/rulehost"
)

// What a killed server left behind the next one removes; what another server uses,
// and what only has such a name, stays.
func TestAStartingServerRemovesWhatKilledOnesLeft(t *testing.T) {
	t.Setenv("TMPDIR", shortFolder(t))
	make := func(name string, age time.Duration) string {
		dir := filepath.Join(os.TempDir(), name)
		require.NoError(t, os.Mkdir(dir, 0o700))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "socket"), nil, 0o600))
		then := time.Now().Add(-age)
		require.NoError(t, os.Chtimes(dir, then, then))
		return dir
	}
	gone := []string{make("rootward-1-2", 0), make("rootward-99999999-3", time.Hour), make("rootward-new-4", time.Hour)}
	stay := []string{make("rootward-new-5", 0), make("rootward-programs-6", time.Hour), make("rootward-7", time.Hour), make("other", time.Hour)}

	used := hostOf(t, "hook-sound", nil)
	assert.Equal(t, []string{bothOpen}, used.said(t, t.Context(), demoDay, at(500)))
	for _, dir := range gone {
		assert.NoDirExists(t, dir)
	}
	hostOf(t, "hook-sound", nil) // another server in the same folder
	assert.Equal(t, []string{bothOpen}, used.said(t, t.Context(), demoDay, at(600)))
	assert.Zero(t, used.status(t).Failures)
	assert.Equal(t, 1, used.status(t).Starts)
	for _, dir := range stay {
		assert.DirExists(t, dir)
	}
}

// A socket's path has at most 107 bytes.
func TestALongTemporaryFolderIsNotUsed(t *testing.T) {
	long := filepath.Join(shortFolder(t), "a-folder-with-a-name-that-is-rather-long-for-a-socket")
	require.NoError(t, os.Mkdir(long, 0o700))
	t.Setenv("TMPDIR", long)
	host := rulehost.New(atOwnDesk(rulehost.Config{}))
	dir := filepath.Join(shortFolder(t), "rules")
	require.NoError(t, os.Mkdir(dir, 0o700))
	text, err := os.ReadFile(filepath.Join(built, "federal"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "federal"), text, 0o700))
	require.NoError(t, host.Load(t.Context(), dir))
	assert.Equal(t, []string{"federal"}, ids(host.Catalog()))
}
