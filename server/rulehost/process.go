package rulehost

import (
	"context"
	"io"
	"os/exec"
	"strconv"
	"sync"
	"time"
)

// command is the plugin as a command that shares nothing with the server: no
// environment, no standard input, no process group.
func (p *plugin) command(args ...string) *exec.Cmd {
	return &exec.Cmd{
		Path:        executable(p.file),
		Args:        append([]string{p.name}, args...),
		Env:         []string{},
		ExtraFiles:  extraFiles(p.file),
		SysProcAttr: attributes(),
		// A grandchild that holds the output open must not hold up the server.
		WaitDelay: time.Second,
	}
}

// process runs a plugin for go-plugin. It is our own runner because go-plugin's
// gives the server's standard input to the plugin, opens the file by name a
// second time after its checksum was taken, and kills the plugin alone where it
// may have children.
type process struct {
	cmd            *exec.Cmd
	stdout, stderr io.ReadCloser
	mu             sync.Mutex // between kill and Start
	killed         bool
}

func (p *process) prepare(env []string) (err error) {
	p.cmd.Env = env
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
	killAll(p.cmd)
}

// Start implements runner.Runner.
func (p *process) Start(context.Context) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.killed {
		return context.Canceled
	}
	return p.cmd.Start()
}

// Wait implements runner.Runner.
func (p *process) Wait(context.Context) error { return p.cmd.Wait() }

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
func (p *process) Name() string { return p.cmd.Args[0] }

// ID implements runner.Runner. It is never empty: go-plugin would not clean up
// after a process without one.
func (p *process) ID() string {
	if p.cmd.Process == nil {
		return "not started"
	}
	return strconv.Itoa(p.cmd.Process.Pid)
}

// Diagnose implements runner.Runner.
func (p *process) Diagnose(context.Context) string {
	return "the first line of its standard output is not the plugin handshake; a rule plugin leaves standard output alone"
}

// PluginToHost implements runner.Runner.
func (*process) PluginToHost(network, address string) (string, string, error) {
	return network, address, nil
}

// HostToPlugin implements runner.Runner.
func (*process) HostToPlugin(network, address string) (string, string, error) {
	return network, address, nil
}
