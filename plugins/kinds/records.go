package main

import (
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

func recordRows() []rulesdk.Rule {
	restricted := rules.Selector{RestrictedUse: rules.AnyOf(rules.RestrictedUseProduct)}
	return []rulesdk.Rule{
		// Record content. Kind and fields: L48; deadline and years: L49, S20.
		row(24, "wind-recorded", "The record of an application holds the wind at its start and at every change.").
			When(rules.Selector{Methods: withHerbicide}).
			Then(rules.Record{
				Fields:      []string{"wind speed and direction at the start", "wind speed and direction at every change", "product and amount", "place and area"},
				WithinHours: 48, KeepYears: 3,
			}),

		// Dated validity: a rule that ends, and the one that takes its place. Kind, day and
		// numbers: L23, L24, L26, S09, S10; that what follows keeps records two years: trap 2.
		cited(25, "restricted-record", "Applications of what is of restricted use are recorded within 14 days.").
			From(2025, time.January, 1).Until(2025, time.July, 10).
			When(restricted).
			Then(rules.Record{Fields: []string{"product and registration number", "amount", "place and area", "date"}, WithinDays: 14, KeepYears: 2}),

		cited(26, "restricted-record-2025", "Applications of what is of restricted use are recorded on the day.").
			From(2025, time.July, 11).
			When(restricted).
			Supersedes("restricted-record").
			Then(rules.Record{Fields: []string{"product and registration number", "amount", "place and area", "date and time"}, WithinHours: 24, KeepYears: 2}),
	}
}

func recordCases() []rules.Case {
	restricted := rulesdk.Case(spray(), "of restricted use", with(func(t *rules.Treatment) { t.RestrictedUse = rules.RestrictedUseProduct }))
	return []rules.Case{
		rulesdk.Case(restricted, "on the last day of the old rule", rulesdk.On(2025, time.July, 10), rulesdk.Gives(rules.Conditional, "restricted-record")),
		rulesdk.Case(restricted, "on the first day of the new", rulesdk.On(2025, time.July, 11), rulesdk.Gives(rules.Conditional, "restricted-record-2025")),
	}
}
