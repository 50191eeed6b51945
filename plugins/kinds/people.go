package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

// maxSupervised is how many one certified applicator supervises; invented.
const maxSupervised = 10

func peopleRows() []rulesdk.Rule {
	return []rulesdk.Rule{
		// People: category and supervision ratio. Kind: section E (people); categories: S12.
		row(27, "foresters", "Who sprays holds a certificate for forest or right-of-way, or works under one with at most nine others.").
			When(rules.Selector{Methods: sprayed}).
			Then(rules.RequireStanding{
				AtLeast: rules.Supervised, Categories: rules.AnyOf(rules.CertifiedForest, rules.CertifiedRightOfWay), MaxSupervised: maxSupervised,
			}),
	}
}

func peopleCases() []rules.Case {
	who := func(name string, s rules.Standing, categories rules.OneOf[rules.CertificationCategory], want rules.Decision) rules.Case {
		return rulesdk.Case(spray(), name, rulesdk.Gives(want, "foresters"),
			with(func(t *rules.Treatment) { t.Standing, t.Categories = s, categories }))
	}
	forest, aquatic := rules.AnyOf(rules.CertifiedForest), rules.AnyOf(rules.CertifiedAquatic)
	return []rules.Case{
		who("under a forester", rules.Supervised, forest, rules.Conditional),
		who("by nobody's leave", rules.Unlicensed, forest, rules.Prohibited),
		who("certified for water alone", rules.Certified, aquatic, rules.Prohibited),
		who("certified for water and forest", rules.Certified, forest|aquatic, rules.Conditional),
		who("certified, nobody said for what", rules.Certified, 0, rules.Undetermined),
	}
}
