package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

// stderr is the process's own; the handshake puts another in its place.
var stderr = os.Stderr

// beforeHandshake describes and serves a valid table, and does something first
// when a host starts it.
func beforeHandshake(do func(name string)) func(string) {
	return func(name string) {
		if !describing() {
			do(name)
		}
		sound(name)
	}
}

// whenCompiling describes and serves a valid table, and does something each time a
// host asks for it.
func whenCompiling(do func(name string)) func(string) {
	return func(name string) {
		rulesdk.Main(func() rules.Table {
			if !describing() {
				do(name)
			}
			return table(name)
		})
	}
}

func forever(string) { time.Sleep(time.Hour) }

func writeGarbage(string) { fmt.Println("loading rules, please wait") }

func tellProcessAndHang(name string) {
	fmt.Fprintln(stderr, "process", os.Getpid())
	forever(name)
}

// stop has the kernel stop the process: it then ends at no polite request.
func stop(string) { _ = syscall.Kill(syscall.Getpid(), syscall.SIGSTOP) }

// chatter writes where it should not, a line that looks like a log entry, and a
// line that is far too long.
func chatter(string) {
	fmt.Println("on standard output")
	fmt.Fprintln(stderr, `{"@message":1}`)
	fmt.Fprintln(stderr, strings.Repeat("x", 200_000))
}

// lookAround tells what of its host it can see.
func lookAround(string) {
	for _, entry := range os.Environ() {
		name, _, _ := strings.Cut(entry, "=")
		fmt.Fprintln(stderr, "sees", name)
	}
	text, err := io.ReadAll(os.Stdin)
	fmt.Fprintf(stderr, "reads %q %v\n", text, err)
}

// leaveChild starts a process that holds its output open.
func leaveChild(string) {
	child := exec.Command("/bin/sleep", "3600")
	child.Stderr = stderr
	if err := child.Start(); err != nil {
		panic(err)
	}
	fmt.Fprintln(stderr, "process", child.Process.Pid)
}

// needCompany waits until another plugin is starting too.
func needCompany(other string) func(string) {
	return func(name string) {
		self, err := os.Executable()
		if err != nil {
			panic(err)
		}
		here := func(n string) string { return filepath.Join(filepath.Dir(self), ".here-"+n) }
		if err := os.WriteFile(here(name), nil, 0o600); err != nil {
			panic(err)
		}
		for _, err := os.Stat(here(other)); err != nil; _, err = os.Stat(here(other)) {
			time.Sleep(time.Millisecond)
		}
	}
}
