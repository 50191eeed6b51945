package main

import (
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

const (
	nestingEdge   = 50 * quantity.Metre // invented
	registerReach = quantity.Mile       // invented
	// bulletinDays is 1 January to 1 July: a bulletin of six months (L54, S23).
	bulletinDays = 181
)

// nesting is the season of nests; the bulletins of L54, S23 go by month too.
var nesting = civil.Window{
	From: civil.DayOfYear{Month: time.April, Day: 1},
	To:   civil.DayOfYear{Month: time.July, Day: 31},
}

func lifeRows() []rulesdk.Rule {
	return []rulesdk.Rule{
		// Nesting season near a listed species' area, by month. Kind: section E (ecological).
		row(19, "nesting", "From April to July nobody sprays within 50 m of nests or of a listed species.").
			When(rules.Selector{Methods: sprayed}).
			During(nesting).
			Then(rules.Setback{Places: rules.AnyOf(rules.NestingArea, rules.ListedSpeciesArea)}, nestingEdge),

		// Bulletin of the endangered species. Kind and age: L54, S23.
		row(20, "species-bulletin", "The bulletin of the month is read before anything is applied.").
			When(rules.Selector{Methods: withHerbicide}).
			Then(rules.Lookup{Register: "the bulletin on endangered species for the month of treatment", MaxDays: bulletinDays, Then: "follow what it limits"}),

		// Register of organic land and apiaries. Kind: section E (ecological).
		row(21, "organic-register", "The register of organic land and apiaries is looked up before anything is sprayed.").
			When(rules.Selector{Methods: sprayed}).
			Then(rules.Lookup{Register: "the district's register of organic land and apiaries", Then: "tell whoever is entered, and spray when the wind blows away from there"}, registerReach),

		// Hours of the day. Kind: section E (ecological).
		row(22, "after-bees", "Leaves are sprayed in the evening and the early morning, when bees do not fly.").
			When(rules.Selector{Methods: foliar}).
			Then(rules.DailyHours{Open: rules.ClockHours{From: -60, FromAnchor: rules.Sunset, To: 60, ToAnchor: rules.Sunrise}}),

		// Burn ban. Kind: section E (ecological).
		row(23, "burn-ban", "What is mixed with oil is not sprayed in the field while burning is banned.").
			When(rules.Selector{Methods: rules.AnyOf(rules.BasalBark)}).
			Then(rules.Lookup{Register: "the district's notice of the day on burning", Then: "wait until the ban is over"}),
	}
}

func lifeCases() []rules.Case {
	spring := rulesdk.Case(spray(), "in the season of nests", rulesdk.On(2026, time.June, 1), rulesdk.Gives(rules.Conditional, "species-bulletin", "organic-register", "after-bees"))
	nearby := rulesdk.Case(spray(), "near nests", rulesdk.Place(rules.NestingArea, 0))
	return slices.Concat(
		rulesdk.AtSetback(spring, "nesting", rules.ListedSpeciesArea, nestingEdge),
		rulesdk.AtSetback(spring, "nesting", rules.NestingArea, nestingEdge),
		acrossNesting(nearby),
		[]rules.Case{
			spring,
			rulesdk.Case(spray(), "bark is wetted", with(func(t *rules.Treatment) { t.Method = rules.BasalBark }), rulesdk.Gives(rules.Conditional, "burn-ban")),
		},
	)
}

// acrossNesting forbids within the season.
func acrossNesting(near rules.Case) []rules.Case {
	cases := rulesdk.AcrossEdges(near, "nesting", nesting, 2026)
	for _, inside := range []int{1, 2} {
		cases[inside] = rulesdk.Case(cases[inside], cases[inside].Name, rulesdk.Forbidden("nesting"))
	}
	return cases
}
