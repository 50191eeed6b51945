package main

import (
	"fmt"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

var streams = rules.AnyOf(rules.PerennialStream)

func main() {
	set := rulesdk.RuleSet{
		Manifest: rules.Manifest{
			ID: "new-district", Version: "1", Title: "New district", Publisher: "nobody",
			Layer: rules.District, Scope: "us/velmora/new-district", ValidFrom: civil.Of(2026, 5, 1),
		},
		Rows: []rulesdk.Rule{
			rulesdk.Row("").Purpose("").Citation("").From(0, 0, 0).
				Then(nil),
			rulesdk.Row("twice").Purpose("Nothing is treated here.").Citation("section 1").From(1, time.May, 2026).
				Then(rules.Prohibit{}),
			rulesdk.Row("twice").Purpose("Nothing is treated here.").Citation("section 1").From(2026, time.May, 1).
				Then(rules.Prohibit{}, 100*quantity.Foot),
			rulesdk.Row("written-in").Purpose("No leaf is sprayed near a stream.").Citation("section 4").From(2026, time.May, 1).
				Then(rules.Buffer{Water: streams, From: rules.BankTop, Distance: 100}),
			rulesdk.Row("left-out").Purpose("No leaf is sprayed near a stream.").Citation("section 4").From(2026, time.May, 1).
				Then(rules.Buffer{Water: streams, From: rules.BankTop}),
			rulesdk.Row("no-zone").Purpose("Nobody comes near the sprayer.").Citation("section 4").From(2026, time.May, 1).
				Then(rules.ExclusionZone{}),
			rulesdk.Row("other-unit").Purpose("No leaf is sprayed near a stream.").Citation("section 4").From(2026, time.May, 1).
				Where(rulesdk.Above(rules.Diameter, quantity.Acres(1)), rulesdk.Above(rules.Slope, quantity.Percent(30.05))).
				Then(rules.Prohibit{}),
			rulesdk.Row("ranges-inside").Purpose("Large stems are not sprayed.").Citation("section 5").From(2026, time.May, 1).
				When(rules.Selector{Ranges: []rules.Range{rules.Above(rules.Diameter, 6)}}).
				Unless(rules.Selector{Ranges: []rules.Range{rules.Above(rules.Diameter, 6)}}).
				Then(rules.Prohibit{}),
		},
	}
	_, err := set.Build()
	fmt.Println(err)
}
