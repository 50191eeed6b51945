package main

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	"example.org/rootward/bench/core"
)

func newYear() *date.Date { return &date.Date{Year: 2026, Month: 1, Day: 1} }

// starting compares the start of a server with three plugins, until it serves, with
// that of the three plugins alone, side by side, until each has shaken hands.
func (b *bench) starting(ctx context.Context) ([]result, error) {
	medians, err := alternately(b.size(15, 5),
		func() (time.Duration, error) {
			server, err := b.programs.Start(ctx, b.programs.Rules())
			if err != nil {
				return 0, err
			}
			return server.Ready, server.Close()
		},
		b.pluginsAlone,
	)
	if err != nil {
		return nil, err
	}
	return []result{{line: startLine, ratio: medians[0].Seconds() / medians[1].Seconds(), measured: medians[0].Round(100 * time.Microsecond).String(), peer: medians[1].Round(100 * time.Microsecond).String()}}, nil
}

func (b *bench) pluginsAlone() (time.Duration, error) {
	errs := make([]error, len(core.RuleSets))
	kill := make([]func(), len(core.RuleSets))
	var all sync.WaitGroup
	began := time.Now()
	for i, name := range core.RuleSets {
		all.Go(func() {
			p, err := core.Start(filepath.Join(b.programs.Rules(), name))
			if err != nil {
				errs[i] = err
				return
			}
			kill[i] = p.Kill
		})
	}
	all.Wait()
	d := time.Since(began)
	for _, k := range kill {
		if k != nil {
			k()
		}
	}
	return d, errors.Join(errs...)
}
