package main

import "example.org/rootward/rules"

func bufferRows() []rules.Row {
	notForWater := rules.AnyOf(rules.AquaticNotRegistered)
	return []rules.Row{{
		ID:       "buffer-foliar",
		Purpose:  "No leaf is sprayed within 100 ft of the bank of the creek and the waters that feed it.",
		Citation: bylaw(2),
		When:     rules.Selector{Methods: foliar},
		Effect:   rules.Buffer{Water: creekWater, Distance: foliarBuffer, From: rules.BankTop},
	}, {
		ID:       "buffer-basal",
		Purpose:  "No bark is sprayed within 50 ft of the bank of the creek and the waters that feed it.",
		Citation: bylaw(3),
		When:     rules.Selector{Methods: rules.AnyOf(rules.BasalBark)},
		Effect:   rules.Buffer{Water: creekWater, Distance: basalBuffer, From: rules.BankTop},
	}, {
		ID:       "buffer-on-cuts",
		Purpose:  "Within 15 ft of the bank cuts and stumps are treated only with what is registered for water.",
		Citation: bylaw(4),
		When:     rules.Selector{Methods: onCuts, AquaticLabel: notForWater},
		Effect:   rules.Buffer{Water: creekWater, Distance: cutsBuffer, From: rules.BankTop},
	}, {
		ID:       "buffer-drinking-water",
		Purpose:  "What roots take up from the soil is kept 300 ft from where people take drinking water.",
		Citation: bylaw(5),
		When:     rules.Selector{SoilActivity: rules.AnyOf(rules.SoilStrong)},
		Effect:   rules.Buffer{Water: drinkingWell, Distance: drinkingBuffer, From: rules.WaterEdge},
	}}
}

func useRows() []rules.Row {
	return []rules.Row{{
		ID:       "no-soil-active-at-water",
		Purpose:  "What roots take up from the soil is not used at the edge of water.",
		Citation: bylaw(6),
		When:     rules.Selector{SoilActivity: rules.AnyOf(rules.SoilStrong), LandUses: rules.AnyOf(rules.AquaticMargin)},
		Effect:   rules.Prohibit{},
	}, {
		ID:       "window-low-water",
		Purpose:  "Sprays and frills are used only while the creek is low.",
		Citation: bylaw(7),
		When:     rules.Selector{Methods: sprayed | rules.AnyOf(rules.HackAndSquirt)},
		Effect:   rules.Window{Open: lowWater},
	}}
}

func peopleRows() []rules.Row {
	return []rules.Row{{
		ID:       "certified-spraying",
		Purpose:  "Whoever sprays in the district is certified; supervision is not enough.",
		Citation: bylaw(8),
		When:     rules.Selector{Methods: sprayed},
		Effect:   rules.RequireStanding{AtLeast: rules.Certified},
	}, {
		ID:       "permit-aquatic-margin",
		Purpose:  "A treatment at the edge of water needs the district's permit.",
		Citation: bylaw(9),
		When:     rules.Selector{Methods: withHerbicide, LandUses: rules.AnyOf(rules.AquaticMargin)},
		Effect:   rules.Permit{Name: "a permit for treatment at the edge of water", From: "the watershed district"},
	}, {
		ID:       "notice-district",
		Purpose:  "The district is told of each treatment, in time to look at the place.",
		Citation: bylaw(10),
		When:     rules.Selector{Methods: withHerbicide},
		Effect:   rules.Notice{To: "the watershed district", MinDays: 7, MaxDays: 30},
	}}
}
