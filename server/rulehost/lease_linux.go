package rulehost

import (
	"os"

	"golang.org/x/sys/unix"
)

// lease has the kernel hold back whoever opens a file to write to it, or to cut it. It
// reports false where the kernel gives none: where somebody has it open so already, or the
// file is another user's.
func lease(f *os.File) bool {
	_, err := unix.FcntlInt(f.Fd(), unix.F_SETLEASE, unix.F_RDLCK)
	return err == nil
}

// release gives a lease back, and reports whether nobody wanted to write meanwhile.
func release(f *os.File) (unwritten bool) {
	kind, err := unix.FcntlInt(f.Fd(), unix.F_GETLEASE, 0)
	_, _ = unix.FcntlInt(f.Fd(), unix.F_SETLEASE, unix.F_UNLCK) // closing the file does it, too
	return err == nil && kind == unix.F_RDLCK
}
