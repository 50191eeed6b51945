package ruletest

import "time"

// Limits bounds how long the kit waits for a built plugin.
type Limits struct {
	Start  time.Duration // to describe itself, and to shake hands
	Answer time.Duration // to give its table
	End    time.Duration // to end when its host closes the connection, or is gone
	Quiet  time.Duration // how long it is listened to after it answered
}

// Patient is the limits of CheckBinary and CheckExecutable: longer than a host's, 10 s
// to start and 10 s to answer, so that a busy machine keeps them.
var Patient = Limits{Start: 30 * time.Second, Answer: 20 * time.Second, End: 20 * time.Second, Quiet: 200 * time.Millisecond}

// limited is a test with limits of its own.
type limited struct {
	T
	limits Limits
}

// Within gives a test whose limits are others than Patient.
func Within(t T, l Limits) T { return limited{t, l} }

func limitsOf(t T) Limits {
	if l, ok := t.(limited); ok {
		return l.limits
	}
	return Patient
}
