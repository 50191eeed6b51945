// Package agreement draws rows with the core's answers to them, for the tests that hold
// the peers against it.
package agreement

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/bench/core"
	"example.org/rootward/bench/question"
	"example.org/rootward/bench/straight"
	"example.org/rootward/server/treatment"
	"example.org/rootward/testdata/many"
)

// Drawn is rows with what the core answers for each.
type Drawn struct {
	Rows  []question.Row
	Stems []core.Stem
	Sites []*straight.Site
	Want  []core.Answered
	Plans []treatment.Plan
}

// Draw draws so many rows.
func Draw(t testing.TB, n int64) *Drawn {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, core.BuildPlugins(t.Context(), "../..", dir, core.RuleSets...))
	sets, err := core.Sets(t.Context(), dir, core.RuleSets...)
	require.NoError(t, err)
	begin := many.Begin(n)
	c, err := core.New(sets, begin)
	require.NoError(t, err)
	places, err := question.Places(begin)
	require.NoError(t, err)
	sites := straight.Sites(begin, places)
	d := &Drawn{}
	for chunk := range many.Chunks(7, n, 8_192) {
		d.Rows = append(d.Rows, question.Rows(chunk, places)...)
		d.Stems = append(d.Stems, c.Stems(chunk)...)
		for _, at := range chunk.GetSite() {
			d.Sites = append(d.Sites, sites[chunk.GetWords()[at]])
		}
	}
	for i := range d.Stems {
		answer, plan := c.Answer(&d.Stems[i])
		d.Want, d.Plans = append(d.Want, answer), append(d.Plans, plan)
	}
	return d
}
