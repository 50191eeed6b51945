package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

// noticeRows tell what no fact of a stem decides: whether the land is an
// agricultural establishment, what a bulletin says, how much the operator treats
// in a year.
func noticeRows() []rules.Row {
	warn := func(id, purpose, citation string, when rules.Selector, message string) rules.Row {
		return rules.Row{
			ID: id, Purpose: purpose, Citation: citation, ValidFrom: title40Edition,
			When: when, Effect: rules.Warn{Message: message},
		}
	}
	anyHerbicide := rules.Selector{Methods: withHerbicide}
	return []rules.Row{
		warn("label-is-law", "The label of the product at hand binds whoever applies it.",
			"FIFRA section 12(a)(2)(G) (from memory); the label statement of every registered product", anyHerbicide,
			"the label is the law and stands above this plan; where the label and a rule differ, the stricter holds"),
		warn("warning-signs", "Warning signs are for agricultural establishments; whether the land is one, its holder knows.",
			"40 CFR part 170, whose current sections on signs were not read; 170.120 in the 2015 edition is history, others have replaced it", anyHerbicide,
			"on an agricultural establishment, read the current 40 CFR part 170 for whether, when and where warning signs are to stand; what they were until it was replaced: 14 by 16 inches, put up no sooner than 24 hours before, taken down within 3 days after the entry interval, not for workers more than 1/4 mile away"),
		warn("endangered-species-bulletin",
			"Where the label asks for it, an endangered-species bulletin limits what may be applied where and in which month.",
			"EPA endangered-species protection bulletins page; label text of the Minnesota Department of Agriculture",
			anyHerbicide,
			"look up the endangered-species protection bulletin for the place and for the month of the application, no more than six months before it"),
		warn("general-permit-water", "Treating weeds at or in water beyond a yearly total needs a notice of intent under the pesticide general permit.",
			"state comparison chart of pesticide general permits (2011), second-hand",
			rules.Selector{Methods: withHerbicide, LandUses: rules.AnyOf(rules.AquaticMargin)},
			"the federal pesticide general permit has yearly thresholds of 80 acres in water and 20 linear miles of shore; state permits count differently"),
		warn("general-permit-forest-canopy", "Treating forest canopy beyond a yearly total needs a notice of intent under the pesticide general permit.",
			"state comparison chart of pesticide general permits (2011), second-hand",
			rules.Selector{Equipment: rules.AnyOf(rules.Aerial), LandUses: rules.AnyOf(rules.Forest)},
			"the federal pesticide general permit has a yearly threshold of 6,400 acres of forest canopy; state permits count differently"),
	}
}

func noticeCases() []rules.Case {
	return []rules.Case{
		rulesdk.Case(foliar(), "at the edge of water", rulesdk.With(func(t *rules.Treatment) { t.LandUse = rules.AquaticMargin })),
		foliar(),
	}
}
