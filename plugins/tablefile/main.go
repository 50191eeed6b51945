// Command tablefile makes rule plugins out of rule tables that are kept as text, for
// agencies that do not write Go. docs/table-file.md is the format of the text.
//
//	tablefile --check FILE...    tells everything that is wrong with the texts, and
//	                             what their worked cases do not show
//	tablefile --bind FILE OUT    writes OUT, a rule plugin that serves the text, if
//	                             its worked cases show all that its rows say
//	tablefile --print [PROGRAM]  prints the text that a bound program holds
//	tablefile --schema           prints the JSON Schema for editors
//
// What --bind wrote is started by the server as any other rule plugin is.
package main

import (
	"fmt"
	"io"
	"os"

	"example.org/rootward/plugins/tablefile/tabletext"
	"example.org/rootward/rules"
	"example.org/rootward/rules/ruleplugin"
	"example.org/rootward/rules/rulesdk"
)

// The exit codes.
const (
	exitOK     = 0
	exitFaulty = 1 // a text or a file is not as it must be, or worked cases are missing
	exitUsage  = 2 // the arguments are not
)

const usage = `usage: tablefile --check FILE...
       tablefile --bind FILE OUT
       tablefile --print [PROGRAM]
       tablefile --schema
`

func main() {
	if code, done := command(os.Args[1:], os.Stdout, os.Stderr); done {
		os.Exit(code)
	}
	set, err := boundSet()
	if err != nil {
		fmt.Fprintf(os.Stderr, "tablefile: %s\n%sA bound program also knows %s.\n", err, usage, ruleplugin.DescribeFlag)
		os.Exit(exitFaulty)
	}
	rulesdk.Main(func() rules.Table { return set.Table })
}

// command carries out what the arguments ask for, and reports false when they are
// those of a rule plugin.
func command(args []string, stdout, stderr io.Writer) (code int, done bool) {
	if len(args) == 0 || args[0] == ruleplugin.DescribeFlag {
		return 0, false
	}
	var err error
	switch {
	case args[0] == "--check" && len(args) > 1:
		err = checkAll(args[1:], stdout)
	case args[0] == "--bind" && len(args) == 3:
		err = bindFile(args[1], args[2], stdout)
	case args[0] == "--print" && len(args) <= 2:
		err = printBound(args[1:], stdout)
	case args[0] == "--schema" && len(args) == 1:
		_, err = stdout.Write(tabletext.Schema)
	default:
		fmt.Fprint(stderr, usage)
		return exitUsage, true
	}
	if err != nil {
		fmt.Fprintln(stderr, err)
		return exitFaulty, true
	}
	return exitOK, true
}

// boundSet is the table that this program holds.
func boundSet() (*rules.Set, error) {
	f, err := self()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, _, err := readBound(f)
	if err != nil {
		return nil, err
	}
	return tabletext.Read("the bound table", text)
}
