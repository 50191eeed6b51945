package main

import (
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
)

const (
	schoolEdge   = 3 * quantity.Metre  // number: section E (Quebec), S19
	blastEdge    = 30 * quantity.Metre // number: section E (Quebec), S19
	noticeRadius = 150 * quantity.Foot // number: L40, S17
	signSpacing  = 20 * quantity.Metre // number: L47, S19
	signWidth    = 14 * quantity.Inch  // number: L17, S07
	signHeight   = 16 * quantity.Inch  // number: L17, S07
)

// spot is the treated area below which nobody need be told (number: L41, S17).
var spot = quantity.SquareFeet(9)

// schoolDay is the part of the day in which pupils are there; invented.
var schoolDay = rules.ClockHours{From: 7 * 60, To: 18 * 60}

var pupils = rules.AnyOf(rules.School, rules.Childcare)

func neighbourRows() []rulesdk.Rule {
	return []rulesdk.Rule{
		// School and childcare edge, in opening hours. Kind and number: section E (Quebec), S19.
		row(8, "school-hours", "While pupils are there nothing is sprayed within 3 m of their grounds.").
			When(rules.Selector{Methods: sprayed}).
			Then(rules.Setback{Places: pupils, Hours: schoolDay}, schoolEdge),

		// The same for air-blast sprayers, at all hours. Kind and number: section E (Quebec), S19.
		row(9, "school-air-blast", "No air-blast sprayer is used within 30 m of where pupils are taught or cared for.").
			When(rules.Selector{Equipment: rules.AnyOf(rules.Mistblower)}).
			Then(rules.Setback{Places: pupils}, blastEdge),

		// Notice before. Kind, lead time, radius, rain dates and exempt treatments: L40,
		// L41, S17; the earliest day: L39 (letters), S16. The languages are invented.
		row(10, "notice-neighbours", "Neighbours are told two to sixty days before anything is sprayed.").
			When(rules.Selector{Methods: withHerbicide}).
			Unless(
				rules.Selector{Methods: rules.AnyOf(rules.HackAndSquirt)},
				rules.Selector{Formulations: rules.AnyOf(rules.DryGranule)},
			).
			UnlessWhere(rules.Selector{}, rulesdk.Below(rules.TreatedArea, spot)).
			Then(rules.Notice{
				To: "whoever lives or works next to the treated place", By: "by letter",
				MinDays: 2, MaxDays: 60, RainDates: 2, Languages: []string{"English", "Spanish"},
			}, noticeRadius),

		// Posting. Kind and spacing: L47, S19; size: L17, S07; that signs stay while people
		// gather: section E (forest signs).
		row(11, "signs", "Signs stand around what is treated where people walk, until nothing there is gathered any more.").
			When(rules.Selector{Methods: withHerbicide, LandUses: rules.AnyOf(rules.Park, rules.Forest)}).
			Then(rules.Posting{
				Says: "what was applied, when, and that nothing is to be gathered", EarliestHours: 24, // number: L16, S07
				Until: "the end of the season in which wild fruit is gathered",
			}, signSpacing, signWidth, signHeight),
	}
}

func neighbourCases() []rules.Case {
	blast := rulesdk.Case(spray(), "from an air-blast sprayer", from(rules.Mistblower))
	treated := func(name string, a quantity.SquareMillimetres, by ...string) rules.Case {
		return rulesdk.Case(spray(), name, rulesdk.Measure(rules.TreatedArea, int64(a)), rulesdk.Gives(rules.Conditional, by...))
	}
	return slices.Concat(
		schoolCases(),
		rulesdk.AtSetback(blast, "school-air-blast", rules.School, blastEdge),
		rulesdk.AtSetback(blast, "school-air-blast", rules.Childcare, blastEdge),
		[]rules.Case{
			treated("a spot of less than 9 square feet", spot-1),
			treated("9 square feet", spot, "notice-neighbours"),
			rulesdk.Case(spray(), "granules are not told", with(func(t *rules.Treatment) { t.Formulation = rules.DryGranule })),
			rulesdk.Case(spray(), "cuts are filled, and nobody told", by(rules.HackAndSquirt)),
			rulesdk.Case(spray(), "in a forest", on(rules.Forest), rulesdk.Gives(rules.Conditional, "signs")),
			rulesdk.Case(spray(), "on rangeland", on(rules.Rangeland)),
		},
	)
}

// schoolCases give a condition within the distance, since the hours are not known.
func schoolCases() []rules.Case {
	school := func(name string, d rules.PlaceDistance, want rules.Decision, by ...string) rules.Case {
		return rulesdk.Case(spray(), name, rulesdk.Site(func(s *rules.Surroundings) { s.Places.Set(rules.School, d) }), rulesdk.Gives(want, by...))
	}
	return []rules.Case{
		school("at the edge of a school", rules.PlaceDistance{Distance: schoolEdge - 1}, rules.Conditional, "school-hours"),
		school("3 m from it", rules.PlaceDistance{Distance: schoolEdge}, rules.Conditional),
		school("a school that may be nearer", rules.PlaceDistance{Distance: schoolEdge - 1, AtLeast: true}, rules.Undetermined, "school-hours"),
		rulesdk.Case(spray(), "nobody knows of schools", rulesdk.Site(func(s *rules.Surroundings) { s.Places = rules.Places{} }),
			rulesdk.Gives(rules.Undetermined, "school-hours")),
	}
}
