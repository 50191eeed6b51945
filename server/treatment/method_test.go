package treatment_test

import (
	"strings"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const summer = "2026-08-10"

func TestMethodChosen(t *testing.T) {
	pear := species("Pyrus calleryana")
	taproot := func(s *treatment.Stem) { s.RootCheck = rules.Taproot }
	dense := func(s *treatment.Stem) { s.Area, s.PerHectare = quantity.Acres(1), 6_000 }
	cases := []struct {
		name string
		stem treatment.Stem
		want rules.Method
	}{
		{"seedling with a taproot", with(stem(rules.Seedling, 0.3, 1), taproot), rules.HandPull},
		{"sucker within reach", stem(rules.RootSucker, 0.8, 5), rules.LowVolumeFoliar},
		{"sucker beside desirable leaves", with(stem(rules.RootSucker, 0.8, 5), desirable(rules.DesirableSprayReach)), rules.BasalBark},
		{"sapling out of reach", stem(rules.Sapling, 3, 20), rules.BasalBark},
		// Rutgers Plant & Pest Advisory: basal bark up to 6 in, cuts above.
		{"at 6 in", stem(rules.Tree, 6, 40), rules.BasalBark},
		{"at 15.24 cm, the same", with(stem(rules.Tree, 1, 40), func(s *treatment.Stem) { s.Diameter = quantity.Centimetres(15.24) }), rules.BasalBark},
		{"above 6 in", stem(rules.Tree, 6.1, 40), rules.HackAndSquirt},
		{"one micrometre above 6 in", with(stem(rules.Tree, 6, 40), func(s *treatment.Stem) { s.Diameter++ }), rules.HackAndSquirt},
		{"wet bark", with(stem(rules.Tree, 4, 30), func(s *treatment.Stem) { s.Bark = rules.BarkWet }), rules.HackAndSquirt},
		{"stump-sprouter", with(stem(rules.Tree, 8, 25), pear), rules.CutStump},
		{"stump of a stump-sprouter", with(stem(rules.Stump, 5, 0), pear), rules.CutStump},
		{"dense low stand", with(stem(rules.RootSucker, 0.6, 6), dense), rules.HighVolumeFoliar},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			plan, e := prescribe(t, law(t, summer), tc.stem)
			require.Equal(t, treatment.Prescribed, plan.Outcome, e.Why)
			require.NotNil(t, e.Choice)
			assert.Equal(t, tc.want.String(), e.Choice.Method.String(), e.Why)
		})
	}
}

// A root-suckerer is never cut first and never only stump-treated, whatever the
// day and the surroundings.
func TestRootSuckererIsNeverOnlyStumpTreated(t *testing.T) {
	for _, s := range shipped(t).Species {
		if s.Suckering < rules.SuckeringModerate {
			continue
		}
		for _, form := range rules.Words[rules.GrowthForm]() {
			plan, e := prescribe(t, law(t, summer), with(stem(form, 4, 20), species(s.Name)))
			if e.Choice != nil {
				assert.NotEqual(t, rules.CutStump, e.Choice.Method, "%s %s", s.Name, form)
			}
			reason := reasonsAgainst(e, rules.CutStump)
			assert.Contains(t, reason, "the stump dies and the roots answer")
			assert.Contains(t, reason, "treat the standing stem, wait at least 30 days, then fell")
			if plan.Outcome == treatment.Prescribed && plan.Dose.Mix > 0 {
				assert.Equal(t, e.Dates.TreatFrom.AddDays(30), e.Dates.FellFrom)
			}
		}
	}
}

func reasonsAgainst(e treatment.Explanation, m rules.Method) string {
	for _, a := range e.Alternatives {
		if a.Method == m {
			return strings.Join(a.Reasons, "; ")
		}
	}
	return ""
}

