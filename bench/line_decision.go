package main

import (
	"context"
	"time"

	"example.org/rootward/bench/straight"
)

// decision compares the core with the same rules by hand, on one goroutine.
func (b *bench) decision(context.Context) ([]result, error) {
	s, err := b.sample(65_536)
	if err != nil {
		return nil, err
	}
	medians, err := alternately(b.runs(), s.planned, s.straight)
	if err != nil {
		return nil, err
	}
	ours, byHand := each(medians[0], s.rows), each(medians[1], s.rows)
	return []result{{line: decisionLine, ratio: ours / byHand, measured: nanoseconds(ours), peer: nanoseconds(byHand)}}, nil
}

func (s *sample) planned() (time.Duration, error) {
	return took(func() error {
		for i := range s.stems {
			s.stems[i].Planner.Plan(&s.stems[i].Stem)
		}
		return nil
	})
}

func (s *sample) straight() (time.Duration, error) {
	return took(func() error {
		for i := range s.stems {
			straight.Answer(&s.byHand[i], s.sites[i])
		}
		return nil
	})
}
