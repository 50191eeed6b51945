package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"example.org/rootward/proto/columnar"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/treatment"

	"example.org/rootward/bench/cel"
	"example.org/rootward/bench/core"
	"example.org/rootward/bench/duck"
	"example.org/rootward/bench/opa"
	"example.org/rootward/bench/postgres"
	"example.org/rootward/bench/question"
	"example.org/rootward/bench/serving"
	"example.org/rootward/bench/straight"
)

// sample is rows as everyone takes them, with what the core answers.
type sample struct {
	*inventory
	facts  []question.Row
	stems  []core.Stem
	byHand []straight.Stem
	sites  []*straight.Site // by row
	want   []core.Answered
}

func (b *bench) sample(rows int64) (*sample, error) {
	s := &sample{inventory: draw(rows)}
	c, err := core.New(b.sets, s.begin)
	if err != nil {
		return nil, err
	}
	places, err := question.Places(s.begin)
	if err != nil {
		return nil, err
	}
	sites := straight.Sites(s.begin, places)
	for _, chunk := range s.chunks {
		s.facts = append(s.facts, question.Rows(chunk, places)...)
		s.stems = append(s.stems, c.Stems(chunk)...)
		for _, at := range chunk.GetSite() {
			s.sites = append(s.sites, sites[chunk.GetWords()[at]])
		}
	}
	for i := range s.stems {
		s.byHand = append(s.byHand, straight.Of(&s.stems[i].Stem))
		answer, _ := c.Answer(&s.stems[i])
		s.want = append(s.want, answer)
	}
	return s, nil
}

// is holds one answer against the core's.
func (s *sample) is(who string, i int, got core.Answered) error {
	if got == s.want[i] {
		return nil
	}
	return fmt.Errorf("row %d: the core answers %q and %s %q, for %+v", i+1, s.want[i], who, got, s.stems[i].Stem)
}

// agree makes sure that everyone answers the same. What does not run here is told, and
// cannot be measured either.
func (b *bench) agree(ctx context.Context) error {
	s, err := b.sample(20_000)
	if err != nil {
		return err
	}
	for _, peer := range []struct {
		name    string
		holds   func(context.Context, *sample) error
		perhaps bool
	}{
		{"the server", b.serverAgrees, false}, {"straight Go", straightAgrees, false}, {"cel-go", celAgrees, false},
		{"Open Policy Agent", opaAgrees, false}, {"PostgreSQL", b.sqlAgrees, true}, {"DuckDB", b.duckAgrees, true},
	} {
		err := peer.holds(ctx, s)
		if _, absent := err.(absent); absent && peer.perhaps {
			fmt.Fprintf(os.Stderr, "%s is not compared: %v\n", peer.name, err)
		} else if err != nil {
			return fmt.Errorf("%s: %w", peer.name, err)
		}
	}
	return nil
}

// absent is why a peer does not run here.
type absent struct{ error }

func (b *bench) serverAgrees(ctx context.Context, s *sample) error {
	server, err := b.programs.Start(ctx, b.programs.Rules())
	if err != nil {
		return err
	}
	defer server.Close()
	var known columnar.Explanations
	_, err = serving.Stream(ctx, treatmentv1.NewTreatmentServiceClient(server.Conn), s.begin, s.all(), func(a *treatmentv1.PrescriptionChunk) error {
		explanations, err := known.Of(a)
		if err != nil {
			return err
		}
		for i, outcome := range a.GetOutcome() {
			got := core.Answered{Outcome: treatment.Outcome(outcome)}
			if at := a.GetExplanation()[i]; at >= 0 {
				choice := explanations[at].GetChoice()
				got.Method, got.Formulation = rules.Method(choice.GetMethod()), choice.GetFormulationId()
			}
			if err := s.is("the server", int(a.GetFirstRow())-1+i, got); err != nil {
				return err
			}
		}
		return nil
	})
	return err
}

func straightAgrees(_ context.Context, s *sample) error {
	for i := range s.stems {
		a, _ := straight.Answer(&s.byHand[i], s.sites[i])
		if err := s.is("straight Go", i, core.Of(a)); err != nil {
			return err
		}
	}
	return nil
}

func celAgrees(_ context.Context, s *sample) error {
	p, err := cel.New(s.facts)
	if err != nil {
		return err
	}
	for i := range s.facts {
		a, err := p.Answer(i)
		if err != nil {
			return err
		}
		if err := s.is("cel-go", i, core.Of(a)); err != nil {
			return err
		}
	}
	return nil
}

func opaAgrees(ctx context.Context, s *sample) error {
	rows := s.facts[:2_000] // it is slow
	p, err := opa.New(ctx, rows)
	if err != nil {
		return err
	}
	for i := range rows {
		a, err := p.Answer(ctx, i)
		if err != nil {
			return err
		}
		if err := s.is("Open Policy Agent", i, core.Of(a)); err != nil {
			return err
		}
	}
	return nil
}

func (b *bench) sqlAgrees(ctx context.Context, s *sample) error {
	cluster, err := b.database(ctx)
	if err != nil {
		return absent{err}
	}
	conn, err := cluster.Connect(ctx)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	table, err := postgres.Load(ctx, conn, s.facts)
	if err != nil {
		return err
	}
	answers, err := table.Answers(ctx)
	if err != nil {
		return err
	}
	for i, a := range answers {
		if err := s.is("PostgreSQL", i, core.Of(a)); err != nil {
			return err
		}
	}
	return nil
}

func (b *bench) duckAgrees(_ context.Context, s *sample) error {
	in, err := b.file(s.rows)
	if err != nil {
		return err
	}
	out := filepath.Join(b.dir, "answers.csv")
	if _, err := duck.Prescribe(in, out, cores); err != nil {
		return absent{err}
	}
	f, err := os.Open(out)
	if err != nil {
		return err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return err
	}
	if len(rows) != int(s.rows)+1 {
		return fmt.Errorf("%d rows were answered with %d", s.rows, len(rows)-1)
	}
	for i, row := range rows[1:] {
		a, err := strconv.ParseInt(row[len(row)-1], 10, 64)
		if err != nil {
			return err
		}
		if err := s.is("DuckDB", i, core.Of(question.Answer(a))); err != nil {
			return err
		}
	}
	return nil
}
