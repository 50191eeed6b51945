package checks_test

import (
	"math"

	"example.org/rootward/rules/quantity"
)

// many is how many of a unit are converted at once, so that a factor is seen to
// more digits than one unit's whole steps would show.
const many = 1e6

// units is what package quantity computes. Where a unit of the trade is a fraction
// of one that the program has, the fraction is written here.
var units = map[string]func(*input) answer{
	"gal_to_cubic_in": func(in *input) answer {
		const cubicInch = 2.54 * 2.54 * 2.54 // mL, the inch of 2.54 cm
		return inSteps(quantity.Gallons(many*in.number("gal")).Millilitres()/cubicInch/many, 1e-9)
	},
	// A cup, a pint, a tablespoon and a fluid dram are the 16th, 8th, 256th and
	// 1024th part of a gallon.
	"cup_to_fl_oz":     func(in *input) answer { return fluidOunces(in.number("cup") / 16) },
	"cup_to_ml":        func(in *input) answer { return millilitres(in.number("cup") / 16) },
	"pint_to_fl_oz":    func(in *input) answer { return fluidOunces(in.number("pint") / 8) },
	"fl_dram_to_fl_oz": func(in *input) answer { return fluidOunces(in.number("fl_dram") / 1024) },
	"fl_dram_to_ml":    func(in *input) answer { return millilitres(in.number("fl_dram") / 1024) },
	"fl_oz_to_tbsp": func(in *input) answer {
		return inSteps(quantity.FluidOunces(many*in.number("fl_oz")).Gallons()*256/many, 1e-9)
	},
	"fl_oz_to_ml": func(in *input) answer {
		return inSteps(quantity.FluidOunces(many*in.number("fl_oz")).Millilitres()/many, 1e-9)
	},
	"gal_to_l":  func(in *input) answer { return inSteps(quantity.Gallons(many*in.number("gal")).Litres()/many, 1e-12) },
	"ac_to_ft2": func(in *input) answer { return inSteps(quantity.Acres(1e3*in.number("ac")).SquareFeet()/1e3, 1e-8) },
	"ac_to_m2":  func(in *input) answer { return inSteps(quantity.Acres(1e3*in.number("ac")).SquareMetres()/1e3, 1e-9) },
	"square_plot_side_ft": func(in *input) answer {
		return number(math.Sqrt(quantity.Acres(1 / in.number("plots_per_ac")).SquareFeet()))
	},
	"lb_per_gal_to_g_per_l": func(in *input) answer {
		return number(quantity.PoundsPerGallon(in.number("lb_per_gal")).GramsPerLitre())
	},
	"in_to_um":          func(in *input) answer { return number(float64(quantity.Inches(in.number("in")))) },
	"cm_to_um":          func(in *input) answer { return number(float64(quantity.Centimetres(in.number("cm")))) },
	"ft_to_um":          func(in *input) answer { return number(float64(quantity.Feet(in.number("ft")))) },
	"m_to_um":           func(in *input) answer { return number(float64(quantity.Metres(in.number("m")))) },
	"mi_to_ft":          func(in *input) answer { return number(in.number("mi") * quantity.Mile.Feet()) },
	"mph_to_ft_per_min": func(in *input) answer { return number(in.number("mph") * quantity.Mile.Feet() / 60) },
	"lb_to_g": func(in *input) answer {
		return number(quantity.PoundsPerAcre(in.number("lb")).On(quantity.Acres(10)).Grams() / 10)
	},
	"lb_per_ac_to_kg_per_ha": func(in *input) answer {
		return inSteps(quantity.PoundsPerAcre(in.number("lb_per_ac")).On(quantity.Hectare).Grams()/1e3, 1e-9)
	},
	"gpa_to_l_per_ha": func(in *input) answer {
		return inSteps(quantity.GallonsPerAcre(in.number("gpa")).On(quantity.Hectare).Litres(), 1e-6)
	},

	"mix_g_ae_per_l": func(in *input) answer {
		return inSteps(strength(in).In(share(in).Of(quantity.Litre)).Grams(), 1e-6)
	},
	"g_ae_in_volume": func(in *input) answer {
		if in.has("ml") {
			return inSteps(strength(in).In(quantity.Millilitres(in.number("ml"))).Grams(), 1e-6)
		}
		return inSteps(strength(in).In(quantity.FluidOunces(1e3*in.number("fl_oz"))).Grams()/1e3, 1e-6)
	},
	"lb_ae_in_volume": func(in *input) answer {
		return inSteps(strength(in).In(quantity.FluidOunces(1e3*in.number("fl_oz"))).Pounds()/1e3, 1e-9)
	},
	"gal_mix_per_ac_at_cap": func(in *input) answer {
		limit := quantity.PoundsPerAcre(in.number("cap_lb_ae_per_ac")).On(quantity.Acres(10)) / 10
		inGallon := strength(in).In(share(in).Of(quantity.Gallons(1e3))).Grams() / 1e3
		return inSteps(limit.Grams()/inGallon, 1e-6)
	},

	"percent_to_fl_oz_per_gal": func(in *input) answer { return inSteps(share(in).Of(quantity.Gallons(1e3)).FluidOunces()/1e3, 1e-7) },
	"percent_to_fl_oz": func(in *input) answer {
		return inSteps(share(in).Of(quantity.Gallons(1e3*in.number("mix_gal"))).FluidOunces()/1e3, 1e-7)
	},
	"fl_oz_per_gal_to_percent": func(in *input) answer {
		return number(100 * float64(quantity.FluidOunces(in.number("fl_oz_per_gal"))) / float64(quantity.Gallons(1)))
	},
	"mix_gal_for_area": func(in *input) answer {
		return inSteps(quantity.GallonsPerAcre(in.number("gpa")).On(in.area("area")).Gallons(), 1e-6)
	},
	"product_ml_in_mix": func(in *input) answer {
		mix := oneOf(in, "mix", map[string]func(float64) quantity.Microlitres{"ml": quantity.Millilitres, "gal": quantity.Gallons})
		return inSteps(share(in).Of(mix).Millilitres(), 1e-3)
	},

	"basal_area_ft2": func(in *input) answer { return number(quantity.BasalAreaSquareFeet(in.length("dbh"))) },
	"basal_area_m2": func(in *input) answer {
		return inSteps(quantity.Circle(1e3*in.length("dbh")).SquareMetres()/1e6, 1e-12)
	},
	"plot_radius_ft": func(in *input) answer {
		return number(math.Sqrt(quantity.Acres(1/in.number("plots_per_ac")).SquareFeet() / math.Pi))
	},
	"dbh_from_girth": func(in *input) answer {
		if in.has("girth_in") {
			return inSteps(quantity.DiameterFromGirth(in.length("girth")).Inches(), 1e-4)
		}
		return inSteps(quantity.DiameterFromGirth(in.length("girth")).Centimetres(), 1e-4)
	},
	"breast_height_m": func(*input) answer { return number(quantity.BreastHeight.Metres()) },

	"bark_area_in2": func(in *input) answer {
		return inSteps(quantity.Band(1e3*in.length("dbh"), 1e3*in.length("band")).SquareInches()/1e6, 1e-8)
	},
	"bark_area_cm2": func(in *input) answer {
		return inSteps(quantity.Band(1e3*in.length("dbh"), 1e3*in.length("band")).SquareMetres()*1e4/1e6, 1e-8)
	},
	"basal_solution_ml": func(in *input) answer {
		rate := quantity.MillilitresPerSquareInch(in.number("ml_per_in2"))
		return inSteps(rate.On(quantity.Band(in.length("dbh"), in.length("band"))).Millilitres(), 1e-3)
	},
}

func fluidOunces(gallons float64) answer {
	return inSteps(quantity.Gallons(many*gallons).FluidOunces()/many, 1e-9)
}

func millilitres(gallons float64) answer {
	return inSteps(quantity.Gallons(many*gallons).Millilitres()/many, 1e-9)
}

func strength(in *input) quantity.Strength {
	return quantity.PoundsPerGallon(in.number("lb_ae_per_gal"))
}

func share(in *input) quantity.PerMillion { return quantity.Percent(in.number("percent_v_v")) }
