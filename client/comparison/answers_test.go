package comparison_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/comparison"
	"example.org/rootward/client/inventory"
)

const (
	prescribed   = treatmentv1.Outcome_OUTCOME_PRESCRIBED
	deferred     = treatmentv1.Outcome_OUTCOME_DEFERRED
	undetermined = treatmentv1.Outcome_OUTCOME_UNDETERMINED
	rejected     = treatmentv1.Outcome_OUTCOME_REJECTED
)

// said is an explanation in which rules said one thing each.
func said(method commonv1.Method, decision commonv1.Decision, rules ...string) *treatmentv1.Explanation {
	e := &treatmentv1.Explanation{Choice: &treatmentv1.Choice{Method: method, Active: "triclopyr", Decision: decision}}
	for _, id := range rules {
		e.Findings = append(e.Findings, &rulesetv1.Finding{RuleSet: &commonv1.RuleSetRef{RuleSetId: "velmora"}, RuleId: id, Decision: decision})
	}
	return e
}

var (
	basal   = said(commonv1.Method_METHOD_BASAL_BARK, commonv1.Decision_DECISION_ALLOWED, "lake")
	cut     = said(commonv1.Method_METHOD_CUT_STUMP, commonv1.Decision_DECISION_CONDITIONAL, "record")
	closed  = said(commonv1.Method_METHOD_BASAL_BARK, commonv1.Decision_DECISION_PROHIBITED, "a", "b", "c", "d", "e", "f")
	lawless = said(commonv1.Method_METHOD_BASAL_BARK, commonv1.Decision_DECISION_UNDETERMINED)
)

type answer struct {
	outcome     treatmentv1.Outcome
	explanation *treatmentv1.Explanation
}

func feed(t require.TestingT, begin func() (client.Sink, error), answers []answer) error {
	sink, err := begin()
	require.NoError(t, err)
	for i, a := range answers {
		r := &client.Row{Outcome: a.outcome, Explanation: a.explanation, Record: &inventory.Record{Number: int64(i + 1), Stem: &treatmentv1.Stem{StemId: fmt.Sprintf("s-%d", i+1)}}}
		if err := sink.Row(r); err != nil {
			return err
		}
	}
	return nil
}

func TestWhatIsLiftedComesFirst(t *testing.T) {
	a := comparison.Answers{MaxExamples: 3}
	require.NoError(t, feed(t, a.BeginOld, []answer{{prescribed, basal}, {prescribed, basal}, {deferred, closed}, {undetermined, lawless}, {rejected, nil}, {prescribed, basal}}))
	require.NoError(t, feed(t, a.BeginNew, []answer{{prescribed, basal}, {prescribed, cut}, {prescribed, cut}, {deferred, closed}, {rejected, nil}, {deferred, closed}}))
	cells, err := a.Cells()
	require.NoError(t, err)
	const (
		wasClosed  = "deferred, basal bark with triclopyr, by law prohibited, by velmora/a, velmora/b, velmora/c, velmora/d, 2 more"
		wasBasal   = "prescribed, basal bark with triclopyr, by law allowed"
		isCut      = "prescribed, cut stump with triclopyr, by law conditional, by velmora/record"
		wasLawless = "undetermined, basal bark with triclopyr, by law undetermined, by law that is not at hand"
	)
	assert.Equal(t, []comparison.Cell{
		{Old: deferred, New: prescribed, Rows: 1, Otherwise: 1, Examples: []comparison.Example{{Row: 3, ID: "s-3", Old: wasClosed, New: isCut}}},
		{Old: prescribed, New: deferred, Rows: 1, Otherwise: 1, Examples: []comparison.Example{{Row: 6, ID: "s-6", Old: wasBasal, New: wasClosed}}},
		{Old: undetermined, New: deferred, Rows: 1, Otherwise: 1, Examples: []comparison.Example{{Row: 4, ID: "s-4", Old: wasLawless, New: wasClosed}}},
		{Old: prescribed, New: prescribed, Rows: 2, Otherwise: 1, Examples: []comparison.Example{{Row: 2, ID: "s-2", Old: wasBasal, New: isCut}}},
		{Old: rejected, New: rejected, Rows: 1},
	}, cells)
	assert.True(t, cells[0].Lifted())
	assert.False(t, cells[1].Lifted())
}

func TestAnInventoryThatIsChangedMeanwhile(t *testing.T) {
	a := comparison.Answers{MaxExamples: 3}
	require.NoError(t, feed(t, a.BeginOld, []answer{{prescribed, basal}, {prescribed, basal}}))
	require.ErrorContains(t, feed(t, a.BeginNew, []answer{{prescribed, basal}, {prescribed, basal}, {prescribed, basal}}), "more rows than the 2 before")
	require.NoError(t, feed(t, a.BeginNew, []answer{{prescribed, basal}}), "begun again")
	_, err := a.Cells()
	require.ErrorContains(t, err, "has 1 row, and had 2 before")
}

// The margins of the matrix are the counts of each law alone, and a pass that is begun
// again leaves nothing behind.
func TestTheMarginsAreTheCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pick := rapid.SampledFrom([]answer{{prescribed, basal}, {prescribed, cut}, {deferred, closed}, {undetermined, lawless}, {rejected, nil}})
		before := rapid.SliceOfN(pick, 0, 30).Draw(t, "before")
		after := rapid.SliceOfN(pick, len(before), len(before)).Draw(t, "after")
		a := comparison.Answers{MaxExamples: 3}
		require.NoError(t, feed(t, a.BeginOld, after))
		require.NoError(t, feed(t, a.BeginOld, before))
		require.NoError(t, feed(t, a.BeginNew, before))
		require.NoError(t, feed(t, a.BeginNew, after))
		cells, err := a.Cells()
		require.NoError(t, err)
		old, new, otherwise := map[treatmentv1.Outcome]int64{}, map[treatmentv1.Outcome]int64{}, int64(0)
		for _, c := range cells {
			old[c.Old] += c.Rows
			new[c.New] += c.Rows
			otherwise += c.Otherwise
			assert.LessOrEqual(t, len(c.Examples), 3)
		}
		differ := int64(0)
		for i := range before {
			old[before[i].outcome]--
			new[after[i].outcome]--
			if before[i] != after[i] {
				differ++
			}
		}
		for _, left := range []map[treatmentv1.Outcome]int64{old, new} {
			for o, n := range left {
				require.Zero(t, n, o)
			}
		}
		require.Equal(t, differ, otherwise)
	})
}
