package velmora

import (
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

// base is a foliar spray in the window, on gentle ground far from water.
func base() rules.Case {
	c := rulesdk.FoliarSpray(2026, time.September, 1)
	c.Treatment.AquaticLabel = rules.AquaticRegistered
	c.Site.Measures.Set(rules.Slope, 50)
	return c
}

func with(change func(*rules.Treatment)) rules.Case {
	return rulesdk.Case(base(), "", rulesdk.With(change))
}

func handgun() rules.Case {
	return with(func(t *rules.Treatment) { t.Method, t.Equipment = rules.HighVolumeFoliar, rules.Handgun })
}

func steep(permille int64) rules.Case {
	return rulesdk.Case(base(), "", rulesdk.Measure(rules.Slope, permille))
}

func esterOnBark() rules.Case {
	return with(func(t *rules.Treatment) {
		t.Method, t.Active, t.Formulation, t.SoilActivity = rules.BasalBark, "triclopyr", rules.Ester, rules.SoilSome
		t.AquaticLabel, t.ReleaseHeight = rules.AquaticNotRegistered, quantity.Foot
	})
}

func cuts(m rules.Method, s rules.Suckering) rules.Case {
	return with(func(t *rules.Treatment) {
		t.Method, t.Suckering, t.Equipment = m, s, rules.HandTool
		t.Droplet, t.ReleaseHeight = rules.DropletNone, 0
	})
}

func (e Edition) cases() []rules.Case {
	return slices.Concat(e.windowCases(), e.bufferCases(), e.productCases(), conditionCases())
}

func (e Edition) windowCases() []rules.Case {
	of := func(s rules.Suckering) rules.Case {
		return with(func(t *rules.Treatment) { t.Suckering = s })
	}
	const year = 2026
	return slices.Concat(
		rulesdk.AtEdges(of(rules.SuckeringStrong), "window-strong-suckerers", e.Suckering, year),
		rulesdk.AtEdges(of(rules.SuckeringModerate), "window-moderate-suckerers", e.Suckering, year),
		rulesdk.AtEdges(of(rules.SuckeringNone), "window-sprouters-leaves", sprouterLeaves, year),
		rulesdk.AtEdges(cuts(rules.CutStump, rules.SuckeringNone), "window-sprouters-stems", sprouterStems, year),
		[]rules.Case{
			rulesdk.Case(cuts(rules.CutStump, rules.SuckeringNone), "the window over the turn of the year holds in January",
				rulesdk.On(2027, 1, 15)),
			rulesdk.Case(cuts(rules.CutStump, rules.SuckeringNone), "it ends with February, in leap years too",
				rulesdk.On(2028, 2, 29)),
			rulesdk.Case(pulled(), "hand pulling has no window and no condition", rulesdk.On(2026, 4, 1)),
		},
		seasonCases(year),
	)
}

func pulled() rules.Case {
	return rulesdk.Case(base(), "", rulesdk.Gives(rules.Allowed), rulesdk.With(func(t *rules.Treatment) {
		*t = rules.Treatment{Species: t.Species, Suckering: t.Suckering, Method: rules.HandPull, LandUse: t.LandUse, NoHerbicide: true}
	}))
}

func seasonCases(year int) []rules.Case {
	var cases []rules.Case
	for _, r := range seasons() {
		cases = append(cases, rulesdk.AcrossEdges(pulled(), r.ID, r.Effect.(rules.InSeason).During, year)...)
	}
	return cases
}

func (e Edition) bufferCases() []rules.Case {
	return slices.Concat(
		atWater(base(), "buffer-foliar-backpack", e.BackpackFoliar),
		atWater(handgun(), "buffer-foliar-handgun", e.HandgunFoliar),
		atWater(steep(steepSlope+1), "buffer-foliar-steep", steepBuffer),
		atWater(esterOnBark(), "buffer-basal-ester", basalBuffer),
		rulesdk.AtDistance(base(), "buffer-well-sprayed", rules.Well, wellSprayed, rules.WaterEdge),
		rulesdk.AtDistance(cuts(rules.HackAndSquirt, rules.SuckeringStrong), "buffer-well-on-cuts", rules.Well, wellOnCuts, rules.WaterEdge),
		[]rules.Case{
			rulesdk.Case(steep(steepSlope), "ground of just 30 percent is not steep",
				rulesdk.Water(rules.Lake, steepBuffer-1, rules.WaterEdge)),
			rulesdk.Case(base(), "slope not known, within the wider distance",
				rulesdk.Water(rules.Lake, steepBuffer-1, rules.WaterEdge), rulesdk.Site(func(s *rules.Surroundings) { s.Measures = rules.Measures{} }),
				rulesdk.Gives(rules.Undetermined, "buffer-foliar-steep-open-water")),
			rulesdk.Case(base(), "counted from farther inland than the rule, too near to tell",
				rulesdk.Water(rules.Lake, e.BackpackFoliar-1, rules.BankTop),
				rulesdk.Gives(rules.Undetermined, "buffer-foliar-backpack-open-water")),
		},
	)
}

func atWater(c rules.Case, row string, distance quantity.Micrometres) []rules.Case {
	var cases []rules.Case
	for _, class := range openWater.Values() {
		cases = append(cases, rulesdk.AtDistance(c, row+"-open-water", class, distance, rules.WaterEdge)...)
	}
	return append(cases, rulesdk.AtDistance(c, row+"-wetland", rules.Wetland, distance, rules.WetlandBoundary)...)
}

func (e Edition) productCases() []rules.Case {
	standing := func(s rules.Standing) rulesdk.Change {
		return rulesdk.With(func(t *rules.Treatment) { t.Standing = s })
	}
	inPark := rulesdk.With(func(t *rules.Treatment) { t.LandUse = rules.Park })
	ester := rulesdk.Gives(rules.Conditional)
	if e.NoEsterInParks {
		ester = rulesdk.Forbidden("no-ester-in-parks")
	}
	return []rules.Case{
		rulesdk.Case(base(), "air blast", rulesdk.With(func(t *rules.Treatment) { t.Equipment = rules.Mistblower }), rulesdk.Forbidden("no-air-blast-or-aircraft")),
		rulesdk.Case(esterOnBark(), "triclopyr ester, unlicensed", standing(rules.Unlicensed), rulesdk.Forbidden("triclopyr-ester-standing")),
		rulesdk.Case(esterOnBark(), "triclopyr ester, supervised", standing(rules.Supervised)),
		rulesdk.Case(base(), "glyphosate salt, unlicensed", standing(rules.Unlicensed)),
		rulesdk.Case(esterOnBark(), "ester in a park", inPark, ester),
		rulesdk.Case(base(), "foliar spray in a park", inPark, rulesdk.Gives(rules.Conditional, "notice-abutters", "posting-parks")),
	}
}

func conditionCases() []rules.Case {
	active := func(name string) rulesdk.Change {
		return rulesdk.With(func(t *rules.Treatment) { t.Active = name })
	}
	return []rules.Case{
		rulesdk.Case(base(), "foliar spray", rulesdk.Gives(rules.Conditional, "weather-wind", "record")),
		rulesdk.Case(esterOnBark(), "ester", rulesdk.Gives(rules.Conditional, "weather-ester-heat", "record")),
		rulesdk.Case(base(), "imazapyr", active("imazapyr")),
		rulesdk.Case(base(), "triclopyr on grazed pasture", active("triclopyr"),
			rulesdk.With(func(t *rules.Treatment) { t.LandUse = rules.GrazedPasture })),
	}
}
