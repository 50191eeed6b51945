package treatment_test

import (
	"strings"
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Ways by which a reviewer got a treatment prescribed that must not be.

func federalAlone(t *testing.T, date string) *rules.Governing {
	t.Helper()
	set, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{ID: "federal", Version: "1", Title: "Test", Publisher: "test", Layer: rules.Federal, Scope: "us", ValidFrom: civil.Of(2020, 1, 1)},
		Rows:     []rules.Row{row("label", rules.Selector{}, rules.Warn{Message: "read the label"})},
	})
	require.NoError(t, err)
	return rules.Govern("us", on(t, date), []*rules.Set{set})
}

func TestWithoutSeasonsAndWindowsNothingIsApplied(t *testing.T) {
	for _, name := range []string{"Ailanthus altissima", "Rhamnus cathartica"} {
		for _, form := range rules.Words[rules.GrowthForm]() {
			plan, e := prescribe(t, federalAlone(t, "2026-08-10"), with(stem(form, 4, 8), species(name)))
			assert.False(t, plan.Outcome == treatment.Prescribed && plan.Dose.Mix > 0, "%s %s: %s", name, form, e.Why)
		}
	}
}

func TestSecondPassIsHeldAgainstThePatch(t *testing.T) {
	patch := func(larger int64) treatment.Stem {
		return with(stem(rules.RootSucker, 0.6, 6), func(s *treatment.Stem) {
			s.Area, s.PerHectare, s.LargerCount, s.LargerDiameter = quantity.Acres(0.5), 8_000, larger, quantity.Inches(5)
		})
	}
	plan, e := prescribe(t, law(t, summer), patch(100))
	require.Positive(t, plan.Second.Stems, e.Why)
	assert.LessOrEqual(t, plan.Second.Rate, quantity.PoundsPerAcre(8))
	plan, e = prescribe(t, law(t, summer), patch(100_000))
	assert.Zero(t, plan.Second, "it would pass the patch's annual maximum")
	assert.Contains(t, strings.Join(e.FollowUp, " "), "need a row of their own")
}

func TestALandUsesMaximumNeedsItsOwnArea(t *testing.T) {
	pasture := row("pasture", rules.Selector{LandUses: rules.AnyOf(rules.GrazedPasture)}, rules.Cap{Active: "triclopyr", Rate: quantity.PoundsPerAcre(2)})
	settings := treatment.DefaultSettings()
	settings.Formulations = []string{"triclopyr-ester-4"}
	one := with(stem(rules.Sapling, 3, 20), func(s *treatment.Stem) { s.LandUse = rules.GrazedPasture })
	planned := func(s treatment.Stem) treatment.Outcome {
		p := treatment.NewPlanner(shipped(t), law(t, summer, pasture), &tenAcres, &settings)
		return p.Plan(&s).Outcome
	}
	assert.Equal(t, treatment.Undetermined, planned(one), "how much of the ten acres is pasture?")
	assert.Equal(t, treatment.Prescribed, planned(with(one, func(s *treatment.Stem) { s.Area, s.Count = quantity.Acres(1), 1 })))
	assert.Equal(t, treatment.Prescribed, planned(with(one, func(s *treatment.Stem) { s.LandUse = rules.Forest })))
}

func TestAUsersFormulationDoesNotLiftTheMaximum(t *testing.T) {
	c := *shipped(t)
	lax := *c.Formulation("triclopyr-ester-4")
	lax.ID, lax.AnnualMax = "lax", quantity.PoundsPerAcre(99)
	c.Formulations = append(append([]treatment.Formulation{}, c.Formulations...), lax)
	settings := treatment.DefaultSettings()
	settings.Formulations = []string{"lax"}
	p := treatment.NewPlanner(&c, law(t, summer), &tenAcres, &settings)
	s := stem(rules.Sapling, 3, 20)
	require.Equal(t, treatment.Prescribed, p.Plan(&s).Outcome)
	assert.Equal(t, quantity.PoundsPerAcre(8), p.Uses()[0].Limit)
}

func TestWhatIsNotKnownOfAStemDecidesNothing(t *testing.T) {
	basalAlone := treatment.DefaultSettings()
	basalAlone.Formulations = []string{"triclopyr-ester-4"}
	seedling := with(stem(rules.Seedling, 0.3, 1), func(s *treatment.Stem) { s.RootCheck, s.Desirable = rules.Taproot, rules.DesirableSprayReach })
	cases := []struct {
		name string
		stem treatment.Stem
	}{
		{"bark for basal bark", with(stem(rules.Sapling, 3, 20), func(s *treatment.Stem) { s.Bark = 0 })},
		{"diameter for pulling", with(seedling, func(s *treatment.Stem) { s.Diameter = 0 })},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			p := treatment.NewPlanner(shipped(t), law(t, summer), &tenAcres, &basalAlone)
			assert.Equal(t, treatment.Undetermined, p.Plan(&tc.stem).Outcome)
		})
	}
}

