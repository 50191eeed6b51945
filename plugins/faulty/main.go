// Command faulty is a rule plugin that misbehaves, for the tests of the host. Its
// file name says how: copied to "hangs", it hangs. It is one program under many
// names because each build of a plugin takes seconds.
package main

import (
	"fmt"
	"os"
	"path/filepath"
)

// faults holds the main function of each fault, by file name.
var faults = map[string]func(name string){
	"sound":              sound,
	"crashes":            beforeHandshake(func(string) { panic("a fault of its own") }),
	"hangs":              beforeHandshake(tellProcessAndHang),
	"hangs-describing":   forever,
	"writes-garbage":     beforeHandshake(writeGarbage),
	"looks-around":       beforeHandshake(lookAround),
	"leaves-a-child":     beforeHandshake(leaveChild),
	"crashes-compiling":  whenCompiling(func(string) { os.Exit(7) }),
	"panics-compiling":   whenCompiling(func(string) { panic("row 3 of nothing") }),
	"hangs-compiling":    whenCompiling(forever),
	"stops-compiling":    whenCompiling(stop),
	"chatters-compiling": whenCompiling(chatter),
	"invalid-table":      invalidTable,
	"no-citation":        serving(withoutCitation),
	"unknown-effect":     serving(withUnknownEffect),
	"other-digest":       serving(withAnotherVersion),
	"changes-its-mind":   serving(withVersionByCall()),
	"next-contract":      nextContract,

	"writes-later":          whenCompiling(writeLater),
	"writes-a-file":         whenCompiling(writeFile),
	"needs-its-environment": needEnvironment,
	"follows-its-time-zone": followTimeZone,
	"describes-then-fails":  describeThenFail,
	"describes-and-chats":   describeAndChat,
	"starts-by-hand":        startByHand,
	"speaks-in-the-clear":   speakInTheClear,
	"takes-any-contract":    takeAnyContract,
	"outlives-its-host":     outliveHost,
	"stays-when-asked":      stayWhenAsked,
	"other-scope":           serving(withAnotherScope),
	"unknown-word":          serving(withUnknownWord),
	"huge-reply":            serving(withHugeTitle),
}

func init() {
	for name := range seeded {
		faults[name] = serveSeeded
	}
}

func main() {
	name := filepath.Base(os.Args[0])
	fault, ok := faults[name]
	if !ok {
		fmt.Fprintf(os.Stderr, "%q is no fault; copy this program to the name of one\n", name)
		os.Exit(2)
	}
	fault(name)
}
