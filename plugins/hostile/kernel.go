//go:build linux

package main

import (
	"os"
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

var kernelActs = map[string]act{
	"makes-io-ring": makeIORing,
	"adds-a-key": func() error {
		return lastOf(unix.AddKey("user", "hostile", []byte("x"), unix.KEY_SPEC_PROCESS_KEYRING))
	},
	"leaves-its-namespace":  func() error { return unix.Unshare(unix.CLONE_NEWUTS) },
	"makes-a-user":          clonesWith(unix.CLONE_NEWUSER | uintptr(syscall.SIGCHLD)),
	"mounts":                mount,
	"opens-a-tree":          func() error { return lastOf(unix.OpenTree(unix.AT_FDCWD, "/", unix.OPEN_TREE_CLOEXEC)) },
	"changes-root":          func() error { return unix.Chroot(".") },
	"loads-a-program":       makes(unix.SYS_BPF, 0, 0, 0),
	"watches-events":        watchEvents,
	"handles-page-faults":   makes(unix.SYS_USERFAULTFD, 1, 0, 0),
	"shares-memory":         makes(unix.SYS_SHMGET, unix.IPC_PRIVATE, 4096, 0o600|unix.IPC_CREAT),
	"queues-messages":       makes(unix.SYS_MSGGET, unix.IPC_PRIVATE, 0o600|unix.IPC_CREAT, 0),
	"raises-its-limits":     raiseLimits,
	"raises-its-priority":   func() error { return unix.Setpriority(unix.PRIO_PROCESS, 0, -5) },
	"chooses-its-processor": chooseProcessor,
	"takes-capabilities":    takeCapabilities,
	"becomes-another-user":  func() error { return unix.Setresuid(0, 0, 0) },
	"sets-the-clock":        setClock,
	"names-the-machine":     nameMachine,
	"reads-kernel-log":      func() error { return lastOf(unix.Klogctl(unix.SYSLOG_ACTION_SIZE_BUFFER, nil)) },
	"filters-its-calls":     makes(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, 0, 0),
	"types-on-terminal":     typeOnTerminal,
	"watches-files":         func() error { return lastOf(unix.InotifyInit1(0)) },
	"opens-by-handle":       openByHandle,
	"disguises-a-number":    disguiseNumber,
}

// lastOf drops what a call gives besides its error.
func lastOf[T any](_ T, err error) error { return err }

// makes makes a call whose success or whose complaint about the arguments shows that
// it was let through.
func makes(number uintptr, arguments ...uintptr) act {
	return func() error {
		_, _, errno := syscall.Syscall(number, arguments[0], arguments[1], arguments[2])
		return letThrough(errno)
	}
}

func letThrough(errno syscall.Errno) error {
	switch errno {
	case 0, syscall.EINVAL, syscall.EFAULT, syscall.E2BIG, syscall.ENOTTY, syscall.EBADF, syscall.ENOENT:
		return nil
	}
	return errno
}

func makeIORing() error {
	var parameters [120]byte
	_, _, errno := syscall.Syscall(unix.SYS_IO_URING_SETUP, 1, uintptr(unsafe.Pointer(&parameters)), 0)
	return letThrough(errno)
}

func clonesWith(flags uintptr) act {
	return func() error {
		pid, _, errno := syscall.RawSyscall6(syscall.SYS_CLONE, flags, 0, 0, 0, 0, 0)
		return asParent(pid, errno)
	}
}

// mount lays another file system over its folder, and takes it away.
func mount() error {
	if err := unix.Mount("", ".", "tmpfs", 0, ""); err != nil {
		return err
	}
	return unix.Unmount(".", unix.MNT_DETACH)
}

func watchEvents() error {
	a := unix.PerfEventAttr{Type: unix.PERF_TYPE_SOFTWARE, Config: unix.PERF_COUNT_SW_CPU_CLOCK}
	a.Size = uint32(unsafe.Sizeof(a))
	return lastOf(unix.PerfEventOpen(&a, 0, -1, -1, 0))
}

// raiseLimits allows itself more than it was given.
func raiseLimits() error {
	var queues unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_MSGQUEUE, &queues); err != nil {
		return err
	}
	queues.Cur, queues.Max = queues.Max+1, queues.Max+1
	return unix.Prlimit(0, unix.RLIMIT_MSGQUEUE, &queues, nil)
}

func chooseProcessor() error {
	var all unix.CPUSet
	if err := unix.SchedGetaffinity(0, &all); err != nil {
		return err
	}
	return unix.SchedSetaffinity(0, &all)
}

// takeCapabilities takes all that a root user has.
func takeCapabilities() error {
	header := unix.CapUserHeader{Version: unix.LINUX_CAPABILITY_VERSION_3}
	all := [2]unix.CapUserData{{Effective: 1, Permitted: 1}}
	return unix.Capset(&header, &all[0])
}

// setClock sets nothing: its arguments are not valid, and who may set the clock is
// told so.
func setClock() error {
	_, _, errno := syscall.Syscall(unix.SYS_CLOCK_SETTIME, unix.CLOCK_REALTIME, 1, 0)
	return letThrough(errno)
}

// nameMachine gives it the name that it has.
func nameMachine() error {
	var u unix.Utsname
	if err := unix.Uname(&u); err != nil {
		return err
	}
	return unix.Sethostname([]byte(unix.ByteSliceToString(u.Nodename[:])))
}

func typeOnTerminal() error {
	letter := byte('x')
	_, _, errno := syscall.Syscall(syscall.SYS_IOCTL, os.Stdin.Fd(), unix.TIOCSTI, uintptr(unsafe.Pointer(&letter)))
	return letThrough(errno)
}

func openByHandle() error {
	_, _, err := unix.NameToHandleAt(unix.AT_FDCWD, self(), 0)
	return err
}

// disguiseNumber asks for a raw socket with an argument that is the number of a call
// which is allowed: a filter that compares the wrong word lets it through.
func disguiseNumber() error {
	for number := range uintptr(450) {
		fd, _, errno := syscall.Syscall(unix.SYS_SOCKET, number, unix.SOCK_RAW, 0)
		if errno == 0 {
			return unix.Close(int(fd))
		}
		if errno != syscall.EPERM {
			return nil // the kernel itself has looked at it
		}
	}
	return syscall.EPERM
}
