package rulehost_test

import (
	"bufio"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"example.org/rootward/server/rulehost"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// soon is how long the kernel may take for what it does at once, on a busy
// machine.
const soon = time.Minute // on a machine that does much else

// go-plugin v1.8.0 panics in the host at the line {"@message":1} unless its
// logger is off.
func TestWhatAPluginWritesGoesToTheLogInBounds(t *testing.T) {
	var log journal
	host := rulehost.New(atOwnDesk(rulehost.Config{Log: log.logger()}))
	require.NoError(t, host.Load(t.Context(), folder(t, "chatters-compiling")))
	assert.Equal(t, []string{"chatters-compiling"}, ids(host.Catalog()))
	assert.Eventually(t, func() bool { return strings.Contains(log.String(), "on standard output") }, soon, time.Millisecond)
	assert.Contains(t, log.String(), `"line":"{\"@message\":1}"`)
	assert.Contains(t, log.String(), `"dropped_bytes":198976`) // 200,000 less 1,024
	assert.Less(t, len(log.String()), 10_000)
}

func TestAPluginSeesNothingOfItsHost(t *testing.T) {
	t.Setenv("ROOTWARD_TEST_SECRET", "open sesame")
	feedStdin(t, "not for plugins")
	var log journal
	host := rulehost.New(atOwnDesk(rulehost.Config{Log: log.logger()}))
	require.NoError(t, host.Load(t.Context(), folder(t, "looks-around")))
	assert.Equal(t, []string{"looks-around"}, ids(host.Catalog()))
	var seen []string
	for _, m := range regexp.MustCompile(`"line":"sees ([^"]*)"`).FindAllStringSubmatch(log.String(), -1) {
		seen = append(seen, m[1])
	}
	assert.ElementsMatch(t, []string{
		"ROOTWARD_RULE_PLUGIN", "PLUGIN_MIN_PORT", "PLUGIN_MAX_PORT", "PLUGIN_PROTOCOL_VERSIONS",
		"PLUGIN_CLIENT_CERT", // automatic mutual TLS
		"PLUGIN_UNIX_SOCKET_DIR",
	}, seen)
	assert.Contains(t, log.String(), `reads \"\" <nil>`, "its standard input is empty")
}

// feedStdin gives this process something to read on its standard input.
func feedStdin(t *testing.T, text string) {
	t.Helper()
	r, w, err := os.Pipe()
	require.NoError(t, err)
	_, err = w.WriteString(text)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	before := os.Stdin
	os.Stdin = r
	t.Cleanup(func() {
		os.Stdin = before
		_ = r.Close()
	})
}

// go-plugin's Kill waits for ever for a process that the kernel has stopped.
func TestAStoppedPluginIsKilled(t *testing.T) {
	host := rulehost.New(atOwnDesk(rulehost.Config{CompileTimeout: time.Second, StopTimeout: time.Second}))
	done := make(chan error, 1)
	go func() { done <- host.Load(context.WithoutCancel(t.Context()), folder(t, "stops-compiling")) }()
	select {
	case err := <-done:
		require.NoError(t, err)
	case <-time.After(time.Minute):
		require.Fail(t, "loading does not end")
	}
	assert.Contains(t, notLoaded(host.Catalog())["stops-compiling"], "did not give its table within 1s")
}

// A child could hold the plugin's output open, for which go-plugin's Kill waits, and
// live on. Confined, a plugin starts none; what a system without confinement lets it
// start is killed with its process group.
func TestAPluginLeavesNoChild(t *testing.T) {
	var log journal
	host := rulehost.New(atOwnDesk(rulehost.Config{Log: log.logger(), StopTimeout: time.Second}))
	require.NoError(t, host.Load(t.Context(), folder(t, "leaves-a-child")))
	if len(host.Catalog().Sets) > 0 {
		assertEnds(t, told(t, log.String()))
		return
	}
	assert.Contains(t, notLoaded(host.Catalog())["leaves-a-child"], "did not start")
	assert.Regexp(t, "fork/exec /bin/sleep: (operation not permitted|permission denied)", log.String())
}

// hostToKill makes the test binary a host that loads a folder until it is killed.
const hostToKill = "host-to-kill"

func loadUntilKilled(dir string) {
	host := rulehost.New(atOwnDesk(rulehost.Config{Log: zerolog.New(os.Stdout), StartTimeout: time.Hour}))
	_ = host.Load(context.Background(), dir)
	os.Exit(1)
}

// The plugin hangs before it could watch its parent by itself: the kernel ends it.
func TestAKilledHostLeavesNoPlugin(t *testing.T) {
	host := exec.CommandContext(t.Context(), os.Args[0], hostToKill, folder(t, "hangs"))
	host.Env = append(os.Environ(), "TMPDIR="+t.TempDir()) // it cannot clean up
	out, err := host.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, host.Start())
	var plugin string
	for lines := bufio.NewScanner(out); plugin == "" && lines.Scan(); {
		if strings.Contains(lines.Text(), "process ") {
			plugin = told(t, lines.Text())
		}
	}
	require.DirExists(t, filepath.Join("/proc", plugin))
	require.NoError(t, host.Process.Kill())
	assertEnds(t, plugin)
	_ = host.Wait()
}

// told gives the process id that a faulty plugin wrote to its standard error.
func told(t *testing.T, log string) string {
	t.Helper()
	m := regexp.MustCompile(`"line":"process (\d+)"`).FindStringSubmatch(log)
	require.NotNil(t, m, "no process id in %s", log)
	return m[1]
}

// assertEnds waits until the process is gone, or is dead and only waits for its
// parent to look.
func assertEnds(t *testing.T, process string) {
	t.Helper()
	gone := func() bool {
		stat, err := os.ReadFile(filepath.Join("/proc", process, "stat"))
		return err != nil || strings.Contains(string(stat), ") Z ")
	}
	assert.Eventually(t, gone, soon, 10*time.Millisecond, "process %s lives on", process)
}
