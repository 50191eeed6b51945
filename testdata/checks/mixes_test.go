package checks_test

import (
	"math"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// tiny is a microlitre in gallons, the step in which volumes are held.
const tiny = 1 / 3_785_411.784

// mixes is what loads, purchases and the dose of a patch compute.
var mixes = map[string]func(*input) answer{
	"loads":         func(in *input) answer { return number(float64(loadsOf(in).Loads)) },
	"last_load_gal": func(in *input) answer { return inSteps(loadsOf(in).Last.Mix.Gallons(), tiny) },
	"oz_per_load": func(in *input) answer {
		ounces, gallons := in.number("oz_per_gal"), in.number("load_gal")
		tank := quantity.Gallons(gallons)
		got := mixed(tank, tank, ounces/128).Last.ProductUS.FluidOunces()
		assert.LessOrEqual(in.t, got, ounces*gallons, "a load is never stronger than its recipe")
		return inSteps(got, 1.0/8) // marks of a dram
	},
	// Half of the mix is product, so that the amount is what a load of twice as much
	// takes.
	"measure_down": func(in *input) answer {
		if in.has("amount_ml") {
			v := quantity.Millilitres(2 * in.number("amount_ml"))
			return number(mixed(v, v, 0.5).Last.Product.Millilitres())
		}
		v := quantity.FluidOunces(2 * in.number("amount_fl_oz"))
		return number(mixed(v, v, 0.5).Last.ProductUS.FluidOunces())
	},
	"containers":  func(in *input) answer { return number(float64(bought(in).Containers)) },
	"surplus_gal": func(in *input) answer { return inSteps(bought(in).Surplus.Gallons(), 2*tiny) },

	// An acre sprayed at 20 gallons with a mix that carries the rate in them.
	"gal_product_per_ac": func(in *input) answer {
		rate, strength := in.number("lb_ae_per_ac"), in.number("lb_ae_per_gal")
		c := treatment.Catalogue{
			Formulations: []treatment.Formulation{{ID: "product", Active: "acid", Kind: rules.WaterSalt, Strength: quantity.PoundsPerGallon(strength), Methods: rules.AnyOf(rules.LowVolumeFoliar)}},
			Recipes:      []treatment.Recipe{{Method: rules.LowVolumeFoliar, Active: "acid", Kind: rules.WaterSalt, Mix: quantity.PoundsPerGallon(rate / 20)}},
		}
		settings := treatment.DefaultSettings()
		settings.LowVolume = quantity.GallonsPerAcre(20)
		d, _, _, err := treatment.DoseOf(&c, &settings, &treatment.Stem{Area: quantity.Acres(1)}, rules.LowVolumeFoliar, "product")
		require.NoError(in.t, err)
		assert.InDelta(in.t, rate, d.Rate.PoundsPerAcre(), 1e-6)
		return inSteps(d.Product.Gallons(), tiny)
	},
}

func loadsOf(in *input) treatment.Mix {
	return mixed(quantity.Gallons(in.number("mix_gal")), quantity.Gallons(in.number("tank_gal")), 0.5)
}

// mixed is a mix of which a share is product, in loads of a tank.
func mixed(volume, tank quantity.Microlitres, share float64) treatment.Mix {
	f := treatment.Formulation{ID: "product", Strength: quantity.PoundsPerGallon(4)}
	r := treatment.Recipe{Mix: quantity.Strength(math.Round(share * float64(f.Strength)))}
	settings := treatment.DefaultSettings()
	settings.Tank = tank
	var sum treatment.Mixes
	sum.Add(rules.LowVolumeFoliar, &r, &f, treatment.Dose{Stems: 1, Mix: volume})
	return sum.List(&settings)[0]
}

// bought is the purchase of a product that is used undiluted.
func bought(in *input) treatment.Purchase {
	f := treatment.Formulation{ID: "product", Strength: quantity.PoundsPerGallon(4), Container: quantity.Gallons(in.number("container_gal"))}
	r := treatment.Recipe{Mix: f.Strength}
	list := treatment.Purchases([]treatment.Mix{{Recipe: &r, Formulation: &f, Mix: quantity.Gallons(in.number("need_gal"))}}, 0)
	require.Len(in.t, list, 1)
	return list[0]
}
