package main

import (
	"fmt"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

func main() {
	row := rulesdk.Row("foliar").Purpose("Leaves of large stems are not sprayed.").Citation("section 4").From(2026, time.May, 1).
		When(rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar)})
	set := rulesdk.RuleSet{
		Manifest: rules.Manifest{
			ID: "new-district", Version: "1", Title: "New district", Publisher: "nobody",
			Layer: rules.District, Scope: "us/velmora/new-district", ValidFrom: civil.Of(2026, 5, 1),
		},
		Rows: []rulesdk.Rule{
			row.Where(rulesdk.Above(rules.Diameter, 6*quantity.Inch), rulesdk.AtMost(rules.Slope, quantity.Percent(30))).
				Until(2030, time.April, 30).
				Then(rules.Prohibit{}),
			rulesdk.Row("stream").Purpose("No leaf is sprayed near a stream.").Citation("section 5").From(2026, time.May, 1).
				UnlessWhere(rules.Selector{AquaticLabel: rules.AnyOf(rules.AquaticRegistered)}, rulesdk.Below(rules.Height, quantity.Metres(2))).
				Then(rules.Buffer{
					Water: rules.AnyOf(rules.PerennialStream), From: rules.BankTop,
					Reduction: rules.Reduction{Evidence: "a plan", DecidedBy: "the district", RecordField: "reduced"},
				}, 100*quantity.Foot, 50*quantity.Foot),
			rulesdk.Row("ditch").Purpose("No leaf is sprayed near a ditch.").Citation("section 5").From(2026, time.May, 1).
				Then(rules.Buffer{
					Water: rules.AnyOf(rules.Ditch), From: rules.BankTop, Allowance: rules.Allowance{Basis: "section 5(2)"},
				}, 50*quantity.Foot, 10*quantity.Foot),
			rulesdk.Row("cap").Purpose("A year's imazapyr is limited.").Citation("section 6").From(2026, time.May, 1).
				Then(rules.Cap{Active: "imazapyr"}, quantity.PoundsPerAcre(1)),
		},
	}
	for _, r := range set.Table().Rows {
		fmt.Printf("%s: %+v %+v: %s\n", r.ID, r.When.Ranges, len(r.Unless), r.Effect.Text())
	}
}
