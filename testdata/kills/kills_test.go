package kills_test

import (
	"context"
	"math/rand/v2"
	"os"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"
	"example.org/rootward/server/store/postgrestest"
)

// size is how large the proof is.
type size struct {
	rows      int64
	chunkRows int
	kills     int
}

// asked is the size that the environment asks for, small otherwise.
func asked(t *testing.T) size {
	t.Helper()
	s := size{rows: 4_000, chunkRows: 250, kills: 2}
	if text := os.Getenv("ROOTWARD_TEST_KILLS"); text != "" {
		kills, err := strconv.Atoi(text)
		require.NoError(t, err)
		s = size{rows: 1_000_000, chunkRows: 4_096, kills: kills}
	}
	return s
}

func TestKillsOnSQLite(t *testing.T) {
	prove(t, func() []string { return []string{"--data", t.TempDir()} })
}

func TestKillsOnPostgres(t *testing.T) {
	cluster := postgrestest.Start(t)
	prove(t, func() []string { return []string{"--database", cluster.Database(t)} })
}

// prove decides one inventory undisturbed, and once more by a server that is killed at
// random moments, while it uploads and while it decides.
func prove(t *testing.T, store func() []string) {
	s := asked(t)
	in := newInventory(t, s.rows, s.chunkRows)
	left := newServer(t, store()...)
	calm := &driver{inventory: in, to: left.client()}
	b, err := calm.run(t.Context())
	require.NoError(t, err)
	want := calm.outcomeOf(t, b)
	left.kill()
	require.EqualValues(t, 2, want.passes, "some sites are split over seasons")
	t.Logf("undisturbed: %d rows in %d chunks, %d passes, %s, of which %s decided; digest %s", s.rows, len(in.chunks), want.passes, calm.took, calm.decided, want.digest)

	killed := newServer(t, store()...)
	due, batches := s.kills, 0
	states := map[inventoryv1.BatchState]int{}
	for moments := rand.New(rand.NewPCG(seed, 9)); due > 0; batches++ {
		d := &driver{inventory: in, to: killed.client()}
		b := disturb(t, d, killed, moments, calm.took/time.Duration(s.kills), &due, states)
		require.Equal(t, want, d.outcomeOf(t, b))
		t.Logf("killed: the same digest after %d kills, %s", s.kills-due, d.took)
	}
	t.Logf("%d kills in %d batches: %v", s.kills, batches, states)
}

// disturb brings a batch to its end while its server is killed, and started again, at
// moments that are a mean apart.
func disturb(t *testing.T, d *driver, s *server, moments *rand.Rand, mean time.Duration, due *int, states map[inventoryv1.BatchState]int) *inventoryv1.Batch {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	type ended struct {
		batch *inventoryv1.Batch
		err   error
	}
	done := make(chan ended, 1)
	go func() {
		b, err := d.run(ctx)
		done <- ended{b, err}
	}()
	for {
		moment := (<-chan time.Time)(nil)
		if *due > 0 {
			moment = time.After(time.Duration(moments.Int64N(2*int64(mean) + 1)))
		}
		select {
		case e := <-done:
			require.NoError(t, e.err)
			return e.batch
		case <-moment:
			*due--
			states[inventoryv1.BatchState(d.state.Load())]++
			s.kill()
			require.NoError(t, s.start())
		}
	}
}

// Several servers share the batches of one database. One that is killed has its chunks
// finished by the others.
func TestThreeServersOnOneDatabase(t *testing.T) {
	cluster := postgrestest.Start(t)
	s := asked(t)
	in := newInventory(t, s.rows, s.chunkRows)
	var want outcome
	for _, k := range []struct {
		servers int
		kill    bool
	}{{1, false}, {3, false}, {3, true}} {
		database := cluster.Database(t)
		var servers []*server
		for range k.servers {
			servers = append(servers, newServer(t, "--database", database))
		}
		d := &driver{inventory: in, to: servers[0].client()}
		ctx, stop := context.WithCancel(t.Context())
		var killing sync.WaitGroup
		if k.kill {
			killing.Go(func() { killWhileDeciding(ctx, d, servers[2]) })
		}
		b, err := d.run(t.Context())
		stop()
		killing.Wait() // a server is killed by one goroutine at a time
		require.NoError(t, err)
		got := d.outcomeOf(t, b)
		if want.digest == "" {
			want = got
		}
		require.Equal(t, want, got)
		rows := s.rows * int64(got.passes)
		t.Logf("%d servers, one of them killed: %t; %d rows in %d passes decided in %s: %.0f rows/s a pass",
			k.servers, k.kill, s.rows, got.passes, d.decided, float64(rows)/d.decided.Seconds())
		for _, one := range servers {
			one.kill()
		}
	}
}

// killWhileDeciding kills a server soon after the batch was started.
func killWhileDeciding(ctx context.Context, d *driver, s *server) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for d.state.Load() != int32(inventoryv1.BatchState_BATCH_STATE_RUNNING) {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
	s.kill()
}
