package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/testdata/many"

	"example.org/rootward/bench/core"
	"example.org/rootward/bench/postgres"
	"example.org/rootward/bench/question"
	"example.org/rootward/bench/serving"
)

// bench is what the lines share.
type bench struct {
	fast     bool // a quick look: fewer runs of less
	module   string
	dir      string // temporary
	programs *serving.Programs
	sets     []*rules.Set
	cluster  *postgres.Cluster // nil until it is asked for
}

func newBench(ctx context.Context, module string, fast bool) (*bench, error) {
	dir, err := os.MkdirTemp("", "rootward-bench-")
	if err != nil {
		return nil, err
	}
	b := &bench{fast: fast, module: module, dir: dir}
	if b.programs, err = serving.Build(ctx, module, dir); err == nil {
		b.sets, err = core.Sets(ctx, b.programs.Rules(), core.RuleSets...)
	}
	if err != nil {
		b.close()
		return nil, err
	}
	return b, nil
}

func (b *bench) close() {
	if b.cluster != nil {
		b.cluster.Close()
	}
	os.RemoveAll(b.dir)
}

// database gives the cluster, which is started when it is first asked for.
func (b *bench) database(ctx context.Context) (*postgres.Cluster, error) {
	if b.cluster == nil {
		c, err := postgres.Start(ctx)
		if err != nil {
			return nil, err
		}
		b.cluster = c
	}
	return b.cluster, nil
}

// runs is how often each is measured.
func (b *bench) runs() int { return b.size(7, 3) }

// size gives the first number, or the second for a quick look.
func (b *bench) size(full, quick int) int {
	if b.fast {
		return quick
	}
	return full
}

// group measures one or more lines together.
type group struct {
	lines []line
	run   func(*bench, context.Context) ([]result, error)
}

var groups = []group{
	{[]line{decisionLine}, (*bench).decision},
	{[]line{limitLine, opaLine, celLine, sqlLine}, (*bench).stream},
	{[]line{duckLine}, (*bench).files},
	{[]line{postgisLine, errorLine}, (*bench).water},
	{[]line{memoryLine}, (*bench).memory},
	{[]line{durableLine}, (*bench).durable},
	{[]line{hookLine}, (*bench).hook},
	{[]line{startLine}, (*bench).starting},
	{[]line{unaryLine}, (*bench).unary},
}

// measure measures the lines, and writes them if all were asked for. What disagrees in
// an answer ends it.
func (b *bench) measure(ctx context.Context, out io.Writer, path, document, only string) error {
	if err := b.agree(ctx); err != nil {
		return fmt.Errorf("before anything is measured: %w", err)
	}
	var results []result
	for _, g := range groups {
		if !slices.ContainsFunc(g.lines, func(l line) bool { return wants(only, l.name) }) {
			continue
		}
		fmt.Fprintf(os.Stderr, "measuring: %s\n", g.lines[0].name)
		measured, err := g.run(b, ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		for i, l := range g.lines {
			switch {
			case err != nil:
				results = append(results, l.missing(err))
			default:
				results = append(results, measured[i])
			}
		}
	}
	if err := print(out, results); err != nil || only != "" || path == "" {
		return err
	}
	if err := write(path, results); err != nil || document == "" {
		return err
	}
	return insert(document, "results", table(results))
}

// inventory is drawn rows as a stream carries them.
type inventory struct {
	rows   int64
	begin  *treatmentv1.StreamBegin
	chunks []*treatmentv1.StemChunk
}

// The seed of all that is drawn, and the rows of a chunk.
const (
	seed      = 20_261_125
	chunkRows = 16_384
)

func draw(rows int64) *inventory {
	return &inventory{rows, begin(rows), slices.Collect(many.Chunks(seed, rows, chunkRows))}
}

// begin is the beginning of a stream with the question's settings.
func begin(rows int64) *treatmentv1.StreamBegin {
	b := many.Begin(rows)
	b.Settings = &treatmentv1.Settings{FormulationIds: question.Formulations, Standing: commonv1.Standing_STANDING_CERTIFIED}
	return b
}

// file writes an inventory of so many rows.
func (b *bench) file(rows int64) (string, error) {
	path := filepath.Join(b.dir, fmt.Sprintf("inventory-%d.csv", rows))
	f, err := os.Create(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	if err := many.WriteCSV(f, seed, rows); err != nil {
		return "", err
	}
	return path, f.Close()
}

// took gives how long something takes.
func took(what func() error) (time.Duration, error) {
	began := time.Now()
	err := what()
	return time.Since(began), err
}

// alternately measures each of several in turn, so many times, and gives their medians.
func alternately(runs int, what ...measure) ([]time.Duration, error) {
	all := make([][]time.Duration, len(what))
	for range runs {
		for i, measure := range what {
			d, err := measure()
			if err != nil {
				return nil, err
			}
			all[i] = append(all[i], d)
		}
	}
	medians := make([]time.Duration, len(what))
	for i, list := range all {
		slices.Sort(list)
		medians[i] = list[len(list)/2]
	}
	return medians, nil
}

// each gives nanoseconds a row.
func each(d time.Duration, rows int64) float64 { return float64(d.Nanoseconds()) / float64(rows) }

func nanoseconds(ns float64) string { return fmt.Sprintf("%.4g ns", ns) }
