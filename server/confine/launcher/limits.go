//go:build linux

package launcher

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"syscall"

	"golang.org/x/sys/unix"
)

// addressSpace is what a process may reserve beyond the memory that it writes to.
// Go reserves some 1.3 GB and gRPC for Python 1 GB. It bounds the kernel's tables for
// what is mapped and only read, which RLIMIT_DATA does not count.
const addressSpace = 8 << 30

// enterLimits sets limits that cannot be raised again, and drops all capabilities.
func enterLimits(o *Order, _ *execution) error {
	// First to go when memory runs out; a kernel without it has no such order.
	_ = os.WriteFile("/proc/self/oom_score_adj", []byte("1000"), 0)
	if err := unix.Setpriority(unix.PRIO_PROCESS, 0, o.Nice); err != nil {
		return fmt.Errorf("standing back for others: %w", err)
	}
	threads, err := threadLimit(o.Threads)
	if err != nil {
		return err
	}
	if err := dropCapabilities(); err != nil {
		return err
	}
	for _, l := range []struct {
		name     string
		resource int
		limit    uint64
	}{
		{"RLIMIT_CORE", unix.RLIMIT_CORE, 0},
		{"RLIMIT_FSIZE", unix.RLIMIT_FSIZE, 0},
		{"RLIMIT_NOFILE", unix.RLIMIT_NOFILE, uint64(o.OpenFiles)},
		{"RLIMIT_NPROC", unix.RLIMIT_NPROC, threads},
		{"RLIMIT_STACK", unix.RLIMIT_STACK, 8 << 20},
		{"RLIMIT_MEMLOCK", unix.RLIMIT_MEMLOCK, 0},
		{"RLIMIT_MSGQUEUE", unix.RLIMIT_MSGQUEUE, 0},
		{"RLIMIT_CPU", unix.RLIMIT_CPU, orUnlimited(o.CPUSeconds)},
		{"RLIMIT_AS", unix.RLIMIT_AS, uint64(o.MemoryBytes) + addressSpace},
		{"RLIMIT_DATA", unix.RLIMIT_DATA, uint64(o.MemoryBytes)},
	} {
		if err := lower(l.resource, l.limit); err != nil {
			return fmt.Errorf("%s at %d: %w", l.name, l.limit, err)
		}
	}
	return nil
}

// lower sets a limit, or leaves it where it is lower already.
func lower(resource int, limit uint64) error {
	var is unix.Rlimit
	if err := unix.Getrlimit(resource, &is); err != nil {
		return err
	}
	limit = min(limit, is.Max)
	return unix.Setrlimit(resource, &unix.Rlimit{Cur: limit, Max: limit})
}

func orUnlimited(seconds int) uint64 {
	if seconds <= 0 {
		return unix.RLIM_INFINITY
	}
	return uint64(seconds)
}

// threadLimit is how many threads this user may have once the plugin has its own. The
// kernel counts those of the user, the server's too, which may come to have more.
func threadLimit(own int) (uint64, error) {
	uid := os.Getuid()
	if uid == 0 {
		return unix.RLIM_INFINITY, nil // the kernel holds root to none
	}
	const growth = 1_024
	count := 0
	processes, err := os.ReadDir("/proc")
	if err != nil {
		return 0, err
	}
	for _, p := range processes {
		pid, err := strconv.Atoi(p.Name())
		if err != nil {
			continue
		}
		info, err := p.Info()
		if err != nil || info.Sys().(*syscall.Stat_t).Uid != uint32(uid) {
			continue
		}
		if n, err := Threads(pid); err == nil {
			count += n
		}
	}
	return uint64(count + own + growth), nil
}

// Threads tells how many threads a process has.
func Threads(pid int) (int, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	_, after, _ := strings.Cut(string(text), "\nThreads:")
	line, _, _ := strings.Cut(after, "\n")
	return strconv.Atoi(strings.TrimSpace(line))
}

// dropCapabilities leaves this thread, and what it executes, with the rights of its
// user number alone. Root gets none back either: no_new_privs keeps what an execution
// gives within what there was.
func dropCapabilities() error {
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return fmt.Errorf("forgoing new rights: %w", err)
	}
	for c := uintptr(0); unix.Prctl(unix.PR_CAPBSET_DROP, c, 0, 0, 0) == nil; c++ {
	}
	header := unix.CapUserHeader{Version: unix.LINUX_CAPABILITY_VERSION_3}
	var none [2]unix.CapUserData
	if err := unix.Capset(&header, &none[0]); err != nil {
		return fmt.Errorf("dropping capabilities: %w", err)
	}
	return nil
}
