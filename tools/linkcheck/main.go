// Command linkcheck reports the relative links in a folder's Markdown files
// that lead nowhere: to no file, or to a heading that its file does not have.
// Links to other hosts are left alone, so it needs no network.
//
//	linkcheck FOLDER
//
// A link that starts with a slash counts from FOLDER. Hidden folders are not
// entered. The exit status is 1 when a link is broken, 2 when a file cannot be
// read.
package main

import (
	"fmt"
	"io"
	"os"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

func run(args []string, stdout, stderr io.Writer) int {
	if len(args) != 1 {
		fmt.Fprintln(stderr, "usage: linkcheck FOLDER")
		return 2
	}
	links, broken, err := checkTree(args[0])
	if err != nil {
		fmt.Fprintln(stderr, "linkcheck:", err)
		return 2
	}
	for _, b := range broken {
		fmt.Fprintln(stderr, b)
	}
	fmt.Fprintf(stdout, "%d relative links, %d broken\n", links, len(broken))
	if len(broken) > 0 {
		return 1
	}
	return 0
}
