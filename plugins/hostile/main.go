//go:build linux

// Command hostile is a rule plugin that tries to get out, for the tests of what keeps
// it in. Its file name says how: copied to "reads-passwd", it reads /etc/passwd. It
// tries when a host starts it, writes one line about what came of it to standard
// error, and then serves a valid table. With the argument --act it tries and ends.
//
// The line is "reads-passwd: DONE" if it got through, and "reads-passwd: DENIED" with
// the reason if it did not.
package main

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulesdk"
)

// act tries one thing. It gives nil if it succeeds in what it should not, and else
// what kept it.
type act func() error

// stderr is the process's own; the handshake puts another in its place.
var stderr = os.Stderr

func main() {
	name := filepath.Base(os.Args[0])
	if name == executedAgain {
		fmt.Fprintln(stderr, "DONE")
		return
	}
	if slices.Equal(os.Args[1:], []string{"--list"}) {
		list()
		return
	}
	if serve, ok := replies[name]; ok {
		serve(name)
		return
	}
	try, ok := acts()[name]
	if !ok {
		fmt.Fprintf(stderr, "%q is no act; copy this program to the name of one: see --list\n", name)
		os.Exit(2)
	}
	if slices.Equal(os.Args[1:], []string{"--act"}) {
		report(name, try())
		return
	}
	if !describing() {
		report(name, try())
	}
	rulesdk.Main(func() rules.Table { return table(name) })
}

func describing() bool { return len(os.Args) > 1 }

func report(name string, err error) {
	if err != nil {
		fmt.Fprintf(stderr, "%s: DENIED %v\n", name, err)
		return
	}
	fmt.Fprintf(stderr, "%s: DONE\n", name)
}

// acts gives all acts by name, but those that only a reply can do.
func acts() map[string]act {
	all := map[string]act{}
	for _, some := range []map[string]act{fileActs, networkActs, processActs, kernelActs, greedyActs} {
		maps.Copy(all, some)
	}
	return all
}

func list() {
	for _, name := range slices.Sorted(maps.Keys(acts())) {
		fmt.Println(name)
	}
	for _, name := range slices.Sorted(maps.Keys(replies)) {
		fmt.Println(name)
	}
}

// table is valid.
func table(id string) rules.Table {
	from := civil.Of(2024, 1, 1)
	return rules.Table{
		Manifest: rules.Manifest{
			ID: id, Version: "1", Title: "A rule set for tests", Publisher: "nobody",
			Layer: rules.District, Scope: "us/velmora/" + id, ValidFrom: from,
		},
		Rows: []rules.Row{{
			ID: "nothing", Purpose: "Nothing is treated here.", Citation: "invented for a test",
			ValidFrom: from, Effect: rules.Prohibit{},
		}},
	}
}
