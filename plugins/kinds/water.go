package main

import (
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

const (
	broadcastBuffer = 25 * quantity.Foot   // number: L36, S16
	ditchBuffer     = 3 * quantity.Metre   // number: section E (Quebec), S19
	aerialBuffer    = 60 * quantity.Foot   // number: L32, S15
	wellBuffer      = 30 * quantity.Metre  // number: L42, S18
	reducedBuffer   = 10 * quantity.Metre  // invented
	intakeBuffer    = 100 * quantity.Metre // number: section E (Quebec), S19; which category it goes with was not read
	stripWidth      = 10 * quantity.Metre  // invented
	mixingBuffer    = 50 * quantity.Foot   // number: section E (Maine), S16
)

// coveredWater is the size beyond which standing water is covered (number: L33, S15).
var coveredWater = quantity.Acres(0.25)

var openWater = rules.AnyOf(rules.PerennialStream, rules.Lake)

func waterRows() []rulesdk.Rule {
	return []rulesdk.Rule{
		// Water buffer, along the slope. Kind and boundary: L36, S16; that others count
		// horizontally: L34, S15.
		row(1, "water-broadcast", "No leaf is sprayed within 25 ft, along the slope, of open water.").
			When(rules.Selector{Methods: foliar}).
			Then(rules.Buffer{Water: openWater, From: rules.WaterEdge, Along: rules.AlongSlope}, broadcastBuffer),

		// Water buffer, from the top of the bank, while there is water. Kind: L44, S19.
		row(2, "water-ditch", "No leaf is sprayed within 3 m of the bank of a ditch that holds water.").
			When(rules.Selector{Methods: foliar}).
			Then(rules.Buffer{Water: rules.AnyOf(rules.Ditch, rules.IntermittentStream), From: rules.BankTop, WhileWet: true}, ditchBuffer),

		// Water buffer, by equipment and size of the water. Kind and boundaries: L32, L33, S15.
		row(3, "water-aerial", "Nothing is sprayed from the air within 60 ft of standing water of more than a quarter acre.").
			When(rules.Selector{Equipment: rules.AnyOf(rules.Aerial)}).
			Where(rulesdk.Above(rules.LakeArea, coveredWater)).
			Then(rules.Buffer{Water: rules.AnyOf(rules.Lake), From: rules.WetlandBoundary}, aerialBuffer),

		// Buffer reduction with recorded reason. Kind and boundary: L42, S18.
		row(4, "well-reducible", "Herbicides stay 30 m from a well, or 10 m where the water keeper has agreed for a reason on record.").
			When(rules.Selector{Methods: withHerbicide}).
			Then(rules.Buffer{
				Water: rules.AnyOf(rules.Well), From: rules.WaterEdge,
				Reduction: rules.Reduction{
					Evidence:  "a plan of the ground between the plants and the well",
					DecidedBy: "the district's water keeper", RecordField: "reason for the shorter distance",
				},
			}, wellBuffer, reducedBuffer),

		// Well or intake by category. Kind: section E (Quebec), S19.
		row(5, "intake-by-category", "What roots take up stays 100 m from the intakes that serve the most people.").
			When(rules.Selector{Methods: withHerbicide}).
			Unless(rules.Selector{SoilActivity: rules.AnyOf(rules.SoilNone)}).
			Then(rules.Buffer{Water: rules.AnyOf(rules.IntakeCategory1, rules.IntakeCategory2), From: rules.WaterEdge}, intakeBuffer),

		// Method whitelist near water. Kind, and the methods: L46, S19.
		row(6, "strip-by-method", "Along lakes and wetland only treatments of single stems, and foliage from a backpack, are allowed.").
			When(rules.Selector{Methods: withHerbicide}).
			Unless(
				rules.Selector{Methods: rules.AnyOf(rules.BasalBark, rules.HackAndSquirt, rules.CutStump)},
				rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar), Equipment: rules.AnyOf(rules.Backpack)},
			).
			Then(rules.Buffer{Water: rules.AnyOf(rules.Lake, rules.Wetland), From: rules.WetlandBoundary}, stripWidth),

		// Mixing and loading. Kind and number: section E (Maine), S16.
		row(7, "mix-and-load", "Herbicides are mixed and loaded 50 ft from open water.").
			When(rules.Selector{Methods: withHerbicide}).
			Then(rules.Buffer{Water: openWater | rules.AnyOf(rules.Wetland), From: rules.WaterEdge, Activity: rules.MixAndLoad}, mixingBuffer),
	}
}

// reduced states that the shorter distance to wells was granted.
func reduced(t *rules.Treatment) { t.Granted = []string{"kinds/well-reducible"} }

func dry(class rules.WaterClass) rulesdk.Change {
	return rulesdk.Site(func(s *rules.Surroundings) {
		d, _ := s.Water.Get(class)
		d.State = rules.WaterDry
		s.Water.Set(class, d)
	})
}

