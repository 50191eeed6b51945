// Convert writes inventory.csv from the measured files beside it.
//
//	go run ./testdata/open/convert [-dir testdata/open]
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"example.org/rootward/testdata/open"
)

func main() { os.Exit(run(os.Args[1:], os.Stderr)) }

// run reads and writes in one folder; it leaves the old inventory if it fails.
func run(args []string, stderr io.Writer) int {
	flags := flag.NewFlagSet("convert", flag.ContinueOnError)
	flags.SetOutput(stderr)
	dir := flags.String("dir", filepath.Join("testdata", "open"), "folder of the measured files and of inventory.csv")
	if flags.Parse(args) != nil {
		return 2
	}
	inventory, err := open.Inventory(os.DirFS(*dir))
	if err == nil {
		err = os.WriteFile(filepath.Join(*dir, "inventory.csv"), inventory, 0o644)
	}
	if err != nil {
		fmt.Fprintln(stderr, "convert:", err)
		return 1
	}
	return 0
}
