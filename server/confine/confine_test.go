//go:build linux

package confine_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.org/rootward/server/confine"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTheLayersOfThisMachine(t *testing.T) {
	var names []string
	for _, l := range confine.Layers() {
		t.Log(l)
		names = append(names, l.Name)
		assert.True(t, l.InForce, "the tests of this package need them all: %s", l)
	}
	assert.Equal(t, []string{"rlimits", "landlock", "seccomp"}, names)
}

func TestWhereALayerIsWanting(t *testing.T) {
	y := newYard(t)
	defer confine.Pretend("landlock")()
	file, err := os.Open(y.plugin)
	require.NoError(t, err)
	defer file.Close()
	_, err = confine.Command(file, "reads-passwd", nil, nil, y.sockets, confine.Policy{})
	var missing *confine.MissingError
	require.ErrorAs(t, err, &missing)
	assert.Equal(t, "landlock", missing.Layers[0].Name)
	assert.ErrorContains(t, err, "no landlock (the kernel has none); run the server where")

	said, err := y.confined(t, "dials-tcp", confine.Policy{AllowMissing: true})
	assert.NoError(t, err)
	assert.Contains(t, said, "dials-tcp: DENIED", "the other layers hold")
}

func TestWhatIsNotStarted(t *testing.T) {
	script := func(text string) string {
		path := filepath.Join(t.TempDir(), "script")
		require.NoError(t, os.WriteFile(path, []byte(text), 0o700))
		return path
	}
	withMode := func(mode os.FileMode) string {
		path := script("#!/bin/sh\n")
		require.NoError(t, os.Chmod(path, mode))
		return path
	}
	for name, c := range map[string]struct {
		path, want string
		policy     confine.Policy
	}{
		"no program":     {path: script("what is this"), want: "executing it: exec format error; build it for this machine"},
		"not executable": {path: withMode(0o600), want: "permission denied; let the server's user execute it"},
		"a script whose interpreter it may not read": {path: script("#!/bin/sh\nexit 0\n"), want: "permission denied; let the server's user execute it, and let it read its interpreter"},
		"to read what is not there":                  {path: script("#!/bin/sh\n"), policy: confine.Policy{Read: []string{"/nowhere"}}, want: "landlock: it is to read what is not there: stat /nowhere"},
		"what is not there, with a layer wanting":    {path: script("#!/bin/sh\n"), policy: confine.Policy{Read: []string{"/nowhere"}, AllowMissing: true}, want: "landlock: it is to read what is not there"},
		"linked at run time":                         {path: "/bin/sh", want: "build it with CGO_ENABLED=0"},
	} {
		t.Run(name, func(t *testing.T) {
			y := newYard(t)
			y.plugin = c.path
			said, err := y.confined(t, "x", c.policy)
			var exit *exec.ExitError
			require.ErrorAs(t, err, &exit)
			assert.Equal(t, confine.ExitRefused, exit.ExitCode())
			assert.Contains(t, said, "rootward-confine: x: ")
			assert.Contains(t, said, c.want)
			assert.NotContains(t, said, "\n", "one line")
		})
	}
}

// python is what Debian's interpreter reads, and what rules for it may ask for.
var python = []string{"/usr/bin/python3.11", "/usr/lib", "/lib", "/lib64", "/etc/ld.so.cache"}

// A script is executed by its interpreter, which reads it from the descriptor.
func TestAnInterpreterReadsWhatItMay(t *testing.T) {
	for _, path := range python {
		if _, err := os.Stat(path); err != nil {
			t.Skipf("not on this machine: %s", err)
		}
	}
	y := newYard(t)
	y.plugin = filepath.Join(t.TempDir(), "plugin")
	require.NoError(t, os.WriteFile(y.plugin, []byte(`#!/usr/bin/python3.11
import os, socket, threading
def tried(f, *a):
    try: f(*a); return "DONE"
    except OSError as e: return e.strerror
threading.Thread(target=lambda: print("thread")).start()
s = socket.socket(socket.AF_UNIX); s.bind("rules.sock"); s.listen()
print("listens")
os.remove("rules.sock")
print(tried(open, "/etc/passwd"), tried(open, "/usr/lib/x", "w"), tried(os.listdir, "/root"), tried(os.fork), tried(socket.socket, socket.AF_INET))
`), 0o700))
	said, err := y.confined(t, "script", confine.Policy{Read: python})
	assert.NoError(t, err)
	assert.Contains(t, said, "thread\nlistens\n")
	assert.Contains(t, said, strings.Repeat("Permission denied ", 3)+"Operation not permitted Operation not permitted")
}

