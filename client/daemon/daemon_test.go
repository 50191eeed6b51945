package daemon_test

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"example.org/rootward/client/daemon"
)

// The test program is the server too: with this in its environment it behaves as
// the word says.
const behaviour = "ROOTWARD_TEST_DAEMON"

func TestMain(m *testing.M) {
	if word := os.Getenv(behaviour); word != "" {
		os.Exit(serve(word))
	}
	goleak.VerifyTestMain(m)
}

func serve(word string) int {
	listen := os.Args[slices.Index(os.Args, "--listen")+1]
	switch word {
	case "good":
		fmt.Println("ready " + listen)
		io.Copy(io.Discard, os.Stdin)
		fmt.Fprintln(os.Stderr, "drained")
		return 0
	case "chatty":
		fmt.Println("ready " + listen)
		for range 100_000 {
			fmt.Fprintln(os.Stderr, "a line of the log that is long enough to fill a pipe in time")
			fmt.Println("and one on the output")
		}
		io.Copy(io.Discard, os.Stdin)
		return 0
	case "failing":
		fmt.Fprintln(os.Stderr, "rootwardd: the folder of rule sets is empty")
		return 1
	case "silent":
		io.Copy(io.Discard, os.Stdin)
		return 0
	case "wrong":
		fmt.Println("listening on " + listen)
		io.Copy(io.Discard, os.Stdin)
		return 0
	}
	// deaf: it does not end when it should
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, syscall.SIGTERM)
	fmt.Println("ready " + listen)
	for range signals {
	}
	return 0
}

// start runs the test program as a server, with its folders below one that the
// test looks into.
func start(t *testing.T, ctx context.Context, word string, o daemon.Options) (*daemon.Daemon, string, error) {
	t.Helper()
	o.Rules = t.TempDir()
	folder := shortFolder(t)
	t.Setenv("TMPDIR", folder)
	t.Setenv(behaviour, word)
	var err error
	o.Program, err = os.Executable()
	require.NoError(t, err)
	d, err := daemon.Start(ctx, o)
	return d, folder, err
}

// shortFolder is one below which a socket's path fits, whatever the test's name.
func shortFolder(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("/tmp", "rootward-test-")
	require.NoError(t, err)
	t.Cleanup(func() { os.RemoveAll(folder) })
	return folder
}

func nothingLeft(t *testing.T, folder string) {
	t.Helper()
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Empty(t, left)
	assert.Empty(t, processesOf(t, folder))
}

// processesOf finds processes that were told to listen below a folder.
func processesOf(t *testing.T, folder string) []string {
	t.Helper()
	files, err := filepath.Glob("/proc/[0-9]*/cmdline")
	require.NoError(t, err)
	var found []string
	for _, file := range files {
		if line, err := os.ReadFile(file); err == nil && strings.Contains(string(line), "unix:"+folder) {
			found = append(found, file)
		}
	}
	return found
}

func TestAServerRunsUntilItIsClosed(t *testing.T) {
	for _, word := range []string{"good", "chatty"} {
		t.Run(word, func(t *testing.T) {
			d, folder, err := start(t, t.Context(), word, daemon.Options{})
			require.NoError(t, err)
			path, ok := strings.CutPrefix(d.Address, "unix:")
			require.True(t, ok)
			info, err := os.Stat(filepath.Dir(path))
			require.NoError(t, err)
			assert.Equal(t, os.FileMode(0o700), info.Mode().Perm(), "others could reach the socket")
			assert.Len(t, processesOf(t, folder), 1)
			assert.NoError(t, d.Close())
			assert.NoError(t, d.Close(), "closing again does nothing")
			nothingLeft(t, folder)
		})
	}
}

func TestTheSocketsPathFitsWhateverTheFolderForTemporaryFiles(t *testing.T) {
	const most = 107 // bytes of a socket's path on Linux (unix(7))
	program, err := os.Executable()
	require.NoError(t, err)
	short := shortFolder(t)
	for name, c := range map[string]struct {
		length int
		moved  bool
	}{"at the limit": {60, false}, "above it": {61, true}, "long": {200, true}} {
		t.Run(name, func(t *testing.T) {
			folder := filepath.Join(short, strings.Repeat("t", c.length-len(short)-1))
			require.Len(t, folder, c.length)
			require.NoError(t, os.Mkdir(folder, 0o700))
			t.Setenv("TMPDIR", folder)
			t.Setenv(behaviour, "good")
			d, err := daemon.Start(t.Context(), daemon.Options{Program: program, Rules: short})
			require.NoError(t, err)
			path := strings.TrimPrefix(d.Address, "unix:")
			assert.LessOrEqual(t, len(path), most)
			assert.Equal(t, !c.moved, strings.HasPrefix(path, folder))
			assert.NoError(t, d.Close())
			assert.NoDirExists(t, filepath.Dir(path))
		})
	}
}

func TestAServerThatDoesNotStartLeavesNothingAndSaysWhy(t *testing.T) {
	for word, want := range map[string]string{
		"failing": "the folder of rule sets is empty",
		"silent":  "not ready after",
		"wrong":   `the server said "listening on`,
	} {
		t.Run(word, func(t *testing.T) {
			limit := time.Minute
			if word == "silent" {
				limit = 50 * time.Millisecond
			}
			_, folder, err := start(t, t.Context(), word, daemon.Options{StartTimeout: limit})
			assert.ErrorContains(t, err, want)
			nothingLeft(t, folder)
		})
	}
}

func TestACancelledStartLeavesNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, folder, err := start(t, ctx, "silent", daemon.Options{})
	assert.ErrorIs(t, err, context.Canceled)
	nothingLeft(t, folder)
}

func TestAServerThatDoesNotEndIsKilled(t *testing.T) {
	d, folder, err := start(t, t.Context(), "deaf", daemon.Options{StopTimeout: 50 * time.Millisecond})
	require.NoError(t, err)
	assert.ErrorContains(t, d.Close(), "was killed")
	nothingLeft(t, folder)
}

func TestAServerThatIsStoppedIsKilledToo(t *testing.T) {
	d, folder, err := start(t, t.Context(), "good", daemon.Options{StopTimeout: 50 * time.Millisecond})
	require.NoError(t, err)
	files := processesOf(t, folder)
	require.Len(t, files, 1)
	var pid int
	_, err = fmt.Sscanf(files[0], "/proc/%d/cmdline", &pid)
	require.NoError(t, err)
	require.NoError(t, syscall.Kill(pid, syscall.SIGSTOP))
	require.Eventually(t, func() bool { return stopped(pid) }, 20*time.Second, time.Millisecond)
	assert.ErrorContains(t, d.Close(), "was killed")
	nothingLeft(t, folder)
}

// stopped reports whether every thread of a process has stopped: the signal is sent
// before they have.
func stopped(pid int) bool {
	threads, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", pid))
	for _, thread := range threads {
		stat, err := os.ReadFile(thread)
		if err != nil || !strings.Contains(string(stat), ") T ") {
			return false
		}
	}
	return len(threads) > 0
}

func TestWhatIsMissingIsNamed(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	_, err := daemon.Start(t.Context(), daemon.Options{})
	assert.ErrorContains(t, err, "--rootwardd")
	_, err = daemon.Start(t.Context(), daemon.Options{Program: filepath.Join(t.TempDir(), "rootwardd")})
	assert.ErrorContains(t, err, "--rules")
	_, err = daemon.Start(t.Context(), daemon.Options{Program: filepath.Join(t.TempDir(), "rootwardd"), Rules: t.TempDir()})
	assert.ErrorContains(t, err, "did not start")
}
