//go:build linux

package confine

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"sync"
	"sync/atomic"
	"syscall"
)

// pluginFD is where the plugin's file lies in the launcher and in the plugin: after
// the standard streams. It stays open in the plugin, since an interpreter reads its
// program from it.
const pluginFD = 3

// order is what a launcher is told, as the argument before the plugin's own.
type order struct {
	Policy
	Sockets string `json:"sockets,omitempty"` // the folder of its socket
	Parent  int    `json:"parent"`            // who starts it
	Probe   bool   `json:"probe,omitempty"`   // see what layers are there, start nothing
	// Wanting names the layers that this machine lacks, and that may fail.
	Wanting []string `json:"wanting,omitempty"`
}

// ready is whether this program calls Main: one that does not would run as itself
// where it is meant to be the launcher, again and again.
var ready atomic.Bool

var errNotReady = errors.New("this program cannot confine plugins: its main function must call confine.Main first")

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
	o := order{Policy: p.withDefaults(), Sockets: socketDir}
	for _, l := range missing {
		o.Wanting = append(o.Wanting, l.Name)
	}
	cmd, err := launcher(o, append([]string{name}, args...))
	if err != nil {
		return nil, err
	}
	cmd.Env = append(cmd.Env, env...)
	cmd.ExtraFiles = []*os.File{file}
	return cmd, nil
}

func launcher(o order, args []string) (*exec.Cmd, error) {
	if !ready.Load() {
		return nil, errNotReady
	}
	o.Parent = os.Getpid()
	text, err := json.Marshal(o)
	if err != nil {
		return nil, err
	}
	return &exec.Cmd{
		Path:        "/proc/self/exe", // this very file, even if another has its name by now
		Args:        append([]string{argv0, string(text)}, args...),
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
		for _, l := range layerList {
			layers = append(layers, Layer{Name: l.name, Detail: err.Error()})
		}
	}
	return layers
}

func askProbe() (layers []Layer, err error) {
	cmd, err := launcher(order{Policy: Policy{}.withDefaults(), Probe: true}, nil)
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
