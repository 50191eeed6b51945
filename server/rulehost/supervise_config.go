package rulehost

import (
	"math/rand/v2"
	"time"
)

// Running holds how plugins that compute rows are kept running. A zero value takes
// the default.
type Running struct {
	// EvaluateTimeout bounds how long a plugin takes to compute a row at 4,096
	// sites, by default 2 s.
	EvaluateTimeout time.Duration
	// FirstRetry is how long a plugin that failed is left alone, by default 1 s. The
	// time doubles with each further failure, up to LastRetry, by default 5 min, and
	// is shortened by chance to as little as half, so that plugins that failed
	// together do not start together.
	FirstRetry, LastRetry time.Duration
	// Quarantine is after how many failures in a row a row's plugin is not asked for it
	// until the folder is looked into again, by default 5.
	Quarantine int
	// Cached is how many answers are kept, by default 65,536; an answer takes some
	// 300 bytes.
	Cached int
	// Chance gives numbers from 0 to below 1, by default those of math/rand.
	Chance func() float64
}

func (r Running) withDefaults() Running {
	orTime(&r.EvaluateTimeout, 2*time.Second)
	orTime(&r.FirstRetry, time.Second)
	orTime(&r.LastRetry, 5*time.Minute)
	orNumber(&r.Quarantine, 5)
	orNumber(&r.Cached, 65_536)
	if r.Chance == nil {
		r.Chance = rand.Float64
	}
	return r
}

func orTime(d *time.Duration, by time.Duration) {
	if *d <= 0 {
		*d = by
	}
}

func orNumber(n *int, by int) {
	if *n <= 0 {
		*n = by
	}
}

// retryAfter is how long a plugin is left alone after so many failures in a row.
func (r *Running) retryAfter(failures int) time.Duration {
	wait := r.FirstRetry
	for range failures - 1 {
		if wait *= 2; wait >= r.LastRetry {
			wait = r.LastRetry
			break
		}
	}
	return wait/2 + time.Duration(r.Chance()*float64(wait/2))
}

// State is how a plugin that computes rows fares.
type State int

// The states of such a plugin.
const (
	Idle        State = iota + 1 // not running; it is started when it is needed
	Alive                        // running
	BackingOff                   // failed; it is started again later
	Quarantined                  // failed too often; not started until the folder is looked into again
)

// RunningStatus is how one plugin that computes rows fares.
type RunningStatus struct {
	File, RuleSetID, Digest string
	State                   State
	Starts                  int
	Failures                int       // in a row
	RetryAt                 time.Time // zero unless it backs off
	Problem                 string    // what failed last; empty after a success
	LastLines               []string  // of its standard error, cleaned
}
