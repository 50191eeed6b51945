package rulecoverage_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulecoverage"
	"example.org/rootward/rules/rulesdk"
)

const limit = 50 * quantity.Foot

// ditches is a set that keeps sprayed leaves from ditches, but for gardens.
func ditches(t *testing.T, cases ...rules.Case) *rules.Set {
	t.Helper()
	from := civil.Of(2024, time.January, 1)
	set, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{
			ID: "test-set", Version: "1", Title: "A rule set for tests", Publisher: "nobody",
			Layer: rules.State, Scope: "us/velmora", ValidFrom: from,
		},
		Rows: []rules.Row{{
			ID: "ditch", Purpose: "No leaf is sprayed at a ditch.", Citation: "invented for a test", ValidFrom: from,
			When:   rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar)},
			Unless: []rules.Selector{{LandUses: rules.AnyOf(rules.Residential)}},
			Effect: rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: limit, From: rules.BankTop},
		}},
		Cases: cases,
	})
	require.NoError(t, err)
	return set
}

func TestMissing(t *testing.T) {
	far := rulesdk.Case(rulesdk.FoliarSpray(2026, time.July, 15), "far", rulesdk.Gives(rules.Allowed))
	inside := rulesdk.Case(far, "inside", rulesdk.Water(rules.Ditch, limit-1, rules.BankTop), rulesdk.Forbidden("ditch"))
	atLimit := rulesdk.Case(far, "at the limit", rulesdk.Water(rules.Ditch, limit, rules.BankTop))
	garden := rulesdk.Case(inside, "garden", rulesdk.Gives(rules.Allowed),
		rulesdk.With(func(t *rules.Treatment) { t.LandUse = rules.Residential }))
	const (
		forbidden = "row ditch (buffer): no worked case is forbidden by it; add one"
		missed    = "row ditch (buffer): it applies to every worked case; add one that differs in what the row selects by, so that the row does not apply"
		spared    = "row ditch (buffer): no worked case is one that it would apply to but for exception 1 (land use residential); add one, for an exception allows what the row forbids"
		near      = `row ditch (buffer): no worked case has 15239999 µm to ditch, counted from the bank top, next to the limit of its distance; add one like "far" with it, which gives PROHIBITED`
		apart     = `row ditch (buffer): no worked case has 15240000 µm to ditch, counted from the bank top, next to the limit of its distance; add one like "far" with it, which gives ALLOWED`
	)
	for _, c := range []struct {
		name  string
		cases []rules.Case
		want  []string
	}{
		{"no cases", nil, []string{"row ditch (buffer): no worked case is one that it applies to; add one"}},
		{"far only", []rules.Case{far}, []string{forbidden, missed, spared, near, apart}},
		{"one side", []rules.Case{far, inside}, []string{missed, spared, apart}},
		{"no exception", []rules.Case{far, inside, atLimit}, []string{missed, spared}},
		{"all", []rules.Case{far, inside, atLimit, garden}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var said []string
			for _, g := range rulecoverage.Missing(ditches(t, c.cases...)) {
				said = append(said, g.String())
			}
			assert.Equal(t, c.want, said)
		})
	}
}

// A set to which the cases to add were added passes, and shows those limits.
func TestWhatIsMissingCanBeAdded(t *testing.T) {
	far := rulesdk.Case(rulesdk.FoliarSpray(2026, time.July, 15), "far", rulesdk.Gives(rules.Allowed))
	cases := []rules.Case{far}
	for _, g := range rulecoverage.Missing(ditches(t, far)) {
		if g.Add != nil {
			assert.Equal(t, "far", g.Like.Name)
			cases = append(cases, *g.Add)
		}
	}
	require.Len(t, cases, 3, "both sides of the limit are to be added")
	for _, g := range rulecoverage.Missing(ditches(t, cases...)) {
		assert.Nil(t, g.Add, g.String())
		assert.False(t, g.Forbidden, g.String())
	}
}

// A rule with an allowance needs cases on both sides of what it makes up for.
func TestAnAllowanceIsALimit(t *testing.T) {
	far := rulesdk.Case(rulesdk.FoliarSpray(2026, time.July, 15), "far", rulesdk.Gives(rules.Allowed))
	table := ditches(t).Table
	table.Rows[0].Effect = rules.Buffer{Water: rules.AnyOf(rules.Ditch), Distance: limit, From: rules.BankTop, Allowance: rules.Allowance{Distance: 1_000, Basis: "a survey"}}
	missing := func(cases ...rules.Case) string {
		table.Cases = cases
		set, err := rules.NewSet(table)
		require.NoError(t, err)
		return fmt.Sprint(rulecoverage.Missing(set))
	}
	const (
		short = `no worked case has 15240999 µm to ditch, counted from the water edge, next to its distance and its allowance together; add one like "far" with it, which gives UNDETERMINED`
		made  = `no worked case has 15241000 µm to ditch, counted from the water edge, next to its distance and its allowance together; add one like "far" with it, which gives ALLOWED`
	)
	all := missing(far)
	assert.Contains(t, all, short)
	assert.Contains(t, all, made)
	less := missing(far, rulesdk.Case(far, "short", rulesdk.Water(rules.Ditch, limit+999, rules.WaterEdge), rulesdk.Gives(rules.Undetermined, "ditch")),
		rulesdk.Case(far, "made up for", rulesdk.Water(rules.Ditch, limit+1_000, rules.WaterEdge)))
	assert.NotContains(t, less, "allowance")
}
