package main

import (
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

// base is a foliar spray in the window, far from all water.
func base() rules.Case {
	return rulesdk.FoliarSpray(2026, time.August, 10)
}

func with(change func(*rules.Treatment)) rules.Case {
	return rulesdk.Case(base(), "", rulesdk.With(change))
}

func basal() rules.Case {
	return with(func(t *rules.Treatment) {
		t.Method, t.Active, t.Formulation, t.ReleaseHeight = rules.BasalBark, "triclopyr", rules.Ester, quantity.Foot
	})
}

func onCut(m rules.Method) rules.Case {
	return with(func(t *rules.Treatment) {
		t.Method, t.Equipment, t.Droplet, t.ReleaseHeight = m, rules.HandTool, rules.DropletNone, 0
	})
}

func soilActive(t *rules.Treatment) { t.Active, t.SoilActivity = "imazapyr", rules.SoilStrong }

func bufferCases() []rules.Case {
	var cases []rules.Case
	for _, class := range creekWater.Values() {
		cases = append(cases, slices.Concat(
			rulesdk.AtDistance(base(), "buffer-foliar", class, foliarBuffer, rules.BankTop),
			rulesdk.AtDistance(basal(), "buffer-basal", class, basalBuffer, rules.BankTop),
			rulesdk.AtDistance(onCut(rules.HackAndSquirt), "buffer-on-cuts", class, cutsBuffer, rules.BankTop),
		)...)
	}
	for _, class := range drinkingWell.Values() {
		cases = append(cases, rulesdk.AtDistance(with(soilActive), "buffer-drinking-water", class, drinkingBuffer, rules.WaterEdge)...)
	}
	return append(cases,
		rulesdk.Case(onCut(rules.HackAndSquirt), "registered for water, on the bank",
			rulesdk.With(func(t *rules.Treatment) { t.AquaticLabel = rules.AquaticRegistered }),
			rulesdk.Water(rules.PerennialStream, 0, rules.BankTop)),
		rulesdk.Case(base(), "counted from the water and so not telling where the bank ends",
			rulesdk.Water(rules.PerennialStream, foliarBuffer, rules.WaterEdge),
			rulesdk.Gives(rules.Undetermined, "buffer-foliar")),
		rulesdk.Case(base(), "counted from the water and already too near",
			rulesdk.Water(rules.PerennialStream, foliarBuffer-1, rules.WaterEdge),
			rulesdk.Forbidden("buffer-foliar")),
	)
}

func useCases() []rules.Case {
	atWater := rulesdk.With(func(t *rules.Treatment) { t.LandUse = rules.AquaticMargin })
	return slices.Concat(
		rulesdk.AtEdges(base(), "window-low-water", lowWater, 2026),
		[]rules.Case{
			rulesdk.Case(with(soilActive), "soil-active at the edge of water", atWater, rulesdk.Forbidden("no-soil-active-at-water")),
			rulesdk.Case(onCut(rules.CutStump), "stumps have no window", rulesdk.On(2026, 12, 1)),
			rulesdk.Case(onCut(rules.CutStump), "soil activity not known at the edge of water", atWater,
				rulesdk.With(func(t *rules.Treatment) { t.SoilActivity = 0 }),
				rulesdk.Gives(rules.Undetermined, "no-soil-active-at-water")),
		},
	)
}

func peopleCases() []rules.Case {
	standing := func(s rules.Standing) rulesdk.Change {
		return rulesdk.With(func(t *rules.Treatment) { t.Standing = s })
	}
	return []rules.Case{
		rulesdk.Case(base(), "foliar spray, supervised", standing(rules.Supervised), rulesdk.Forbidden("certified-spraying")),
		rulesdk.Case(base(), "foliar spray, certified", standing(rules.Certified), rulesdk.Gives(rules.Conditional, "notice-district")),
		rulesdk.Case(onCut(rules.HackAndSquirt), "cuts, supervised", standing(rules.Supervised)),
		rulesdk.Case(base(), "hand pulling is told to nobody", rulesdk.Gives(rules.Allowed),
			rulesdk.With(func(t *rules.Treatment) {
				*t = rules.Treatment{Species: t.Species, Suckering: t.Suckering, Method: rules.HandPull, LandUse: t.LandUse, NoHerbicide: true}
			})),
		rulesdk.Case(onCut(rules.CutStump), "at the edge of water",
			rulesdk.With(func(t *rules.Treatment) { t.LandUse = rules.AquaticMargin }),
			rulesdk.Gives(rules.Conditional, "permit-aquatic-margin", "notice-district")),
	}
}
