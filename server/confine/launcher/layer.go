//go:build linux

package launcher

import (
	"errors"
	"fmt"

	"golang.org/x/sys/unix"
)

// layer is one means of confinement, in the order in which they are entered: each
// needs system calls that the last refuses.
type layer struct {
	name  string
	enter func(*Order, *execution) error
	// holds does what the layer refuses, and says so if it is not refused.
	holds func() error
	about func() string
}

// Layers names the layers, in the order in which they are entered.
func Layers() []string {
	var names []string
	for _, l := range layerList {
		names = append(names, l.name)
	}
	return names
}

var layerList = []layer{
	{"rlimits", enterLimits, limitsHold, func() string { return "memory, files and capabilities" }},
	{"landlock", enterLandlock, landlockHolds, landlockAbout},
	{"seccomp", enterSeccomp, seccompHolds, func() string { return fmt.Sprintf("%d system calls allowed", len(plain)+len(conditional)) }},
}

// try enters the layer and sees that it holds.
func (l *layer) try(o *Order, next *execution) Layer {
	err := l.enter(o, next)
	if err == nil {
		err = l.holds()
	}
	if err != nil {
		return Layer{Name: l.name, Detail: err.Error()}
	}
	return Layer{Name: l.name, InForce: true, Detail: l.about()}
}

func limitsHold() error {
	var files unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_FSIZE, &files); err != nil || files.Max != 0 {
		return fmt.Errorf("a file may still hold %d bytes (%v)", files.Max, err)
	}
	if err := unix.Setrlimit(unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: 1, Max: 1}); !errors.Is(err, unix.EPERM) {
		return fmt.Errorf("raising a limit gives %v", err)
	}
	return nil
}

func landlockHolds() error {
	fd, err := unix.Open("/", unix.O_RDONLY|unix.O_DIRECTORY|unix.O_CLOEXEC, 0)
	if err == nil {
		_ = unix.Close(fd)
	}
	if !errors.Is(err, unix.EACCES) {
		return fmt.Errorf("opening the root folder gives %v", err)
	}
	return nil
}

func seccompHolds() error {
	for _, domain := range []int{unix.AF_INET, unix.AF_NETLINK} {
		fd, err := unix.Socket(domain, unix.SOCK_STREAM, 0)
		if err == nil {
			_ = unix.Close(fd)
		}
		if !errors.Is(err, unix.EPERM) {
			return fmt.Errorf("making a socket of family %d gives %v", domain, err)
		}
	}
	return nil
}
