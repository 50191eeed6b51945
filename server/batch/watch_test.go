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

// hinderedBatch is a store of one batch that one server is hindered to decide.
type hinderedBatch struct {
	Store
	by   Hindrance
	read atomic.Int64 // how often the batch was
}

func (s *hinderedBatch) Progress(context.Context, string) (Progress, error) {
	return Progress{State: Running, Hindered: 1}, nil
}

func (s *hinderedBatch) Get(context.Context, string) (*Batch, error) {
	s.read.Add(1)
	return &Batch{State: Running, Hindrances: []Hindrance{s.by}}, nil
}

// A batch waits once the only server that decides it is gone, though nothing else changes.
func TestWatchersAreToldThatABatchWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &hinderedBatch{by: Hindrance{Server: "hindered"}}
		e := &Engine{Config: Config{Store: s, Now: time.Now}, stopped: make(chan struct{})}
		e.alive.Store(&[]string{"hindered", "able"})
		const gone, ends = 10 * time.Second, 30 * time.Second
		go func() { // the keeper, and the clock of the bubble
			for at := round; at < ends; at += round {
				time.Sleep(round)
				alive := []string{"hindered", "able"}
				if at >= gone {
					alive = alive[:1]
				}
				e.alive.Store(&alive)
			}
		}()
		ctx, cancel := context.WithTimeout(t.Context(), ends)
		defer cancel()
		began := time.Now()
		var waiting []bool
		var at []time.Duration
		for b, err := range e.Watch(ctx, "a") {
			if err != nil {
				require.ErrorIs(t, err, context.DeadlineExceeded)
				break
			}
			waiting, at = append(waiting, b.Waiting), append(at, time.Since(began))
		}
		require.Equal(t, []bool{false, true}, waiting, "at %v", at)
		assert.WithinRange(t, began.Add(at[1]), began.Add(gone), began.Add(gone+look))
		assert.LessOrEqual(t, s.read.Load(), int64(ends/round)+1, "a round, not a look")
	})
}
