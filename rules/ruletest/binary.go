package ruletest

import (
	"bytes"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules/ruleplugin"
	goplugin "github.com/hashicorp/go-plugin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// startLimit is how long a built plugin may take to start, on a busy machine.
const startLimit = 30 * time.Second

// CheckBinary builds the plugin in the folder and fails the test unless the
// binary describes itself, refuses to be started by hand, shakes hands with a
// host, gives the table that it described, and leaves standard output alone.
func CheckBinary(t *testing.T, dir string) {
	t.Helper()
	binary := build(t, dir)
	description := describe(t, binary)
	refusesByHand(t, binary)
	var stdout bytes.Buffer
	served := compile(t, connect(t, binary, &stdout))
	assert.Equal(t, description.Digest, served.Ref.Digest, "what it describes is not what it serves")
	assert.Empty(t, stdout.String(), "it writes to standard output")
}

func build(t *testing.T, dir string) string {
	t.Helper()
	binary := filepath.Join(t.TempDir(), "plugin")
	cmd := exec.CommandContext(t.Context(), "go", "build", "-o", binary, ".")
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	return binary
}

func describe(t *testing.T, binary string) ruleplugin.Description {
	t.Helper()
	var stdout, stderr bytes.Buffer
	cmd := exec.CommandContext(t.Context(), binary, ruleplugin.DescribeFlag)
	cmd.Env = []string{}
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	require.NoError(t, cmd.Run(), "%s: %s", ruleplugin.DescribeFlag, stderr.String())
	d, err := ruleplugin.ReadDescription(stdout.Bytes())
	require.NoError(t, err)
	assert.Equal(t, ruleplugin.ContractVersion, d.ContractVersion)
	return d
}

func refusesByHand(t *testing.T, binary string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	cmd := exec.CommandContext(t.Context(), binary)
	cmd.Env = []string{}
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	var failed *exec.ExitError
	require.ErrorAs(t, cmd.Run(), &failed, "started by hand it should refuse")
	assert.Contains(t, stderr.String(), ruleplugin.DescribeFlag, "the refusal should say how to see what the plugin holds")
	assert.Empty(t, stdout.String())
}

func connect(t *testing.T, binary string, stdout *bytes.Buffer) pluginv1.RulePluginServiceClient {
	t.Helper()
	client := goplugin.NewClient(&goplugin.ClientConfig{
		HandshakeConfig:  ruleplugin.Handshake,
		Plugins:          ruleplugin.Plugins(),
		Cmd:              exec.Command(binary), // ended by Kill, after the test's context
		AllowedProtocols: []goplugin.Protocol{goplugin.ProtocolGRPC},
		AutoMTLS:         true,
		SkipHostEnv:      true,
		StartTimeout:     startLimit,
		Logger:           ruleplugin.Silent(),
		SyncStdout:       stdout,
	})
	t.Cleanup(client.Kill)
	connection, err := client.Client()
	require.NoError(t, err)
	served, err := connection.Dispense(ruleplugin.Name)
	require.NoError(t, err)
	return served.(pluginv1.RulePluginServiceClient)
}
