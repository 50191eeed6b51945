//go:build linux

package main

import (
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/server/confine"
	"example.org/rootward/server/confine/launcher"
)

// TestItIsSetUpBeforeTheRest sees that what is started as a launcher is one before the
// program sets up what a launcher has no use for.
func TestItIsSetUpBeforeTheRest(t *testing.T) {
	self, err := os.Executable()
	require.NoError(t, err)
	out, err := (&exec.Cmd{Path: self, Args: []string{launcher.Name}, Env: []string{"GODEBUG=inittrace=1"}}).CombinedOutput()
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit)
	assert.Equal(t, confine.ExitRefused, exit.ExitCode())
	text := string(out)
	assert.Contains(t, text, "rootward-confine: : is started by the server only")
	assert.Contains(t, text, "init golang.org/x/sys/unix ", "the trace says what was set up")
	for _, late := range []string{
		"google.golang.org/grpc", "google.golang.org/protobuf/reflect/protodesc", "modernc.org/sqlite/lib", "net/http", "crypto/tls",
		"example.org/rootward/proto/gen/rootward/common/v1",
	} {
		assert.NotContains(t, text, "init "+late+" ")
	}
}
