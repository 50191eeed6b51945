package velmora

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// products limits what may be used by whom, and where.
func (e Edition) products() []rules.Row {
	rows := []rules.Row{{
		ID:       "no-air-blast-or-aircraft",
		Purpose:  "Woody invaders are not treated from the air or with an air-blast sprayer.",
		Citation: rule(31),
		When:     rules.Selector{Equipment: rules.AnyOf(rules.Mistblower, rules.Aerial)},
		Effect:   rules.Prohibit{},
	}, {
		ID:       "triclopyr-ester-standing",
		Purpose:  "Triclopyr ester is restricted in the state to certified applicators and those whom they supervise.",
		Citation: rule(32),
		When:     rules.Selector{Actives: []string{"triclopyr"}, Formulations: rules.AnyOf(rules.Ester)},
		Effect:   rules.RequireStanding{AtLeast: rules.Supervised},
	}}
	if e.NoEsterInParks {
		rows = append(rows, rules.Row{
			ID:       "no-ester-in-parks",
			Purpose:  "No ester is used in parks, since its vapour drifts.",
			Citation: rule(33),
			When:     rules.Selector{Formulations: rules.AnyOf(rules.Ester), LandUses: rules.AnyOf(rules.Park)},
			Effect:   rules.Prohibit{},
		})
	}
	return rows
}

// people says who is told.
func people() []rules.Row {
	return []rules.Row{{
		ID:       "notice-abutters",
		Purpose:  "Those who live next to a park or a dwelling are told before leaves are sprayed there.",
		Citation: rule(41),
		When:     rules.Selector{Methods: foliar, LandUses: rules.AnyOf(rules.Park, rules.Residential)},
		Effect:   rules.Notice{To: "the owners of abutting land", MinDays: 2, Within: 150 * quantity.Foot, RainDates: 2},
	}, {
		ID:       "posting-parks",
		Purpose:  "Visitors of a park see at each way in what was applied.",
		Citation: rule(42),
		When:     rules.Selector{Methods: withHerbicide, LandUses: rules.AnyOf(rules.Park)},
		Effect: rules.Posting{
			Says:          "the active ingredient, the date, the end of the entry interval and a telephone number",
			EarliestHours: 48, RemoveWithinDays: 7,
		},
	}}
}
