package app_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/rs/zerolog"
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
	var said bytes.Buffer
	version := func(program string) string { return app.Version(zerolog.New(&said), program) }
	const hash = 64 // digits of a SHA-256, of the whole file
	for name, is := range map[string]struct {
		flags  []string
		hashed bool
	}{
		"with an id":              {nil, false},
		"stripped":                {[]string{"-ldflags=-s -w"}, false},
		"without an id":           {[]string{"-ldflags=-buildid="}, true},
		"an id by hand":           {[]string{"-ldflags=-buildid=X"}, true},
		"a path by hand":          {[]string{"-ldflags=-buildid=a/b/c"}, true},
		"a release by hand":       {[]string{"-ldflags=-buildid=rootward/release/linux/v1.4"}, true},
		"with too many parts":     {[]string{"-ldflags=-buildid=a/b/c/d/e"}, true},
		"with nothing in a part":  {[]string{"-ldflags=-buildid=a//c/d"}, true},
		"with nothing at its end": {[]string{"-ldflags=-buildid=a/b/c/"}, true},
	} {
		one := version(build("one", "1", is.flags...))
		assert.Equal(t, is.hashed, len(one) == hash, "%s: %s", name, one)
		assert.Greater(t, len(one), 15, name)
		assert.Equal(t, one, version(build("once more", "1", is.flags...)), name)
		assert.NotEqual(t, one, version(build("other", "2", is.flags...)), name)
	}
	assert.Empty(t, said.String())
}

func TestAProgramThatCannotBeReadIsLikeNoOther(t *testing.T) {
	for name, path := range map[string]string{"missing": filepath.Join(t.TempDir(), "none"), "a folder": t.TempDir(), "unknown": ""} {
		t.Run(name, func(t *testing.T) {
			var said bytes.Buffer
			log := zerolog.New(&said)
			one := app.Version(log, path)
			var line struct{ Level, Program, Error, Message string }
			require.NoError(t, json.Unmarshal(said.Bytes(), &line))
			assert.Equal(t, "warn", line.Level)
			assert.Equal(t, path, line.Program)
			assert.NotEmpty(t, line.Error)
			for _, says := range []string{"no other server will decide batches that are started here", "nor will this one after a restart", "start anew"} {
				assert.Contains(t, line.Message, says)
			}
			assert.NotEqual(t, one, app.Version(log, path))
		})
	}
}
