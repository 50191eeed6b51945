package batch

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
)

// keeper sees to it, once a second, that no batch stands still because a server was
// killed: it gives a sign of life, frees the jobs of servers that give none, and
// queues the jobs of a pass whose server did not come to it.
type keeper struct {
	*Engine
	unqueued map[Pass]time.Time // since when
}

func (k *keeper) run(ctx context.Context) {
	defer close(k.stopped)
	tick := time.NewTicker(round)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if err := k.round(ctx); err != nil && ctx.Err() == nil {
			k.Log.Warn().Err(err).Msg("the database failed; batches are looked after later")
		}
	}
}

func (k *keeper) round(ctx context.Context) error {
	alive, err := k.Store.Alive(ctx, k.id, silence)
	if err != nil {
		return err
	}
	if !slices.Contains(alive, k.id) { // the machine stood still meanwhile
		alive = append(alive, k.id)
	}
	k.alive.Store(&alive)
	if err := k.rescue(ctx, alive); err != nil {
		return err
	}
	// Before it is asked what is due: a pass may begin meanwhile.
	idle, hindered := k.runs.passes(), k.hindrances.passes()
	running, err := k.Store.Running(ctx)
	if err != nil {
		return err
	}
	ended := func(p Pass) bool {
		return !slices.ContainsFunc(running, func(r Unfinished) bool { return r.Pass == p })
	}
	for _, p := range idle {
		if ended(p) {
			k.runs.drop(p)
		}
	}
	for _, p := range hindered {
		if ended(p) {
			k.hindrances.forget(p)
		}
	}
	return k.queueMissing(ctx, running)
}

// rescue makes those jobs available that are marked as running, and are not.
func (k *keeper) rescue(ctx context.Context, alive []string) error {
	running, err := k.queue.JobList(ctx, river.NewJobListParams().
		Kinds(chunks{}.Kind()).States(rivertype.JobStateRunning).First(10_000))
	if err != nil {
		return err
	}
	now := time.Now() // not the engine's: River's clock marked them
	var dead []*rivertype.JobRow
	for _, job := range running.Jobs {
		if k.dead(job, alive, now) {
			dead = append(dead, job)
		}
	}
	if len(dead) == 0 {
		return nil
	}
	k.Log.Info().Int("jobs", len(dead)).Msg("jobs of a server that is gone are done again")
	// Another server may free them as well, and have begun one: that one stays.
	horizon := now
	if len(alive) > 1 {
		horizon = now.Add(-silence / 2)
	}
	return k.queue.Rescue(ctx, rescued(dead, now, horizon))
}

// dead reports whether nobody does a job that is marked as running: its server gives
// no sign, or is this one, which was not able to say that it has ended it.
func (k *keeper) dead(job *rivertype.JobRow, alive []string, now time.Time) bool {
	by := ""
	if n := len(job.AttemptedBy); n > 0 {
		by = job.AttemptedBy[n-1]
	}
	if by != k.id {
		return !slices.Contains(alive, by)
	}
	return !k.jobs.has(job.ID) && job.AttemptedAt != nil && now.Sub(*job.AttemptedAt) > 2*silence
}

func rescued(dead []*rivertype.JobRow, now, horizon time.Time) *riverdriver.JobRescueManyParams {
	p := &riverdriver.JobRescueManyParams{StuckHorizon: horizon}
	for _, job := range dead {
		// Strings, numbers and times are always written.
		note, _ := json.Marshal(rivertype.AttemptError{At: now, Attempt: job.Attempt, Error: lost})
		p.ID = append(p.ID, job.ID)
		p.Error = append(p.Error, note)
		p.FinalizedAt = append(p.FinalizedAt, nil)
		p.ScheduledAt = append(p.ScheduledAt, now)
		p.State = append(p.State, string(rivertype.JobStateAvailable))
	}
	return p
}

// queueMissing queues the jobs of passes whose server did not come to it: at once when
// this server starts, else after a while, because one may be about to.
func (k *keeper) queueMissing(ctx context.Context, running []Unfinished) error {
	before, starts := k.unqueued, k.unqueued == nil
	k.unqueued = map[Pass]time.Time{}
	for _, r := range running {
		if r.Queued {
			continue
		}
		since, seen := before[r.Pass]
		if !seen {
			since = time.Now()
		}
		if !starts && time.Since(since) < silence {
			k.unqueued[r.Pass] = since
			continue
		}
		if err := k.enqueue(ctx, r.Pass, r.Chunks); err != nil {
			return err
		}
	}
	return nil
}
