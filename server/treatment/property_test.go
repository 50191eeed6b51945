package treatment_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyStem draws a stem, with anything about it known or not.
func anyStem(t *rapid.T, c *treatment.Catalogue) treatment.Stem {
	maybe := func(name string, high int64) int64 { return rapid.Int64Range(0, high).Draw(t, name) }
	s := treatment.Stem{
		ID:        rapid.StringMatching(`[a-z0-9]{1,12}`).Draw(t, "id"),
		Species:   c.Species[rapid.IntRange(0, len(c.Species)-1).Draw(t, "species")].Name,
		Form:      rules.GrowthForm(rapid.IntRange(1, 6).Draw(t, "form")),
		Diameter:  quantity.Micrometres(maybe("diameter", 900_000)),
		Height:    quantity.Micrometres(maybe("height", 30_000_000)),
		Count:     maybe("count", 20),
		Desirable: rules.Desirable(maybe("desirable", 3)),
		LandUse:   rules.LandUse(maybe("use", 8)),
		Soil:      rules.SoilState(maybe("soil", 4)),
		Bark:      rules.BarkState(maybe("bark", 3)),
		RootCheck: rules.RootCheck(maybe("root", 3)),
		HasSlope:  rapid.Bool().Draw(t, "has slope"),
	}
	if s.HasSlope {
		s.Slope = maybe("slope", 1_000)
	}
	if rapid.Bool().Draw(t, "patch") {
		s.Area = quantity.SquareMetres(float64(1 + maybe("area", 5_000)))
	}
	if rapid.Bool().Draw(t, "water") {
		s.Water.Set(rules.Well, rules.WaterDistance{Distance: quantity.Metres(float64(maybe("well", 80))), Origin: rules.WaterEdge})
	}
	return s
}

// anyDate is a day of 2026 or 2027.
func anyDate(t *rapid.T) string {
	return fmt.Sprintf("%d-%02d-%02d", rapid.IntRange(2026, 2027).Draw(t, "year"), rapid.IntRange(1, 12).Draw(t, "month"), rapid.IntRange(1, 28).Draw(t, "day"))
}

// restriction draws a row that can only take away.
func restriction(t *rapid.T) rules.Row {
	when := rules.Selector{}
	if rapid.Bool().Draw(t, "by method") {
		when.Methods = rules.AnyOf(rules.Method(rapid.IntRange(1, 6).Draw(t, "method")))
	}
	if rapid.Bool().Draw(t, "by slope") {
		when.Ranges = []rules.Range{rules.Above(rules.Slope, rapid.Int64Range(0, 1_000).Draw(t, "limit"))}
	}
	effects := []rules.Effect{
		rules.Prohibit{},
		rules.Buffer{Water: rules.AnyOf(rules.Well), Distance: quantity.Metres(rapid.Float64Range(1, 90).Draw(t, "buffer")), From: rules.WaterEdge},
		rules.Window{Open: yearly(8, 1, 9, 30)},
		rules.RequireStanding{AtLeast: rules.Certified},
		rules.Cap{Active: "glyphosate", Rate: quantity.PoundsPerAcre(rapid.Float64Range(0.01, 4).Draw(t, "rate"))},
	}
	return row("restriction", when, effects[rapid.IntRange(0, len(effects)-1).Draw(t, "effect")])
}

func TestARuleOnlyRestricts(t *testing.T) {
	c := shipped(t)
	rapid.Check(t, func(rt *rapid.T) {
		s, date := anyStem(rt, c), anyDate(rt)
		before, _ := prescribe(t, law(t, date), s)
		extra := restriction(rt)
		after, e := prescribe(t, law(t, date, extra), s)
		if before.Outcome != treatment.Prescribed && after.Outcome == treatment.Prescribed {
			rt.Fatalf("row %v lets %v be treated: %s", extra, s, e.Why)
		}
	})
}

