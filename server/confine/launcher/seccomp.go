//go:build linux

package launcher

import (
	"fmt"
	"maps"
	"os"
	"slices"
	"unsafe"

	"github.com/elastic/go-seccomp-bpf/arch"
	"golang.org/x/net/bpf"
	"golang.org/x/sys/unix"
)

// check is what one argument of a system call must be: the bits under the mask, of
// all 64, equal to the value.
type check struct {
	argument    int
	mask, value uint64
}

// either is the alternatives of checks under which a call is allowed; all of one must
// hold.
type either [][]check

func is(argument int, value uint64) check { return check{argument, ^uint64(0), value} }

func bits(argument int, mask, value uint64) check { return check{argument, mask, value} }

// oneOf allows a call whose argument is one of the values.
func oneOf(argument int, values ...uint64) either {
	var list either
	for _, v := range values {
		list = append(list, []check{is(argument, v)})
	}
	return list
}

// with asks for one check more in each alternative.
func with(more check, alternatives either) either {
	for i := range alternatives {
		alternatives[i] = append(alternatives[i], more)
	}
	return alternatives
}

// enterSeccomp refuses every system call that is not listed. The filter is assembled
// here and not by go-seccomp-bpf v1.6.0, of which the tables of system calls are
// used: where an argument does not match, its programs go on to compare the argument
// with the numbers of further calls, so that an argument of the caller's choice lets
// a refused call through.
func enterSeccomp(_ *Order, next *execution) error {
	program, err := filter(next)
	if err != nil {
		return err
	}
	instructions := make([]unix.SockFilter, len(program))
	for i, p := range program {
		instructions[i] = unix.SockFilter{Code: p.Op, Jt: p.Jt, Jf: p.Jf, K: p.K}
	}
	loaded := unix.SockFprog{Len: uint16(len(instructions)), Filter: &instructions[0]}
	thread, _, errno := unix.Syscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, unix.SECCOMP_FILTER_FLAG_TSYNC, uintptr(unsafe.Pointer(&loaded)))
	if errno != 0 {
		return fmt.Errorf("the kernel does not take the filter: %w", errno)
	}
	if thread != 0 {
		return fmt.Errorf("thread %d does not take the filter", thread)
	}
	return nil
}

const (
	allow  = uint32(unix.SECCOMP_RET_ALLOW)
	refuse = uint32(unix.SECCOMP_RET_ERRNO) | uint32(unix.EPERM)
	absent = uint32(unix.SECCOMP_RET_ERRNO) | uint32(unix.ENOSYS)
)

// Offsets in the kernel's struct seccomp_data.
const (
	offNumber       = 0
	offArchitecture = 4
	offArguments    = 16
)

// filter is the program by which the kernel judges each call. Every call has a block
// of its own that ends in a verdict; none goes on into the next.
func filter(next *execution) ([]bpf.RawInstruction, error) {
	machine, err := arch.GetInfo("")
	if err != nil {
		return nil, fmt.Errorf("system calls of this machine are not known: %w", err)
	}
	program := []bpf.Instruction{
		bpf.LoadAbsolute{Off: offArchitecture, Size: 4},
		// Calls by the numbers of another architecture are refused altogether.
		bpf.JumpIf{Cond: bpf.JumpEqual, Val: uint32(machine.ID), SkipTrue: 1},
		bpf.RetConstant{Val: refuse},
		bpf.LoadAbsolute{Off: offNumber, Size: 4},
	}
	for _, name := range plain {
		program = append(program, block(machine, name, bpf.RetConstant{Val: allow})...)
	}
	for _, name := range missing {
		program = append(program, block(machine, name, bpf.RetConstant{Val: absent})...)
	}
	self := uint64(os.Getpid())
	judged := maps.Clone(conditional)
	judged["kill"], judged["tgkill"] = oneOf(0, self), oneOf(0, self)
	judged["execve"] = either{{is(0, uint64(next.path)), is(1, uint64(next.argv)), is(2, uint64(next.envp))}}
	for _, name := range slices.Sorted(maps.Keys(judged)) {
		program = append(program, block(machine, name, verdict(judged[name])...)...)
	}
	return bpf.Assemble(append(program, bpf.RetConstant{Val: refuse}))
}

// block does something at one call; it is empty where the machine has no such call.
func block(machine *arch.Info, name string, body ...bpf.Instruction) []bpf.Instruction {
	number, ok := machine.SyscallNames[name]
	if !ok {
		return nil
	}
	return append([]bpf.Instruction{
		bpf.JumpIf{Cond: bpf.JumpNotEqual, Val: uint32(number), SkipTrue: uint8(len(body))},
	}, body...)
}

// verdict allows the call if all checks of one alternative hold.
func verdict(alternatives either) []bpf.Instruction {
	var program []bpf.Instruction
	for _, checks := range alternatives {
		var tests []bpf.Instruction
		for i := len(checks) - 1; i >= 0; i-- {
			tests = append(halves(checks[i], len(tests)+1), tests...)
		}
		program = append(program, append(tests, bpf.RetConstant{Val: allow})...)
	}
	return append(program, bpf.RetConstant{Val: refuse})
}

// halves compares both halves of an argument, and skips what follows within the
// alternative unless both are equal.
func halves(c check, rest int) []bpf.Instruction {
	low, high := offArguments+8*uint32(c.argument), offArguments+8*uint32(c.argument)+4
	if bigEndian {
		low, high = high, low
	}
	return []bpf.Instruction{
		bpf.LoadAbsolute{Off: high, Size: 4},
		bpf.ALUOpConstant{Op: bpf.ALUOpAnd, Val: uint32(c.mask >> 32)},
		bpf.JumpIf{Cond: bpf.JumpNotEqual, Val: uint32(c.value >> 32), SkipTrue: uint8(3 + rest)},
		bpf.LoadAbsolute{Off: low, Size: 4},
		bpf.ALUOpConstant{Op: bpf.ALUOpAnd, Val: uint32(c.mask)},
		bpf.JumpIf{Cond: bpf.JumpNotEqual, Val: uint32(c.value), SkipTrue: uint8(rest)},
	}
}

var bigEndian = func() bool {
	n := uint16(1)
	return *(*byte)(unsafe.Pointer(&n)) == 0
}()
