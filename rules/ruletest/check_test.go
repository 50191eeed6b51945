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

func TestRowsThatNoCaseReachesAreListed(t *testing.T) {
	inLeaf := rulesdk.With(func(t *rules.Treatment) { t.Method = rules.LowVolumeFoliar })
	winter := cut("winter", time.January, rulesdk.Forbidden("summer"))
	cases := []struct {
		name  string
		cases []rules.Case
		want  []string
	}{
		{"no cases", nil, []string{
			"row summer (window): no worked case is one that it applies to; add one",
			"row leaves (warn): no worked case is one that it applies to; add one",
		}},
		{"let through only", []rules.Case{cut("summer", time.July, inLeaf)}, []string{
			"row summer (window): no worked case is forbidden by it; add one just inside its limit",
		}},
		{"forbidden only", []rules.Case{winter}, []string{
			"row summer (window): no worked case is let through by it; add one just outside its limit",
			"row leaves (warn): no worked case is one that it applies to; add one",
		}},
		{"both", []rules.Case{winter, cut("summer", time.July, inLeaf)}, nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			set, err := rules.NewSet(table(c.cases...))
			require.NoError(t, err)
			assert.Equal(t, c.want, ruletest.Untested(set))
		})
	}
}

func TestSaid(t *testing.T) {
	said := ruletest.Said(t, table(), cut("winter", time.January))
	assert.Equal(t, map[string]rules.Decision{"summer": rules.Prohibited}, said)
}
