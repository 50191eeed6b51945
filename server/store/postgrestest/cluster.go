// Package postgrestest starts PostgreSQL for tests: a cluster of its own in a temporary
// folder, reached through a socket there, so that it needs no port and nobody else
// sees it. Debian's package postgresql has all that it needs.
package postgrestest

import (
	"bytes"
	"database/sql"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx"
	"github.com/stretchr/testify/require"
)

// Wanted is the variable of the environment that asks for PostgreSQL, with any value.
const Wanted = "ROOTWARD_TEST_POSTGRES"

// Cluster is a server with its databases.
type Cluster struct {
	folder, programs string
	settings         []string
	as               *syscall.Credential
	input            io.Closer // closing it stops the server
	running          *exec.Cmd
	log              lockedBuffer
	databases        atomic.Int64
}

// lockedBuffer is written to by one goroutine and read by another.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// Start starts a cluster that ends with the test, which is passed over unless the
// environment asks for it. Settings are as in postgresql.conf; writing is not synced,
// unless they say so.
func Start(t testing.TB, settings ...string) *Cluster {
	t.Helper()
	if os.Getenv(Wanted) == "" {
		t.Skip("needs PostgreSQL: make test-postgres runs it")
	}
	installed, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	require.NoError(t, err)
	require.NotEmpty(t, installed, "Debian's package postgresql is not installed")
	folder, err := os.MkdirTemp("", "rootward-postgres")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	c := &Cluster{folder: folder, programs: slices.Max(installed), as: unprivileged(t, folder),
		settings: append([]string{"listen_addresses=", "unix_socket_directories=" + folder, "fsync=off"}, settings...)}
	made := exec.CommandContext(t.Context(), filepath.Join(c.programs, "initdb"), "--pgdata", c.data(), "--username", "postgres",
		"--auth", "trust", "--no-sync", "--encoding", "UTF8", "--locale", "C")
	c.prepare(made)
	out, err := made.CombinedOutput()
	require.NoError(t, err, "%s", out)
	t.Cleanup(c.stop)
	c.start(t)
	return c
}

func (c *Cluster) data() string { return filepath.Join(c.folder, "data") }

// unprivileged gives the user that PostgreSQL runs as, which must not be root.
func unprivileged(t testing.TB, folder string) *syscall.Credential {
	if os.Getuid() != 0 {
		return nil
	}
	account, err := user.Lookup("postgres")
	require.NoError(t, err)
	uid, err := strconv.ParseUint(account.Uid, 10, 32)
	require.NoError(t, err)
	gid, err := strconv.ParseUint(account.Gid, 10, 32)
	require.NoError(t, err)
	require.NoError(t, os.Chown(folder, int(uid), int(gid)))
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
}

func (c *Cluster) prepare(cmd *exec.Cmd) {
	cmd.Dir = c.folder
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C"}
	if c.as != nil {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: c.as}
	}
}

// start runs the server under a shell that waits for the end of its input and stops it
// then: so it ends with the test's process, too, however that ends.
func (c *Cluster) start(t testing.TB) {
	t.Helper()
	args := []string{"-c", `"$@" & server=$!; cat >/dev/null; kill -INT $server; wait $server`, "sh",
		filepath.Join(c.programs, "postgres"), "-D", c.data()}
	for _, s := range c.settings {
		args = append(args, "-c", s)
	}
	c.running = exec.Command("sh", args...)
	c.prepare(c.running)
	c.running.Stderr = &c.log
	input, err := c.running.StdinPipe()
	require.NoError(t, err)
	c.input = input
	require.NoError(t, c.running.Start())
	db, err := sql.Open("pgx", c.url("postgres"))
	require.NoError(t, err)
	defer db.Close()
	require.Eventually(t, func() bool { return db.PingContext(t.Context()) == nil }, 30*time.Second, 20*time.Millisecond,
		"PostgreSQL does not start: %s", &c.log)
}

func (c *Cluster) stop() {
	if c.running == nil {
		return
	}
	_ = c.input.Close()
	_ = c.running.Wait() // what it says of its end does not matter
	c.running = nil
}

// Restart stops the server, which cuts off whoever uses it, and starts it again.
func (c *Cluster) Restart(t testing.TB) {
	t.Helper()
	c.stop()
	c.start(t)
}

func (c *Cluster) url(database string) string {
	return "postgres:///" + database + "?" + url.Values{"host": {c.folder}, "user": {"postgres"}}.Encode()
}

// Database makes an empty database and gives its URL.
func (c *Cluster) Database(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("test%d", c.databases.Add(1))
	db, err := sql.Open("pgx", c.url("postgres"))
	require.NoError(t, err)
	defer db.Close()
	_, err = db.ExecContext(t.Context(), "CREATE DATABASE "+name)
	require.NoError(t, err)
	return c.url(name)
}
