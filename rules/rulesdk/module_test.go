package rulesdk_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A rule set lives where its agency likes: in a module of its own, which needs of
// this one nothing that is not in the module cache.
func TestARuleSetInAModuleOfItsOwn(t *testing.T) {
	if testing.Short() {
		t.Skip("builds a module and its tests")
	}
	repository, err := filepath.Abs(filepath.Join("..", ".."))
	require.NoError(t, err)
	module := filepath.Join(t.TempDir(), "district")
	require.NoError(t, os.CopyFS(module, os.DirFS(filepath.Join(repository, "plugins", "template"))))
	// With the versions of this module, the go command looks at no other module's.
	requirements := strings.Replace(read(t, filepath.Join(repository, "go.mod")), "module example.org/rootward", "module example.net/district", 1)
	write(t, filepath.Join(module, "go.mod"), requirements+"\nrequire example.org/rootward v0.0.0\n\nreplace example.org/rootward => "+repository+"\n")
	write(t, filepath.Join(module, "go.sum"), read(t, filepath.Join(repository, "go.sum")))
	for _, args := range [][]string{{"build", "./..."}, {"vet", "./..."}, {"test", "./..."}} {
		cmd := exec.CommandContext(t.Context(), "go", args...)
		cmd.Dir = module
		cmd.Env = append(os.Environ(), "GOFLAGS=-mod=mod", "GOPROXY=off", "GOWORK=off")
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "go %v: %s", args, out)
	}
}

func write(t *testing.T, file, text string) {
	t.Helper()
	require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
}
