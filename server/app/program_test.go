package app_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"

	"example.org/rootward/server/app"
)

// ruleFolder holds the compiled rule sets; they are built once for all tests.
var ruleFolder string

func TestMain(m *testing.M) {
	os.Exit(run(m))
}

func run(m *testing.M) int {
	dir, err := os.MkdirTemp("", "rules")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	ruleFolder = dir
	cmd := exec.Command("go", "build", "-o", dir, "../../plugins/federal", "../../plugins/velmora", "../../plugins/ossel-creek")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0") // confined, they load no library
	if out, err := cmd.CombinedOutput(); err != nil {
		panic(string(out))
	}
	if code := m.Run(); code != 0 {
		return code
	}
	if err := goleak.Find(); err != nil {
		_, _ = os.Stderr.WriteString(err.Error())
		return 1
	}
	return 0
}

// program is a server that runs as its main function would run it.
type program struct {
	address string
	code    <-chan int
	stop    context.CancelFunc
	stdin   io.WriteCloser
	out     *lines // after the ready line
	log     *lines
}

// lines keeps what is written, and hands out the first line.
type lines struct {
	mu    sync.Mutex
	text  bytes.Buffer
	first chan string
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	had := strings.Contains(l.text.String(), "\n")
	l.text.Write(p)
	if line, _, ok := strings.Cut(l.text.String(), "\n"); ok && !had {
		l.first <- line
	}
	return len(p), nil
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// start runs the server until it is ready. It is stopped when the test ends.
func start(t *testing.T, env []string, args ...string) *program {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	in, stdin := io.Pipe()
	code := make(chan int, 1)
	p := &program{code: code, stop: stop, stdin: stdin, out: &lines{first: make(chan string, 1)}, log: &lines{first: make(chan string, 1)}}
	var running sync.WaitGroup
	// Nobody has signed the rule sets that were just built.
	env = append([]string{"ROOTWARD_UNSIGNED=all", "ROOTWARD_UNCONFINED=all"}, env...)
	running.Go(func() { code <- app.Run(ctx, args, env, in, p.out, p.log) })
	t.Cleanup(func() {
		stop()
		_ = stdin.Close() // a pipe's writer closes without error
		running.Wait()
	})
	select {
	case line := <-p.out.first:
		address, ok := strings.CutPrefix(line, "ready ")
		require.True(t, ok, line)
		p.address = address
	case c := <-code:
		require.Failf(t, "it did not start", "exit code %d: %s", c, p.log)
	}
	return p
}

// ended waits for the exit code.
func (p *program) ended(t *testing.T) int {
	t.Helper()
	c := <-p.code
	require.Equal(t, 1, strings.Count(p.out.String(), "\n"), "standard output is the ready line alone")
	return c
}

// fails runs a server that does not start.
func fails(t *testing.T, args ...string) (int, string) {
	t.Helper()
	var out, errs bytes.Buffer
	code := app.Run(t.Context(), args, nil, strings.NewReader(""), &out, &errs)
	require.Empty(t, out.String())
	return code, errs.String()
}

func (p *program) dial(t *testing.T, creds credentials.TransportCredentials) *grpc.ClientConn {
	t.Helper()
	if creds == nil {
		creds = insecure.NewCredentials()
	}
	conn, err := grpc.NewClient(p.address, grpc.WithTransportCredentials(creds))
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() }) // some tests close it themselves
	return conn
}

// socket is a path for a socket in a private folder that does not exist yet.
func socket(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "s") // short: a socket's path has a limit
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	return filepath.Join(dir, "run", "x.sock")
}
