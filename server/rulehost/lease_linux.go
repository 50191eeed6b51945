package rulehost

import (
	"os"

	"golang.org/x/sys/unix"
)

// lease has the kernel hold back whoever opens a file to write to it, or to cut it. It
// reports false where the kernel gives none: where somebody has it open so already, or the
// file is another user's; and where the kernel does not see who writes, since the file may
// be shared with another machine.
func lease(f *os.File) bool {
	var system unix.Statfs_t
	if unix.Fstatfs(int(f.Fd()), &system) != nil || !isLocal(int64(system.Type)) {
		return false
	}
	_, err := unix.FcntlInt(f.Fd(), unix.F_SETLEASE, unix.F_RDLCK)
	return err == nil
}

func isLocal(system int64) bool {
	switch system {
	case unix.EXT4_SUPER_MAGIC, unix.XFS_SUPER_MAGIC, unix.BTRFS_SUPER_MAGIC, unix.TMPFS_MAGIC, unix.OVERLAYFS_SUPER_MAGIC:
		return true
	}
	return false
}

// release gives a lease back, and reports whether nobody wanted to write meanwhile.
func release(f *os.File) (unwritten bool) {
	kind, err := unix.FcntlInt(f.Fd(), unix.F_GETLEASE, 0)
	_, _ = unix.FcntlInt(f.Fd(), unix.F_SETLEASE, unix.F_UNLCK) // closing the file does it, too
	return err == nil && kind == unix.F_RDLCK
}
