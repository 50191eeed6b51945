package rulehost_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inRoot runs a command in the module's root, without C.
func inRoot(t *testing.T, name string, args ...string) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), name, args...)
	cmd.Dir = filepath.Join("..", "..")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
}

// decides signs and pins the only build of a folder and gives what then decides.
func decides(t *testing.T, dir, name, mayRead string) []string {
	t.Helper()
	trust(t, dir, everywhere+mayRead, key())
	sign(t, dir, name, nil, key())
	pin(t, dir, name)
	host := start(t, dir)
	assert.Empty(t, host.Catalog().NotLoaded)
	return ids(host.Catalog())
}

// A table that is bound to the program which serves it is read while confined.
func TestABoundTextDecides(t *testing.T) {
	dir := t.TempDir()
	program := filepath.Join(t.TempDir(), "tablefile")
	inRoot(t, "go", "build", "-o", program, "./plugins/tablefile")
	inRoot(t, program, "--bind", filepath.Join("plugins", "tablefile", "testdata", "lower-brack.yaml"), filepath.Join(dir, "lower-brack"))
	assert.Equal(t, []string{"lower-brack"}, decides(t, dir, "lower-brack", ""))
}

// The plugin in Python runs confined once it may read its interpreter.
func TestAPluginInPythonDecides(t *testing.T) {
	if out, err := exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", "import grpc, google.protobuf, cryptography").CombinedOutput(); err != nil {
		require.Empty(t, os.Getenv("ROOTWARD_TEST_PYTHON"), "%s", out)
		t.Skipf("needs python3-grpcio, python3-protobuf and python3-cryptography: run make test-python (%s)", err)
	}
	dir := t.TempDir()
	inRoot(t, "go", "run", "./plugins/python/build", filepath.Join(dir, "sallow-wash"))
	assert.Equal(t, []string{"sallow-wash"}, decides(t, dir, "sallow-wash", "    may_read: [/usr, /lib, /lib64, /etc/ld.so.cache]\n"))
}
