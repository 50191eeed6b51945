package checks_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/catalogue"
	"example.org/rootward/server/treatment"
)

// stems is what the methods decide and compute for a stem, with the catalogue that
// Rootward ships.
var stems = map[string]func(*input) answer{
	"stem_count": func(in *input) answer {
		s := treatment.Stem{PerHectare: int64(math.Round(perHectare(in))), Area: in.area("area")}
		return number(float64(s.Stems()))
	},

	"cuts":             func(in *input) answer { return number(float64(hacked(in).Cuts)) },
	"hack_solution_ml": func(in *input) answer { return inSteps(hacked(in).Mix.Millilitres(), 1e-3) },
	"hack_product_ml":  func(in *input) answer { return inSteps(hacked(in).Product.Millilitres(), 1e-3) },
	"hack_g_ae":        func(in *input) answer { return inSteps(hacked(in).AE.Grams(), 1e-6) },
	"hack_diameter": func(in *input) answer {
		s := standing(3, 20)
		s.Diameter = in.length("dbh")
		return judged(in, shipped(in.t), s, rules.HackAndSquirt, treatment.TooThinToCut)
	},

	"basal_diameter": func(in *input) answer {
		s := standing(3, 20)
		s.Diameter = in.length("dbh")
		return judged(in, shipped(in.t), s, rules.BasalBark, treatment.TooThickForBasal)
	},
	"basal_band": func(in *input) answer {
		settings := treatment.DefaultSettings()
		settings.BasalBand = in.length("band")
		faults := settings.Check(shipped(in.t))
		if len(faults) > 0 {
			require.Equal(in.t, "settings.basal_band_cm", faults[0].Field)
		}
		return either(len(faults) == 0, "allow", "block")
	},
	"basal_density": func(in *input) answer {
		// Low enough for foliar treatment, which is cheaper, so that basal bark stands
		// among the alternatives with what speaks against it. A density is taken as the
		// interface takes it, the next whole number up.
		s := standing(1, 6)
		s.Form, s.Area, s.PerHectare = rules.RootSucker, quantity.Acres(1), int64(math.Ceil(perHectare(in)))
		_, e := planned(in, shipped(in.t), oneRow(in, summer, allYearInLeaf, allYearOpen), s)
		i := slices.IndexFunc(e.Alternatives, func(a treatment.Alternative) bool { return a.Method == rules.BasalBark })
		require.GreaterOrEqual(in.t, i, 0)
		return either(slices.Contains(e.Alternatives[i].Reasons, treatment.TooDense.Texts()[0]), "uneconomic", "economic")
	},
	"basal_bark_state": func(in *input) answer {
		s := standing(3, 20)
		s.Bark = vocabulary[rules.BarkState](in, "bark_state")
		return judged(in, shipped(in.t), s, rules.BasalBark, treatment.BarkWetOrFrozen)
	},
	"basal_kind": func(in *input) answer {
		c := *shipped(in.t)
		err := catalogue.Add(&c, strings.NewReader(fmt.Sprintf(basalRecipe, vocabulary[rules.FormulationKind](in, "kind"))), "a recipe")
		if err != nil {
			require.ErrorContains(in.t, err, "basal bark takes an ester in oil")
		}
		return either(err == nil, "allow", "block")
	},

	"cut_stump_max_delay_min": func(in *input) answer { return number(longestDelay(in)) },
	"cut_stump_delay": func(in *input) answer {
		return either(in.number("delay_min") <= longestDelay(in), "allow", "block")
	},
	"cut_stump_species": func(in *input) answer {
		s := standing(3, 20)
		s.Species = in.text("species")
		return judged(in, shipped(in.t), s, rules.CutStump, treatment.NeverStumpOnly)
	},
	"cut_stump_suckering": func(in *input) answer {
		c := *shipped(in.t)
		c.Species = []treatment.Species{{Name: "Invented species", Suckering: vocabulary[rules.Suckering](in, "suckering")}}
		s := standing(3, 20)
		s.Species = "Invented species"
		return judged(in, &c, s, rules.CutStump, treatment.NeverStumpOnly)
	},

	"crown_reduction_percent": crownReduction,
}

const basalRecipe = `recipes:
  - method: basal_bark
    active: triclopyr
    kind: %s
    mix: 0.8 lb ae/gal
    carrier: oil
    source: test
`

var readShipped = sync.OnceValues(catalogue.Default)

// shipped is the catalogue that Rootward ships; no test changes it.
func shipped(t *testing.T) *treatment.Catalogue {
	c, err := readShipped()
	require.NoError(t, err)
	return c
}

// standing is a tree-of-heaven that every way of treating single stems fits but
// the cut stump.
func standing(inches, feet float64) treatment.Stem {
	s := treatment.Stem{
		ID: "s", Species: "Ailanthus altissima", Form: rules.Tree, Diameter: quantity.Inches(inches), Height: quantity.Feet(feet),
		Desirable: rules.DesirableNone, LandUse: rules.Forest, Soil: rules.SoilMoist, Bark: rules.BarkDry,
	}
	s.Water.SetOthers(quantity.Mile)
	return s
}

