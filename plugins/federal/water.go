package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

var surfaceWater = rules.AnyOf(rules.PerennialStream, rules.IntermittentStream, rules.Ditch, rules.Lake, rules.Wetland, rules.Estuary)

func waterRows() []rules.Row {
	return []rules.Row{{
		ID:        "not-registered-for-water",
		Purpose:   "A formulation whose registration does not cover water is not put to water.",
		Citation:  "FIFRA section 12(a)(2)(G), use against the label (from memory); label statements of registered products",
		ValidFrom: title40Edition,
		When:      rules.Selector{AquaticLabel: rules.AnyOf(rules.AquaticNotRegistered)},
		Effect:    rules.Buffer{Water: surfaceWater, Distance: rules.InWater, From: rules.WaterEdge},
	}}
}

func waterCases() []rules.Case {
	var cases []rules.Case
	for _, class := range surfaceWater.Values() {
		cases = append(cases, rulesdk.AtDistance(foliar(), "not-registered-for-water", class, rules.InWater, rules.WaterEdge)...)
	}
	return append(cases,
		rulesdk.Case(foliar(), "registered for water, in a stream",
			rulesdk.With(func(t *rules.Treatment) { t.AquaticLabel = rules.AquaticRegistered }),
			rulesdk.Water(rules.PerennialStream, 0, rules.WaterEdge)),
		rulesdk.Case(foliar(), "distance to water not known",
			rulesdk.Site(func(s *rules.Surroundings) { s.Water = rules.Waters{} }),
			rulesdk.Gives(rules.Undetermined, "not-registered-for-water")),
	)
}
