package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

func classRows() []rulesdk.Rule {
	return []rulesdk.Rule{
		// Banned class with an exception. Kind: section E (Ontario), S22. The class is that
		// of L21, S05.
		row(12, "class-banned", "Picloram is not used where people live or play, unless into cuts of a tree that suckers.").
			When(rules.Selector{Actives: []string{"picloram"}, LandUses: rules.AnyOf(rules.Park, rules.Residential)}).
			Unless(rules.Selector{Methods: rules.AnyOf(rules.HackAndSquirt), Suckering: rules.AnyOf(rules.SuckeringStrong)}).
			Then(rules.Prohibit{}),

		// Class for a class of applicators. Kind: L21, S05.
		row(13, "class-certified", "What is of restricted use is applied by the certified alone.").
			When(rules.Selector{RestrictedUse: rules.AnyOf(rules.RestrictedUseProduct)}).
			Then(rules.RequireStanding{AtLeast: rules.Certified}),

		// Plan required first. Kind and number: section E (Massachusetts), a plan of five
		// years and one of each year.
		row(14, "plan-first", "On rights-of-way nothing is applied before there is a plan.").
			When(rules.Selector{Methods: withHerbicide, LandUses: rules.AnyOf(rules.RightOfWay)}).
			Then(rules.Permit{Name: "an approved plan of its vegetation", From: "the district", ValidYears: 5, Yearly: "a plan of the year's work"}),
	}
}

func classCases() []rules.Case {
	picloram := func(t *rules.Treatment) {
		t.Active, t.SoilActivity, t.RestrictedUse = "picloram", rules.SoilStrong, rules.RestrictedUseProduct
	}
	restricted := func(name string, s rules.Standing, more ...rulesdk.Change) rules.Case {
		changes := []rulesdk.Change{with(picloram), with(func(t *rules.Treatment) { t.Standing = s })}
		return rulesdk.Case(spray(), name, append(changes, more...)...)
	}
	return []rules.Case{
		restricted("picloram in a forest", rules.Certified),
		restricted("picloram in a forest, supervised", rules.Supervised, rulesdk.Forbidden("class-certified")),
		restricted("picloram in a forest, standing not stated", 0, rulesdk.Gives(rules.Undetermined, "class-certified")),
		restricted("picloram in a park", rules.Certified, on(rules.Park), rulesdk.Forbidden("class-banned")),
		restricted("picloram into cuts in a park", rules.Certified, on(rules.Park), by(rules.HackAndSquirt)),
		restricted("picloram into cuts of what may not sucker", rules.Certified, on(rules.Park), by(rules.HackAndSquirt),
			with(func(t *rules.Treatment) { t.Suckering = 0 }), rulesdk.Gives(rules.Undetermined, "class-banned")),
		rulesdk.Case(spray(), "along a road", on(rules.RightOfWay), rulesdk.Gives(rules.Conditional, "plan-first")),
	}
}
