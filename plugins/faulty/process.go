package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"time"

	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
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
	child.Stdin, child.Stdout, child.Stderr = os.Stdin, stderr, stderr
	if err := child.Start(); err != nil {
		panic(err)
	}
	fmt.Fprintln(stderr, "process", child.Process.Pid)
}

// writeLater writes to standard output when the host has its table.
func writeLater(string) {
	go func() {
		time.Sleep(20 * time.Millisecond)
		fmt.Println("all rules are loaded")
	}()
}

func writeFile(string) { _ = os.WriteFile("rules.cache", []byte("cached"), 0o600) }

// needEnvironment does not start without its user's home.
func needEnvironment(name string) {
	if os.Getenv("HOME") == "" {
		fmt.Fprintln(stderr, "HOME is not set")
		os.Exit(1)
	}
	sound(name)
}

// followTimeZone gives a table that depends on where the host stands.
func followTimeZone(name string) {
	rulesdk.Main(func() rules.Table {
		t := table(name)
		t.Manifest.Title += " in " + time.Local.String() + os.Getenv("TZ")
		return t
	})
}

func describeThenFail(name string) {
	if describing() {
		writeDescription(name)
		os.Exit(3)
	}
	sound(name)
}

func describeAndChat(name string) {
	if describing() {
		writeDescription(name)
		fmt.Println("that was all")
		os.Exit(0)
	}
	sound(name)
}

// startByHand takes whoever starts it for its host.
func startByHand(name string) {
	if !describing() && !hosted() {
		os.Exit(0)
	}
	sound(name)
}

// speakInTheClear takes a host without a certificate for one to speak with.
func speakInTheClear(name string) {
	if !describing() && hosted() && os.Getenv(ruleplugin.ClientCertificate) == "" {
		fmt.Println("1|1|unix|/run/rules.sock|grpc|")
		os.Exit(0)
	}
	sound(name)
}

// outliveHost does not look whether its host lives.
func outliveHost(name string) { serving(func(*ruletablev1.Table) {})(name) }

// stayWhenAsked does not end when its host asks it to.
func stayWhenAsked(name string) {
	outliveHost(name)
	forever(name)
}

func writeDescription(name string) {
	set, err := rules.NewSet(table(name))
	if err != nil {
		panic(err)
	}
	d := ruleplugin.Describe(set)
	if err := d.Write(os.Stdout); err != nil {
		panic(err)
	}
}
