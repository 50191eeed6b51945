package api

import (
	"testing"

	"example.org/rootward/server/treatment"
)

// Keep has desks keep little for the length of a test. No other may run beside it.
func Keep(tb testing.TB, explanations, pieces, messages int) {
	before := [...]int{maxExplanations, maxPieces, maxMessages}
	maxExplanations, maxPieces, maxMessages = explanations, pieces, messages
	tb.Cleanup(func() { maxExplanations, maxPieces, maxMessages = before[0], before[1], before[2] })
}

// KeepSums has streams keep so many sums in memory and in a file for the length of a test.
// No other may run beside it.
func KeepSums(tb testing.TB, room treatment.Room) {
	before := asideRoom
	asideRoom = room
	tb.Cleanup(func() { asideRoom = before })
}

// Propose has streams propose for so many chunks at a time for the length of a test. No
// other may run beside it.
func Propose(tb testing.TB, atOnce int) {
	before := proposersOf
	proposersOf = func() int { return atOnce }
	tb.Cleanup(func() { proposersOf = before })
}
