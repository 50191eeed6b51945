//go:build linux

package launcher

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"strings"
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

// execution is the one execve that seccomp lets through: the one whose three pointers
// are these. They are chosen by chance, and what lay there is gone once the plugin
// runs, so that it cannot repeat it: it would have to guess some 120 bits.
type execution struct{ path, argv, envp uintptr }

// newExecution puts the arguments of executing the plugin's file into memory.
func newExecution(argv, env []string) (*execution, error) {
	path, err := secretPlace([]byte(ownFile + "\x00"))
	if err != nil {
		return nil, err
	}
	args, err := pointers(argv)
	if err != nil {
		return nil, err
	}
	vars, err := pointers(env)
	if err != nil {
		return nil, err
	}
	return &execution{path: path, argv: args, envp: vars}, nil
}

// run becomes the plugin. It returns only on failure.
func (e *execution) run() error {
	_, _, errno := unix.RawSyscall(unix.SYS_EXECVE, e.path, e.argv, e.envp)
	return errno
}

// pointers puts strings, and after them an array of their addresses that ends in
// zero, into memory, and gives the address of the array.
func pointers(list []string) (uintptr, error) {
	text, err := secretPlace([]byte(strings.Join(list, "\x00") + "\x00"))
	if err != nil {
		return 0, err
	}
	var array []byte
	for _, s := range list {
		array = binary.NativeEndian.AppendUint64(array, uint64(text))
		text += uintptr(len(s)) + 1
	}
	return secretPlace(append(array, make([]byte, 8)...))
}

// secretPlace copies bytes to an address chosen by chance, outside what the Go
// runtime manages.
func secretPlace(content []byte) (uintptr, error) {
	const page = 4096
	size := uintptr(len(content)+2*page-1) / page * page
	// 46 bits are within what a process has on all 64-bit kernels but those for small
	// devices, which may have 39.
	for _, bits := range []int{46, 46, 46, 46, 38, 38, 38, 38} {
		at, err := chance(bits)
		if err != nil {
			return 0, err
		}
		within, err := chance(12)
		if err != nil {
			return 0, err
		}
		at, within = at&^(page-1), within&^7
		memory, err := unix.MmapPtr(-1, 0, unsafe.Add(nil, at), size,
			unix.PROT_READ|unix.PROT_WRITE, unix.MAP_PRIVATE|unix.MAP_ANONYMOUS|unix.MAP_FIXED_NOREPLACE)
		if err != nil {
			continue
		}
		copy(unsafe.Slice((*byte)(unsafe.Add(memory, within)), len(content)), content)
		return uintptr(memory) + within, nil
	}
	return 0, errors.New("no memory for its arguments")
}

// chance gives a number of so many bits. The kernel gives as few bytes whole or, for want
// of the call, not at all, and there is then no launcher.
func chance(bits int) (uintptr, error) {
	var b [8]byte
	n, err := unix.Getrandom(b[:], 0)
	if err != nil || n != len(b) {
		return 0, fmt.Errorf("the kernel gives no random numbers (%d bytes): %w", n, cmp.Or(err, error(unix.EIO)))
	}
	return uintptr(binary.NativeEndian.Uint64(b[:]) >> (64 - bits)), nil
}

// explain says what to do about a file that could not be executed.
func explain(err error) error {
	if !errors.Is(err, syscall.EACCES) {
		return fmt.Errorf("executing it: %w; build it for this machine", err)
	}
	if loader := loaderOf(ownFile); loader != "" {
		return fmt.Errorf("executing it: %w; it needs %s: build it with CGO_ENABLED=0, or let it read that and its libraries", err, loader)
	}
	return fmt.Errorf("executing it: %w; let the server's user execute it, and let it read its interpreter", err)
}

// loaderOf gives the loader that a file linked at run time asks for, and nothing for
// any other file, nor for one of another kind of machine.
func loaderOf(path string) string {
	file, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer file.Close()
	// Of elf(5), Elf64_Ehdr and Elf64_Phdr.
	const (
		headerSize, magic                       = 64, "\x7fELF\x02"
		offPrograms, offProgramSize, offCount   = 32, 54, 56
		programSize, interpreter, offAt, offLen = 56, 3, 8, 32
	)
	header := make([]byte, headerSize)
	if _, err := file.ReadAt(header, 0); err != nil || string(header[:len(magic)]) != magic {
		return ""
	}
	native := binary.NativeEndian
	at, size := int64(native.Uint64(header[offPrograms:])), int64(native.Uint16(header[offProgramSize:]))
	for range native.Uint16(header[offCount:]) {
		program := make([]byte, programSize)
		if _, err := file.ReadAt(program, at); err != nil {
			return ""
		}
		if native.Uint32(program) == interpreter {
			name := make([]byte, min(native.Uint64(program[offLen:]), 256))
			_, _ = file.ReadAt(name, int64(native.Uint64(program[offAt:])))
			return strings.TrimRight(string(name), "\x00")
		}
		at += size
	}
	return ""
}
