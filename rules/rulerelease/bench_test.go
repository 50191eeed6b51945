package rulerelease_test

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What a change of the active rule sets waits for.
func BenchmarkWriteLock(b *testing.B) {
	dir, lock := b.TempDir(), ofSeveral(b)
	for b.Loop() {
		require.NoError(b, lock.Write(dir))
	}
}
