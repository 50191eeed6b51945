package rulehost

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// supervised is a plugin that computes rows. Its process is started when it is first
// asked, and kept. It answers one question at a time.
type supervised struct {
	plugin    *plugin // with a descriptor of its own
	build     string  // SHA-256 of the file, as it was admitted
	ruleSetID string
	digest    string
	turn      chan struct{} // holds one token while the plugin is asked

	mu       sync.Mutex // guards what follows
	live     *running   // nil while no process is kept; changed by who has the turn
	closed   bool
	starts   int
	troubles map[string]*trouble // by row; starting, which every row needs, counts as everyRow
	excess   string              // what it used too much of, which bars all of its rows
}

// trouble is how a row failed of late. The other rows of its plugin are not affected.
type trouble struct {
	failures    int // in a row
	retryAt     time.Time
	quarantined bool
	problem     string
}

// everyRow is what counts as a row where the plugin did not start.
const everyRow = ""

// startError says that a plugin did not start.
type startError struct{ error }

func (e *startError) Unwrap() error { return e.error }

// unavailable is why a plugin is not asked now, with what to do.
type unavailable struct{ reason string }

func (u *unavailable) Error() string { return u.reason }

var errRewritten = errors.New("its file was changed since it was admitted; put it back, or have the folder looked into again")

var errWithdrawn = &unavailable{"it was taken out of use; run again"}

// ask puts a question about one row to the plugin, which it starts if need be, and
// hands its answer to accept. The caller has the turn. A failure counts against the
// row, and ends the process. It takes no context from who asked: how long a plugin
// takes is the plugin's, and what it answers is kept for others.
func (s *supervised) ask(row string, req *pluginv1.EvaluateSitesRequest, accept func(*pluginv1.EvaluateSitesResponse) error) error {
	if err := s.ready(row); err != nil {
		return err
	}
	kept := s.kept() != nil
	res, err := s.once(req)
	if kept && hasEnded(err) && s.ready(row) == nil {
		// The process that was kept had ended since it was last asked.
		s.drop(err)
		res, err = s.once(req)
	}
	if err == nil {
		err = accept(res)
	}
	if err != nil {
		return s.fail(row, err)
	}
	s.succeed(row)
	return nil
}

// hasEnded reports whether an error says that there is no process to ask. CANCELED is a
// connection that was closed when the end was noticed: no question is cancelled otherwise.
func hasEnded(err error) bool {
	code := status.Code(err)
	return code == codes.Unavailable || code == codes.Canceled
}

// once starts the plugin unless it runs, and asks it.
func (s *supervised) once(req *pluginv1.EvaluateSitesRequest) (*pluginv1.EvaluateSitesResponse, error) {
	live, err := s.start()
	if err != nil {
		return nil, &startError{err}
	}
	ctx, cancel := context.WithTimeout(context.Background(), s.plugin.config.Running.EvaluateTimeout)
	defer cancel()
	return live.rules.EvaluateSites(ctx, req, grpc.MaxCallRecvMsgSize(maxReply))
}

// maxReply bounds in bytes what a plugin may answer to one question: the answers for
// 4,096 sites take some 50 kB, and their words, if no two are alike, 4 MB at most.
const maxReply = 4 << 20

// ready says why the plugin is not to be asked for a row now, and nothing if it may
// be.
func (s *supervised) ready(row string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	t := s.troubles[row]
	if start := s.troubles[everyRow]; start != nil {
		t = start
	}
	switch {
	case s.closed:
		return errWithdrawn
	case s.excess != "":
		return leftAlone("was stopped", s.excess)
	case t == nil:
		return nil
	case t.quarantined:
		return leftAlone("failed too often", t.problem)
	case s.plugin.config.Now().Before(t.retryAt):
		from := t.retryAt.Add(time.Second - 1).Truncate(time.Second).UTC()
		return &unavailable{fmt.Sprintf("it failed (%s) and is tried again from %s on; run again then", t.problem, from.Format(time.RFC3339))}
	}
	return nil
}

func leftAlone(what, why string) error {
	return &unavailable{fmt.Sprintf("it %s (%s) and is left alone until the operator has the folder of rule plugins looked into again; run again then", what, why)}
}

// kept gives the process that is kept and lives, as far as is known.
func (s *supervised) kept() *running {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.live
}

