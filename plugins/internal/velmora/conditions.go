package velmora

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// conditions are about the weather of the day, the year's total, and the record.
func conditions() []rules.Row {
	return []rules.Row{{
		ID:       "weather-wind",
		Purpose:  "Leaves are sprayed in a light wind: in a calm the air may be layered, and a strong wind carries spray away.",
		Citation: rule(51),
		When:     rules.Selector{Methods: foliar},
		Effect:   rules.WeatherLimit{Factor: rules.WindSpeed, Min: 3, HasMin: true, Max: 10, HasMax: true},
	}, {
		ID:       "weather-ester-heat",
		Purpose:  "No ester is applied in heat, when it turns to vapour.",
		Citation: rule(52),
		When:     rules.Selector{Formulations: rules.AnyOf(rules.Ester)},
		Effect:   rules.WeatherLimit{Factor: rules.AirTemperature, Max: 85, HasMax: true},
	}, {
		ID:       "cap-imazapyr",
		Purpose:  "The state limits imazapyr more than its label, for what it does to roots nearby.",
		Citation: rule(61),
		When:     rules.Selector{Actives: []string{"imazapyr"}},
		Effect:   rules.Cap{Active: "imazapyr", Rate: quantity.PoundsPerAcre(1)},
	}, {
		ID:       "cap-triclopyr-pasture",
		Purpose:  "On grazed pasture the year's triclopyr is limited.",
		Citation: rule(62),
		When:     rules.Selector{Actives: []string{"triclopyr"}, LandUses: rules.AnyOf(rules.GrazedPasture)},
		Effect:   rules.Cap{Active: "triclopyr", Rate: quantity.PoundsPerAcre(2)},
	}, {
		ID:       "record",
		Purpose:  "Every application of a herbicide is recorded.",
		Citation: rule(71),
		When:     rules.Selector{Methods: withHerbicide},
		Effect: rules.Record{
			Fields:     []string{"place", "area", "species", "method", "product and registration number", "total amount", "applicator", "start and end", "wind and temperature"},
			WithinDays: 14,
			KeepYears:  3,
		},
	}}
}
