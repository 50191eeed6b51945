package command_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/client/command"
)

// bin holds the real programs: client, server, and the rule sets of the demo.
var bin string

// ruleSets are those that the demo needs.
var ruleSets = []string{"federal", "velmora", "ossel-creek"}

func TestMain(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	folder, err := os.MkdirTemp("", "rootward-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	bin = folder
	// Nobody has signed the rule sets that are built here.
	os.Setenv("ROOTWARD_UNSIGNED", "all")
	os.Setenv("ROOTWARD_UNCONFINED", "all")
	os.Setenv("CGO_ENABLED", "0") // a confined plugin reads no libraries
	if err := build(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return m.Run()
}

func build() error {
	const module = "example.org/rootward/"
	packages := []string{module + "client/cmd/rootward", module + "server/cmd/rootwardd"}
	if err := goBuild(bin, packages); err != nil {
		return err
	}
	var plugins []string
	for _, name := range ruleSets {
		plugins = append(plugins, module+"plugins/"+name)
	}
	return goBuild(filepath.Join(bin, "rules"), plugins)
}

func goBuild(folder string, packages []string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	output, err := exec.Command("go", append([]string{"build", "-buildvcs=false", "-o", folder + string(filepath.Separator)}, packages...)...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("go build: %w\n%s", err, output)
	}
	return nil
}

// outcome is what one command line did.
type outcome struct {
	code           int
	stdout, stderr string
}

// rootward runs a command line against a private server of the real programs.
func rootward(t testing.TB, args ...string) outcome {
	t.Helper()
	return direct(t, append(args, "--rootwardd", filepath.Join(bin, "rootwardd"))...)
}

// direct runs a command line as it is, in a folder for temporary files of its own.
func direct(t testing.TB, args ...string) outcome {
	t.Helper()
	t.Setenv("TMPDIR", shortFolder(t))
	var stdout, stderr bytes.Buffer
	code := command.Run(context.Background(), args, &stdout, &stderr)
	left, err := os.ReadDir(os.TempDir())
	require.NoError(t, err)
	require.Empty(t, left, "%v left something behind", args)
	return outcome{code, stdout.String(), stderr.String()}
}

// shortFolder is for sockets, of which rule plugins have some too: their paths
// must not pass 107 bytes, and the names of tests are long.
func shortFolder(t testing.TB) string {
	t.Helper()
	folder, err := os.MkdirTemp(bin, "t")
	require.NoError(t, err)
	t.Cleanup(func() { os.RemoveAll(folder) })
	return folder
}

// demo is the demo's inventory.
var demo = filepath.Join("..", "..", "testdata", "demo", "inventory.csv")

func contains(t *testing.T, text string, parts ...string) {
	t.Helper()
	flat := strings.Join(strings.Fields(text), " ")
	for _, part := range parts {
		require.Contains(t, flat, part)
	}
}
