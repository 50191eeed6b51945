package rulehost

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"example.org/rootward/server/confine"
	goplugin "github.com/hashicorp/go-plugin"
)

// process runs a plugin for go-plugin. It is our own runner because go-plugin's
// gives the server's standard input to the plugin, opens the file by name a
// second time after its checksum was taken, and kills the plugin alone where it
// may have children.
type process struct {
	plugin         *plugin
	room           *room
	cmd            *exec.Cmd     // set by prepare
	done           chan struct{} // closed when the process has ended, if it started
	stdout, stderr io.ReadCloser
	sockets        string     // the one folder where the plugin may listen; set by prepare
	mu             sync.Mutex // between kill and Start
	killed         bool
	excess         atomic.Pointer[error] // why it was killed, if it used too much
}

// waitDelay is how long a grandchild that holds the output open may hold up the end
// of a plugin.
const waitDelay = time.Second

// launch prepares a process with a room of its own. Whoever launches it stops it.
func (p *plugin) launch() (*goplugin.Client, *process, error) {
	own, err := certify()
	if err != nil {
		return nil, nil, err
	}
	run := &process{plugin: p, done: make(chan struct{})}
	if run.room, err = p.config.scratch.room(); err != nil {
		return nil, nil, err
	}
	go run.watch()
	return goplugin.NewClient(p.clientConfig(run, own)), run, nil
}

// command is the plugin, confined, as a command that shares nothing with the server:
// no environment but what is given, no standard input, no process group.
func (p *plugin) command(args, env []string, sockets string) (*exec.Cmd, error) {
	cmd, err := confine.Command(p.file, p.name, args, env, sockets, p.policy())
	if err != nil {
		return nil, err
	}
	// A grandchild that holds the output open must not hold up the server.
	cmd.WaitDelay = waitDelay
	return cmd, nil
}

// policy is what the plugin may use. One that the operator does not answer for is not
// run where a layer of confinement is missing, unless it is named.
func (p *plugin) policy() confine.Policy {
	return confine.Policy{Read: p.mayRead, AllowMissing: p.firstParty || names(p.config.Unconfined, p.name)}
}

// usageCheck is how often it is looked at what a plugin uses that the kernel does not
// bound.
const usageCheck = 200 * time.Millisecond

// watch kills the plugin once it uses too much.
func (p *process) watch() {
	check := time.NewTicker(usageCheck)
	defer check.Stop()
	for {
		select {
		case <-p.room.left:
			return
		case <-check.C:
		}
		if err := p.exceeds(); err != nil {
			p.excess.Store(&err)
			p.kill()
			return
		}
	}
}

func (p *process) exceeds() error {
	if p.room.overfull() {
		return errFilled
	}
	pid := p.pid()
	if pid == 0 {
		return nil
	}
	if err := confine.Exceeded(pid, p.plugin.policy()); err != nil && !errors.Is(err, errors.ErrUnsupported) {
		return &excessError{err}
	}
	return nil
}

// excessError says that a plugin used too much, which it would do again.
type excessError struct{ error }

func (p *process) pid() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.cmd == nil || p.cmd.Process == nil {
		return 0
	}
	return p.cmd.Process.Pid
}

// blame gives the reason why the process ended, where it is known better.
func (p *process) blame(err error) error {
	if excess := p.excess.Load(); excess != nil {
		return *excess
	}
	return err
}

// prepare makes the command, whose socket goes into the folder.
func (p *process) prepare(env []string, sockets string) (err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.sockets = sockets
	if p.cmd, err = p.plugin.command(nil, env, sockets); err != nil {
		return err
	}
	if p.stdout, err = p.cmd.StdoutPipe(); err != nil {
		return err
	}
	p.stderr, err = p.cmd.StderrPipe()
	return err
}

// kill ends the plugin and what it started. It may be called at any time, from
// any goroutine; a plugin that has not started yet then does not.
func (p *process) kill() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.killed = true
	if p.cmd != nil {
		killAll(p.cmd)
	}
}

// Start implements runner.Runner.
func (p *process) Start(context.Context) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.killed {
		return context.Canceled
	}
	started := make(chan error)
	go p.holdThread(started)
	return <-started
}

// holdThread starts the process, and stays on the thread that did until it has ended: the
// kernel ends a plugin when the thread that started it ends. What else there is to do
// for a plugin is done on any thread, since it is dear to change from one that is held.
func (p *process) holdThread(started chan<- error) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	err := p.cmd.Start()
	started <- err
	if err == nil {
		<-p.done
	}
}

// Wait implements runner.Runner. What the plugin started ends with it.
func (p *process) Wait(context.Context) error {
	defer close(p.done)
	err := p.cmd.Wait()
	killAll(p.cmd)
	return err
}

// Kill implements runner.Runner.
func (p *process) Kill(context.Context) error {
	p.kill()
	return nil
}

// Stdout implements runner.Runner.
func (p *process) Stdout() io.ReadCloser { return p.stdout }

// Stderr implements runner.Runner.
func (p *process) Stderr() io.ReadCloser { return p.stderr }

// Name implements runner.Runner.
func (p *process) Name() string { return p.plugin.name }

// ID implements runner.Runner. It is never empty: go-plugin would not clean up
// after a process without one.
func (p *process) ID() string {
	if p.cmd == nil || p.cmd.Process == nil {
		return "not started"
	}
	return strconv.Itoa(p.cmd.Process.Pid)
}

// Diagnose implements runner.Runner.
func (p *process) Diagnose(context.Context) string {
	return "the first line of its standard output is not the plugin handshake; a rule plugin leaves standard output alone"
}

// PluginToHost implements runner.Runner. The plugin says where the server is to
// connect to, which may reach what the plugin may not: it is its own folder.
func (p *process) PluginToHost(network, address string) (string, string, error) {
	if network != "unix" || filepath.Dir(address) != filepath.Clean(p.sockets) {
		return "", "", fmt.Errorf("listens at %s %q and not in the folder that it was given; use the kit of this version", network, shorten(address, 100))
	}
	return network, address, nil
}

// HostToPlugin implements runner.Runner.
func (*process) HostToPlugin(network, address string) (string, string, error) {
	return network, address, nil
}
