package batch

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// oneBatch is a store of one batch, of which it knows the state alone.
type oneBatch struct {
	Store
	state atomic.Int32
}

func (s *oneBatch) is() State { return State(s.state.Load()) }

func (s *oneBatch) Progress(context.Context, string) (Progress, error) {
	return Progress{State: s.is()}, nil
}

func (s *oneBatch) Get(context.Context, string) (*Batch, error) { return &Batch{State: s.is()}, nil }

func (s *oneBatch) Stop(_ context.Context, _ *Batch, to State, _ string, _ time.Time) error {
	s.state.Store(int32(to))
	return nil
}

func TestWatchersNeedNotWaitForWhatEndsHere(t *testing.T) {
	tests := map[string]struct {
		end  func(*Engine, *oneBatch)
		told time.Duration // after it has ended
	}{
		"on this server": {end: func(e *Engine, _ *oneBatch) { _, _ = e.Cancel(context.Background(), "a") }},
		"on another":     {end: func(_ *Engine, s *oneBatch) { s.state.Store(int32(Cancelled)) }, told: look / 2},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := &oneBatch{}
				s.state.Store(int32(Running))
				e := &Engine{Config: Config{Store: s, Now: time.Now}, stopped: make(chan struct{})}
				ended := time.Now().Add(look / 2)
				go func() {
					time.Sleep(time.Until(ended)) // of the bubble's clock
					test.end(e, s)
				}()
				var states []State
				for b, err := range e.Watch(t.Context(), "a") {
					require.NoError(t, err)
					states = append(states, b.State)
				}
				assert.Equal(t, []State{Running, Cancelled}, states)
				assert.Equal(t, test.told, time.Since(ended))
			})
		})
	}
}
