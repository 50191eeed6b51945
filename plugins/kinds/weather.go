package main

import (
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

const maxWind = 10 // miles per hour; number: L55, L58, S70

// budding is the season of the limit on wind. L55, S70 has its limit from 16 April to
// 31 October; here it is the rest of the year, which wraps.
var budding = civil.Window{
	From: civil.DayOfYear{Month: time.November, Day: 1},
	To:   civil.DayOfYear{Month: time.April, Day: 15},
}

// fullVolume is the spray from which approved equipment is exempt; invented.
var fullVolume = perHectare(quantity.GallonsPerAcre(10))

func weatherRows() []rulesdk.Rule {
	approved := rules.AnyOf(rules.DriftApproved)
	return []rulesdk.Rule{
		// Wind, as a sustained mean, in a season that wraps the year; approved equipment is
		// exempt if it sprays a full volume as well. Kind and limit: L55, S70; granules
		// exempt: L58, S70. The time over which the mean is taken is invented.
		row(17, "wind-in-season", "From November until buds have opened no leaf is sprayed in a mean wind of more than 10 miles per hour.").
			When(rules.Selector{Methods: foliar}).
			Unless(rules.Selector{Formulations: rules.AnyOf(rules.DryGranule)}).
			UnlessWhere(rules.Selector{DriftControl: approved}, rulesdk.AtLeast(rules.Carrier, fullVolume)).
			During(budding).
			Then(rules.WeatherLimit{Factor: rules.WindSpeed, Max: maxWind, HasMax: true, Statistic: rules.SustainedMean, OverMinutes: 10}),

		// Inversion ban with an exception in two parts. Kind: section E (Washington), S70.
		row(18, "no-inversion", "Nothing is sprayed under an inversion, unless coarse and from approved equipment.").
			When(rules.Selector{Methods: sprayed}).
			Unless(rules.Selector{DriftControl: approved, Droplets: rules.AnyOf(rules.DropletMedium)}).
			Then(rules.WeatherLimit{Factor: rules.Inversion, Max: 0, HasMax: true}),
	}
}

func weatherCases() []rules.Case {
	rig := func(d rules.DriftControl, v rulesdk.MillilitresPerHectare) rulesdk.Change {
		return with(func(t *rules.Treatment) { t.DriftControl, t.CarrierMlPerHa = d, int64(v) })
	}
	winter := rulesdk.Case(spray(), "in winter", rulesdk.On(2026, time.January, 20), rulesdk.Gives(rules.Conditional, "wind-in-season", "no-inversion"))
	exempt := rulesdk.Gives(rules.Conditional)
	return append(rulesdk.AcrossEdges(spray(), "wind-in-season", budding, 2026),
		winter,
		rulesdk.Case(winter, "approved, at a full volume", rig(rules.DriftApproved, fullVolume), exempt),
		rulesdk.Case(winter, "approved, at less", rig(rules.DriftApproved, fullVolume-1), rulesdk.Gives(rules.Conditional, "wind-in-season")),
		rulesdk.Case(winter, "not approved, at a full volume", rig(rules.DriftStandard, fullVolume), rulesdk.Gives(rules.Conditional, "wind-in-season")),
		rulesdk.Case(winter, "drift control not stated", rig(0, fullVolume), rulesdk.Gives(rules.Conditional, "wind-in-season")),
		rulesdk.Case(winter, "granules in winter", with(func(t *rules.Treatment) { t.Formulation = rules.DryGranule }), exempt),
		rulesdk.Case(spray(), "fine droplets from approved equipment", rig(rules.DriftApproved, fullVolume),
			with(func(t *rules.Treatment) { t.Droplet = rules.DropletFine }), rulesdk.Gives(rules.Conditional, "no-inversion")),
	)
}
