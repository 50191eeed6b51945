package main

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulesdk"
)

func recordRows() []rules.Row {
	restricted := rules.Selector{RestrictedUse: rules.AnyOf(rules.RestrictedUseProduct)}
	return []rules.Row{{
		ID:        "record-private-restricted-use",
		Purpose:   "A certified private applicator records each restricted-use application; less than 1/10 acre treated on one day may take the shorter spot record.",
		Citation:  "7 CFR 110.3 (2015 edition); rescinded from 2025-07-11 by FR Doc. 2025-08220, 12 May 2025 (read in a summary)",
		ValidFrom: title7Edition,
		ValidTo:   civil.Of(2025, 7, 10),
		When:      restricted,
		Effect: rules.Record{
			Fields: []string{
				"brand name", "EPA registration number", "total amount applied", "size of the area treated",
				"crop, commodity or site", "location", "date", "applicator's name", "certification number",
			},
			WithinDays: 14,
			KeepYears:  2,
		},
	}, {
		ID:        "record-commercial-restricted-use",
		Purpose:   "A certified commercial applicator records each restricted-use application and keeps the record for at least two years.",
		Citation:  "40 CFR 171.303(b)(7), fields read in a compliance summary; that it is limited to restricted use, and its first day, from memory",
		ValidFrom: civil.Of(2017, 3, 6),
		When:      restricted,
		Effect: rules.Record{
			Fields: []string{
				"customer's name and address", "location", "size of the area treated", "date and time",
				"product", "EPA registration number", "total amount applied",
				"applicator's name and certification number", "name of any person supervised",
			},
			KeepYears: 2,
		},
	}}
}

func recordCases() []rules.Case {
	restricted := rulesdk.With(func(t *rules.Treatment) { t.RestrictedUse = rules.RestrictedUseProduct })
	return []rules.Case{
		rulesdk.Case(foliar(), "last day of the private record", restricted, rulesdk.On(2025, 7, 10),
			rulesdk.Gives(rules.Conditional, "record-private-restricted-use", "record-commercial-restricted-use")),
		rulesdk.Case(foliar(), "the day after", restricted, rulesdk.On(2025, 7, 11),
			rulesdk.Gives(rules.Conditional, "record-commercial-restricted-use")),
	}
}
