//go:build linux

package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"syscall"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// executedAgain is the name under which it executes itself.
const executedAgain = "executed-again"

// textOfHost is where a Go program that is linked for a fixed place begins.
const textOfHost = 0x400000

var processActs = map[string]act{
	"runs-a-shell":             runShell,
	"forks":                    fork,
	"forks-by-clone3":          forkByClone3,
	"executes-itself":          executes("/proc/self/exe"),
	"executes-its-descriptor":  executes("/proc/self/fd/3"),
	"executes-a-shell":         executes("/bin/sh"),
	"executes-by-descriptor":   executeByDescriptor,
	"executes-memory":          executeMemory,
	"signals-host":             func() error { return syscall.Kill(os.Getppid(), syscall.SIGCONT) },
	"signals-thread-of-host":   func() error { return unix.Tgkill(os.Getppid(), os.Getppid(), syscall.SIGCONT) },
	"signals-everyone":         func() error { return syscall.Kill(-1, 0) },
	"signals-group-of-host":    signalGroupOfHost,
	"has-signals-sent":         haveSignalsSent,
	"leaves-its-group":         func() error { return syscall.Setpgid(0, hostGroup()) },
	"leaves-its-session":       leaveSession,
	"forgets-its-host":         func() error { return unix.Prctl(unix.PR_SET_PDEATHSIG, 0, 0, 0, 0) },
	"outlives-its-host":        outliveHost,
	"traces-host":              traceHost,
	"reads-host-memory-direct": readHostMemoryDirect,
	"takes-host-descriptor":    takeHostDescriptor,
	"limits-its-host":          limitHost,
}

// runShell gives it its own streams: without any, package os/exec opens /dev/null.
func runShell() error {
	return (&exec.Cmd{Path: "/bin/sh", Args: []string{"sh", "-c", "true"}, Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr}).Run()
}

func fork() error {
	pid, _, errno := syscall.RawSyscall6(syscall.SYS_CLONE, uintptr(syscall.SIGCHLD), 0, 0, 0, 0, 0)
	return asParent(pid, errno)
}

// asParent ends the child of a fork, and gives the parent what came of it.
func asParent(pid uintptr, errno syscall.Errno) error {
	if errno != 0 {
		return errno
	}
	if pid == 0 {
		syscall.RawSyscall(syscall.SYS_EXIT_GROUP, 0, 0, 0)
	}
	return nil
}

func forkByClone3() error {
	args := struct{ flags, pidfd, childTid, parentTid, exitSignal, stack, stackSize, tls uint64 }{exitSignal: uint64(syscall.SIGCHLD)}
	pid, _, errno := syscall.RawSyscall(unix.SYS_CLONE3, uintptr(unsafe.Pointer(&args)), unsafe.Sizeof(args), 0)
	return asParent(pid, errno)
}

// executes becomes another program; it returns only if it may not.
func executes(path string) act {
	return func() error { return syscall.Exec(path, []string{executedAgain, "-c", "echo DONE >&2"}, nil) }
}

func executeByDescriptor() error {
	fd, err := unix.Open(self(), unix.O_PATH, 0)
	if err != nil {
		return err
	}
	name, argv := []byte{0}, []*byte{unsafe.SliceData([]byte(executedAgain + "\x00")), nil}
	_, _, errno := syscall.RawSyscall6(unix.SYS_EXECVEAT, uintptr(fd), uintptr(unsafe.Pointer(&name[0])),
		uintptr(unsafe.Pointer(&argv[0])), uintptr(unsafe.Pointer(&argv[1])), unix.AT_EMPTY_PATH, 0)
	return errno
}

func executeMemory() error {
	fd, err := unix.MemfdCreate("program", 0)
	if err != nil {
		return err
	}
	return unix.Close(fd)
}

func hostGroup() int {
	group, err := syscall.Getpgid(os.Getppid())
	if err != nil {
		panic(err)
	}
	return group
}

func signalGroupOfHost() error { return syscall.Kill(-hostGroup(), syscall.SIGCONT) }

// haveSignalsSent makes its host the one who is told of input with a signal.
func haveSignalsSent() error {
	var ends [2]int
	if err := unix.Pipe2(ends[:], unix.O_CLOEXEC); err != nil {
		return err
	}
	_, err := unix.FcntlInt(uintptr(ends[0]), unix.F_SETOWN, os.Getppid())
	return err
}

// leaveSession is refused to who leads a group; a group of its own host it joins first.
func leaveSession() error {
	_ = syscall.Setpgid(0, hostGroup())
	_, err := syscall.Setsid()
	return err
}

// outliveHost waits for its host's end, and longer.
func outliveHost() error {
	forgotten := unix.Prctl(unix.PR_SET_PDEATHSIG, 0, 0, 0, 0)
	_, left := syscall.Setsid()
	fmt.Fprintln(stderr, "process", os.Getpid())
	time.Sleep(time.Hour)
	return errors.Join(forgotten, left)
}

// traceHost attaches itself for as long as the thread that does so lives.
func traceHost() error {
	const seize = 0x4206
	attached := make(chan error)
	go func() {
		runtime.LockOSThread() // not unlocked: the thread ends with this
		_, _, errno := syscall.RawSyscall6(syscall.SYS_PTRACE, seize, uintptr(os.Getppid()), 0, 0, 0, 0)
		if errno != 0 {
			attached <- errno
			return
		}
		attached <- nil
	}()
	return <-attached
}

func readHostMemoryDirect() error {
	here := make([]byte, 8)
	local := []unix.Iovec{{Base: &here[0], Len: 8}}
	_, err := unix.ProcessVMReadv(os.Getppid(), local, []unix.RemoteIovec{{Base: textOfHost, Len: 8}}, 0)
	return err
}

func takeHostDescriptor() error {
	host, err := unix.PidfdOpen(os.Getppid(), 0)
	if err != nil {
		return err
	}
	defer unix.Close(host)
	fd, err := unix.PidfdGetfd(host, 2, 0)
	if err != nil {
		return err
	}
	return unix.Close(fd)
}

// limitHost sets a limit of its host to what it is already.
func limitHost() error {
	var core unix.Rlimit
	if err := unix.Prlimit(os.Getppid(), unix.RLIMIT_CORE, nil, &core); err != nil {
		return err
	}
	return unix.Prlimit(os.Getppid(), unix.RLIMIT_CORE, &core, nil)
}
