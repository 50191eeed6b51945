package api

import (
	"testing"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
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

// KeepKinds has idle desks keep so many sets of options for the length of a test. No other
// may run beside it.
func KeepKinds(tb testing.TB, most int) {
	before := maxIdleKinds
	maxIdleKinds = most
	tb.Cleanup(func() { maxIdleKinds = before })
}

// Idle counts the desks that no session uses, and the sets of options that they keep.
func (s *Treatment) Idle() (idle, kinds int) {
	s.desks.Lock()
	defer s.desks.Unlock()
	for _, d := range s.desks.idle {
		kinds += d.planners.rest()
		for _, l := range d.beside {
			kinds += l.rest()
		}
	}
	return len(s.desks.idle), kinds
}

// Told counts the rejections that the answer to a chunk holds once it is settled, once it is
// listed and once it was sent.
func (s *Treatment) Told(tb testing.TB, begin *treatmentv1.StreamBegin, c *treatmentv1.StemChunk) (settled, listed, sent int) {
	st, err := s.newStream(tb.Context(), begin)
	if err != nil {
		tb.Fatal(err)
	}
	defer st.aside.Close()
	rows := chunkRows{stated: maxSites}
	var a chunkAnswer
	rows.look(c)
	p := st.newProposer(1)
	p.propose(&rows, &a)
	p.settle(&rows, &a)
	settled = len(a.Rejections)
	listed = len(p.list(&rows, &a).GetRejections())
	a.forget()
	return settled, listed, len(a.Rejections)
}

// SameDose is the comparison by which doses of a chunk are listed once.
var SameDose = sameDose
