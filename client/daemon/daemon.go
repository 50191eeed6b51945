package daemon

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// Options says which server to run.
type Options struct {
	Program string // empty: beside the running program, then PATH
	Rules   string // folder of rule sets; empty: "rules" beside the server
	Water   string // folder of water layers; empty: it has none
	Data    string // folder in which it keeps batches; empty: it keeps none
	// Formulations are catalogue files of one's own.
	Formulations []string
	// StartTimeout is how long the server may take to be ready; zero: 30 s, for
	// several plugins that start on a slow machine.
	StartTimeout time.Duration
	// StopTimeout is how long it may take to end by itself before it is killed;
	// zero: 10 s.
	StopTimeout time.Duration
}

// Daemon is a running server. The caller closes it.
type Daemon struct {
	Address string // "unix:PATH"

	command *exec.Cmd
	stdin   io.Closer
	folder  string
	log     *tail
	patient time.Duration
	ended   chan struct{} // closed when the process is gone
	close   sync.Once
}

// Start runs a server and waits until it is ready. On any error, and when ctx
// ends before it is ready, nothing of it is left; the error then shows the last of
// what the server said.
func Start(ctx context.Context, o Options) (*Daemon, error) {
	if err := o.complete(); err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp(socketParent(), "rootward-")
	if err != nil {
		return nil, fmt.Errorf("a folder for the server's socket: %w", err)
	}
	d := &Daemon{folder: folder, log: &tail{}, patient: o.StopTimeout, ended: make(chan struct{})}
	ready, err := d.launch(&o)
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(folder))
	}
	if err := d.await(ctx, ready, o.StartTimeout); err != nil {
		d.Close()
		return nil, d.withLog(err)
	}
	return d, nil
}

// socketParent is the folder for temporary files, unless its path is so long that
// the server's socket below it would pass the 107 bytes that a path of a socket
// may have on Linux (unix(7)): then it is /tmp. Only the socket is moved, in a
// folder that no one else may enter.
func socketParent() string {
	const most = 60 // leaves room for the folder's random name and the socket's
	if folder := os.TempDir(); len(folder) <= most {
		return folder
	}
	return "/tmp"
}

func (o *Options) complete() error {
	var err error
	if o.Program == "" {
		if o.Program, err = Find(); err != nil {
			return err
		}
	}
	if o.Rules == "" {
		if o.Rules, err = rulesBeside(o.Program); err != nil {
			return err
		}
	}
	if o.StartTimeout == 0 {
		o.StartTimeout = 30 * time.Second
	}
	if o.StopTimeout == 0 {
		o.StopTimeout = 10 * time.Second
	}
	return nil
}

func (o *Options) flags(socket string) []string {
	flags := []string{"--listen", "unix:" + socket, "--rules", o.Rules, "--until-stdin-closes", "--log-level", "warn"}
	if o.Water != "" {
		flags = append(flags, "--water", o.Water)
	}
	if o.Data != "" {
		flags = append(flags, "--data", o.Data)
	}
	for _, file := range o.Formulations {
		flags = append(flags, "--formulations", file)
	}
	return flags
}

// launch starts the process; its first line of output comes through the channel.
func (d *Daemon) launch(o *Options) (<-chan string, error) {
	socket := filepath.Join(d.folder, "socket")
	// The process is not bound to a context: it is asked to end before it is killed.
	d.command = exec.Command(o.Program, o.flags(socket)...)
	d.command.Stderr = d.log
	// Whatever holds the pipes after the process is gone must not keep Wait.
	d.command.WaitDelay = time.Second
	stdin, err := d.command.StdinPipe()
	if err != nil {
		return nil, err
	}
	output, write := io.Pipe()
	d.command.Stdout = write
	if err := d.command.Start(); err != nil {
		return nil, fmt.Errorf("the server did not start: %w", err)
	}
	d.stdin = stdin
	ready := make(chan string, 1)
	go readLine(output, ready)
	go func() {
		defer close(d.ended)
		d.command.Wait()
		write.Close()
	}()
	return ready, nil
}

// readLine passes the first line on and drops the rest.
func readLine(output *io.PipeReader, ready chan<- string) {
	lines := bufio.NewReader(output)
	line, err := lines.ReadString('\n')
	if err == nil {
		ready <- strings.TrimSpace(line)
	}
	io.Copy(io.Discard, lines)
}

func (d *Daemon) await(ctx context.Context, ready <-chan string, limit time.Duration) error {
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case line := <-ready:
		address, ok := strings.CutPrefix(line, "ready ")
		if !ok {
			return fmt.Errorf("the server said %q where its ready line was expected", line)
		}
		d.Address = address
		return nil
	case <-d.ended:
		return fmt.Errorf("the server ended before it was ready: %s", d.command.ProcessState)
	case <-timer.C:
		return fmt.Errorf("the server was not ready after %s", limit)
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// Close ends the server and removes its socket. It returns when the process is
// gone, killed if it does not end in time, and may be called again.
func (d *Daemon) Close() error {
	var err error
	d.close.Do(func() {
		d.stdin.Close()
		timer := time.NewTimer(d.patient)
		defer timer.Stop()
		select {
		case <-d.ended:
		case <-timer.C:
			err = fmt.Errorf("the server did not end within %s and was killed", d.patient)
			d.command.Process.Kill()
			<-d.ended
		}
		err = errors.Join(err, os.RemoveAll(d.folder))
	})
	return err
}

func (d *Daemon) withLog(err error) error {
	if said := d.log.String(); said != "" {
		return fmt.Errorf("%w\nthe server said:\n%s", err, said)
	}
	return err
}

// tail keeps the last of what is written to it.
type tail struct {
	mu   sync.Mutex
	last []byte
}

// tailBytes holds what a failing server says; a chatty one is cut off in front.
const tailBytes = 8 << 10

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.last = append(t.last, p...)
	if over := len(t.last) - tailBytes; over > 0 {
		t.last = bytes.Clone(t.last[over:])
	}
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return strings.TrimSpace(string(t.last))
}