func TestHandPull(t *testing.T) {
	check := func(c rules.RootCheck) change { return func(s *treatment.Stem) { s.RootCheck = c } }
	soil := func(st rules.SoilState) change { return func(s *treatment.Stem) { s.Soil = st } }
	seedling := stem(rules.Seedling, 0.3, 1)
	cases := []struct {
		name string
		stem treatment.Stem
		want string // empty: pulled
	}{
		{"taproot in moist soil", with(seedling, check(rules.Taproot)), ""},
		{"nobody looked", seedling, "dig at the root collar"},
		{"not checked", with(seedling, check(rules.NotChecked)), "dig at the root collar"},
		{"lateral root", with(seedling, check(rules.LateralRoot)), "it is a sucker"},
		{"dry soil", with(seedling, check(rules.Taproot), soil(rules.SoilDry)), "moist soil"},
		{"soil not known", with(seedling, check(rules.Taproot), soil(0)), "state of the soil is not known"},
		{"species without suckers", with(seedling, species("Pyrus calleryana")), ""},
		{"a sucker", with(stem(rules.RootSucker, 0.3, 1), check(rules.Taproot)), "only a seedling"},
		{"too thick", with(stem(rules.Seedling, 1.1, 1), check(rules.Taproot)), "above 1 in"},
		{"at 1 in", with(stem(rules.Seedling, 1, 1), check(rules.Taproot)), ""},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			_, e := prescribe(t, law(t, summer), tc.stem)
			if tc.want != "" {
				assert.Contains(t, reasonsAgainst(e, rules.HandPull)+e.Why, tc.want)
				return
			}
			require.NotNil(t, e.Choice)
			assert.Equal(t, rules.HandPull, e.Choice.Method)
		})
	}
}

func TestBasalBarkRefusals(t *testing.T) {
	for _, bark := range []rules.BarkState{rules.BarkWet, rules.BarkFrozen} {
		_, e := prescribe(t, law(t, summer), with(stem(rules.Tree, 4, 30), func(s *treatment.Stem) { s.Bark = bark }))
		assert.Contains(t, reasonsAgainst(e, rules.BasalBark), "wet or frozen bark", bark.String())
	}
	// 2,000 stems an acre is the density from which it is uneconomic.
	patch := func(perHectare int64) treatment.Stem {
		return with(stem(rules.Sapling, 2, 20), desirable(rules.DesirableSprayReach),
			func(s *treatment.Stem) { s.Area, s.PerHectare = quantity.Acres(1), perHectare })
	}
	plan, _ := prescribe(t, law(t, summer), patch(4_941))
	assert.Equal(t, treatment.Prescribed, plan.Outcome)
	c := shipped(t)
	below, _, _, err := treatment.DoseOf(c, ptr(treatment.DefaultSettings()), ptr(patch(4_941)), rules.BasalBark, "triclopyr-ester-4")
	require.NoError(t, err)
	assert.Equal(t, int64(2_000), below.Stems)
}

// 2,000 stems on an acre are 4,942.1 on a hectare; basal bark is advised below.
func TestDensityFromWhichItIsUneconomic(t *testing.T) {
	for name, c := range map[string]struct {
		count, perHectare int64
		dense             bool
	}{
		"1,999 counted on an acre": {1_999, 0, false}, "2,000 counted on an acre": {2_000, 0, true},
		"4,942 on a hectare": {0, 4_942, false}, "4,943 on a hectare": {0, 4_943, true},
	} {
		s := with(stem(rules.RootSucker, 1, 6), func(s *treatment.Stem) { s.Area, s.Count, s.PerHectare = quantity.Acres(1), c.count, c.perHectare })
		_, e := prescribe(t, law(t, summer), s)
		assert.Equal(t, c.dense, strings.Contains(reasonsAgainst(e, rules.BasalBark), "uneconomic"), name)
	}
}

func ptr[T any](v T) *T { return &v }

func TestSapFlowAndSeason(t *testing.T) {
	_, e := prescribe(t, law(t, "2026-04-15"), stem(rules.Tree, 10, 40))
	assert.Contains(t, reasonsAgainst(e, rules.HackAndSquirt)+e.Why, "sap rises in spring")
	assert.Equal(t, on(t, "2026-07-15"), e.Dates.TreatFrom, "the window and the season both have to open")
}

func TestFailingTrialIsDeferred(t *testing.T) {
	// Injected triclopyr at leaf drop failed: 31.4 % in the second year.
	amineAlone := func(t *testing.T, date string) (treatment.Plan, treatment.Explanation) {
		settings := treatment.DefaultSettings()
		settings.Formulations = []string{"triclopyr-amine-3"}
		p := treatment.NewPlanner(shipped(t), law(t, date), &tenAcres, &settings)
		s := stem(rules.Tree, 10, 40)
		plan := p.Plan(&s)
		return plan, p.Explain(&s, &plan)
	}
	plan, _ := amineAlone(t, "2026-08-10")
	assert.Equal(t, treatment.Prescribed, plan.Outcome)
	plan, e := amineAlone(t, "2026-10-05")
	assert.Equal(t, treatment.Deferred, plan.Outcome)
	assert.Contains(t, e.Why, "published trials show that it fails")
	assert.Equal(t, on(t, "2027-07-15"), e.Dates.TreatFrom)
	// With everything at hand another active is chosen on the same day.
	plan, e = prescribe(t, law(t, "2026-10-05"), stem(rules.Tree, 10, 40))
	assert.Equal(t, treatment.Prescribed, plan.Outcome)
	assert.Equal(t, "glyphosate", e.Choice.Formulation.Active)
}

