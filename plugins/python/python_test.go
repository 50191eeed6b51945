// Package python_test takes the rule plugin in Python through the conformance kit
// of the plugins in Go.
package python_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"example.org/rootward/rules/ruletest"
	"github.com/stretchr/testify/require"
)

// required makes the test fail where it would be skipped: for machines that have
// been given what it needs.
const required = "ROOTWARD_TEST_PYTHON"

func TestThePluginInPythonPassesTheKit(t *testing.T) {
	if out, err := exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", "import grpc, google.protobuf, cryptography").CombinedOutput(); err != nil {
		require.Empty(t, os.Getenv(required), "%s", out)
		t.Skipf("needs python3-grpcio, python3-protobuf and python3-cryptography: run make test-python (%s)", err)
	}
	plugin := filepath.Join(t.TempDir(), "sallow-wash")
	cmd := exec.CommandContext(t.Context(), "go", "run", "./plugins/python/build", plugin)
	cmd.Dir = filepath.Join("..", "..")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	ruletest.CheckExecutable(t, plugin)
}
