//go:build linux

package launcher

import "golang.org/x/sys/unix"

// plain is the system calls that are allowed with any arguments: what Go with gRPC
// and CPython with gRPC were seen to use (strace -f), and those of the same effect.
// What they reach in the file system, Landlock decides.
var plain = []string{
	// memory
	"brk", "madvise", "membarrier", "mincore", "mprotect", "mremap", "munmap",
	// threads and time
	"clock_getres", "clock_gettime", "clock_nanosleep", "exit", "exit_group", "futex", "get_robust_list",
	"getcpu", "gettimeofday", "nanosleep", "restart_syscall", "rseq", "sched_getaffinity", "sched_getparam",
	"sched_getscheduler", "sched_get_priority_max", "sched_get_priority_min", "sched_yield", "set_robust_list",
	"set_tid_address", "time",
	// itself
	"arch_prctl", "getegid", "geteuid", "getgid", "getgroups", "getpgid", "getpgrp", "getpid", "getppid",
	"getrandom", "getresgid", "getresuid", "getrusage", "getsid", "gettid", "getuid", "sysinfo", "times", "umask", "uname",
	// signals to itself
	"rt_sigaction", "rt_sigpending", "rt_sigprocmask", "rt_sigreturn", "rt_sigtimedwait", "sigaltstack",
	// descriptors
	"close", "close_range", "dup", "dup2", "dup3", "epoll_create", "epoll_create1", "epoll_ctl", "epoll_pwait",
	"epoll_pwait2", "epoll_wait", "eventfd", "eventfd2", "fstat", "lseek", "pipe", "pipe2", "poll", "ppoll",
	"pread64", "preadv", "pselect6", "pwrite64", "pwritev", "read", "readv", "select", "write", "writev",
	// files, as far as Landlock lets it
	"access", "chdir", "faccessat", "faccessat2", "getcwd", "getdents64", "lstat", "newfstatat", "open", "openat",
	"readlink", "readlinkat", "stat", "statx", "unlink", "unlinkat",
	// its socket
	"accept", "accept4", "bind", "getpeername", "getsockname", "getsockopt", "listen", "recvfrom", "recvmsg",
	"sendmsg", "sendto", "shutdown",
}

// missing is the calls that a C library does without if the kernel has none. The
// arguments of clone3 lie in memory, where no filter sees them.
var missing = []string{"clone3"}

const (
	namespaces = unix.CLONE_NEWCGROUP | unix.CLONE_NEWIPC | unix.CLONE_NEWNET | unix.CLONE_NEWNS | unix.CLONE_NEWPID |
		unix.CLONE_NEWUSER | unix.CLONE_NEWUTS
	thread = unix.CLONE_VM | unix.CLONE_FILES | unix.CLONE_SIGHAND | unix.CLONE_THREAD
)

// conditional is the calls that are allowed with some arguments.
var conditional = map[string]either{
	// A thread of its own; no process.
	"clone": {{bits(0, thread|namespaces|unix.CLONE_PTRACE|unix.CLONE_UNTRACED, thread)}},
	// Local sockets that it listens on. There is no connect.
	"socket": {{is(0, unix.AF_UNIX), bits(1, ^uint64(unix.SOCK_CLOEXEC|unix.SOCK_NONBLOCK), unix.SOCK_STREAM), is(2, 0)}},
	"setsockopt": with(is(1, unix.SOL_SOCKET), oneOf(2, unix.SO_REUSEADDR, unix.SO_BROADCAST, unix.SO_SNDBUF, unix.SO_RCVBUF,
		unix.SO_KEEPALIVE, unix.SO_LINGER, unix.SO_REUSEPORT, unix.SO_RCVLOWAT)),
	// Private memory, and files; shared memory without a file counts in no limit.
	"mmap":      {{bits(3, unix.MAP_SHARED, 0)}, {bits(3, unix.MAP_ANONYMOUS, 0)}},
	"prlimit64": {{is(2, 0)}}, // only to read
	"prctl":     oneOf(0, unix.PR_SET_NAME, unix.PR_GET_NAME, unix.PR_SET_VMA, unix.PR_GET_DUMPABLE, unix.PR_CAPBSET_READ),
	"fcntl": oneOf(1, unix.F_DUPFD, unix.F_DUPFD_CLOEXEC, unix.F_GETFD, unix.F_SETFD, unix.F_GETFL, unix.F_SETFL,
		unix.F_GETLK, unix.F_SETLK),
	"ioctl": oneOf(1, unix.TCGETS, unix.TIOCGWINSZ, fionread, fionbio, fionclex, fioclex),
}

// Of asm-generic/ioctls.h; package unix has them on some machines only.
const (
	fionread = 0x541b
	fionbio  = 0x5421
	fionclex = 0x5450
	fioclex  = 0x5451
)
