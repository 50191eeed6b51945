package rules_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// strictest is what the findings alone say.
func strictest(findings []rules.Finding) rules.Decision {
	d := rules.Allowed
	for _, f := range findings {
		d = rules.Stricter(d, f.Decision)
	}
	return d
}

// Adding a row never makes a decision less strict.
func TestARowOnlyRestricts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, "nation", rules.Federal, "us")
		treatment, site := drawStem(t)
		decide := func(table rules.Table) rules.Decision {
			set, err := rules.NewSet(table)
			require.NoError(t, err)
			return rules.Govern("us", midsummer, []*rules.Set{set}).Narrow(treatment).Decide(&site)
		}
		before := decide(table)
		table.Rows = append(table.Rows, drawRow(t, "added"))
		assert.GreaterOrEqual(t, decide(table), before)
	})
}

// Adding a set never makes a decision less strict, unless it covers a gap, and
// never makes its findings less strict.
func TestASetOnlyRestricts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sets := drawSets(t)
		treatment, site := drawStem(t)
		before := rules.Govern(creek, midsummer, sets)
		after := rules.Govern(creek, midsummer, append(slices.Clone(sets), drawASet(t)))
		was, is := before.Narrow(treatment), after.Narrow(treatment)
		assert.GreaterOrEqual(t, strictest(is.Explain(&site)), strictest(was.Explain(&site)))
		if len(before.Gaps) == 0 || len(after.Gaps) > 0 {
			assert.GreaterOrEqual(t, is.Decide(&site), was.Decide(&site))
		}
	})
}

// Knowing less never permits: what was kept back with a fact is kept back
// without it.
func TestKnowingLessNeverPermits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sets := drawSets(t)
		k := drawKnowledge(t)
		standing := drawWord[rules.Standing](t, "standing")
		left := rapid.SliceOfN(rapid.IntRange(0, len(k)-1), 0, 3).Draw(t, "not known")
		decide := func(without ...int) rules.Decision {
			treatment, site := k.stem(without...)
			treatment.Standing = standing
			return rules.Govern(creek, midsummer, sets).Narrow(treatment).Decide(&site)
		}
		before := decide(left...)
		for i, f := range k {
			if after := decide(append(left, i)...); before >= rules.Undetermined {
				assert.GreaterOrEqual(t, after, rules.Undetermined, "without %s, %s becomes %s", f.name, before, after)
			}
		}
	})
}

// An applicator whose standing is not stated gets no leave that some standing would
// not get.
func TestAStandingNotStatedIsNoLeave(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treatment, site := drawStem(t)
		g := rules.Govern(creek, midsummer, drawSets(t))
		treatment.Standing = known[rules.Standing](t)
		before := g.Narrow(treatment)
		treatment.Standing = 0
		after := g.Narrow(treatment)
		if before.Decide(&site) >= rules.Undetermined {
			require.GreaterOrEqual(t, after.Decide(&site), rules.Undetermined)
		}
	})
}

// The order of sets, and of rows in a table, is of no account.
func TestOrderIsIrrelevant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sets := drawSets(t)
		treatment, site := drawStem(t)
		ids := func(n *rules.Narrowed) (list []string) {
			for _, f := range n.Explain(&site) {
				list = append(list, f.Set.ID+f.Set.Version+f.Row.ID+f.Decision.String())
			}
			return list
		}
		g := rules.Govern(creek, midsummer, sets)
		shuffled := rules.Govern(creek, midsummer, rapid.Permutation(sets).Draw(t, "sets"))
		a, b := g.Narrow(treatment), shuffled.Narrow(treatment)
		assert.Equal(t, g.Gaps, shuffled.Gaps)
		assert.Equal(t, g.Sets, shuffled.Sets)
		assert.Equal(t, a.Judge(&site), b.Judge(&site))
		assert.Equal(t, ids(a), ids(b))

		table := drawTable(t, "nation", rules.Federal, "us")
		turned := table
		turned.Rows = rapid.Permutation(table.Rows).Draw(t, "rows")
		one, err := rules.NewSet(table)
		require.NoError(t, err)
		other, err := rules.NewSet(turned)
		require.NoError(t, err)
		a = rules.Govern("us", midsummer, []*rules.Set{one}).Narrow(treatment)
		b = rules.Govern("us", midsummer, []*rules.Set{other}).Narrow(treatment)
		assert.Equal(t, a.Judge(&site), b.Judge(&site))
		assert.Equal(t, ids(a), ids(b))
	})
}

