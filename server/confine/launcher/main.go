//go:build linux

package launcher

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"runtime"
	"slices"

	"golang.org/x/sys/unix"
)

// init makes this process the launcher if it was started as one, and then does not
// return.
func init() {
	if len(os.Args) == 0 || os.Args[0] != Name {
		return
	}
	// Rights belong to threads; the thread that executes the plugin is the one whose
	// rights it gets.
	runtime.LockOSThread()
	name, err := launch(os.Args[1:])
	fmt.Fprintf(os.Stderr, "%s: %s: %s\n", Name, name, err)
	os.Exit(ExitRefused)
}

// launch confines this process and makes it the plugin. It returns only on failure.
func launch(args []string) (name string, err error) {
	var o Order
	if len(args) == 0 {
		return "", errors.New("is started by the server only")
	}
	if err := json.Unmarshal([]byte(args[0]), &o); err != nil {
		return "", fmt.Errorf("is started by the server only: %w", err)
	}
	if o.Probe {
		return "probe", report()
	}
	if len(args) < 2 {
		return "", errors.New("is started by the server only")
	}
	name = args[1]
	if err := prepare(&o); err != nil {
		return name, err
	}
	next, err := newExecution(args[1:], os.Environ())
	if err != nil {
		return name, err
	}
	for _, l := range layerList {
		if err := l.enter(&o, next); err != nil && !slices.Contains(o.Wanting, l.name) {
			return name, fmt.Errorf("%s: %w", l.name, err)
		}
	}
	return name, explain(next.run())
}

// prepare does what is no layer: it ends with its host, holds no descriptor but those
// it was given, and stands in the one folder that it knows.
func prepare(o *Order) error {
	// The kernel forgets this for a thread that is not the first.
	if err := unix.Prctl(unix.PR_SET_PDEATHSIG, uintptr(unix.SIGKILL), 0, 0, 0); err != nil {
		return fmt.Errorf("ending with its host: %w", err)
	}
	if os.Getppid() != o.Parent {
		return errors.New("its host is gone")
	}
	if err := unix.CloseRange(PluginFD+1, ^uint(0), unix.CLOSE_RANGE_CLOEXEC); err != nil {
		return fmt.Errorf("closing what the host left open: %w", err)
	}
	unix.Umask(0o077)
	return os.Chdir(cmp.Or(o.Sockets, "/"))
}

// report tries each layer on this process and writes what came of it.
func report() error {
	next, err := newExecution([]string{Name}, nil)
	if err != nil {
		return err
	}
	var found []Layer
	o := Order{Policy: Policy{}.WithDefaults()}
	for _, l := range layerList {
		found = append(found, l.try(&o, next))
	}
	if err := json.NewEncoder(os.Stdout).Encode(found); err != nil {
		return err
	}
	os.Exit(0)
	return nil
}
