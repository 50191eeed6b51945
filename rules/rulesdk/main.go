package rulesdk

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulewire"
)

// The exit codes of a plugin.
const (
	exitOK     = 0
	exitFaulty = 1 // the table cannot be described or served
	exitUsage  = 2 // started by hand, or with arguments it does not know
)

// Main is the whole main function of a rule plugin. It does not return.
func Main(table func() rules.Table) { MainWith(Plugin{Table: table}) }

// MainWith is Main for a plugin that also computes rows. It does not return.
func MainWith(p Plugin) {
	os.Exit(run(os.Args, os.Getenv, os.Stdout, os.Stderr, p))
}

func run(args []string, getenv func(string) string, stdout, stderr io.Writer, p Plugin) int {
	name := filepath.Base(args[0])
	switch {
	case len(args) == 2 && args[1] == ruleplugin.DescribeFlag:
		return describe(name, stdout, stderr, p.Table)
	case len(args) > 1:
		fmt.Fprintf(stderr, "%s: knows no argument but %s\n", name, ruleplugin.DescribeFlag)
		return exitUsage
	case getenv(ruleplugin.Cookie) != ruleplugin.CookieValue:
		fmt.Fprintf(stderr, "%s is a Rootward rule plugin: a compiled rule set that the server starts from its plugins folder. It does nothing when started by hand. To see whose rules it holds, run: %s %s\n",
			name, name, ruleplugin.DescribeFlag)
		return exitUsage
	}
	// Asked before the handshake: later the host may be gone already.
	go watchParent(os.Getppid(), os.Getppid, parentCheck, func() { os.Exit(exitOK) })
	if err := ruleplugin.Serve(ServiceWith(p, stderr)); err != nil {
		fmt.Fprintf(stderr, "%s: %s\n", name, err)
		return exitFaulty
	}
	return exitOK
}

func describe(name string, stdout, stderr io.Writer, table func() rules.Table) int {
	set, err := compile(table)
	if err != nil {
		fmt.Fprintf(stderr, "%s: the rule table does not load:\n%s\n", name, err)
		return exitFaulty
	}
	d := ruleplugin.Describe(set)
	if err := d.Write(stdout); err != nil {
		fmt.Fprintf(stderr, "%s: writing the description: %s\n", name, err)
		return exitFaulty
	}
	return exitOK
}

// compile validates the table as a host sees it, so after it was on the wire.
func compile(table func() rules.Table) (set *rules.Set, err error) {
	defer func() {
		if p := recover(); p != nil {
			set, err = nil, panicked(p)
		}
	}()
	t := table()
	decoded, err := rulewire.DecodeTable(rulewire.EncodeTable(&t))
	if err != nil {
		return nil, err
	}
	return rules.NewSet(decoded)
}

// panicked says why there is no table: what RuleSet.Table found wrong with it, as it
// found it, or that the code failed.
func panicked(p any) error {
	if faults, ok := p.(Faults); ok {
		return faults
	}
	return fmt.Errorf("compiling the rule table panicked: %v", p)
}

// parentCheck is how often a plugin looks whether its host still lives. On Linux
// the host also asks the kernel to end the plugin with it; this watch is for
// other systems and for hosts that do not ask.
const parentCheck = time.Second

// watchParent calls exit once the parent is another process than at first: an
// orphan is given to another parent.
func watchParent(first int, parent func() int, every time.Duration, exit func()) {
	for range time.Tick(every) {
		if parent() != first {
			exit()
			return
		}
	}
}