func TestMemoryIsBounded(t *testing.T) {
	y := newYard(t)
	said, err := y.confined(t, "exhausts-the-heap", confine.Policy{MemoryBytes: 256 << 20})
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit, "it ends by itself")
	assert.Contains(t, strings.SplitN(said, "\n", 2)[0], "memory")
	assert.Less(t, peak(exit), int64(400<<20), "with its code and what it reads")
}

func TestProcessorTimeIsBoundedWhereThePolicySays(t *testing.T) {
	y := newYard(t)
	_, err := y.confined(t, "exhausts-processors", confine.Policy{CPUSeconds: 1})
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit)
	assert.Less(t, exit.UserTime()+exit.SystemTime(), 3*time.Second)
}

func TestThreadsAreCounted(t *testing.T) {
	y := newYard(t)
	file, err := os.Open(y.plugin)
	require.NoError(t, err)
	defer file.Close()
	cmd, err := confine.Command(file, "exhausts-threads", nil, nil, y.sockets, confine.Policy{})
	require.NoError(t, err)
	var said bytes.Buffer
	cmd.Stderr = &said
	require.NoError(t, cmd.Start())
	defer cmd.Wait()
	defer cmd.Process.Kill()
	assert.Eventually(t, func() bool { return confine.Exceeded(cmd.Process.Pid, confine.Policy{}) != nil }, patience, time.Millisecond)
	assert.ErrorContains(t, confine.Exceeded(cmd.Process.Pid, confine.Policy{}), "256 are allowed")
	assert.NoError(t, confine.Exceeded(os.Getpid(), confine.Policy{Threads: 100_000}))
	assert.NoError(t, confine.Exceeded(1<<30, confine.Policy{}), "there is no such process")
}

// peak is the most memory that a process had, in bytes.
func peak(e *exec.ExitError) int64 { return e.SysUsage().(*syscall.Rusage).Maxrss << 10 }

// hostToKill makes the test binary a host that starts an act and waits to be killed.
const hostToKill = "host-to-kill"

func startUntilKilled(plugin, sockets string) {
	runtime.LockOSThread() // the plugin ends with it
	file, err := os.Open(plugin)
	if err != nil {
		panic(err)
	}
	cmd, err := confine.Command(file, "outlives-its-host", []string{"--act"}, nil, sockets, confine.Policy{})
	if err != nil {
		panic(err)
	}
	cmd.Stderr = os.Stdout
	fmt.Fprintln(os.Stderr, cmd.Run())
	os.Exit(1)
}

func TestNothingOutlivesAKilledHost(t *testing.T) {
	y := newYard(t)
	host := exec.Command(os.Args[0], hostToKill, y.plugin, y.sockets)
	out, err := host.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, host.Start())
	var pid int
	_, err = fmt.Fscanf(out, "process %d\n", &pid)
	require.NoError(t, err)
	status := filepath.Join("/proc", strconv.Itoa(pid), "stat")
	require.FileExists(t, status)
	require.NoError(t, host.Process.Kill())
	assert.Eventually(t, func() bool {
		text, err := os.ReadFile(status)
		return err != nil || bytes.Contains(text, []byte(") Z "))
	}, patience, time.Millisecond)
	_ = host.Wait()
}

// BenchmarkStart compares the time from start to end of a plugin that describes
// itself, confined and not.
func BenchmarkStart(b *testing.B) {
	plugin := filepath.Join(built, "hostile")
	file, err := os.Open(plugin)
	require.NoError(b, err)
	defer file.Close()
	dir := b.TempDir()
	b.Run("plain", func(b *testing.B) {
		for b.Loop() {
			require.NoError(b, (&exec.Cmd{Path: plugin, Args: []string{"dials-tcp", "--describe"}}).Run())
		}
	})
	b.Run("confined", func(b *testing.B) {
		for b.Loop() {
			cmd, err := confine.Command(file, "dials-tcp", []string{"--describe"}, nil, dir, confine.Policy{})
			require.NoError(b, err)
			require.NoError(b, cmd.Run())
		}
	})
}
