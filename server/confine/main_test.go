//go:build linux

package confine_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// built holds the plugins that the tests start, compiled once.
var built string

func TestMain(m *testing.M) {
	if len(os.Args) == 4 && os.Args[1] == hostToKill {
		startUntilKilled(os.Args[2], os.Args[3])
	}
	os.Exit(runTests(m))
}

func runTests(m *testing.M) int {
	dir, err := os.MkdirTemp("", "confine-test-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	built = dir
	cmd := exec.Command("go", "build", "-o", dir, "./plugins/hostile")
	cmd.Dir = filepath.Join("..", "..")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "building plugins: %s\n%s", err, out)
		return 1
	}
	return m.Run()
}
