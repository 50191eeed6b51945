// Package serving runs the product's own programs for the bench, and asks them as its
// clients do.
package serving

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/experimental"

	"example.org/rootward/proto/columnar"

	"example.org/rootward/bench/core"
)

// Guide is the profile by which make build has the compiler optimise the programs, from
// the module's folder.
const Guide = "server/cmd/rootwardd/guide.pgo"

// Programs are the built programs, with their folders of signed rule sets.
type Programs struct{ dir string }

// Build builds the programs of the module into a folder, and two folders of rule sets:
// those of the question, and those with the one besides that computes rows.
func Build(ctx context.Context, module, dir string) (*Programs, error) {
	p := &Programs{dir}
	guide := Guide
	if _, err := os.Stat(filepath.Join(module, guide)); errors.Is(err, fs.ErrNotExist) {
		guide = "off" // it is about to be made
	}
	for name, path := range map[string]string{"rootwardd": "./server/cmd/rootwardd", "rootward": "./client/cmd/rootward"} {
		if err := run(ctx, module, "go", "build", "-pgo="+guide, "-o", filepath.Join(dir, name), path); err != nil {
			return nil, err
		}
	}
	folders := map[string][]string{p.Rules(): core.RuleSets, p.RulesWithHook(): append([]string{"high-tarn"}, core.RuleSets...)}
	for folder, names := range folders {
		if err := os.MkdirAll(folder, 0o755); err != nil {
			return nil, err
		}
		if err := core.BuildPlugins(ctx, module, folder, names...); err != nil {
			return nil, err
		}
		if err := run(ctx, module, "./plugins/sign.sh", p.Client(), filepath.Join(dir, "keys"), folder); err != nil {
			return nil, err
		}
	}
	return p, p.install()
}

// install puts a copy in the place of each program, as who installs them does: the kernel
// holds in larger pages what is written at once than what a linker wrote here and there, which
// counts for who hashes and starts it.
func (p *Programs) install() error {
	return filepath.WalkDir(p.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		info, err := d.Info()
		if err != nil || info.Mode()&0o111 == 0 {
			return err
		}
		program, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if err := os.WriteFile(path+".copy", program, info.Mode().Perm()); err != nil {
			return err
		}
		return os.Rename(path+".copy", path)
	})
}

func run(ctx context.Context, dir, name string, args ...string) error {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, out)
	}
	return nil
}

// Client is the path of the command line.
func (p *Programs) Client() string { return filepath.Join(p.dir, "rootward") }

// Rules is the folder of the question's rule sets.
func (p *Programs) Rules() string { return filepath.Join(p.dir, "rules") }

// RulesWithHook is the folder that has the rule set besides that computes rows.
func (p *Programs) RulesWithHook() string { return filepath.Join(p.dir, "rules-with-hook") }

// Server is a running server with a connection to it. The caller closes it.
type Server struct {
	Address string
	Conn    *grpc.ClientConn
	Ready   time.Duration // from the start of the process until it serves

	command *exec.Cmd
	folder  string
	said    *strings.Builder
}

// Start starts a server on a socket of its own and waits until it serves.
func (p *Programs) Start(ctx context.Context, rules string, flags ...string) (*Server, error) {
	folder, err := os.MkdirTemp("/tmp", "rootward-bench-")
	if err != nil {
		return nil, err
	}
	s := &Server{folder: folder, said: &strings.Builder{}}
	args := append([]string{"--listen", "unix:" + filepath.Join(folder, "socket"), "--rules", rules, "--log-level", "error"}, flags...)
	s.command = exec.Command(filepath.Join(p.dir, "rootwardd"), args...)
	s.command.Stderr = s.said
	if err := s.start(); err != nil {
		s.Close()
		return nil, fmt.Errorf("%w\nthe server said: %s", err, s.said)
	}
	return s, nil
}

func (s *Server) start() error {
	output, err := s.command.StdoutPipe()
	if err != nil {
		return err
	}
	began := time.Now()
	if err := s.command.Start(); err != nil {
		return err
	}
	line, err := bufio.NewReader(output).ReadString('\n')
	s.Ready = time.Since(began)
	address, ok := strings.CutPrefix(strings.TrimSpace(line), "ready ")
	if err != nil || !ok {
		return fmt.Errorf("the server did not get ready: %q, %v", line, err)
	}
	go io.Copy(io.Discard, output)
	s.Address = address
	const maxMessage = 64 << 20 // as the product's client has it, with its codec
	s.Conn, err = grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()),
		experimental.WithBufferPool(columnar.Memory()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxMessage), grpc.ForceCodecV2(columnar.Codec())))
	return err
}

// PeakMemory is the largest part of the server that was in memory at a time, in bytes.
func (s *Server) PeakMemory() (int64, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.command.Process.Pid))
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(text)) {
		var kB int64
		if n, _ := fmt.Sscanf(line, "VmHWM: %d kB", &kB); n == 1 {
			return kB << 10, nil
		}
	}
	return 0, fmt.Errorf("the kernel states no VmHWM of the server")
}

// Close ends the server and removes its socket.
func (s *Server) Close() error {
	if s.Conn != nil {
		s.Conn.Close()
	}
	if s.command.Process != nil {
		s.command.Process.Signal(syscall.SIGTERM)
		kill := time.AfterFunc(20*time.Second, func() { s.command.Process.Kill() })
		s.command.Wait()
		kill.Stop()
	}
	return os.RemoveAll(s.folder)
}
