package ruletest_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/ruletest"
)

var summer = civil.Window{From: civil.DayOfYear{Month: time.June, Day: 1}, To: civil.DayOfYear{Month: time.August, Day: 31}}

// table has a window, and a warning about what is in leaf.
func table(cases ...rules.Case) rules.Table {
	from := civil.Of(2024, 1, 1)
	return rules.Table{
		Manifest: rules.Manifest{
			ID: "test-set", Version: "1", Title: "A rule set for tests", Publisher: "nobody",
			Layer: rules.State, Scope: "us/velmora", ValidFrom: from,
		},
		Rows: []rules.Row{{
			ID: "summer", Purpose: "Work is done in summer.", Citation: "invented for a test", ValidFrom: from,
			Effect: rules.Window{Open: summer},
		}, {
			ID: "leaves", Purpose: "Sprayed leaves are wet.", Citation: "invented for a test", ValidFrom: from,
			When:   rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar)},
			Effect: rules.Warn{Message: "leaves are wet"},
		}},
		Cases: cases,
	}
}

func cut(name string, month time.Month, changes ...rulesdk.Change) rules.Case {
	base := rules.Case{Treatment: rules.Treatment{Method: rules.CutStump}}
	return rulesdk.Case(base, name, append(changes, rulesdk.On(2026, month, 15))...)
}

func TestWhatTheCasesDoNotShow(t *testing.T) {
	inLeaf := rulesdk.With(func(t *rules.Treatment) { t.Method = rules.LowVolumeFoliar })
	edges := rulesdk.AtEdges(cut("", time.July), "summer", summer, 2026)
	leaf := cut("leaves", time.July, inLeaf)
	cases := []struct {
		name  string
		cases []rules.Case
		want  []string
	}{
		{"no cases", nil, []string{
			"row summer (window): no worked case is one that it applies to; add one",
			"row leaves (warn): no worked case is one that it applies to; add one",
		}},
		{"let through only", []rules.Case{edges[1], edges[2], leaf}, []string{
			`row summer (window): no worked case is forbidden by it; add one with rulesdk.Forbidden("summer")`,
			`row summer (window): no worked case has the day 31 May, at an edge of its window, 1 June to 31 August; add one like "summer, first day" with it, which gives PROHIBITED:
	rulesdk.Case(base, "summer, the day 31 May", rulesdk.On(2026, time.May, 31), rulesdk.Gives(rules.Prohibited, "summer")),`,
			`row summer (window): no worked case has the day 1 September, at an edge of its window, 1 June to 31 August; add one like "summer, first day" with it, which gives PROHIBITED:
	rulesdk.Case(base, "summer, the day 1 September", rulesdk.On(2024, time.September, 1), rulesdk.Gives(rules.Prohibited, "summer")),`,
		}},
		{"never missed", rulesdk.AtEdges(leaf, "summer", summer, 2026), []string{
			"row leaves (warn): it applies to every worked case; add one that differs in what the row selects by, so that the row does not apply",
		}},
		{"all", append(edges, leaf), nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			set, err := rules.NewSet(table(c.cases...))
			require.NoError(t, err)
			assert.Equal(t, c.want, ruletest.Untested(set))
		})
	}
}

// An exception that no case shows may except more than its author thinks.
func TestEachExceptionIsShown(t *testing.T) {
	inLeaf := rulesdk.With(func(t *rules.Treatment) { t.Method = rules.LowVolumeFoliar })
	at := func(use rules.LandUse) rulesdk.Change {
		return rulesdk.With(func(t *rules.Treatment) { t.LandUse = use })
	}
	cases := append(rulesdk.AtEdges(cut("", time.July), "summer", summer, 2026),
		cut("leaves", time.July, inLeaf, at(rules.Forest)), cut("leaves in a park", time.July, inLeaf, at(rules.Park)))
	excepting := table(cases...)
	excepting.Rows[1].Unless = []rules.Selector{{LandUses: rules.AnyOf(rules.Park)}, {LandUses: rules.AnyOf(rules.Residential)}}
	set, err := rules.NewSet(excepting)
	require.NoError(t, err)
	assert.Equal(t, []string{
		"row leaves (warn): no worked case is one that it would apply to but for exception 2 (land use residential); add one, for an exception allows what the row forbids",
	}, ruletest.Untested(set))
}

func TestSaid(t *testing.T) {
	said := ruletest.Said(t, table(), cut("winter", time.January))
	assert.Equal(t, map[string]rules.Decision{"summer": rules.Prohibited}, said)
}

func TestFoundTellsWhatATestWouldPrint(t *testing.T) {
	ended := false
	found := ruletest.Found(func(t ruletest.T) {
		t.Cleanup(func() { ended = true })
		t.Errorf("one %d", 1)
		assert.Equal(t, 2, 2)
		t.FailNow()
		t.Errorf("never")
	})
	assert.Equal(t, []string{"one 1"}, found)
	assert.True(t, ended, "what was to be cleaned up is")
	assert.Equal(t, []string{"panic: no rows"}, ruletest.Found(func(ruletest.T) { panic("no rows") }))
}
