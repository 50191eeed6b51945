package api_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
)

// A prohibition of a misspelt species forbids nothing: whoever activates the table
// is told before.
func TestComparingNamesWhatTheCatalogueDoesNotHold(t *testing.T) {
	table := stateWith(t, "1", quantity.Foot).Table
	table.Rows[0].When.Species = []string{"Ailanthus altissima", "ailanthus ALTISSIMA", "Ailanthus altisima"}
	table.Rows[0].Unless = []rules.Selector{{Actives: []string{"triclopyr", "tryclopyr"}}}
	set, err := rules.NewSet(table)
	require.NoError(t, err)
	h := &folder{sets: []*rules.Set{set}}
	c := serveHost(t, func() api.Law { return lawOf(h.active()...) }, h)
	answer, err := c.rules.CompareRuleSets(t.Context(), &rulesetv1.CompareRuleSetsRequest{NewDigest: set.Ref.Digest})
	require.NoError(t, err)
	var problems []string
	for _, f := range answer.GetNamesNotInCatalogue() {
		problems = append(problems, f.GetWhere()+": "+f.GetProblem())
	}
	id := table.Rows[0].ID
	assert.Equal(t, []string{
		id + `: the catalogue has no species "Ailanthus altisima"; if the name is misspelt the row never applies: correct it`,
		id + `: the catalogue has no active ingredient "tryclopyr"; if the name is misspelt the row never applies: correct it`,
	}, problems)
}
