package main

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"sync"
	"time"

	"google.golang.org/protobuf/proto"

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
	s, err := b.sample(65_536)
	if err != nil {
		return nil, err
	}
	parts, err := encodings(ctx, client, v.first(32))
	if err != nil {
		return nil, err
	}
	policy, err := b.policy(ctx, s)
	if err != nil {
		return nil, err
	}
	expression, err := b.expression(s)
	if err != nil {
		return nil, err
	}
	medians, err := alternately(b.runs(),
		func() (time.Duration, error) { return streamed(ctx, client, v) }, policy.run, expression.run,
		s.planned, parts.encodeRows, parts.decodeRows, parts.encodeAnswers, parts.decodeAnswers,
		parts.encodeRowsQuickly, parts.decodeRowsQuickly, parts.encodeAnswersQuickly,
	)
	if err != nil {
		return nil, err
	}
	ours := each(medians[0], v.rows)
	against := func(l line, ns float64, more string) result {
		return result{line: l, ratio: ns / ours, measured: nanoseconds(ours), peer: nanoseconds(ns) + more}
	}
	decision, coding, quick := each(medians[3], s.rows), medians[4:8], medians[8:]
	limit, of := limitOf(decision, coding, parts.rows)
	own, ofOwn := limitOf(decision, append(quick, coding[3]), parts.rows)
	return []result{
		against(limitLine, limit, fmt.Sprintf("%s; with the product's codec %s%s", of, nanoseconds(own), ofOwn)),
		against(opaLine, each(medians[1], policy.rows), ""),
		against(celLine, each(medians[2], expression.rows), ""),
		b.bySQL(ctx, client, v, s),
	}, nil
}

// limitOf is what two cores leave for a stem if they do nothing but decide, encode and
// decode, in nanoseconds, with what it is made of.
func limitOf(decision float64, coding []time.Duration, rows int64) (limit float64, of string) {
	sum, list := decision, make([]any, len(coding))
	for i, d := range coding {
		list[i] = each(d, rows)
		sum += each(d, rows)
	}
	return sum / cores, fmt.Sprintf(" (decision %.4g, rows %.4g + %.4g, answers %.4g + %.4g)", append([]any{decision}, list...)...)
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

// parts is the messages of both directions, to be encoded and decoded by themselves.
type parts struct {
	rows                  int64
	requests              []*treatmentv1.PrescribeStreamRequest
	answers               []*treatmentv1.PrescribeStreamResponse
	rowBytes, answerBytes [][]byte
	chunkBytes            [][]byte // of the chunks in requests
	buffer                []byte
}

func encodings(ctx context.Context, c treatmentv1.TreatmentServiceClient, v *inventory) (*parts, error) {
	p := &parts{rows: v.rows}
	for _, chunk := range v.chunks {
		p.requests = append(p.requests, &treatmentv1.PrescribeStreamRequest{Message: &treatmentv1.PrescribeStreamRequest_Chunk{Chunk: chunk}})
	}
	_, err := serving.Stream(ctx, c, v.begin, v.all(), func(a *treatmentv1.PrescriptionChunk) error {
		p.answers = append(p.answers, &treatmentv1.PrescribeStreamResponse{Message: &treatmentv1.PrescribeStreamResponse_Chunk{Chunk: a}})
		return nil
	})
	if err != nil {
		return nil, err
	}
	for i := range p.requests {
		q, err := proto.Marshal(p.requests[i])
		if err != nil {
			return nil, err
		}
		a, err := proto.Marshal(p.answers[i])
		if err != nil {
			return nil, err
		}
		c, err := proto.Marshal(p.requests[i].GetChunk())
		if err != nil {
			return nil, err
		}
		p.rowBytes, p.answerBytes, p.chunkBytes = append(p.rowBytes, q), append(p.answerBytes, a), append(p.chunkBytes, c)
	}
	return p, nil
}

func (p *parts) encodeRows() (time.Duration, error)    { return encode(p, p.requests) }
func (p *parts) encodeAnswers() (time.Duration, error) { return encode(p, p.answers) }

// What the product's codec does with chunks.

func (p *parts) encodeRowsQuickly() (time.Duration, error) {
	return took(func() error {
		return encodeQuickly(p, p.requests, (*treatmentv1.PrescribeStreamRequest).GetChunk, columnar.Append)
	})
}

func (p *parts) encodeAnswersQuickly() (time.Duration, error) {
	return took(func() error {
		return encodeQuickly(p, p.answers, (*treatmentv1.PrescribeStreamResponse).GetChunk, columnar.AppendAnswers)
	})
}

func encodeQuickly[M, C any](p *parts, messages []M, chunkOf func(M) C, by func([]byte, C) ([]byte, error)) error {
	for _, m := range messages {
		var err error
		if p.buffer, err = by(p.buffer[:0], chunkOf(m)); err != nil {
			return err
		}
	}
	return nil
}

func (p *parts) decodeRowsQuickly() (time.Duration, error) {
	return took(func() error {
		again := &treatmentv1.StemChunk{}
		for _, text := range p.chunkBytes {
			if err := columnar.Decode(text, again); err != nil {
				return err
			}
		}
		return nil
	})
}

// encode writes into one buffer, as gRPC writes into pooled ones.
func encode[M proto.Message](p *parts, messages []M) (time.Duration, error) {
	return took(func() error {
		for _, m := range messages {
			var err error
			if p.buffer, err = (proto.MarshalOptions{}).MarshalAppend(p.buffer[:0], m); err != nil {
				return err
			}
		}
		return nil
	})
}

func (p *parts) decodeRows() (time.Duration, error) {
	return decode(p.rowBytes, func() proto.Message { return &treatmentv1.PrescribeStreamRequest{} })
}

func (p *parts) decodeAnswers() (time.Duration, error) {
	return decode(p.answerBytes, func() proto.Message { return &treatmentv1.PrescribeStreamResponse{} })
}

func decode(texts [][]byte, empty func() proto.Message) (time.Duration, error) {
	return took(func() error {
		for _, t := range texts {
			if err := proto.Unmarshal(t, empty()); err != nil {
				return err
			}
		}
		return nil
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