func TestOrderOfRowsIsIrrelevant(t *testing.T) {
	c := shipped(t)
	settings := treatment.DefaultSettings()
	// A site too small for its stems, so that it is split over seasons.
	site := treatment.Site{ID: "small", Area: quantity.Acres(0.02)}
	g := law(t, summer)
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 120).Draw(rt, "stems")
		stems := make([]treatment.Stem, n)
		for i := range stems {
			stems[i] = stem(rules.Tree, rapid.Float64Range(1, 20).Draw(rt, "inches"), 40)
			stems[i].ID = fmt.Sprint(i)
		}
		plans, planner := treatment.PlanAll(c, g, site, &settings, stems)
		order := rand.New(rand.NewPCG(uint64(n), 1)).Perm(n)
		shuffled := make([]treatment.Stem, n)
		for to, from := range order {
			shuffled[to] = stems[from]
		}
		again, other := treatment.PlanAll(c, g, site, &settings, shuffled)
		for to, from := range order {
			require.Equal(rt, plans[from].Outcome, again[to].Outcome)
			require.Equal(rt, plans[from].Dose, again[to].Dose)
		}
		require.Equal(rt, planner.Uses(), other.Uses())
	})
}

// Whatever the rows, what is prescribed on a site stays under the annual maximum.
func TestAnnualMaximumIsNeverPassed(t *testing.T) {
	c := shipped(t)
	settings := treatment.DefaultSettings()
	g := law(t, summer)
	rapid.Check(t, func(rt *rapid.T) {
		site := treatment.Site{ID: "x", Area: quantity.Acres(rapid.Float64Range(0.001, 0.1).Draw(rt, "acres"))}
		site.Applied = map[string]quantity.MicrogramsAE{"glyphosate": quantity.MicrogramsAE(rapid.Int64Range(0, 300_000_000).Draw(rt, "applied"))}
		stems := make([]treatment.Stem, rapid.IntRange(1, 60).Draw(rt, "stems"))
		for i := range stems {
			stems[i] = anyStem(rt, c)
			stems[i].ID = fmt.Sprint(i)
		}
		plans, planner := treatment.PlanAll(c, g, site, &settings, stems)
		for _, u := range planner.Uses() {
			require.True(rt, u.Used == 0 || u.Used+u.Applied <= u.Limit.On(site.Area), "%s: %d of %d", u.Active, u.Used, u.Limit.On(site.Area))
			require.LessOrEqual(rt, u.Used, u.Wanted)
		}
		counts := map[treatment.Outcome]int{}
		for _, p := range plans {
			counts[p.Outcome]++
			if p.Outcome != treatment.Prescribed { // or it would be bought and mixed
				require.Zero(rt, p.Dose)
				require.Zero(rt, p.Second)
			}
		}
		sum := counts[treatment.Prescribed] + counts[treatment.Deferred] + counts[treatment.Undetermined] + counts[treatment.Rejected]
		require.Equal(rt, len(stems), sum, "every row has one outcome")
	})
}

func TestSplitOverSeasons(t *testing.T) {
	c, settings := shipped(t), treatment.DefaultSettings()
	// 0.05 acres hold 8 lb/acre x 0.05 = 0.4 lb = 181.4 g; 200 trees of 10 in take
	// 200 x 2.397 g = 479 g: three seasons.
	site := treatment.Site{ID: "row", Area: quantity.Acres(0.05)}
	stems := make([]treatment.Stem, 200)
	for i := range stems {
		stems[i] = stem(rules.Tree, 10, 40)
		stems[i].ID = fmt.Sprint(i)
	}
	plans, planner := treatment.PlanAll(c, law(t, summer), site, &settings, stems)
	uses := planner.Uses()
	require.Len(t, uses, 1)
	assert.Equal(t, int64(3), uses[0].Seasons)
	assert.InDelta(t, 8, uses[0].Limit.PoundsPerAcre(), 1e-6)
	assert.LessOrEqual(t, uses[0].Used.Grams(), 181.44)
	assert.Greater(t, uses[0].Used.Grams(), 150.0, "the share is filled as far as the classes let it")
	var deferred *treatment.Plan
	for i := range plans {
		if plans[i].Outcome == treatment.Deferred {
			deferred = &plans[i]
			e := planner.Explain(&stems[i], deferred)
			assert.Contains(t, e.Why, "annual maximum")
			assert.Equal(t, on(t, "2027-07-15"), e.Dates.TreatFrom)
			break
		}
	}
	require.NotNil(t, deferred)
}

