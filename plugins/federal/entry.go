package main

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/rulesdk"
)

var entryHours = []struct {
	category rules.ToxicityCategory
	id       string
	hours    int
}{
	{rules.CategoryI, "entry-category-1", 48},
	{rules.CategoryII, "entry-category-2", 24},
	{rules.CategoryIII, "entry-category-3", 12},
	{rules.CategoryIV, "entry-category-4", 12},
}

func entryRows() []rules.Row {
	rows := make([]rules.Row, len(entryHours))
	for i, e := range entryHours {
		rows[i] = rules.Row{
			ID:        e.id,
			Purpose:   fmt.Sprintf("Workers stay out for %d hours after a product of toxicity category %s, or longer where its label says so.", e.hours, e.category),
			Citation:  "40 CFR 156.208(c)(2) (2015 edition)",
			ValidFrom: title40Edition,
			When:      rules.Selector{Methods: withHerbicide, Toxicity: rules.AnyOf(e.category)},
			Effect:    rules.EntryInterval{Hours: e.hours},
		}
	}
	return rows
}

func entryCases() []rules.Case {
	cases := []rules.Case{rulesdk.Case(foliar(), "hand pulling has no federal condition", rulesdk.Gives(rules.Allowed),
		rulesdk.With(func(t *rules.Treatment) {
			*t = rules.Treatment{Species: t.Species, Suckering: t.Suckering, Method: rules.HandPull, LandUse: t.LandUse, NoHerbicide: true}
		}))}
	for _, e := range entryHours {
		cases = append(cases, rulesdk.Case(foliar(), "toxicity category "+e.category.String(),
			rulesdk.With(func(t *rules.Treatment) { t.Toxicity = e.category }),
			rulesdk.Gives(rules.Conditional, e.id)))
	}
	return cases
}
