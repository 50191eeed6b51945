package kills_test

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/backoff"
	"google.golang.org/grpc/credentials/insecure"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
)

// bin holds the server, with the rule sets of the demo in a folder below.
var bin string

func TestMain(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	folder, err := os.MkdirTemp("", "kills")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	bin = folder
	for _, args := range [][]string{
		{"-o", folder + "/", "../../server/cmd/rootwardd"},
		{"-o", filepath.Join(folder, "rules") + "/", "../../plugins/federal", "../../plugins/velmora", "../../plugins/ossel-creek"},
	} {
		cmd := exec.Command("go", append([]string{"build", "-buildvcs=false"}, args...)...)
		cmd.Env = append(os.Environ(), "CGO_ENABLED=0") // a confined plugin loads no library
		if out, err := cmd.CombinedOutput(); err != nil {
			fmt.Fprintf(os.Stderr, "%s\n%s", err, out)
			return 1
		}
	}
	return m.Run()
}

// server is a process that can be killed and started again at the same address.
type server struct {
	t       *testing.T
	socket  string
	store   []string // flags
	process *exec.Cmd
	log     bytes.Buffer // of the process at hand
}

// newServer starts a server on what the flags say.
func newServer(t *testing.T, store ...string) *server {
	t.Helper()
	folder, err := os.MkdirTemp(bin, "s") // the path of a socket must be short
	require.NoError(t, err)
	s := &server{t: t, socket: filepath.Join(folder, "socket"), store: store}
	t.Cleanup(s.kill)
	require.NoError(t, s.start())
	return s
}

// start returns once the server is ready.
func (s *server) start() error {
	args := append([]string{"--listen", "unix:" + s.socket, "--rules", filepath.Join(bin, "rules"), "--log-level", "warn"}, s.store...)
	s.process = exec.Command(filepath.Join(bin, "rootwardd"), args...)
	s.process.Env = append(os.Environ(), "ROOTWARD_UNSIGNED=all", "ROOTWARD_UNCONFINED=all") // nobody has signed what was just built
	s.process.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	s.log.Reset()
	s.process.Stderr = &s.log
	out, err := s.process.StdoutPipe()
	if err != nil {
		return err
	}
	if err := s.process.Start(); err != nil {
		return err
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil || !strings.HasPrefix(line, "ready ") {
		s.kill()
		return fmt.Errorf("the server did not start: %q, %w\n%s", line, err, s.log.String())
	}
	return nil
}

// kill is kill -9. It returns when the process is gone.
func (s *server) kill() {
	if s.process != nil && s.process.Process != nil {
		_ = s.process.Process.Kill() // it may have ended
		_ = s.process.Wait()         // that it was killed is known
	}
}

// client gives a client of the service of batches.
func (s *server) client() inventoryv1.InventoryServiceClient {
	return inventoryv1.NewInventoryServiceClient(s.dial())
}

// dial gives a connection that finds the server again soon after it was started anew.
func (s *server) dial() *grpc.ClientConn {
	conn, err := grpc.NewClient("unix:"+s.socket, grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(64<<20)),
		grpc.WithConnectParams(grpc.ConnectParams{Backoff: backoff.Config{BaseDelay: 5 * time.Millisecond, Multiplier: 1.5, MaxDelay: 50 * time.Millisecond}, MinConnectTimeout: time.Second}))
	require.NoError(s.t, err)
	s.t.Cleanup(func() { _ = conn.Close() }) // the connection may be broken
	return conn
}
