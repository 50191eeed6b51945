package app_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/app"
)

// The version of a build is the same wherever it lies, and no other build's.
func TestVersionsTellBuildsApart(t *testing.T) {
	dir := t.TempDir()
	build := func(name, text string, flags ...string) string {
		source, program := filepath.Join(dir, "main.go"), filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(source, []byte("package main\nfunc main() { println("+text+") }\n"), 0o600))
		args := append([]string{"build", "-buildvcs=false", "-o", program}, flags...)
		said, err := exec.Command("go", append(args, source)...).CombinedOutput()
		require.NoError(t, err, "%s", said)
		return program
	}
	for name, flags := range map[string][]string{"with an id": nil, "stripped": {"-ldflags=-s -w"}, "without an id": {"-ldflags=-buildid="}} {
		one := app.VersionOf(build("one", "1", flags...))
		assert.Greater(t, len(one), 15, name)
		assert.Equal(t, one, app.VersionOf(build("once more", "1", flags...)), name)
		assert.NotEqual(t, one, app.VersionOf(build("other", "2", flags...)), name)
	}
	missing := filepath.Join(dir, "none")
	assert.NotEqual(t, app.VersionOf(missing), app.VersionOf(missing), "who cannot tell is like no other")
}