func waterCases() []rules.Case {
	handgun := rulesdk.Case(spray(), "from a handgun", with(func(t *rules.Treatment) { t.Method = rules.HighVolumeFoliar }), from(rules.Handgun))
	inSoil := rulesdk.Case(spray(), "taken up by roots", with(func(t *rules.Treatment) { t.Active, t.SoilActivity = "imazapyr", rules.SoilStrong }))
	return slices.Concat(
		[]rules.Case{spray(), pulled(), rulesdk.Case(spray(), "a stump is treated", by(rules.CutStump))},
		slopeCases(), ditchCases(), aerialCases(), wellCases(),
		rulesdk.AtDistance(inSoil, "intake-by-category", rules.IntakeCategory1, intakeBuffer, rules.WaterEdge),
		rulesdk.AtDistance(inSoil, "intake-by-category", rules.IntakeCategory2, intakeBuffer, rules.WaterEdge),
		[]rules.Case{
			rulesdk.Case(inSoil, "an intake of the third category", rulesdk.Water(rules.IntakeCategory3, intakeBuffer-1, rules.WaterEdge)),
			rulesdk.Case(inSoil, "an intake whose category nobody stated", rulesdk.Water(rules.Intake, intakeBuffer-1, rules.WaterEdge), rulesdk.Gives(rules.Undetermined, "intake-by-category")),
			rulesdk.Case(spray(), "soil binds it", rulesdk.Water(rules.IntakeCategory1, 0, rules.WaterEdge)),
		},
		rulesdk.AtDistance(handgun, "strip-by-method", rules.Wetland, stripWidth, rules.WetlandBoundary),
		[]rules.Case{
			rulesdk.Case(spray(), "from a backpack in the strip", rulesdk.Water(rules.Wetland, 0, rules.WetlandBoundary)),
			rulesdk.Case(spray(), "the equipment in the strip is not known", from(0), rulesdk.Water(rules.Wetland, 0, rules.WetlandBoundary),
				rulesdk.Gives(rules.Undetermined, "strip-by-method")),
			rulesdk.Case(spray(), "cuts are filled in the strip", by(rules.HackAndSquirt), rulesdk.Water(rules.Wetland, 0, rules.WetlandBoundary)),
		},
	)
}

// slopeCases know distances horizontally, as always: short of the limit they may be
// far enough along the slope.
func slopeCases() []rules.Case {
	near := func(name string, d quantity.Micrometres, more ...rulesdk.Change) rules.Case {
		return rulesdk.Case(spray(), name, append([]rulesdk.Change{rulesdk.Water(rules.PerennialStream, d, rules.WaterEdge)}, more...)...)
	}
	return []rules.Case{
		near("on level ground at the limit", broadcastBuffer),
		near("short of it, perhaps not along the slope", broadcastBuffer-1, rulesdk.Gives(rules.Undetermined, "water-broadcast")),
		near("in the water", 0, rulesdk.Forbidden("water-broadcast")),
	}
}

func ditchCases() []rules.Case {
	inside := rulesdk.Water(rules.Ditch, ditchBuffer-1, rules.BankTop)
	return append(rulesdk.AtDistance(spray(), "water-ditch", rules.Ditch, ditchBuffer, rules.BankTop),
		rulesdk.Case(spray(), "at a dry ditch", inside, dry(rules.Ditch)),
		rulesdk.Case(spray(), "at a dry ditch, its distance not known", rulesdk.Site(func(s *rules.Surroundings) {
			s.Water.Set(rules.Ditch, rules.WaterDistance{State: rules.WaterDry})
		})))
}

func aerialCases() []rules.Case {
	air := rulesdk.Case(spray(), "from the air over the larger pond", from(rules.Aerial), rulesdk.Measure(rules.LakeArea, int64(coveredWater+1)))
	inside := rulesdk.Water(rules.Lake, aerialBuffer-1, rules.WetlandBoundary)
	return append(rulesdk.AtDistance(air, "water-aerial", rules.Lake, aerialBuffer, rules.WetlandBoundary),
		rulesdk.Case(air, "a pond of a quarter acre, from the air", inside, rulesdk.Measure(rules.LakeArea, int64(coveredWater))),
		rulesdk.Case(air, "a pond whose area nobody measured, from the air", inside,
			rulesdk.Site(func(s *rules.Surroundings) { s.Measures = rules.Measures{} }), rulesdk.Gives(rules.Undetermined, "water-aerial")))
}

func wellCases() []rules.Case {
	granted := rulesdk.Case(spray(), "the shorter distance was granted", with(reduced))
	return slices.Concat(
		rulesdk.AtDistance(spray(), "well-reducible", rules.Well, wellBuffer, rules.WaterEdge),
		rulesdk.AtDistance(granted, "well-reducible", rules.Well, reducedBuffer, rules.WaterEdge),
		[]rules.Case{
			rulesdk.Case(granted, "granted and nearer than usual", rulesdk.Water(rules.Well, wellBuffer-1, rules.WaterEdge),
				rulesdk.Gives(rules.Conditional, "well-reducible")),
			rulesdk.Case(spray(), "another reduction was granted", rulesdk.Water(rules.Well, wellBuffer-1, rules.WaterEdge),
				with(func(t *rules.Treatment) { t.Granted = []string{"kinds/water-ditch"} }), rulesdk.Forbidden("well-reducible")),
		},
	)
}
