package command

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"example.org/rootward/client/inventory"
	"example.org/rootward/client/page"
)

// version is the command of that name.
type version struct{}

// Run shows what the program was built from.
func (*version) Run(r *run) error {
	built := "unknown"
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		built = info.Main.Version
	}
	_, err := fmt.Fprintf(r.stdout, "rootward %s, API rootward.treatment.v1 and rootward.ruleset.v1, %s %s/%s\n", built, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return err
}

// columns is the command of that name.
type columns struct{}

// Run lists the columns of an inventory.
func (*columns) Run(r *run) error {
	p := page.On(r.stdout)
	for _, c := range inventory.Columns() {
		need := ""
		if c.Required {
			need = " (required)"
		}
		p.Line("%s%s", c.Name, need)
		p.Text("    ", c.Meaning+"; "+c.Type)
	}
	return p.Err()
}