func TestUnknownIsNeverAllowed(t *testing.T) {
	nearWell := row("well", rules.Selector{}, rules.Buffer{Water: rules.AnyOf(rules.Well), Distance: 30 * quantity.Metre, From: rules.WaterEdge})
	steep := row("steep", rules.Selector{Ranges: []rules.Range{rules.Above(rules.Slope, 300)}}, rules.Prohibit{})
	tall := stem(rules.Tree, 10, 40)
	tall.HasSlope, tall.Slope = true, 50
	cases := []struct {
		name   string
		stem   treatment.Stem
		rows   []rules.Row
		remedy string
	}{
		{"distance to water", with(tall, func(s *treatment.Stem) { s.Water = rules.Waters{} }), []rules.Row{nearWell}, "distance to well"},
		{"slope", with(tall, func(s *treatment.Stem) { s.HasSlope = false }), []rules.Row{steep}, "slope"},
		{"diameter", with(tall, func(s *treatment.Stem) { s.Diameter = 0 }), nil, "measure the diameter"},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			plan, e := prescribe(t, law(t, summer, tc.rows...), tc.stem)
			assert.Equal(t, treatment.Undetermined, plan.Outcome, e.Why)
			assert.Zero(t, plan.Dose)
			assert.Contains(t, strings.Join(e.Remedies, "; "), tc.remedy)
		})
	}
	t.Run("no law at the place", func(t *testing.T) {
		plan, e := prescribe(t, rules.Govern("us/nowhere", on(t, summer), nil), tall)
		assert.Equal(t, treatment.Undetermined, plan.Outcome)
		assert.Contains(t, strings.Join(e.Remedies, "; "), `no rule set states the law of "us/nowhere"`)
	})
	t.Run("site area", func(t *testing.T) {
		settings := treatment.DefaultSettings()
		p := treatment.NewPlanner(shipped(t), law(t, summer), &treatment.Site{ID: "x"}, &settings)
		plan := p.Plan(&tall)
		assert.Equal(t, treatment.Undetermined, plan.Outcome)
	})
}

func TestSoilActiveStaysAwayFromRoots(t *testing.T) {
	settings := treatment.DefaultSettings()
	settings.Formulations = []string{"imazapyr-ipa-2"}
	for _, d := range []rules.Desirable{rules.DesirableRootReach, rules.DesirableSprayReach} {
		p := treatment.NewPlanner(shipped(t), law(t, summer), &tenAcres, &settings)
		s := with(stem(rules.Tree, 10, 40), desirable(d))
		plan := p.Plan(&s)
		assert.Equal(t, treatment.Deferred, plan.Outcome)
		assert.Contains(t, reasonsAgainst(p.Explain(&s, &plan), rules.HackAndSquirt), "roots of vegetation that must live")
	}
}

func TestCautionsAreAlwaysThere(t *testing.T) {
	for _, form := range rules.Words[rules.GrowthForm]() {
		_, e := prescribe(t, law(t, summer), stem(form, 3, 8))
		all := strings.Join(e.Cautions, "\n")
		assert.Contains(t, all, "The label is the law and stands above this plan.")
		assert.Contains(t, all, "licensed practitioner")
		if e.Choice != nil && e.Choice.Formulation != nil {
			for _, part := range []string{"Signal word", "gloves", "Nobody enters", "Exclusion zone"} {
				assert.Contains(t, all, part)
			}
		}
	}
}

func TestTwoPasses(t *testing.T) {
	patch := with(stem(rules.RootSucker, 0.6, 6), func(s *treatment.Stem) {
		s.Area, s.PerHectare, s.LargerCount, s.LargerDiameter = quantity.Acres(1), 8_000, 12, quantity.Inches(9)
	})
	plan, e := prescribe(t, law(t, summer), patch)
	require.Equal(t, treatment.Prescribed, plan.Outcome)
	require.NotNil(t, e.Second)
	assert.Equal(t, rules.HackAndSquirt, e.Second.Method)
	assert.Equal(t, int64(12*9), plan.Second.Cuts)
	assert.Contains(t, strings.Join(e.FollowUp, " "), "Second pass")
}
