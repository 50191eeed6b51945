//go:build linux

package confine_test

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.org/rootward/server/confine"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patience is how long one act may take on a busy machine.
const patience = time.Minute

// yard is a folder of rules with the hostile plugin in it, and what of the host's it
// aims at.
type yard struct {
	plugin  string // its file
	sockets string // the folder of its socket
}

func newYard(t *testing.T) *yard {
	t.Helper()
	// Short, since a path of a socket has at most 107 bytes.
	dir, err := os.MkdirTemp("", "yard-")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	require.NoError(t, os.Chmod(dir, 0o755))
	y := &yard{plugin: filepath.Join(dir, "rules", "hostile"), sockets: filepath.Join(dir, "sockets")}
	require.NoError(t, os.Mkdir(filepath.Dir(y.plugin), 0o755))
	require.NoError(t, os.Mkdir(y.sockets, 0o700))
	require.NoError(t, os.Link(filepath.Join(built, "hostile"), y.plugin))
	for _, address := range []string{filepath.Join(dir, "host.sock"), fmt.Sprintf("@rootward-hostile-%d", os.Getpid())} {
		l, err := net.Listen("unix", address)
		require.NoError(t, err)
		t.Cleanup(func() { _ = l.Close() })
	}
	t.Setenv("ROOTWARD_TEST_SECRET", "open sesame")
	leaveOpen(t)
	return y
}

// leaveOpen leaves a descriptor open to whatever is started.
func leaveOpen(t *testing.T) {
	t.Helper()
	fd, err := syscall.Open("/etc/passwd", syscall.O_RDONLY, 0) // without O_CLOEXEC
	require.NoError(t, err)
	t.Cleanup(func() { _ = syscall.Close(fd) })
}

// confined runs an act under a policy and gives what it says of it.
func (y *yard) confined(t *testing.T, act string, p confine.Policy) (said string, ended error) {
	t.Helper()
	file, err := os.Open(y.plugin)
	require.NoError(t, err)
	defer file.Close()
	cmd, err := confine.Command(file, act, []string{"--act"}, nil, y.sockets, p)
	require.NoError(t, err)
	return within(t, cmd)
}

// free runs an act as an ordinary process.
func (y *yard) free(t *testing.T, act string) (said string, ended error) {
	t.Helper()
	file, err := os.Open(y.plugin)
	require.NoError(t, err)
	defer file.Close()
	return within(t, &exec.Cmd{
		Path: y.plugin, Args: []string{act, "--act"}, Dir: y.sockets, ExtraFiles: []*os.File{file}, Stdin: strings.NewReader("typed"),
	})
}

func within(t *testing.T, cmd *exec.Cmd) (said string, ended error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	var text strings.Builder
	cmd.Stdout, cmd.Stderr = &text, &text
	cmd.WaitDelay = time.Second
	require.NoError(t, cmd.Start())
	defer context.AfterFunc(ctx, func() { _ = cmd.Process.Kill() })()
	ended = cmd.Wait()
	return strings.TrimSpace(text.String()), ended
}