func TestDoseProperties(t *testing.T) {
	c, settings := shipped(t), treatment.DefaultSettings()
	rapid.Check(t, func(rt *rapid.T) {
		s := anyStem(rt, c)
		s.Diameter = max(s.Diameter, 1)
		s.Height = max(s.Height, 1)
		r := c.Recipes[rapid.IntRange(0, len(c.Recipes)-1).Draw(rt, "recipe")]
		f := c.Formulations[rapid.IntRange(0, len(c.Formulations)-1).Draw(rt, "formulation")]
		d, recipe, _, err := treatment.DoseOf(c, &settings, &s, r.Method, f.ID)
		if err != nil {
			return
		}
		require.Equal(rt, d.Mix, d.Product+d.Carrier+d.Adjuvant+d.Dye, "mass balance")
		require.GreaterOrEqual(rt, d.Carrier, quantity.Microlitres(0))
		require.LessOrEqual(rt, float64(d.Product)*float64(f.Strength), float64(d.Mix)*float64(recipe.Mix)*(1+1e-12), "never stronger than the recipe")
		thicker := s
		thicker.Diameter += quantity.Inch
		more, _, _, err := treatment.DoseOf(c, &settings, &thicker, r.Method, f.ID)
		if err == nil && r.Method != rules.CutStump {
			require.GreaterOrEqual(rt, more.Mix, d.Mix, "a thicker stem takes no less")
		}
		if s.Area == 0 {
			s.Count = s.Stems() + 1
			again, _, _, err := treatment.DoseOf(c, &settings, &s, r.Method, f.ID)
			if err == nil {
				require.GreaterOrEqual(rt, again.Mix, d.Mix, "one more stem takes no less")
			}
		}
	})
}

// The same stem in inches and in centimetres gets the same answer.
func TestUnitInvariance(t *testing.T) {
	g := law(t, summer)
	rapid.Check(t, func(rt *rapid.T) {
		hundredths := rapid.IntRange(1, 3_000).Draw(rt, "hundredths of an inch")
		us := stem(rules.Tree, float64(hundredths)/100, 40)
		metric := us
		metric.Diameter = quantity.Centimetres(float64(hundredths) * 254 / 10_000)
		a, _ := prescribe(t, g, us)
		b, _ := prescribe(t, g, metric)
		require.Equal(rt, a, b)
	})
}

// Explain says of the choice what Plan decided, and equal keys mean equal words.
func TestExplainAgreesWithPlan(t *testing.T) {
	c, settings := shipped(t), treatment.DefaultSettings()
	rapid.Check(t, func(rt *rapid.T) {
		g := law(t, anyDate(rt), restriction(rt))
		p := treatment.NewPlanner(c, g, &tenAcres, &settings)
		byKey := map[uint64]string{}
		for range 30 {
			s := anyStem(rt, c)
			plan := p.Plan(&s)
			if plan.Outcome == treatment.Rejected {
				continue
			}
			e := p.Explain(&s, &plan)
			decision := rules.Allowed
			if len(g.Gaps) > 0 {
				decision = rules.Undetermined
			}
			for _, f := range e.Findings {
				decision = rules.Stricter(decision, f.Decision)
			}
			if e.Choice != nil {
				require.Equal(rt, e.Choice.Decision, decision, "the findings make the decision")
				if plan.Outcome == treatment.Prescribed {
					require.LessOrEqual(rt, decision, rules.Conditional)
				}
			}
			text := fmt.Sprint(e.Why, e.Dates, e.Steps, e.Cautions, e.FollowUp, e.Remedies)
			for _, a := range e.Alternatives {
				text += fmt.Sprint(a.Method, a.Reasons)
			}
			if before, seen := byKey[plan.Key]; seen {
				require.Equal(rt, before, text, "equal keys, equal words")
			}
			byKey[plan.Key] = text
		}
	})
}

func BenchmarkPlan(b *testing.B) {
	c, settings := shipped(b), treatment.DefaultSettings()
	p := treatment.NewPlanner(c, law(b, summer), &treatment.Site{ID: "x", Area: quantity.Acres(1e6)}, &settings)
	stems := make([]treatment.Stem, 1_000)
	for i := range stems {
		stems[i] = stem(rules.Tree, 0.5+float64(i%200)/10, float64(5+i%40))
		stems[i].ID = fmt.Sprint(i)
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		p.Plan(&stems[i%len(stems)])
	}
}
