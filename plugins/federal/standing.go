package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

func standingRows() []rules.Row {
	return []rules.Row{{
		ID:        "restricted-use-standing",
		Purpose:   "A restricted-use product is applied only by, or under the supervision of, a certified applicator.",
		Citation:  "40 CFR 152.175 (2015 edition) for which products; FIFRA section 3(d)(1)(C) for who may apply them (from memory)",
		ValidFrom: title40Edition,
		When:      rules.Selector{RestrictedUse: rules.AnyOf(rules.RestrictedUseProduct)},
		Effect:    rules.RequireStanding{AtLeast: rules.Supervised},
	}, {
		ID:        "picloram-standing",
		Purpose:   "Picloram is restricted in every formulation, for the harm it does to plants that are not meant; an exception that the regulation makes is not used here.",
		Citation:  "40 CFR 152.175 (2015 edition), picloram",
		ValidFrom: title40Edition,
		When:      rules.Selector{Actives: []string{"picloram"}},
		Effect:    rules.RequireStanding{AtLeast: rules.Supervised},
	}}
}

func standingCases() []rules.Case {
	restricted := rulesdk.With(func(t *rules.Treatment) { t.RestrictedUse = rules.RestrictedUseProduct })
	picloram := rulesdk.With(func(t *rules.Treatment) { t.Active = "picloram" })
	by := func(s rules.Standing) rulesdk.Change {
		return rulesdk.With(func(t *rules.Treatment) { t.Standing = s })
	}
	return []rules.Case{
		rulesdk.Case(foliar(), "restricted use, unlicensed", restricted, by(rules.Unlicensed), rulesdk.Forbidden("restricted-use-standing")),
		rulesdk.Case(foliar(), "restricted use, supervised", restricted, by(rules.Supervised)),
		rulesdk.Case(foliar(), "restricted use, standing not stated", restricted, by(0), rulesdk.Gives(rules.Undetermined, "restricted-use-standing")),
		rulesdk.Case(foliar(), "general use, unlicensed", by(rules.Unlicensed)),
		rulesdk.Case(foliar(), "picloram, unlicensed", picloram, by(rules.Unlicensed), rulesdk.Forbidden("picloram-standing")),
		rulesdk.Case(foliar(), "picloram, supervised", picloram, by(rules.Supervised)),
		rulesdk.Case(foliar(), "picloram, certified", picloram),
	}
}
