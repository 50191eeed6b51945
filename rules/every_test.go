package rules_test

import (
	"strings"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// everyRows is a row of every kind of effect, with every part of a row and every
// field of an effect stated that can be together.
func everyRows() []rules.Row {
	hours := rules.ClockHours{From: 420, To: -30, FromAnchor: rules.Midnight, ToAnchor: rules.Sunset}
	effects := map[string]rules.Effect{
		"buffer": rules.Buffer{
			Water: rules.AnyOf(rules.Lake), Distance: quantity.Metre, From: rules.BankTop, Activity: rules.MixAndLoad, Along: rules.AlongSlope, WhileWet: true,
			Reduction: rules.Reduction{Distance: quantity.Centimetre, Evidence: "a survey", DecidedBy: "the district", RecordField: "reduction"},
			Allowance: rules.Allowance{Distance: quantity.Metre, Basis: "a survey of banks"},
		},
		"cap":                    rules.Cap{Active: "triclopyr", Rate: 1_000, Over: rules.OverParcel, RepeatsCounted: rules.No},
		"standing":               rules.RequireStanding{AtLeast: rules.Certified, Categories: rules.AnyOf(rules.CertifiedForest), MaxSupervised: 4},
		"permit":                 rules.Permit{Name: "a permit", From: "the district", ValidYears: 5, Yearly: "an operational plan"},
		"notice":                 rules.Notice{To: "neighbours", MinDays: 3, MaxDays: 60, Within: quantity.Metre, RainDates: 2, By: "by letter", Languages: []string{"French"}},
		"posting":                rules.Posting{Says: "keep out", Every: quantity.Metre, EarliestHours: 24, RemoveWithinDays: 3, Width: 1, Height: 2, Until: "the fruit is past"},
		"weather":                rules.WeatherLimit{Factor: rules.WindSpeed, Min: 1, Max: 10, HasMin: true, HasMax: true, Statistic: rules.Gust, OverMinutes: 10},
		"setback":                rules.Setback{Places: rules.AnyOf(rules.School), Distance: quantity.Metre, Hours: hours},
		"daily_hours":            rules.DailyHours{Open: hours},
		"use_threshold":          rules.UseThreshold{Area: quantity.Acres(1), RepeatsCounted: rules.No, Then: "file a plan", SingleArea: true},
		"use_threshold of shore": rules.UseThreshold{Length: quantity.Mile, RepeatsCounted: rules.No, BothBanks: rules.Yes, Then: "file a plan"},
		"lookup":                 rules.Lookup{Register: "the register of apiaries", Within: quantity.Mile, MaxDays: 3, Then: "tell the keeper"},
		"computed":               rules.Computed{Method: "degree days", Needs: rules.AnyOf(rules.FactPosition, rules.FactTemperatures)},
		"record in hours":        rules.Record{Fields: []string{"wind"}, KeepYears: 3, WithinHours: 48},
	}
	var rows []rules.Row
	add := func(name string, r rules.Row, e rules.Effect) {
		r.ID, r.Effect = strings.NewReplacer("_", "-", " ", "-").Replace(name), e
		r.Supersedes = []string{"older"}
		if e.Kind() != rules.KindSeason {
			r.When.DriftControl = rules.AnyOf(rules.DriftApproved)
			r.During = window(time.April, 15, time.September, 29)
			r.Unless = []rules.Selector{{Species: []string{"Rhamnus cathartica"}, Ranges: []rules.Range{{Of: rules.Dose, Min: 3, Max: 9}}}, {DriftControl: rules.AnyOf(rules.DriftApproved)}}
		}
		rows = append(rows, r)
	}
	last := rules.Row{}
	for _, r := range fullRows() {
		name := r.Effect.Kind().String()
		e, newer := effects[name]
		if !newer {
			e = r.Effect
		}
		add(name, r, e)
		last = r
	}
	for _, name := range []string{"setback", "daily_hours", "use_threshold", "use_threshold of shore", "lookup", "computed", "record in hours"} {
		add(name, last, effects[name])
	}
	return rows
}

// oneOrTheOther are fields that cannot be stated beside those that are.
var oneOrTheOther = []string{
	"record.Effect.WithinHours", "record-in-hours.Effect.WithinDays",
	"use-threshold.Effect.Length", "use-threshold.Effect.BothBanks", "use-threshold-of-shore.Effect.Area", "use-threshold-of-shore.Effect.SingleArea",
}

// everyTable states everything that a table can state. Its case fits no row but
// the season's, in more than one part.
func everyTable() rules.Table {
	t := fullTable()
	t.Rows = everyRows()
	c := &t.Cases[0]
	c.Treatment.DriftControl, c.Treatment.Categories = rules.DriftStandard, rules.AnyOf(rules.CertifiedAquatic)
	c.Treatment.CarrierMlPerHa, c.Treatment.DosePermille = 100_000, 500
	c.Treatment.Granted = []string{"nation/buffer"}
	c.Site.Places.Set(rules.School, rules.PlaceDistance{Distance: 7})
	c.Site.Water.Set(rules.Lake, rules.WaterDistance{Distance: 5, Origin: rules.WaterEdge, State: rules.WaterDry})
	t.Manifest.ValidFrom = civil.Of(2025, time.January, 2)
	return t
}
