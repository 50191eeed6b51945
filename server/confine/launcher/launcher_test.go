//go:build linux

package launcher

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// Each version refuses all that it knows of (landlock(7)), and all that the last did.
func TestWhatLandlockRefusesByVersion(t *testing.T) {
	for abi, want := range map[int]unix.LandlockRulesetAttr{
		3:  {Handled_access_fs: 1<<15 - 1},
		4:  {Handled_access_fs: 1<<15 - 1, Handled_access_net: 1<<2 - 1},
		5:  {Handled_access_fs: 1<<16 - 1, Handled_access_net: 1<<2 - 1},
		6:  {Handled_access_fs: 1<<16 - 1, Handled_access_net: 1<<2 - 1, Scoped: 1<<2 - 1},
		8:  {Handled_access_fs: 1<<16 - 1, Handled_access_net: 1<<2 - 1, Scoped: 1<<2 - 1},
		9:  {Handled_access_fs: 1<<17 - 1, Handled_access_net: 1<<2 - 1, Scoped: 1<<2 - 1},
		10: {Handled_access_fs: 1<<17 - 1, Handled_access_net: 1<<4 - 1, Scoped: 1<<2 - 1},
		99: {Handled_access_fs: 1<<17 - 1, Handled_access_net: 1<<4 - 1, Scoped: 1<<2 - 1},
	} {
		assert.Equal(t, want, landlockRights(abi), "version %d", abi)
	}
}

// The file may be anything.
func FuzzLoaderOf(f *testing.F) {
	shell, err := os.ReadFile("/bin/sh")
	require.NoError(f, err)
	for _, n := range []int{0, 3, 63, 64, 100, 1_000, 4_000} {
		f.Add(shell[:n])
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		path := filepath.Join(t.TempDir(), "program")
		require.NoError(t, os.WriteFile(path, content, 0o600))
		assert.LessOrEqual(t, len(loaderOf(path)), 256)
	})
}

func TestTheLoaderOfAProgram(t *testing.T) {
	assert.Contains(t, loaderOf("/bin/sh"), "/ld-")
	assert.Empty(t, loaderOf("/nowhere"))
}