func planner(c *treatment.Catalogue, law *rules.Governing) *treatment.Planner {
	settings := treatment.DefaultSettings()
	settings.Standing = rules.Certified
	return treatment.NewPlanner(c, law, &treatment.Site{ID: "site", Area: quantity.Acres(10)}, &settings)
}

func planned(in *input, c *treatment.Catalogue, law *rules.Governing, s treatment.Stem) (treatment.Plan, treatment.Explanation) {
	p := planner(c, law)
	plan := p.Plan(&s)
	require.Empty(in.t, plan.Faults)
	return plan, p.Explain(&s, &plan)
}

// judged says whether a method may be done on a stem where the law forbids nothing.
// If not, it is for the named reason.
func judged(in *input, c *treatment.Catalogue, s treatment.Stem, by rules.Method, reason treatment.Refusals) answer {
	require.Empty(in.t, s.Check(c))
	ranking := planner(c, oneRow(in, summer, allYearInLeaf, allYearOpen)).Rank(&s)
	if slices.ContainsFunc(ranking.Ranked, func(c treatment.Choice) bool { return c.Method == by }) {
		return word("allow")
	}
	i := slices.IndexFunc(ranking.Refused, func(a treatment.Alternative) bool { return a.Method == by })
	require.GreaterOrEqual(in.t, i, 0)
	assert.Contains(in.t, ranking.Refused[i].Reasons, reason.Texts()[0])
	return word("block")
}

// hacked is the dose of one stem by the shipped recipe for so many inches a cut,
// which has to have the row's share and strength.
func hacked(in *input) treatment.Dose {
	c, settings := shipped(in.t), treatment.DefaultSettings()
	every := quantity.Inches(in.number("inches_per_cut"))
	i := slices.IndexFunc(c.Recipes, func(r treatment.Recipe) bool { return r.Method == rules.HackAndSquirt && r.CutEvery == every })
	require.GreaterOrEqual(in.t, i, 0)
	j := slices.IndexFunc(c.Formulations, func(f treatment.Formulation) bool { return f.Active == c.Recipes[i].Active })
	require.GreaterOrEqual(in.t, j, 0)
	if in.has("ml_per_cut") {
		settings.PerCut = quantity.Millilitres(in.number("ml_per_cut"))
	}
	d, r, f, err := treatment.DoseOf(c, &settings, &treatment.Stem{Diameter: in.length("dbh")}, rules.HackAndSquirt, c.Formulations[j].ID)
	require.NoError(in.t, err)
	if in.has("percent_v_v") {
		require.InDelta(in.t, in.number("percent_v_v"), 100*float64(r.Mix)/float64(f.Strength), 1e-6)
	}
	if in.has("lb_ae_per_gal") {
		require.InDelta(in.t, in.number("lb_ae_per_gal"), f.Strength.PoundsPerGallon(), 1e-6)
	}
	return d
}

func perHectare(in *input) float64 {
	if in.has("stems_per_ha") {
		return in.number("stems_per_ha")
	}
	return in.number("stems_per_ac") / quantity.Acres(1).SquareMetres() * 1e4
}

// longestDelay reads from the steps for a stump how many minutes may pass.
func longestDelay(in *input) float64 {
	kind := vocabulary[rules.FormulationKind](in, "kind")
	only := *shipped(in.t)
	only.Formulations = slices.DeleteFunc(slices.Clone(only.Formulations), func(f treatment.Formulation) bool { return f.Kind != kind })
	s := standing(3, 1)
	s.Species, s.Form = "Rhamnus cathartica", rules.Stump
	_, e := planned(in, &only, oneRow(in, summer, allYearInLeaf, allYearOpen), s)
	require.NotNil(in.t, e.Choice)
	require.Equal(in.t, rules.CutStump, e.Choice.Method)
	steps := strings.Join(e.Steps, "\n")
	if strings.Contains(steps, "within one minute of the cut") {
		return 1
	}
	return 60 * figure(in, steps, `up to (\d+) hours after the cut`)
}

// crownReduction looks a trial up in the catalogue, which holds the second year.
func crownReduction(in *input) answer {
	require.Equal(in.t, 2.0, in.number("year"))
	kind, method := vocabulary[rules.FormulationKind](in, "kind"), vocabulary[rules.Method](in, "method")
	species, active := in.text("species"), in.text("active")
	var diameter quantity.Micrometres
	if in.has("diameter_cm") {
		diameter = in.length("diameter")
	}
	var found []treatment.Evidence
	for _, e := range shipped(in.t).Evidence {
		sized := e.Above == 0 && e.UpTo == 0 || diameter > e.Above && (e.UpTo == 0 || diameter <= e.UpTo)
		if e.Species == species && e.Active == active && e.Methods.Has(method) && (e.Kind == 0 || e.Kind == kind) && sized {
			found = append(found, e)
		}
	}
	require.Len(in.t, found, 1)
	return number(found[0].Control.Percent())
}
