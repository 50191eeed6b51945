package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

var (
	grazedRate = quantity.PoundsPerAcre(2) // number: section B (grazed), from memory
	treedArea  = quantity.Acres(6_400)     // number: L27, S13
)

func amountRows() []rulesdk.Rule {
	return []rulesdk.Rule{
		// Annual cap with the ground it counts over. Kind: section E (label maxima).
		row(15, "cap-grazed", "On grazed land triclopyr stays within 2 lb of acid a year and acre of the parcel.").
			When(rules.Selector{Actives: []string{"triclopyr"}, LandUses: rules.AnyOf(rules.GrazedPasture)}).
			Then(rules.Cap{Active: "triclopyr", Over: rules.OverParcel, RepeatsCounted: rules.Yes}, grazedRate),

		// Annual threshold of use. Kind and number: L27, S13; that repeats count again is
		// told of another permit: L28 and trap 8.
		row(16, "use-threshold", "Who treats more than 6,400 acres of forest a year needs the district's permit to discharge.").
			When(rules.Selector{Methods: withHerbicide, LandUses: rules.AnyOf(rules.Forest)}).
			Then(rules.UseThreshold{RepeatsCounted: rules.Yes, Then: "a permit to discharge"}, treedArea),
	}
}

func amountCases() []rules.Case {
	grazed := rulesdk.Case(spray(), "triclopyr on pasture", on(rules.GrazedPasture), with(func(t *rules.Treatment) { t.Active = "triclopyr" }))
	return []rules.Case{
		grazed,
		rulesdk.Case(spray(), "within a large forest", on(rules.Forest), rulesdk.Gives(rules.Conditional, "use-threshold")),
	}
}
