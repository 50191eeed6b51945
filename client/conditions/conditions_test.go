package conditions_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/clienttest"
	"example.org/rootward/client/conditions"
)

const (
	hack  = commonv1.Method_METHOD_HACK_AND_SQUIRT
	basal = commonv1.Method_METHOD_BASAL_BARK
)

func ids(groups []conditions.Group) map[string][]string {
	found := map[string][]string{}
	for _, g := range groups {
		for _, c := range g.Conditions {
			found[g.Title()] = append(found[g.Title()], c.RuleID())
		}
	}
	return found
}

func TestConditionsAreGroupedByWhatTheyAskFor(t *testing.T) {
	var c conditions.Collection
	for _, r := range clienttest.Rows(t) {
		c.Add(r.Explanation.GetChoice().GetMethod(), r.Explanation.GetFindings(), 1)
	}
	assert.Equal(t, map[string][]string{
		"Who may apply": {"velmora/standing"}, "Who is told beforehand": {"velmora/notice"}, "Weather": {"velmora/wind"},
		"Distance to water": {"velmora/stream"}, "No entry afterwards": {"us-federal/entry"},
		"Exclusion zone during application": {"us-federal/zone"},
	}, ids(c.Groups(clienttest.Effects())), "the name of a season asks for nothing")
}

// A rule that this client knows nothing of is shown all the same.
func TestWhatIsNotKnownIsShownAsItIs(t *testing.T) {
	var c conditions.Collection
	c.Add(hack, clienttest.Rows(t)[0].Explanation.GetFindings(), 1)
	groups := c.Groups(nil)
	require.Len(t, groups, 1)
	assert.Equal(t, "Other rules that apply", groups[0].Title())
	assert.Len(t, groups[0].Conditions, 7)
	assert.Equal(t, "no entry for 12 hours", groups[0].Conditions[0].Text())
}

func TestRowsAndMethodsAreCounted(t *testing.T) {
	var c conditions.Collection
	findings := clienttest.Rows(t)[0].Explanation.GetFindings()[:1]
	c.Add(hack, findings, 3)
	c.Add(basal, findings, 4)
	c.Add(hack, findings, 5)
	one := c.Groups(clienttest.Effects())[0].Conditions[0]
	assert.EqualValues(t, 12, one.Rows)
	assert.Equal(t, "basal bark, hack and squirt", one.MethodNames())
}

func TestEveryKindOfEffectHasATitle(t *testing.T) {
	fields := (&ruletablev1.Effect{}).ProtoReflect().Descriptor().Oneofs().Get(0).Fields()
	for i := range fields.Len() {
		effect := &ruletablev1.Effect{}
		m := effect.ProtoReflect()
		m.Set(fields.Get(i), m.NewField(fields.Get(i)))
		finding := &rulesetv1.Finding{RuleSet: clienttest.RuleSets[0], RuleId: "r"}
		var c conditions.Collection
		c.Add(hack, []*rulesetv1.Finding{finding}, 1)
		for _, g := range c.Groups(client.Effects{{Digest: clienttest.RuleSets[0].GetDigest(), RuleID: "r"}: effect}) {
			assert.NotEqual(t, conditions.Other, g.Kind, fields.Get(i).Name())
			assert.NotEmpty(t, g.Title(), fields.Get(i).Name())
		}
	}
}

// A limit of the weather reads as everywhere else, with the statistic and the exceptions that
// its row states.
func TestALimitOfTheWeatherReadsAsTheServerTellsIt(t *testing.T) {
	const told = "wind at most 9 mph, as a sustained mean over 10 minutes; not for formulation dry granule"
	var c conditions.Collection
	c.Add(hack, []*rulesetv1.Finding{{RuleSet: clienttest.RuleSets[0], RuleId: "r", Text: told}}, 1)
	limit := &ruletablev1.WeatherLimit{Factor: commonv1.WeatherFactor_WEATHER_FACTOR_WIND_SPEED_MPH, Max: new(9.0)}
	effects := client.Effects{{Digest: clienttest.RuleSets[0].GetDigest(), RuleID: "r"}: {Kind: &ruletablev1.Effect_Weather{Weather: limit}}}
	groups := c.Groups(effects)
	assert.Equal(t, conditions.Weather, groups[0].Kind)
	assert.Equal(t, told, groups[0].Conditions[0].Text())
}
