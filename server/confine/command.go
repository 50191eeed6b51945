//go:build linux

package confine

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"sync"
	"syscall"

	"example.org/rootward/server/confine/launcher"
)

// Command is the plugin, confined, as a command to start. The file is open for
// reading and stays the caller's; name and args are what the plugin gets as its
// arguments, env its whole environment, socketDir the one folder where it makes
// files. It has a process group of its own, nothing on its standard input, and ends
// with the thread that starts it: lock that thread.
//
// The error is a *MissingError where the kernel lacks a layer that the policy does
// not do without. What goes wrong later ends the command with ExitRefused.
func Command(file *os.File, name string, args, env []string, socketDir string, p Policy) (*exec.Cmd, error) {
	missing := wanting(Layers())
	if len(missing) > 0 && !p.AllowMissing {
		return nil, &MissingError{Layers: missing}
	}
	o := launcher.Order{Policy: p.WithDefaults(), Sockets: socketDir}
	for _, l := range missing {
		o.Wanting = append(o.Wanting, l.Name)
	}
	cmd, err := start(o, append([]string{name}, args...))
	if err != nil {
		return nil, err
	}
	cmd.Env = append(cmd.Env, env...)
	cmd.ExtraFiles = []*os.File{file}
	return cmd, nil
}

// start is the launcher as a command.
func start(o launcher.Order, args []string) (*exec.Cmd, error) {
	o.Parent = os.Getpid()
	text, err := json.Marshal(o)
	if err != nil {
		return nil, err
	}
	return &exec.Cmd{
		Path:        "/proc/self/exe", // this very file, even if another has its name by now
		Args:        append([]string{launcher.Name, string(text)}, args...),
		Env:         []string{},
		SysProcAttr: &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL},
	}, nil
}

// Layers tells which layers this machine has. A process of its own tries them once.
func Layers() []Layer { return probed() }

var probed = sync.OnceValue(probe)

func probe() []Layer {
	layers, err := askProbe()
	if err != nil {
		layers = nil
		for _, name := range launcher.Layers() {
			layers = append(layers, Layer{Name: name, Detail: err.Error()})
		}
	}
	return layers
}

func askProbe() (layers []Layer, err error) {
	cmd, err := start(launcher.Order{Policy: Policy{}.WithDefaults(), Probe: true}, nil)
	if err != nil {
		return nil, err
	}
	// The probe has no need to end with a thread, and the thread may end before it.
	cmd.SysProcAttr.Pdeathsig = 0
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("trying it failed: %w", err)
	}
	return layers, json.Unmarshal(out, &layers)
}

// Exceeded reports that a process which was started with the policy has more threads
// than it allows, or nil, also where the process is gone. The kernel does not bound
// that for root: ask now and then, and kill the process.
func Exceeded(pid int, p Policy) error {
	limit := p.WithDefaults().Threads
	n, err := launcher.Threads(pid)
	if err != nil || n <= limit {
		return nil
	}
	return fmt.Errorf("has %d threads, %d are allowed; ask its publisher for one that needs fewer", n, limit)
}
