package weather

import "fmt"

// Verdict is what is said of a limit, and of all together. The worse is the greater.
type Verdict uint8

// The verdicts.
const (
	Go      Verdict = iota + 1 // it is kept
	Caution                    // it is kept, and something is to be watched
	Unknown                    // not known: nothing is done until it is
	NoGo                       // it is not kept
)

var verdictWords = [...]string{"", "GO", "CAUTION", "UNKNOWN", "NO_GO"}

// String gives the verdict in capitals.
func (v Verdict) String() string { return verdictWords[v] }

// LetsWork reports whether work may begin.
func (v Verdict) LetsWork() bool { return v == Go || v == Caution }

// Check is one limit with what it was held against.
type Check struct {
	What     string
	Verdict  Verdict
	Value    *float64 // the worst; nil if it is not known
	Unit     string   // of value, limits and margin
	Min, Max *float64
	Margin   *float64 // how far the value is inside the nearer limit; negative outside
	Why      string
	Source   string
}

// slack is the difference that does not count: what units cost when they are converted.
const slack = 1e-6

func below(v, limit float64) bool { return limit-v > slack }
func above(v, limit float64) bool { return v-limit > slack }

// hold states the value, and how far it is inside the limits.
func (c *Check) hold(v float64) {
	c.Value, c.Margin = &v, nil
	within := func(room float64) {
		if -slack < room && room < slack {
			room = 0
		}
		if c.Margin == nil || room < *c.Margin {
			c.Margin = &room
		}
	}
	if c.Min != nil {
		within(v - *c.Min)
	}
	if c.Max != nil {
		within(*c.Max - v)
	}
}

// worseThan compares by verdict, then by margin; of what is as bad neither is worse.
func (c *Check) worseThan(other *Check) bool {
	if c.Verdict != other.Verdict {
		return c.Verdict > other.Verdict
	}
	return c.Margin != nil && (other.Margin == nil || *c.Margin < *other.Margin)
}

// worsen takes a verdict if it is worse than the one there is, with why.
func (c *Check) worsen(v Verdict, format string, args ...any) {
	if v > c.Verdict {
		c.Verdict, c.Why = v, fmt.Sprintf(format, args...)
	}
}

func ptr[T any](v T) *T { return &v }
