package rulesdk_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulesdk"
)

// role makes the test binary a plugin, or a host that starts one and waits to be
// killed.
const role = "RULESDK_TEST_ROLE"

func TestMain(m *testing.M) {
	switch os.Getenv(role) {
	case "plugin":
		rulesdk.Main(table)
	case "host":
		startPlugin()
	}
	os.Exit(m.Run())
}

func startPlugin() {
	own, err := ruleplugin.Certificate()
	if err != nil {
		os.Exit(1)
	}
	plugin := exec.Command(os.Args[0])
	plugin.Env = []string{role + "=plugin", ruleplugin.Cookie + "=" + ruleplugin.CookieValue, ruleplugin.ClientCertificate + "=" + string(ruleplugin.PEM(own))}
	stdout, err := plugin.StdoutPipe()
	if err != nil || plugin.Start() != nil {
		os.Exit(1)
	}
	handshake := make([]byte, 4)
	if _, err := stdout.Read(handshake); err != nil || string(handshake) != "1|1|" {
		os.Exit(1)
	}
	fmt.Println(plugin.Process.Pid)
	time.Sleep(time.Hour)
}

func table() rules.Table {
	from := civil.Of(2024, 1, 1)
	return rules.Table{
		Manifest: rules.Manifest{
			ID: "test-set", Version: "3", Title: "A rule set for tests", Publisher: "nobody",
			Layer: rules.State, Scope: "us/velmora", ValidFrom: from,
		},
		Rows:  []rules.Row{{ID: "nothing", Purpose: "Nothing is treated here.", Citation: "invented for a test", ValidFrom: from, Effect: rules.Prohibit{}}},
		Cases: []rules.Case{},
	}
}

func unpurposed() rules.Table {
	t := table()
	t.Rows[0].Purpose = ""
	return t
}

func panicking() rules.Table { panic("no rows today") }

func run(table func() rules.Table, environment map[string]string, args ...string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = rulesdk.Run(append([]string{"/plugins/test-set"}, args...), func(name string) string { return environment[name] }, &out, &err, rulesdk.Plugin{Table: table})
	return code, out.String(), err.String()
}

func TestDescribe(t *testing.T) {
	code, stdout, stderr := run(table, nil, "--describe")
	assert.Zero(t, code)
	assert.Empty(t, stderr)
	d, err := ruleplugin.ReadDescription([]byte(stdout))
	require.NoError(t, err)
	canonical := table()
	canonical.Cases = nil // an empty list is not told from none
	set, err := rules.NewSet(canonical)
	require.NoError(t, err)
	assert.Equal(t, ruleplugin.Describe(set), d)
	assert.Equal(t, ruleplugin.ContractVersion, d.ContractVersion)
}

func TestWhatCannotBeStarted(t *testing.T) {
	cases := []struct {
		name  string
		table func() rules.Table
		args  []string
		code  int
		want  []string
	}{
		{"an invalid table", unpurposed, []string{"--describe"}, 1, []string{"test-set:", "nothing: purpose"}},
		{"a table that panics", panicking, []string{"--describe"}, 1, []string{"test-set:", "panicked: no rows today"}},
		{"by hand", table, nil, 2, []string{"rule plugin", "the server starts", "test-set --describe"}},
		{"an unknown argument", table, []string{"--version"}, 2, []string{"--describe"}},
		{"too many arguments", table, []string{"--describe", "more"}, 2, []string{"--describe"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			code, stdout, stderr := run(c.table, nil, c.args...)
			assert.Equal(t, c.code, code)
			assert.Empty(t, stdout)
			for _, part := range c.want {
				assert.Contains(t, stderr, part)
			}
			assert.NotContains(t, stderr, "goroutine")
		})
	}
}

func TestTheWatchEndsThePluginWithItsParent(t *testing.T) {
	parents := []int{40, 40, 40, 1}
	asked, exits := 0, 0
	rulesdk.WatchParent(40, func() int {
		asked++
		return parents[min(asked-1, len(parents)-1)]
	}, time.Microsecond, func() { exits++ })
	assert.Equal(t, 1, exits)
	assert.Equal(t, len(parents), asked)
}

func TestAPluginWhoseHostIsKilledEnds(t *testing.T) {
	host := exec.CommandContext(t.Context(), os.Args[0])
	host.Env = append(os.Environ(), role+"=host", "TMPDIR="+t.TempDir())
	out, err := host.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, host.Start())
	told := make([]byte, 20)
	n, err := out.Read(told)
	require.NoError(t, err)
	plugin, err := strconv.Atoi(strings.TrimSpace(string(told[:n])))
	require.NoError(t, err)
	require.NoError(t, syscall.Kill(plugin, 0), "the plugin runs")
	require.NoError(t, host.Process.Kill())
	_ = host.Wait()
	assert.Eventually(t, func() bool { return dead(plugin) }, 20*time.Second, 20*time.Millisecond)
}

// dead reports whether a process is gone, or is dead and only waits for its
// parent to look.
func dead(process int) bool {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", process))
	return err != nil || strings.Contains(string(stat), ") Z ")
}
