package api

import "testing"

// Keep has desks keep little for the length of a test. No other may run beside it.
func Keep(tb testing.TB, explanations, pieces, messages int) {
	before := [...]int{maxExplanations, maxPieces, maxMessages}
	maxExplanations, maxPieces, maxMessages = explanations, pieces, messages
	tb.Cleanup(func() { maxExplanations, maxPieces, maxMessages = before[0], before[1], before[2] })
}
