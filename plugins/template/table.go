package main

import (
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

// table gives the rule set: whose rules they are, the rules, and worked cases that
// show what they do.
func table() rules.Table {
	return rulesdk.RuleSet{
		Manifest: rules.Manifest{
			ID:        "new-district",
			Version:   "1", // a set with other rules has another version
			Title:     "New District, an invented district: rules for woody plant control",
			Publisher: "New District (invented)",
			Layer:     rules.District,
			Scope:     "us/velmora/new-district", // the place that the rules govern
			ValidFrom: civil.Of(2026, time.January, 1),
			ReviewBy:  civil.Of(2028, time.December, 31),
		},
		Rows:  rows(),
		Cases: cases(),
	}.Table()
}

var (
	leavesSprayed = rules.AnyOf(rules.LowVolumeFoliar, rules.HighVolumeFoliar)
	streams       = rules.AnyOf(rules.PerennialStream, rules.IntermittentStream)
	summer        = civil.Window{
		From: civil.DayOfYear{Month: time.July, Day: 15},
		To:   civil.DayOfYear{Month: time.September, Day: 30},
	}
)

const streamBuffer = 100 * quantity.Foot

func rows() []rulesdk.Rule {
	return []rulesdk.Rule{
		rulesdk.Row("buffer-stream-foliar").
			Purpose("No leaf is sprayed within 100 ft of the bank of a stream.").
			Citation("New District ordinance 1 of 2026 (invented), section 2").
			From(2026, time.January, 1).
			When(rules.Selector{Methods: leavesSprayed}).
			Then(rules.Buffer{Water: streams, From: rules.BankTop}, streamBuffer),

		rulesdk.Row("window-foliar").
			Purpose("Leaves are sprayed in late summer only, when sugars move down to the roots.").
			Citation("New District ordinance 1 of 2026 (invented), section 3").
			From(2026, time.January, 1).
			When(rules.Selector{Methods: leavesSprayed}).
			Then(rules.Window{Open: summer}),

		rulesdk.Row("notice-district").
			Purpose("The district is told before a herbicide is used in a park.").
			Citation("New District ordinance 1 of 2026 (invented), section 4").
			From(2026, time.January, 1).
			When(rules.Selector{LandUses: rules.AnyOf(rules.Park)}).
			Unless(rules.Selector{Methods: rules.AnyOf(rules.HandPull)}).
			Then(rules.Notice{To: "the district", MinDays: 3}),
	}
}

// cases shows each rule where it applies and where it does not, and both sides of
// each limit. The test says which are missing.
func cases() []rules.Case {
	base := rulesdk.Case(rulesdk.FoliarSpray(2026, time.August, 10), "leaves are sprayed", rulesdk.Gives(rules.Allowed))
	stump := rulesdk.Case(base, "a stump is treated in winter", rulesdk.On(2026, time.December, 1),
		rulesdk.With(func(t *rules.Treatment) {
			t.Method, t.Equipment, t.Droplet, t.ReleaseHeight = rules.CutStump, rules.HandTool, rules.DropletNone, 0
		}))
	inPark := rulesdk.With(func(t *rules.Treatment) { t.LandUse = rules.Park })
	return slices.Concat(
		[]rules.Case{
			stump,
			rulesdk.Case(base, "in a park", inPark, rulesdk.Gives(rules.Conditional, "notice-district")),
			rulesdk.Case(base, "pulled by hand in a park", inPark, rulesdk.With(func(t *rules.Treatment) { t.Method = rules.HandPull })),
		},
		rulesdk.AtDistance(base, "buffer-stream-foliar", rules.PerennialStream, streamBuffer, rules.BankTop),
		rulesdk.AtEdges(base, "window-foliar", summer, 2026),
	)
}
