package rulehost_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/server/confine"
)

// BenchmarkDescribe is what it costs to start a plugin, confined and not.
func BenchmarkDescribe(b *testing.B) {
	file, err := os.Open(filepath.Join(built, "federal"))
	require.NoError(b, err)
	defer file.Close()
	runtime.LockOSThread() // a confined plugin ends with the thread that started it
	defer runtime.UnlockOSThread()
	b.Run("confined", func(b *testing.B) {
		for b.Loop() {
			cmd, err := confine.Command(file, "federal", []string{"--describe"}, nil, "", confine.Policy{})
			require.NoError(b, err)
			require.NoError(b, cmd.Run())
		}
	})
	b.Run("free", func(b *testing.B) {
		for b.Loop() {
			require.NoError(b, exec.Command(file.Name(), "--describe").Run())
		}
	})
}
