package api_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/server/api"
)

func with(tb testing.TB, c clients, settings *treatmentv1.Settings, s *treatmentv1.Stem) *answered {
	tb.Helper()
	r, err := c.Prescribe(tb.Context(), &treatmentv1.PrescribeRequest{
		Date: midsummer(), Site: goodSite(), Stems: []*treatmentv1.Stem{s}, Settings: settings,
	})
	require.NoError(tb, err)
	return answeredBy(r)
}

// Mixes grow as the settings that they come from.
func TestSettingsSetTheDose(t *testing.T) {
	c := serveFull(t)
	hack := formulationFor(t, c, commonv1.Method_METHOD_HACK_AND_SQUIRT, "triclopyr")
	basal := formulationFor(t, c, commonv1.Method_METHOD_BASAL_BARK, "triclopyr")
	foliar := formulationFor(t, c, commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, "glyphosate")
	for name, tc := range map[string]struct {
		method commonv1.Method
		id     string
		one    *treatmentv1.Settings
		other  *treatmentv1.Settings
		grows  float64
	}{
		"a cut": {commonv1.Method_METHOD_HACK_AND_SQUIRT, hack, &treatmentv1.Settings{}, &treatmentv1.Settings{CutMl: ptr(2.0)}, 2},
		"the band": {
			commonv1.Method_METHOD_BASAL_BARK, basal,
			&treatmentv1.Settings{BasalBandCm: ptr(30.48)}, &treatmentv1.Settings{BasalBandCm: ptr(45.72)}, 1.5,
		},
		"the default band is 15 in": {
			commonv1.Method_METHOD_BASAL_BARK, basal,
			&treatmentv1.Settings{}, &treatmentv1.Settings{BasalBandCm: ptr(45.72)}, 18.0 / 15,
		},
		"wetting": {
			commonv1.Method_METHOD_BASAL_BARK, basal,
			&treatmentv1.Settings{}, &treatmentv1.Settings{WettingMlPerIn2: ptr(0.6)}, 2,
		},
		"low volume": {
			commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, foliar,
			&treatmentv1.Settings{}, &treatmentv1.Settings{LowVolumeGalPerAc: ptr(30.0)}, 1.5,
		},
		"high volume": {
			commonv1.Method_METHOD_HIGH_VOLUME_FOLIAR, formulationFor(t, c, commonv1.Method_METHOD_HIGH_VOLUME_FOLIAR, "glyphosate"),
			&treatmentv1.Settings{}, &treatmentv1.Settings{HighVolumeGalPerAc: ptr(150.0)}, 2,
		},
	} {
		t.Run(name, func(t *testing.T) {
			mix := func(s *treatmentv1.Settings) float64 {
				r, err := c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{Stem: goodStem(), Method: tc.method, FormulationId: tc.id, Settings: s})
				require.NoError(t, err)
				return r.Dose.MixMl
			}
			assert.InEpsilon(t, tc.grows, mix(tc.other)/mix(tc.one), 1e-3)
		})
	}
}

func TestSettingsSetTheChoice(t *testing.T) {
	c := serveFull(t)
	s := goodStem()
	s.HeightM = ptr(4.0)
	leaves := func(settings *treatmentv1.Settings) bool {
		r, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: goodSite(), Stem: s, Settings: settings})
		require.NoError(t, err)
		return slices.ContainsFunc(r.Ranked, func(c *treatmentv1.Choice) bool { return c.Method == commonv1.Method_METHOD_LOW_VOLUME_FOLIAR })
	}
	assert.False(t, leaves(nil), "10 ft do not reach 4 m")
	assert.True(t, leaves(&treatmentv1.Settings{FoliarReachM: ptr(4.0)}))

	id := formulationFor(t, c, commonv1.Method_METHOD_HACK_AND_SQUIRT, "triclopyr")
	only := with(t, c, &treatmentv1.Settings{FormulationIds: []string{id}}, s).Prescriptions[0].Explanation
	assert.Equal(t, id, only.Choice.FormulationId)
	for _, a := range only.Alternatives {
		assert.Contains(t, []string{"", id}, a.FormulationId)
	}
}

func TestSettingsSetLoadsAndPurchases(t *testing.T) {
	c := serveFull(t)
	s := goodStem()
	s.Count = ptr(int64(500))
	basal := &treatmentv1.Settings{FormulationIds: []string{formulationFor(t, c, commonv1.Method_METHOD_BASAL_BARK, "triclopyr")}, TankGal: ptr(1.0), SparePercent: ptr(20.0)}
	r := with(t, c, basal, s).Summary
	require.Len(t, r.Mixes, 1)
	m := r.Mixes[0]
	require.NotNil(t, m.FullLoad)
	assert.InDelta(t, 1, m.FullLoad.MixGal, 1e-6)
	assert.InDelta(t, m.MixL, (float64(m.Loads-1)*m.FullLoad.MixGal+m.LastLoad.MixGal)*3.785411784, 1e-3, "loads add up")
	for _, p := range r.Purchases {
		assert.InEpsilon(t, 0.2, p.SpareL/p.NeededL, 1e-3, p.ItemId)
	}
}

func TestTheHandgunHasATankOfItsOwn(t *testing.T) {
	sets := []*rules.Set{nation(t), state(t), setOf(t, "ossel-creek", rules.District, district,
		row("from-the-hose", rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar)}, rules.Prohibit{}))}
	c := serve(t, func() api.Law { return lawOf(sets...) })
	stand := goodStem()
	stand.HeightM, stand.AreaM2, stand.StemDensityPerHa = ptr(2.0), ptr(20_000.0), ptr(20_000.0)
	load := func(settings *treatmentv1.Settings) float64 {
		settings.FormulationIds = []string{formulationFor(t, c, commonv1.Method_METHOD_HIGH_VOLUME_FOLIAR, "glyphosate")}
		r := with(t, c, settings, stand)
		require.Equal(t, commonv1.Method_METHOD_HIGH_VOLUME_FOLIAR, r.Prescriptions[0].Explanation.GetChoice().GetMethod(), r.Prescriptions[0].Explanation.GetWhy())
		return r.Summary.Mixes[0].FullLoad.MixGal
	}
	assert.InDelta(t, 100, load(&treatmentv1.Settings{}), 1e-6, "the default")
	assert.InDelta(t, 50, load(&treatmentv1.Settings{HandgunTankGal: ptr(50.0), TankGal: ptr(2.0)}), 1e-6)
}

func TestStandingIsHeldAgainstTheRules(t *testing.T) {
	sets := []*rules.Set{nation(t), state(t), setOf(t, "ossel-creek", rules.District, district,
		row("licence", rules.Selector{}, rules.RequireStanding{AtLeast: rules.Certified}))}
	c := serve(t, func() api.Law { return lawOf(sets...) })
	outcome := func(standing commonv1.Standing) treatmentv1.Outcome {
		return with(t, c, &treatmentv1.Settings{Standing: standing}, goodStem()).Prescriptions[0].Outcome
	}
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_PRESCRIBED, outcome(commonv1.Standing_STANDING_CERTIFIED))
	assert.NotEqual(t, treatmentv1.Outcome_OUTCOME_PRESCRIBED, outcome(commonv1.Standing_STANDING_SUPERVISED))
}
