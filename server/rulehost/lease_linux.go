package rulehost

import (
	"errors"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"slices"

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

// copyMapped writes a file that is leased to w, block by block, without reading it first.
// Its error is errors.ErrUnsupported where the file cannot be mapped; nothing is written
// then.
func copyMapped(w io.Writer, f *os.File) (n int64, err error) {
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	size := min(info.Size(), maxFile+1)
	if size == 0 {
		return 0, nil
	}
	// What is not in memory yet is read here, where others can go on meanwhile.
	text, err := unix.Mmap(int(f.Fd()), 0, int(size), unix.PROT_READ, unix.MAP_PRIVATE|unix.MAP_POPULATE)
	if err != nil {
		return 0, errors.Join(errors.ErrUnsupported, err)
	}
	defer unix.Munmap(text)
	// A page is gone if the disk fails, or if somebody cut the file who waited for longer than
	// the kernel keeps up a lease (45 s).
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		switch fault := recover().(type) {
		case nil:
		case interface {
			runtime.Error
			Addr() uintptr
		}:
			err = errors.New("a part of it went away meanwhile: it was cut, or its disk fails")
		default:
			panic(fault)
		}
	}()
	for b := range slices.Chunk(text, block) {
		written, err := w.Write(b)
		n += int64(written)
		if err != nil {
			return n, err
		}
	}
	return n, nil
}
