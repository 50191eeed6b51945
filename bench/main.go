// Command bench measures what the program must reach, as ratios to its peers side by
// side in one run, prints a table and writes results/latest.json.
//
// An absolute time proves nothing on a machine that is shared: each line alternates the
// two that it compares and takes the medians.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"runtime"
	"slices"
	"strings"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx))
}

func run(ctx context.Context) int {
	module := flag.String("module", "..", "folder of the module")
	out := flag.String("out", "results/latest.json", "where the results are written; empty: nowhere")
	document := flag.String("document", "../docs/performance.md", "document whose table of results, or with -scaling of growth, is rewritten; empty: none")
	only := flag.String("only", "", "measure only the lines whose name has one of these, separated by commas, in it; nothing is written")
	growth := flag.Bool("scaling", false, "measure how time grows with rows, rules, edges and cores instead")
	profile := flag.String("profile", "", "write a CPU profile of the stream, server and client in one process, to this file instead")
	guide := flag.String("guide", "", "write a CPU profile of streams and of the command line to this file instead, for the compiler")
	flag.Parse()
	if *usedCores < 1 || *usedCores > cores {
		fmt.Fprintf(os.Stderr, "bench: -cores %d is not 1 to %d\n", *usedCores, cores)
		return 1
	}
	if code, again := onTwoCores(); again {
		return code
	}
	b, err := newBench(ctx, *module, os.Getenv("BENCH_FAST") == "1")
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		return 1
	}
	defer b.close()
	switch {
	case *growth:
		err = b.scaling(ctx, os.Stdout, *document)
	case *profile != "":
		err = b.profileStream(ctx, *profile, false)
	case *guide != "":
		err = b.profileStream(ctx, *guide, true)
	default:
		err = b.measure(ctx, os.Stdout, *out, *document, *only)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		return 1
	}
	return 0
}

// cores is what everyone gets.
const cores = 2

// usedCores are fewer only to see how time grows.
var usedCores = flag.Int("cores", cores, "with -scaling: how many cores client and server have together")

// onTwoCores runs the program anew on two cores of a machine that has more, or on one
// where that is asked for.
func onTwoCores() (code int, again bool) {
	if runtime.NumCPU() <= *usedCores {
		return 0, false
	}
	list := map[int]string{1: "0", 2: "0,1"}[*usedCores]
	cmd := exec.Command("taskset", slices.Concat([]string{"-c", list}, os.Args)...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, os.Stdout, os.Stderr
	if err := cmd.Run(); err != nil {
		fmt.Fprintln(os.Stderr, "bench: on", *usedCores, "cores:", err)
		return 1, true
	}
	return 0, true
}

// wants reports whether a line was asked for.
func wants(only, name string) bool {
	return only == "" || slices.ContainsFunc(strings.Split(only, ","), func(part string) bool { return strings.Contains(name, part) })
}
