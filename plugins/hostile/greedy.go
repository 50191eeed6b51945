//go:build linux

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"runtime"
	"strconv"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// greedyActs take more than they are given.
var greedyActs = map[string]act{
	"exhausts-memory":        maps64(256, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_PRIVATE|unix.MAP_ANONYMOUS),
	"exhausts-shared-memory": maps64(1, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED|unix.MAP_ANONYMOUS),
	"exhausts-page-tables":   maps64(1<<14, unix.PROT_READ, unix.MAP_PRIVATE|unix.MAP_ANONYMOUS|unix.MAP_NORESERVE),
	"exhausts-the-heap":      exhaustHeap,
	"exhausts-descriptors":   exhaustDescriptors,
	"exhausts-threads":       exhaustThreads,
	"exhausts-processors":    exhaustProcessors,
	"fills-with-files":       fillWithFiles,
	"fills-a-pipe":           growPipe,
	"floods-stderr":          floods(func() *os.File { return stderr }),
	"floods-stdout":          floods(func() *os.File { return os.Stdout }),
	"stops-itself":           func() error { return syscall.Kill(os.Getpid(), syscall.SIGSTOP) },
}

// maps64 takes pieces of 64 MiB. It gives them back, since the runtime needs some.
func maps64(pieces, protection, flags int) act {
	return func() error {
		for i := range pieces {
			piece, err := unix.Mmap(-1, 0, 64<<20, protection, flags)
			if err != nil {
				return fmt.Errorf("after %d MiB: %w", 64*i, err)
			}
			defer func() { _ = unix.Munmap(piece) }()
		}
		return nil
	}
}

var kept [][]byte

// exhaustHeap writes to 8 GiB. The Go runtime ends a program that gets no more memory.
func exhaustHeap() error {
	for range 128 {
		kept = append(kept, bytes.Repeat([]byte{1}, 64<<20))
	}
	return nil
}

// exhaustDescriptors gives them back, since a socket needs some.
func exhaustDescriptors() error {
	for i := range 1_000 {
		fd, err := syscall.Dup(0)
		if err != nil {
			return fmt.Errorf("after %d: %w", i, err)
		}
		defer syscall.Close(fd)
	}
	return nil
}

// exhaustThreads keeps 4,000 threads.
func exhaustThreads() error {
	started := make(chan struct{})
	for range 4_000 {
		go func() {
			runtime.LockOSThread()
			started <- struct{}{}
			select {}
		}()
		<-started
	}
	return nil
}

// exhaustProcessors keeps all of them busy, and ends never.
func exhaustProcessors() error {
	for range runtime.NumCPU() {
		go func() {
			for n := 0; ; n++ {
				_ = n
			}
		}()
	}
	time.Sleep(time.Hour)
	return nil
}

// fillWithFiles makes up to a million empty files.
func fillWithFiles() error {
	for i := range 1_000_000 {
		f, err := os.Create(inFolder(strconv.Itoa(i)))
		if err != nil {
			return fmt.Errorf("after %d: %w", i, err)
		}
		_ = f.Close()
	}
	return nil
}

// growPipe asks for kernel memory.
func growPipe() error {
	var ends [2]int
	if err := unix.Pipe2(ends[:], unix.O_CLOEXEC); err != nil {
		return err
	}
	_, err := unix.FcntlInt(uintptr(ends[1]), unix.F_SETPIPE_SZ, 1<<20)
	return err
}

// floods writes for as long as somebody reads.
func floods(to func() *os.File) act {
	return func() error {
		line := append(bytes.Repeat([]byte("x"), 1<<10), '\n')
		for {
			if _, err := to().Write(line); err != nil {
				return errors.Join(errors.New("nobody reads"), err)
			}
		}
	}
}
