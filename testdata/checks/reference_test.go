package checks_test

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// reference computes what nothing in the program computes. Its rows hold the facts
// to their arithmetic and to their limits; they say nothing of the program.
var reference = map[string]func(*input) answer{
	// The program needs the wet bulb of moist air alone.
	"saturation_kpa":      saturationOf,
	"vapour_pressure_kpa": vapourPressure,
	// The program takes strengths as acid equivalent.
	"ae_factor": func(in *input) answer { return number(acidShare(in)) },
	"percent_ai_to_percent_ae": func(in *input) answer {
		return number(in.number("percent_ai") * acidShare(in))
	},
	"lb_ai_per_gal_to_lb_ae_per_gal": func(in *input) answer {
		return number(in.number("lb_ai_per_gal") * acidShare(in))
	},
	// The program doses no dry product by weight.
	"lb_product_per_ac": func(in *input) answer { return number(100 * in.number("lb_ai_per_ac") / in.number("percent_ai")) },
	// The program states a mix by its strength, not by product to the acre.
	"oz_per_gal": func(in *input) answer { return number(in.number("oz_per_ac") / in.number("gpa")) },
	// The program takes a count or a density, and no sample plots.
	"stems_per_ac": func(in *input) answer { return number(in.number("stems") * in.number("plots_per_ac")) },
	// The program takes the category from the label: 40 CFR 156.62 (2015 edition).
	"toxicity_category_oral":   func(in *input) answer { return category(in, 50, 500, 5_000) },
	"toxicity_category_dermal": func(in *input) answer { return category(in, 200, 2_000, 20_000) },
	// The program leaves the symbol to the label: 40 CFR 156.64 (2015 edition).
	"poison_and_skull": func(in *input) answer {
		route, category := in.text("route"), vocabulary[rules.ToxicityCategory](in, "category")
		internal := route == "oral" || route == "dermal" || route == "inhalation"
		return either(internal && category == rules.CategoryI, "yes", "no")
	},
	// The plugin's record row says it in words alone: 7 CFR 110.3(b) (2015 edition).
	"record_kind": func(in *input) answer {
		spot := rules.Below(rules.TreatedArea, int64(quantity.Acres(0.1)))
		return either(spot.Holds(int64(in.area("same_day_total"))), "short", "full")
	},
}

func acidShare(in *input) float64 {
	return in.number("acid_g_per_mol") / in.number("compound_g_per_mol")
}

// category compares a lethal dose with the highest of categories I, II and III.
func category(in *input, highest ...float64) answer {
	dose := in.number("ld50_mg_per_kg")
	for i, limit := range highest {
		if dose <= limit {
			return word(rules.Words[rules.ToxicityCategory]()[i].String())
		}
	}
	return word(rules.CategoryIV.String())
}

// held is the rows that nothing here computes, with the reason. They are kept for
// their source.
var held = map[string]string{
	"T18a": firstYear, "T18c": firstYear, "T18e": firstYear, "T19a": firstYear, "T19c": firstYear, "T19e": firstYear,
	"T19f": "the catalogue has no figure for imazapyr on bark, and no recipe that puts it there",
	"L24b": "no rule of the federal plugin holds the customer's copy",
}

const firstYear = "the catalogue holds second-year figures alone"
