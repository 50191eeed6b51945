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
// inventory file to a file of answers. The command writes doses and words besides.
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
		func() (time.Duration, error) { return b.prescribe(ctx, server.Address, in) },
		func() (time.Duration, error) { return duck.Prescribe(in, filepath.Join(b.dir, "by-duckdb.csv"), cores) },
	)
	if err != nil {
		return nil, err
	}
	ours, theirs := each(medians[0], rows), each(medians[1], rows)
	size, err := os.Stat(in)
	if err != nil {
		return nil, err
	}
	speed := float64(size.Size()) / 1e6 / medians[0].Seconds()
	return []result{{line: duckLine, ratio: theirs / ours, measured: fmt.Sprintf("%s (%.0f MB/s in)", nanoseconds(ours), speed), peer: nanoseconds(theirs)}}, nil
}

func (b *bench) prescribe(ctx context.Context, address, in string) (time.Duration, error) {
	return took(func() error {
		if out, err := exec.CommandContext(ctx, b.programs.Client(), b.prescribeArgs(address, in)...).CombinedOutput(); err != nil {
			return fmt.Errorf("rootward prescribe: %w\n%s", err, out)
		}
		return nil
	})
}

func (b *bench) prescribeArgs(address, in string) []string {
	return []string{"prescribe", in, "--date", "2026-08-10", "--server", address, "--standing", "certified",
		"--formulation", strings.Join(question.Formulations, ","), "--out-csv", filepath.Join(b.dir, "prescribed.csv"), "--out-explanations", filepath.Join(b.dir, "explanations.csv")}
}
