package command

import (
	"os"

	"golang.org/x/sys/unix"
)

// errNotPast is the error of a write past the cache that the file system does not take.
const errNotPast = unix.EINVAL

// pastCache has a file written past the kernel's cache, or through it again. Past it only
// whole blocks can be written; it fails where the file system cannot.
func pastCache(file *os.File, past bool) error {
	flags, err := unix.FcntlInt(file.Fd(), unix.F_GETFL, 0)
	if err != nil {
		return os.NewSyscallError("fcntl", err)
	}
	flags &^= unix.O_DIRECT
	if past {
		flags |= unix.O_DIRECT
	}
	_, err = unix.FcntlInt(file.Fd(), unix.F_SETFL, flags)
	return os.NewSyscallError("fcntl", err)
}
