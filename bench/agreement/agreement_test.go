package agreement_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/bench/agreement"
	"example.org/rootward/bench/cel"
	"example.org/rootward/bench/core"
	"example.org/rootward/bench/question"
	"example.org/rootward/bench/straight"
)

func TestEveryoneAnswersAsTheCoreDoes(t *testing.T) {
	d := agreement.Draw(t, 30_000)
	seen := map[core.Answered]bool{}
	c, err := cel.New(d.Rows)
	require.NoError(t, err)
	for i := range d.Rows {
		want := d.Want[i].String()
		seen[d.Want[i]] = true
		require.Equal(t, want, core.Of(question.Answer(question.Eval(question.Logic, &d.Rows[i]))).String(), "the expression, row %d: %+v", i, d.Stems[i].Stem)
		stem := straight.Of(&d.Stems[i].Stem)
		byHand, dose := straight.Answer(&stem, d.Sites[i])
		require.Equal(t, want, core.Of(byHand).String(), "straight Go, row %d: %+v", i, d.Stems[i].Stem)
		require.Equal(t, d.Plans[i].Dose, dose, "the dose of straight Go, row %d: %+v", i, d.Stems[i].Stem)
		answer, err := c.Answer(i)
		require.NoError(t, err)
		require.Equal(t, want, core.Of(answer).String(), "cel-go, row %d: %+v", i, d.Stems[i].Stem)
	}
	assert.GreaterOrEqual(t, len(seen), 12, "kinds of answer among the rows")
}
