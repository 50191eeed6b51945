// Generate writes the demo inventory, inventory.csv, its GeoJSON twin,
// inventory.geojson, and the map of the water of a part of the place.
//
//	go run ./testdata/demo/generate [-dir testdata/demo]
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"example.org/rootward/testdata/demo"
)

func main() { os.Exit(run(os.Args[1:], os.Stderr)) }

func run(args []string, stderr io.Writer) int {
	flags := flag.NewFlagSet("generate", flag.ContinueOnError)
	flags.SetOutput(stderr)
	dir := flags.String("dir", filepath.Join("testdata", "demo"), "folder to write to")
	if flags.Parse(args) != nil {
		return 2
	}
	rows := demo.Rows()
	for name, content := range map[string][]byte{
		"inventory.csv":     demo.CSV(rows),
		"inventory.geojson": demo.GeoJSON(rows),
		demo.MapFile:        demo.Map(),
	} {
		if err := os.WriteFile(filepath.Join(*dir, name), content, 0o644); err != nil {
			fmt.Fprintln(stderr, "generate:", err)
			return 1
		}
	}
	return 0
}