// A bigger buffer never adds permission.
func TestABiggerBufferNeverPermits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treatment, site := drawStem(t)
		r := when("row", drawSelector(t), nil)
		b := drawBuffer(t)
		decide := func() rules.Decision {
			r.Effect = b
			set, err := rules.NewSet(validTable(r))
			require.NoError(t, err)
			return rules.Govern("us", midsummer, []*rules.Set{set}).Narrow(treatment).Decide(&site)
		}
		before := decide()
		b.Distance += quantity.Micrometres(rapid.Int64Range(1, 4).Draw(t, "wider"))
		assert.GreaterOrEqual(t, decide(), before)
	})
}

// What explains a decision is what decided it, whichever way it is asked.
func TestExplainRecomputesTheDecision(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rules.Govern(creek, midsummer, drawSets(t))
		treatment, site := drawStem(t)
		n := g.Narrow(treatment)
		findings := n.Explain(&site)

		want := strictest(findings)
		otherwise := strictest(slices.DeleteFunc(slices.Clone(findings), func(f rules.Finding) bool {
			return f.Decision >= rules.Undetermined && (f.Row.Effect.Kind() == rules.KindWindow || f.Row.During.Valid())
		}))
		if len(g.Gaps) > 0 {
			want, otherwise = rules.Stricter(want, rules.Undetermined), rules.Stricter(otherwise, rules.Undetermined)
		}
		judgement := n.Judge(&site)
		assert.Equal(t, want, n.Decide(&site))
		assert.Equal(t, want, judgement.Decision)
		assert.Equal(t, otherwise, judgement.Otherwise)

		for _, f := range findings {
			assert.Equal(t, f.Decision == rules.Undetermined, len(f.Missing) > 0, "%s: what is undetermined says what is missing", f.Row.ID)
			assert.True(t, f.Certain || f.Decision != rules.Prohibited, "nothing is forbidden by a row that may not apply")
			assert.True(t, f.Row.InForce(midsummer))
			assert.Contains(t, g.Sets, f.Set)
		}
	})
}

// Two stems with one key are explained alike, down to the facts that are missing.
func TestAKeyStandsForAnExplanation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treatment, _ := drawStem(t)
		n := rules.Govern(creek, midsummer, drawSets(t)).Narrow(treatment)
		k := drawKnowledge(t)
		seen := map[uint64][]rules.Finding{}
		for i := range k {
			_, site := k.stem(i, rapid.IntRange(0, len(k)-1).Draw(t, "nor this"))
			key, findings := n.Judge(&site).Key, n.Explain(&site)
			if other, met := seen[key]; met {
				assert.Equal(t, other, findings)
			}
			seen[key] = findings
		}
		_, whole := k.stem()
		again := whole
		assert.Equal(t, n.Judge(&whole), n.Judge(&again))
	})
}

// The strictest limit that may hold is the one given.
func TestTheStrictestCapHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		treatment, site := drawStem(t)
		n := rules.Govern(creek, midsummer, drawSets(t)).Narrow(treatment)
		active := rapid.SampledFrom(drawnActives).Draw(t, "of")
		rate, by := n.Cap(&site, active, false)
		limits := 0
		for _, f := range n.Explain(&site) {
			if c, ok := f.Row.Effect.(rules.Cap); ok && c.Active == active {
				limits++
				assert.LessOrEqual(t, rate, c.Rate)
			}
		}
		assert.Equal(t, limits > 0, by != nil)
		if by != nil {
			assert.Equal(t, rate, by.Effect.(rules.Cap).Rate)
		}
	})
}
