package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/rules"
)

func TestARowIsToldWhatItNeedsAndNoMore(t *testing.T) {
	series := &rules.TemperatureSeries{}
	all := rules.SiteFacts{HasPosition: true, Latitude: 1, Longitude: 2, HasElevation: true, Elevation: 3, Temperatures: series}
	cases := []struct {
		name    string
		needs   rules.OneOf[rules.SiteFact]
		want    rules.SiteFacts
		missing rules.OneOf[rules.SiteFact] // of a site of which nothing is known
	}{
		{"nothing", 0, rules.SiteFacts{}, 0},
		{"position", rules.AnyOf(rules.FactPosition), rules.SiteFacts{HasPosition: true, Latitude: 1, Longitude: 2}, rules.AnyOf(rules.FactPosition)},
		{"elevation", rules.AnyOf(rules.FactElevation), rules.SiteFacts{HasElevation: true, Elevation: 3}, rules.AnyOf(rules.FactElevation)},
		{"temperatures", rules.AnyOf(rules.FactTemperatures), rules.SiteFacts{Temperatures: series}, rules.AnyOf(rules.FactTemperatures)},
		{"all", rules.AnyOf(rules.FactPosition, rules.FactElevation, rules.FactTemperatures), all, rules.AnyOf(rules.FactPosition, rules.FactElevation, rules.FactTemperatures)},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			told, missing := all.For(c.needs)
			assert.Equal(t, c.want, told)
			assert.Zero(t, missing)
			_, missing = (&rules.SiteFacts{}).For(c.needs)
			assert.Equal(t, c.missing, missing)
		})
	}
}