// Each of these acts is refused by the kernel, as the hostile plugin itself reports.
var denied = []string{
	// files
	"reads-its-environment", "reads-standard-input", "uses-left-descriptors",
	"reads-passwd", "reads-host-environment", "reads-host-memory", "reads-host-descriptors", "lists-home", "lists-root",
	"lists-rules-folder", "writes-to-tmp", "writes-to-rules-folder", "replaces-itself", "changes-a-mode", "changes-an-owner",
	"changes-a-time", "links-out-of-its-folder", "links-a-host-file", "makes-folders", "makes-a-device", "makes-a-pipe",
	"fills-with-bytes", "watches-files", "opens-by-handle", "opens-a-tree", "changes-root", "mounts",
	// network
	"dials-tcp", "dials-tcp-6", "dials-udp", "listens-on-tcp", "opens-multipath-tcp", "opens-raw-socket",
	"opens-packet-socket", "opens-netlink", "opens-vsock", "opens-a-pair", "connects-to-host-socket",
	"connects-to-abstract", "sends-to-host-socket", "listens-elsewhere",
	// processes
	"runs-a-shell", "forks", "forks-by-clone3", "executes-itself", "executes-its-descriptor", "executes-a-shell",
	"executes-by-descriptor", "executes-memory", "signals-host", "signals-thread-of-host", "signals-everyone",
	"signals-group-of-host", "has-signals-sent", "leaves-its-group", "leaves-its-session", "forgets-its-host",
	"traces-host", "reads-host-memory-direct", "takes-host-descriptor", "limits-its-host",
	// the kernel
	"makes-io-ring", "adds-a-key", "leaves-its-namespace", "makes-a-user", "loads-a-program", "watches-events",
	"handles-page-faults", "shares-memory", "queues-messages", "raises-its-limits", "raises-its-priority",
	"chooses-its-processor", "takes-capabilities", "becomes-another-user", "sets-the-clock", "names-the-machine",
	"reads-kernel-log", "filters-its-calls", "types-on-terminal", "disguises-a-number",
	// what there is only so much of
	"exhausts-memory", "exhausts-shared-memory", "exhausts-page-tables", "exhausts-descriptors", "fills-a-pipe",
}

func TestWhatIsDenied(t *testing.T) {
	y := newYard(t)
	for _, act := range denied {
		t.Run(act, func(t *testing.T) {
			said, err := y.confined(t, act, confine.Policy{})
			assert.NoError(t, err)
			assert.Contains(t, said, act+": DENIED ")
			left, err := os.ReadDir(y.sockets)
			require.NoError(t, err)
			assert.Empty(t, left)
		})
	}
}

// Every act of the plugin is in one of the lists, so that none is forgotten.
func TestNoActIsForgotten(t *testing.T) {
	out, err := exec.Command(filepath.Join(built, "hostile"), "--list").Output()
	require.NoError(t, err)
	tried := append(slices.Clone(denied), contained...)
	for _, act := range strings.Fields(string(out)) {
		if !strings.HasPrefix(act, "replies-") { // of those, server/rulehost tries
			assert.Contains(t, tried, act)
		}
	}
}

// contained are acts that no layer refuses: what they reach is bounded, or whoever
// watches the process ends it. TestWhatIsContained and server/rulehost try them.
var contained = []string{
	"exhausts-the-heap", "exhausts-threads", "exhausts-processors", "fills-with-files", "floods-stderr",
	"floods-stdout", "stops-itself", "outlives-its-host",
}

// An act that would fail anyway proves nothing: without confinement each gets through.
// Those that only root may do are tried as root, when ROOTWARD_TEST_UNCONFINED=1 asks
// for it: the kernel must have all that they use.
func TestTheSameActsGetThroughUnconfined(t *testing.T) {
	acts := []string{
		"reads-its-environment", "reads-standard-input", "uses-left-descriptors", "reads-passwd", "reads-host-environment", "lists-root", "lists-rules-folder", "writes-to-tmp",
		"writes-to-rules-folder", "replaces-itself", "changes-a-mode", "links-out-of-its-folder", "makes-folders",
		"fills-with-bytes", "dials-tcp", "dials-udp", "listens-on-tcp", "connects-to-host-socket", "connects-to-abstract",
		"sends-to-host-socket", "runs-a-shell", "forks", "executes-itself", "executes-its-descriptor", "executes-a-shell",
		"executes-by-descriptor", "executes-memory", "signals-host", "forgets-its-host", "leaves-its-group",
	}
	if os.Getenv("ROOTWARD_TEST_UNCONFINED") == "1" && os.Getuid() == 0 {
		// Raising limits takes CAP_SYS_RESOURCE, which containers withhold.
		acts = slices.DeleteFunc(slices.Clone(denied), func(act string) bool { return act == "raises-its-limits" })
	}
	y := newYard(t)
	for _, act := range acts {
		t.Run(act, func(t *testing.T) {
			said, err := y.free(t, act)
			assert.NoError(t, err)
			assert.Contains(t, said, "DONE")
		})
	}
}
