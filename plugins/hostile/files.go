//go:build linux

package main

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"

	"golang.org/x/sys/unix"
)

var fileActs = map[string]act{
	"reads-passwd":           readsFile("/etc/passwd"),
	"reads-its-environment":  readItsEnvironment,
	"reads-standard-input":   readStandardInput,
	"uses-left-descriptors":  useLeftDescriptors,
	"reads-host-environment": func() error { return readsFile(ofHost("environ"))() },
	"reads-host-memory":      readHostMemory,
	"reads-host-descriptors": func() error { return listsFolder(ofHost("fd"))() },
	"lists-home":             listsFolder("/root"),
	"lists-root":             listsFolder("/"),
	"lists-rules-folder":     func() error { return listsFolder(filepath.Dir(self()))() },
	"writes-to-tmp":          func() error { return writesFile(os.TempDir())() },
	"writes-to-rules-folder": func() error { return writesFile(filepath.Dir(self()))() },
	"replaces-itself":        replaceItself,
	"changes-a-mode":         func() error { return syscall.Chmod(self(), 0o755) },
	"changes-an-owner":       func() error { return os.Lchown(self(), os.Getuid(), os.Getgid()) },
	"changes-a-time":         func() error { return unix.UtimesNanoAt(unix.AT_FDCWD, self(), nil, 0) },
	"links-out-of-its-folder": func() error {
		return thenRemove("out", os.Symlink("/etc/passwd", inFolder("out")))
	},
	"links-a-host-file": func() error { return thenRemove("hard", os.Link(self(), inFolder("hard"))) },
	"makes-folders":     func() error { return thenRemove("sub", os.Mkdir(inFolder("sub"), 0o700)) },
	"makes-a-device":    func() error { return thenRemove("null", unix.Mknod(inFolder("null"), unix.S_IFCHR|0o600, 1<<8|3)) },
	"makes-a-pipe":      func() error { return thenRemove("pipe", unix.Mkfifo(inFolder("pipe"), 0o600)) },
	"fills-with-bytes":  fillWithBytes,
}

func ofHost(name string) string { return fmt.Sprintf("/proc/%d/%s", os.Getppid(), name) }

// self is where the program's file lies.
func self() string {
	path, err := os.Executable()
	if err != nil {
		panic(err)
	}
	return path
}

// inFolder names a file in the folder of its socket.
func inFolder(name string) string {
	return filepath.Join(os.Getenv("PLUGIN_UNIX_SOCKET_DIR"), name) // or where it stands
}

func thenRemove(name string, err error) error {
	if err == nil {
		_ = os.Remove(inFolder(name))
	}
	return err
}

func readsFile(path string) act {
	return func() error {
		_, err := os.ReadFile(path)
		return err
	}
}

func listsFolder(path string) act {
	return func() error {
		_, err := os.ReadDir(path)
		return err
	}
}

func writesFile(dir string) act {
	return func() error {
		f, err := os.CreateTemp(dir, "planted-")
		if err != nil {
			return err
		}
		_ = f.Close()
		return os.Remove(f.Name())
	}
}

func readHostMemory() error {
	memory, err := os.Open(ofHost("mem"))
	if err != nil {
		return err
	}
	defer memory.Close()
	_, err = memory.ReadAt(make([]byte, 8), textOfHost)
	return err
}

// replaceItself moves the file that the operator has checked away, and back.
func replaceItself() error {
	place := self()
	if err := os.Rename(place, place+".checked"); err != nil {
		return err
	}
	return os.Rename(place+".checked", place)
}

// fillWithBytes writes 64 MiB, and is not to be ended by the signal of the limit.
func fillWithBytes() error {
	signal.Ignore(syscall.SIGXFSZ)
	f, err := os.Create(inFolder("bytes"))
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	defer f.Close()
	for range 64 {
		if _, err := f.Write(make([]byte, 1<<20)); err != nil {
			return err
		}
	}
	return nil
}

// readItsEnvironment looks for what no plugin is given.
func readItsEnvironment() error {
	for _, entry := range os.Environ() {
		if name, _, _ := strings.Cut(entry, "="); !strings.HasPrefix(name, "PLUGIN_") && name != "ROOTWARD_RULE_PLUGIN" {
			return nil
		}
	}
	return errors.New("nothing is there")
}

func readStandardInput() error {
	_, err := os.Stdin.Read(make([]byte, 1))
	return err
}

// useLeftDescriptors looks for what its host left open. What the Go runtime opens for
// itself is of no type.
func useLeftDescriptors() error {
	for fd := 4; fd < 1_000; fd++ {
		var s unix.Stat_t
		if unix.Fstat(fd, &s) == nil && s.Mode&unix.S_IFMT != 0 {
			return nil
		}
	}
	return errors.New("nothing is there")
}
