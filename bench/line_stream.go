package main

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"sync"
	"time"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/bench/cel"
	"example.org/rootward/bench/opa"
	"example.org/rootward/bench/postgres"
	"example.org/rootward/bench/serving"
)

func (v *inventory) all() iter.Seq[*treatmentv1.StemChunk] { return slices.Values(v.chunks) }

// first is the inventory's first chunks.
func (v *inventory) first(chunks int) *inventory {
	part := &inventory{begin: v.begin, chunks: v.chunks[:min(chunks, len(v.chunks))]}
	for _, c := range part.chunks {
		part.rows += int64(columnar.Rows(c))
	}
	return part
}

// stream compares PrescribeStream, client and server on the same two cores, with what
// its parts leave room for and with the peers, which have both cores, too.
func (b *bench) stream(ctx context.Context) ([]result, error) {
	v := draw(int64(b.size(2_000_000, 200_000)))
	server, err := b.programs.Start(ctx, b.programs.Rules())
	if err != nil {
		return nil, err
	}
	defer server.Close()
	client := treatmentv1.NewTreatmentServiceClient(server.Conn)
	limits, err := b.limits(ctx, client, v.first(32))
	if err != nil {
		return nil, err
	}
	s := limits[0].sample
	policy, err := b.policy(ctx, s)
	if err != nil {
		return nil, err
	}
	expression, err := b.expression(s)
	if err != nil {
		return nil, err
	}
	medians, err := alternately(b.runs(), slices.Concat(
		[]measure{func() (time.Duration, error) { return streamed(ctx, client, v) }, policy.run, expression.run},
		limits.atOnce(), limits[0].list(),
	)...)
	if err != nil {
		return nil, err
	}
	ours := each(medians[0], v.rows)
	against := func(l line, ns float64, more string) result {
		return result{line: l, ratio: ns / ours, measured: nanoseconds(ours), peer: nanoseconds(ns) + more}
	}
	both, alone := limits[0].costs(medians[3:]), limits[0].costs(medians[3+limitParts:])
	return []result{
		against(limitLine, both.byProtobuf(), fmt.Sprintf(" %s; with the product's codec %s %s; each part on one core while the other rests: %s, %s",
			&both, nanoseconds(both.byOwn()), both.ofOwn(), nanoseconds(alone.byProtobuf()), nanoseconds(alone.byOwn()))),
		against(opaLine, each(medians[1], policy.rows), ""),
		against(celLine, each(medians[2], expression.rows), ""),
		b.bySQL(ctx, client, v, s),
	}, nil
}

func streamed(ctx context.Context, c treatmentv1.TreatmentServiceClient, v *inventory) (time.Duration, error) {
	return took(func() error {
		summary, err := serving.Stream(ctx, c, v.begin, v.all(), nil)
		if err == nil && summary.GetTotals().GetRows() != v.rows {
			err = fmt.Errorf("%d rows were sent and %d answered", v.rows, summary.GetTotals().GetRows())
		}
		return err
	})
}

// peer answers so many rows at a run.
type peer struct {
	rows int64
	run  func() (time.Duration, error)
}

// onBothCores has one of two workers answer each half of the rows.
func onBothCores(rows int, answer func(worker, row int) error) (time.Duration, error) {
	return onCores(cores, rows, answer)
}

func onCores(cores, rows int, answer func(worker, row int) error) (time.Duration, error) {
	return took(func() error {
		errs := make([]error, cores)
		var all sync.WaitGroup
		for w := range cores {
			all.Go(func() {
				for i := rows * w / cores; i < rows*(w+1)/cores && errs[w] == nil; i++ {
					errs[w] = answer(w, i)
				}
			})
		}
		all.Wait()
		for _, err := range errs {
			if err != nil {
				return err
			}
		}
		return nil
	})
}

func (b *bench) policy(ctx context.Context, s *sample) (*peer, error) {
	rows := s.facts[:b.size(4_000, 1_000)]
	var workers [cores]*opa.Peer
	for w := range workers {
		var err error
		if workers[w], err = opa.New(ctx, rows); err != nil {
			return nil, err
		}
	}
	return &peer{int64(len(rows)), func() (time.Duration, error) {
		return onBothCores(len(rows), func(w, i int) error {
			_, err := workers[w].Answer(ctx, i)
			return err
		})
	}}, nil
}

func (b *bench) expression(s *sample) (*peer, error) {
	rows := s.facts
	var workers [cores]*cel.Peer
	for w := range workers {
		var err error
		if workers[w], err = cel.New(rows); err != nil {
			return nil, err
		}
	}
	return &peer{int64(len(rows)), func() (time.Duration, error) {
		return onBothCores(len(rows), func(w, i int) error {
			_, err := workers[w].Answer(i)
			return err
		})
	}}, nil
}

// bySQL compares with PostgreSQL by itself, since it may not be there.
func (b *bench) bySQL(ctx context.Context, client treatmentv1.TreatmentServiceClient, v *inventory, s *sample) result {
	table, closing, err := b.loaded(ctx, s)
	if err != nil {
		return sqlLine.missing(err)
	}
	defer closing()
	medians, err := alternately(b.runs(),
		func() (time.Duration, error) { return streamed(ctx, client, v) },
		func() (time.Duration, error) { return table.Aggregate(ctx) },
	)
	if err != nil {
		return sqlLine.missing(err)
	}
	ours, theirs := each(medians[0], v.rows), each(medians[1], table.Rows)
	return result{line: sqlLine, ratio: theirs / ours, measured: nanoseconds(ours), peer: nanoseconds(theirs)}
}

func (b *bench) loaded(ctx context.Context, s *sample) (*postgres.Stems, func(), error) {
	cluster, err := b.database(ctx)
	if err != nil {
		return nil, nil, err
	}
	conn, err := cluster.Connect(ctx)
	if err != nil {
		return nil, nil, err
	}
	rows := s.facts
	for len(rows) < b.size(1_000_000, 200_000) {
		rows = append(rows, s.facts...)
	}
	table, err := postgres.Load(ctx, conn, rows)
	return table, func() { conn.Close(ctx) }, err
}