func TestAPatchNeedsItsCountAndFitsItsSite(t *testing.T) {
	patch := func(acres float64, count int64) treatment.Stem {
		return with(stem(rules.RootSucker, 0.6, 6), func(s *treatment.Stem) { s.Area, s.Count = quantity.Acres(acres), count })
	}
	for _, tc := range []struct {
		acres  float64
		count  int64
		want   treatment.Outcome
		remedy string
	}{{1, 50, treatment.Prescribed, ""}, {1, 0, treatment.Undetermined, "count the stems"}, {10, 50, treatment.Prescribed, ""}, {10.1, 50, treatment.Undetermined, "correct the patch's area"}} {
		plan, e := prescribe(t, law(t, summer), patch(tc.acres, tc.count))
		assert.Equal(t, tc.want, plan.Outcome, "%g acres, %d stems", tc.acres, tc.count)
		assert.Contains(t, strings.Join(e.Remedies, " "), tc.remedy)
	}
}

func TestASideRootIsNeverPulled(t *testing.T) {
	s := with(stem(rules.Seedling, 0.3, 1), species("Ligustrum sinense"), func(s *treatment.Stem) { s.RootCheck = rules.LateralRoot })
	_, e := prescribe(t, law(t, summer), s)
	assert.Contains(t, reasonsAgainst(e, rules.HandPull), "it is a sucker")
}

func TestAFrozenStemGetsNothing(t *testing.T) {
	for _, name := range []string{"Ailanthus altissima", "Pyrus calleryana"} {
		for _, form := range []rules.GrowthForm{rules.Tree, rules.Sapling, rules.Stump} {
			plan, _ := prescribe(t, law(t, "2027-01-15"), with(stem(form, 5, 30), species(name), func(s *treatment.Stem) { s.Bark = rules.BarkFrozen }))
			assert.NotEqual(t, treatment.Prescribed, plan.Outcome, "%s %s", name, form)
		}
	}
}

// Without leaves a stem may be frozen, so that its bark has to be known; in leaf it is not.
func TestAStemOfUnknownBarkMayBeFrozenWithoutLeaves(t *testing.T) {
	for _, form := range []rules.GrowthForm{rules.Tree, rules.Sapling, rules.Stump} {
		s := with(stem(form, 8, 30), species("Pyrus calleryana"), func(s *treatment.Stem) { s.Bark = 0 })
		plan, e := prescribe(t, law(t, "2027-01-15"), s)
		assert.NotEqual(t, treatment.Prescribed, plan.Outcome, form)
		for _, m := range []rules.Method{rules.HackAndSquirt, rules.CutStump} {
			assert.Contains(t, reasonsAgainst(e, m), "the state of the bark is not known", "%s %s", form, m)
		}
		plan, e = prescribe(t, law(t, summer), s)
		if plan.Outcome == treatment.Prescribed {
			assert.True(t, e.Dates.TreatUntil.Known() && e.Dates.TreatUntil < on(t, "2027-01-01"), "%s closes with the leaves: %s", form, e.Dates.TreatUntil)
		}
		assert.NotContains(t, reasonsAgainst(e, rules.HackAndSquirt), "state of the bark", form)
	}
}

func TestLargerStemsNeedADiameter(t *testing.T) {
	s := with(stem(rules.RootSucker, 0.6, 6), func(s *treatment.Stem) { s.LargerCount = 3 })
	assert.Equal(t, "larger_diameter_cm", s.Check(shipped(t))[0].Field)
}

func TestATrialInWhichNothingDiedFails(t *testing.T) {
	c := *shipped(t)
	c.Evidence = append([]treatment.Evidence{{Species: "Robinia pseudoacacia", Methods: rules.AnyOf(rules.BasalBark), Active: "triclopyr", Source: "test"}}, c.Evidence...)
	settings := treatment.DefaultSettings()
	settings.Formulations = []string{"triclopyr-ester-4"}
	p := treatment.NewPlanner(&c, law(t, summer), &tenAcres, &settings)
	s := with(stem(rules.Sapling, 3, 20), species("Robinia pseudoacacia"))
	assert.NotEqual(t, treatment.Prescribed, p.Plan(&s).Outcome)
}

func TestOverdueReviewIsSaid(t *testing.T) {
	g := law(t, summer)
	g.Overdue = append(g.Overdue, g.Sets[0])
	_, e := prescribe(t, g, stem(rules.Tree, 10, 40))
	assert.Contains(t, strings.Join(e.Cautions, " "), "ask whether it still stands")
}

// A stump of a species that suckers is left, measured or not, whatever anybody finds out of it.
func TestAStumpIsLeftAndItsSproutsAreAwaited(t *testing.T) {
	g := law(t, summer) // whose window is not for cut stumps
	for name, s := range map[string]treatment.Stem{"measured": stem(rules.Stump, 8, 0), "unmeasured": stem(rules.Stump, 0, 0)} {
		plan, e := prescribe(t, g, s)
		require.Equal(t, treatment.Deferred, plan.Outcome, name)
		assert.Contains(t, e.Why, "Leave the stump, and treat its sprouts and suckers", name)
		assert.Equal(t, []string{"wait until sprouts are in leaf"}, e.Remedies, name)
	}
	tree := with(stem(rules.Tree, 0, 40), func(s *treatment.Stem) { s.Desirable = rules.DesirableRootReach })
	forbidden := row("none", rules.Selector{}, rules.Prohibit{})
	plan, e := prescribe(t, law(t, summer, forbidden), tree)
	require.Equal(t, treatment.Deferred, plan.Outcome)
	assert.Contains(t, e.Why, "Leave the stem uncut")
	assert.Empty(t, e.Remedies, "no measure changes what is forbidden")
}
