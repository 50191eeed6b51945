// Generate writes an invented inventory of any size.
//
//	go run ./testdata/many/generate -rows 1000000 [-seed 1] [-format csv|parquet] -o FILE
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"

	"example.org/rootward/testdata/many"
)

func main() { os.Exit(run(os.Args[1:], os.Stderr)) }

var formats = map[string]func(w io.Writer, seed uint64, rows int64) error{"csv": many.WriteCSV, "parquet": many.WriteParquet}

func run(args []string, stderr io.Writer) int {
	flags := flag.NewFlagSet("generate", flag.ContinueOnError)
	flags.SetOutput(stderr)
	rows := flags.Int64("rows", 0, "rows, at least 1")
	seed := flags.Uint64("seed", 1, "another seed gives another inventory")
	format := flags.String("format", "csv", "csv or parquet")
	path := flags.String("o", "", "file to write")
	if flags.Parse(args) != nil {
		return 2
	}
	if write := formats[*format]; write == nil || *rows < 1 || *path == "" {
		fmt.Fprintln(stderr, "generate: state -rows of at least 1, -format csv or parquet, and a file with -o")
		return 2
	}
	if err := generate(*path, func(w io.Writer) error { return formats[*format](w, *seed, *rows) }); err != nil {
		fmt.Fprintln(stderr, "generate:", err)
		return 1
	}
	return 0
}

// generate leaves no part of a file behind.
func generate(path string, write func(io.Writer) error) error {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := errors.Join(write(file), file.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return nil
}