// start gives the process that is kept, or a new one.
func (s *supervised) start() (*running, error) {
	if live := s.kept(); live != nil {
		if !live.hasEnded() {
			return live, nil
		}
		s.drop(nil)
	}
	// The file can have been written to since: it was admitted for what it held.
	if sum, err := s.plugin.sum(); err != nil || sum != s.build {
		return nil, errors.Join(errRewritten, err)
	}
	s.mu.Lock()
	s.starts++
	s.mu.Unlock()
	live, err := s.plugin.run()
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	s.live = live
	closed := s.closed
	s.mu.Unlock()
	if closed {
		s.drop(errAsked)
		return nil, errWithdrawn
	}
	return live, nil
}

// drop ends the process that is kept, waits until it has, and says why it did.
func (s *supervised) drop(why error) error {
	live := s.kept()
	if live == nil {
		return nil
	}
	live.end(why)
	<-live.ended
	s.mu.Lock()
	defer s.mu.Unlock()
	s.live = nil
	return live.why
}

// fail notes a failure, ends the process and says when to ask again.
func (s *supervised) fail(row string, err error) error {
	var excess *excessError
	if ended := s.drop(err); errors.As(ended, &excess) {
		err = ended
	}
	if start := (*startError)(nil); errors.As(err, &start) {
		row = everyRow
	}
	if errors.As(err, &excess) {
		s.bar(excess.Error())
	} else {
		s.note(row, s.explain(err))
	}
	return s.ready(row)
}

// bar leaves the plugin alone for good: it would use too much again.
func (s *supervised) bar(excess string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.excess = excess
	s.plugin.log.Error().Str("problem", excess).Msg("rule plugin was stopped")
}

func (s *supervised) note(row, problem string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return
	}
	t := s.troubles[row]
	if t == nil {
		t = &trouble{}
		s.troubles[row] = t
	}
	r := &s.plugin.config.Running
	t.failures++
	t.problem, t.quarantined = problem, t.failures >= r.Quarantine
	wait := r.retryAfter(t.failures)
	t.retryAt = s.plugin.config.Now().Add(wait)
	s.plugin.log.Warn().Str("row", row).Str("problem", problem).Int("failures", t.failures).
		Bool("quarantined", t.quarantined).Dur("retry_after", wait).Msg("rule plugin failed to compute a row")
}

// succeed forgets earlier failures of a row.
func (s *supervised) succeed(row string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.troubles, row)
	delete(s.troubles, everyRow)
}

// pardon lets a plugin that was left alone be tried again at once.
func (s *supervised) pardon() {
	s.mu.Lock()
	defer s.mu.Unlock()
	clear(s.troubles)
	s.excess = ""
}

// explain words a failure for the operator and for who reads an answer.
func (s *supervised) explain(err error) string {
	switch status.Code(err) {
	case codes.DeadlineExceeded:
		return fmt.Sprintf("did not answer within %s", s.plugin.config.Running.EvaluateTimeout)
	case codes.ResourceExhausted:
		return fmt.Sprintf("its answer is larger than the %d bytes that are taken", maxReply)
	case codes.Unavailable, codes.Canceled:
		return "its process ended"
	}
	return printable(shorten(status.Convert(err).Message(), 300))
}

// close ends the process and lets no other be started. It waits for a question that
// is being answered, which fails as the process ends.
func (s *supervised) close() {
	s.mu.Lock()
	s.closed = true
	if s.live != nil {
		s.live.end(errAsked)
	}
	s.mu.Unlock()
	s.turn <- struct{}{}
	s.drop(errAsked)
	_ = s.plugin.file.Close()
	<-s.turn
}

// status tells how the plugin fares: as its row does that is worst off.
func (s *supervised) status() RunningStatus {
	s.mu.Lock()
	defer s.mu.Unlock()
	st := RunningStatus{
		File: s.plugin.name, RuleSetID: s.ruleSetID, Digest: s.digest, State: Idle,
		Starts: s.starts, LastLines: s.plugin.tail.last(),
	}
	if s.live != nil && !s.live.hasEnded() {
		st.State = Alive
	}
	for _, row := range slices.Sorted(maps.Keys(s.troubles)) {
		if t := s.troubles[row]; t.failures > st.Failures {
			st.Failures, st.Problem = t.failures, t.problem
			if row != everyRow {
				st.Problem = fmt.Sprintf("row %s: %s", row, t.problem)
			}
			st.State, st.RetryAt = t.state(st.State, s.plugin.config.Now())
		}
	}
	if s.excess != "" {
		st.State, st.Problem, st.RetryAt = Quarantined, s.excess, time.Time{}
	}
	return st
}

func (t *trouble) state(otherwise State, now time.Time) (State, time.Time) {
	switch {
	case t.quarantined:
		return Quarantined, time.Time{}
	case now.Before(t.retryAt):
		return BackingOff, t.retryAt
	}
	return otherwise, time.Time{}
}
