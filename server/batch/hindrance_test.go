package batch

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/riverqueue/river"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// notes is a store that keeps what hinders one server.
type notes struct {
	Store
	kept      map[string]string // by batch: the problem
	fails     bool              // to tell that it has noted something
	meanwhile func()            // while it is asked what is due
	due       []Unfinished
}

var errUnsure = errors.New("the connection is lost")

func (s *notes) Hinder(_ context.Context, p Pass, h Hindrance) error {
	s.kept[p.Batch] = h.Problem
	if s.fails {
		return errUnsure
	}
	return nil
}

func (s *notes) Unhinder(_ context.Context, batch, _ string) error {
	delete(s.kept, batch)
	return nil
}

func (s *notes) Running(context.Context) ([]Unfinished, error) {
	due := s.due
	if s.meanwhile != nil {
		s.meanwhile()
	}
	return due, nil
}

func (s *notes) Alive(context.Context, string, time.Duration) ([]string, error) { return nil, nil }

// noJobs is a queue without any.
type noJobs struct{ Queue }

func (noJobs) JobList(context.Context, *river.JobListParams) (*river.JobListResult, error) {
	return &river.JobListResult{}, nil
}

func engineOnNotes() (*notes, *Engine) {
	s := &notes{kept: map[string]string{}}
	return s, &Engine{Config: Config{Store: s, Now: time.Now}, queue: noJobs{}, id: "this"}
}

func TestHindrancesAreTakenBack(t *testing.T) {
	p := Pass{Batch: "a", Number: 1}
	first, second := errors.New("it lacks rivers"), errors.New("it lacks lakes")
	tests := map[string]func(*Engine, *notes){
		"as it was noted": func(e *Engine, _ *notes) { e.hinder(t.Context(), p, first) },
		"though the store did not say that it has it": func(e *Engine, s *notes) {
			s.fails = true
			e.hinder(t.Context(), p, first)
		},
		"of a pass that began while another was looked for": func(e *Engine, s *notes) {
			s.meanwhile = func() { e.hinder(t.Context(), p, first) }
			require.NoError(t, (&keeper{Engine: e}).round(t.Context()))
		},
		"after rounds in which it was due": func(e *Engine, s *notes) {
			s.due = []Unfinished{{Pass: p, Queued: true}}
			e.hinder(t.Context(), p, first)
			require.NoError(t, (&keeper{Engine: e}).round(t.Context()))
		},
	}
	for name, hinder := range tests {
		t.Run(name, func(t *testing.T) {
			s, e := engineOnNotes()
			hinder(e, s)
			require.Equal(t, map[string]string{"a": first.Error()}, s.kept)
			e.able(t.Context(), p)
			assert.Empty(t, s.kept)
		})
	}

	t.Run("another is written in place of one of which nothing is known", func(t *testing.T) {
		s, e := engineOnNotes()
		e.hinder(t.Context(), p, first)
		s.fails = true
		e.hinder(t.Context(), p, second)
		s.fails = false
		e.hinder(t.Context(), p, first)
		assert.Equal(t, first.Error(), s.kept["a"])
	})

	t.Run("what was noted of a pass that has ended is forgotten", func(t *testing.T) {
		_, e := engineOnNotes()
		e.hinder(t.Context(), p, first)
		require.NoError(t, (&keeper{Engine: e}).round(t.Context()))
		assert.Empty(t, e.hindrances.passes())
	})
}
