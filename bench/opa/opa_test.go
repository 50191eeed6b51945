package opa_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/bench/agreement"
	"example.org/rootward/bench/core"
	"example.org/rootward/bench/opa"
)

// It is not in package agreement, which everyone tests: it takes a minute to build.
func TestItAnswersAsTheCoreDoes(t *testing.T) {
	d := agreement.Draw(t, 2_000)
	p, err := opa.New(t.Context(), d.Rows)
	require.NoError(t, err)
	for i := range d.Rows {
		answer, err := p.Answer(t.Context(), i)
		require.NoError(t, err)
		require.Equal(t, d.Want[i].String(), core.Of(answer).String(), "row %d: %+v", i, d.Stems[i].Stem)
	}
}
