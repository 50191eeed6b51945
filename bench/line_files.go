package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"example.org/rootward/bench/duck"
	"example.org/rootward/bench/question"
)

// files compares the command line, with the server that it asks, with DuckDB: from an
// inventory file to a file of answers. Both write which row it is, the outcome and the
// treatment; what the command takes to write everything is told beside.
func (b *bench) files(ctx context.Context) ([]result, error) {
	rows := int64(b.size(1_000_000, 200_000))
	in, err := b.file(rows)
	if err != nil {
		return nil, err
	}
	server, err := b.programs.Start(ctx, b.programs.Rules())
	if err != nil {
		return nil, err
	}
	defer server.Close()
	medians, err := alternately(b.size(5, 3),
		func() (time.Duration, error) { return b.prescribe(ctx, server.Address, in, b.sameAsPeers()) },
		func() (time.Duration, error) { return duck.Prescribe(in, filepath.Join(b.dir, "by-duckdb.csv"), cores) },
		func() (time.Duration, error) { return b.prescribe(ctx, server.Address, in, b.everything()) },
	)
	if err != nil {
		return nil, err
	}
	ours, theirs, all := each(medians[0], rows), each(medians[1], rows), each(medians[2], rows)
	size, err := os.Stat(in)
	if err != nil {
		return nil, err
	}
	speed := float64(size.Size()) / 1e6 / medians[0].Seconds()
	return []result{{line: duckLine, ratio: theirs / ours, measured: fmt.Sprintf("%s (%.0f MB/s in); with all doses and words %s, ratio %.3g", nanoseconds(ours), speed, nanoseconds(all), theirs/all), peer: nanoseconds(theirs)}}, nil
}

func (b *bench) prescribe(ctx context.Context, address, in string, files []string) (time.Duration, error) {
	return took(func() error {
		if out, err := exec.CommandContext(ctx, b.programs.Client(), b.prescribeArgs(address, in, files)...).CombinedOutput(); err != nil {
			return fmt.Errorf("rootward prescribe: %w\n%s", err, out)
		}
		return nil
	})
}

func (b *bench) prescribeArgs(address, in string, files []string) []string {
	return append([]string{"prescribe", in, "--date", "2026-08-10", "--server", address, "--standing", "certified",
		"--formulation", strings.Join(question.Formulations, ",")}, files...)
}

// sameAsPeers is the files of a command that writes what a peer does.
func (b *bench) sameAsPeers() []string {
	return []string{"--out-csv", filepath.Join(b.dir, "prescribed.csv"), "--columns", "occurrenceID,outcome,method,formulation_id"}
}

// everything is those of a command that writes all there is to say, what rows share once.
func (b *bench) everything() []string {
	return []string{"--out-csv", filepath.Join(b.dir, "prescribed.csv"), "--out-explanations", filepath.Join(b.dir, "explanations.csv")}
}
