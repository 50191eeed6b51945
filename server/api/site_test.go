package api_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
)

// Sites of one place have sums of their own, and share words only where the same
// law gave them.
func TestSitesOfAStreamAreApart(t *testing.T) {
	c := serveFull(t)
	first, second, upstream := goodSite(), goodSite(), goodSite()
	second.SiteId = "south bank"
	upstream.SiteId, upstream.Place = "upstream", "us/velmora"
	for _, site := range []*treatmentv1.Site{first, second, upstream} {
		site.AreaM2 = ptr(4_046.8564224) // an acre
	}
	rows := chunkOf(1, first.SiteId, []*treatmentv1.Stem{goodStem(), goodStem(), goodStem(), goodStem()})
	rows.Words = append(rows.Words, second.SiteId, upstream.SiteId)
	rows.Site = []int32{0, int32(len(rows.Words) - 2), int32(len(rows.Words) - 2), int32(len(rows.Words) - 1)}
	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{first, second, upstream}}), chunk(rows))
	require.NoError(t, err)

	uses := map[string]float64{}
	for _, u := range answers[1].GetSummary().SiteUses {
		uses[u.SiteId] += u.UsedLbAePerAc
	}
	require.Len(t, uses, 3)
	assert.InEpsilon(t, 2, uses[second.SiteId]/uses[first.SiteId], 1e-3)
	got := answers[0].GetChunk()
	explanations := explanationsOf(got)
	assert.Equal(t, got.Explanation[0], got.Explanation[2])
	assert.Len(t, explanations[got.Explanation[0]].RuleSets, 3)
	assert.Len(t, explanations[got.Explanation[3]].RuleSets, 2)
}

// Two districts whose rules look alike are still two.
func TestWordsNameTheRuleSetsOfTheirOwnPlace(t *testing.T) {
	visitors := func(id, scope string) *rules.Set {
		return setOf(t, id, rules.District, scope, row("visitors", rules.Selector{}, rules.Notice{To: "the visitors of " + id}))
	}
	sets := []*rules.Set{nation(t), state(t), visitors("ossel-creek", district), visitors("tamm-creek", "us/velmora/tamm-creek")}
	c := serve(t, func() api.Law { return lawOf(sets...) })
	here, there := goodSite(), goodSite()
	there.SiteId, there.Place = "tamm", "us/velmora/tamm-creek"
	rows := chunkOf(1, here.SiteId, []*treatmentv1.Stem{goodStem(), goodStem()})
	rows.Words = append(rows.Words, there.SiteId)
	rows.Site[1] = int32(len(rows.Words) - 1)
	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{here, there}}), chunk(rows))
	require.NoError(t, err)
	got := answers[0].GetChunk()
	for i, id := range []string{"ossel-creek", "tamm-creek"} {
		e := explanationsOf(got)[got.Explanation[i]]
		assert.Equal(t, id, e.RuleSets[2].RuleSetId)
		last := e.Findings[len(e.Findings)-1]
		assert.Contains(t, last.Text, "the visitors of "+id)
	}
}

// What was applied before counts against the annual maximum.
func TestAmountsAppliedBeforeCount(t *testing.T) {
	c := serveFull(t)
	site := goodSite()
	site.AreaM2 = ptr(4_046.8564224) // an acre
	before := prescribed(t, c, site, []*treatmentv1.Stem{goodStem()})
	use := before.Summary.SiteUses[0]
	site.AppliedThisYear = []*treatmentv1.AppliedAmount{{Active: use.Active, AeG: 226.796185}} // half a pound
	after := prescribed(t, c, site, []*treatmentv1.Stem{goodStem()})
	assert.InDelta(t, use.UsedLbAePerAc+0.5, after.Summary.SiteUses[0].UsedLbAePerAc, 1e-6)

	site.AppliedThisYear[0].AeG = use.LimitLbAePerAc * 453.59237
	full := prescribed(t, c, site, []*treatmentv1.Stem{goodStem()}).Prescriptions[0]
	if full.Outcome == treatmentv1.Outcome_OUTCOME_PRESCRIBED {
		assert.NotEqual(t, use.Active, full.Explanation.Choice.Active, "nothing is left of its annual maximum")
	}
}

// Water that is no nearer than 5 m may be beyond the 30 m of the buffer, or not.
func TestWaterAtLeastSoFarIsNotWaterThere(t *testing.T) {
	c := serveFull(t)
	decision := func(atLeast bool) commonv1.Decision {
		s := goodStem()
		s.HeightM = ptr(2.0)
		s.WaterDistances = []*commonv1.WaterDistance{{
			WaterClass: commonv1.WaterClass_WATER_CLASS_LAKE, DistanceM: 5, AtLeast: atLeast, Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE,
		}}
		r, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: goodSite(), Stem: s})
		require.NoError(t, err)
		for _, a := range r.Refused {
			if a.Method == commonv1.Method_METHOD_LOW_VOLUME_FOLIAR {
				return a.Decision
			}
		}
		return 0
	}
	assert.Equal(t, commonv1.Decision_DECISION_PROHIBITED, decision(false))
	assert.Equal(t, commonv1.Decision_DECISION_UNDETERMINED, decision(true))
}

// A tenth and two tenths of a percent are 3 thousandths, though their sum in
// binary is a little more; what lies between two thousandths counts as the steeper.
func TestSlopesAreExactAtALimit(t *testing.T) {
	sets := []*rules.Set{nation(t), state(t), setOf(t, "ossel-creek", rules.District, district,
		row("slopes", rules.Selector{Ranges: []rules.Range{rules.Above(rules.Slope, 3)}}, rules.Prohibit{}))}
	c := serve(t, func() api.Law { return lawOf(sets...) })
	outcome := func(slope float64) treatmentv1.Outcome {
		s := goodStem()
		s.SlopePercent = &slope
		return prescribed(t, c, goodSite(), []*treatmentv1.Stem{s}).Prescriptions[0].Outcome
	}
	sum := 0.1
	sum += 0.2
	require.Greater(t, sum, 0.3)
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_PRESCRIBED, outcome(sum))
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_DEFERRED, outcome(0.31))
}

// Patches that differ in their larger stems alone do not share the words of the second pass.
func TestTheSecondPassHasItsOwnWords(t *testing.T) {
	sets := []*rules.Set{nation(t), state(t), setOf(t, "ossel-creek", rules.District, district,
		row("large", rules.Selector{Ranges: []rules.Range{rules.Above(rules.Diameter, int64(25*quantity.Centimetre))}}, rules.EntryInterval{Hours: 999}))}
	c := serve(t, func() api.Law { return lawOf(sets...) })
	patch := func(largerCm float64) *treatmentv1.Stem {
		s := goodStem()
		s.Form = commonv1.GrowthForm_GROWTH_FORM_ROOT_SUCKER
		s.HeightM, s.DiameterCm, s.AreaM2, s.StemDensityPerHa = ptr(2.0), ptr(2.0), ptr(1_000.0), ptr(8_000.0)
		s.LargerCount, s.LargerDiameterCm = ptr(int64(5)), &largerCm
		return s
	}
	r := prescribed(t, c, goodSite(), []*treatmentv1.Stem{patch(20), patch(40)})
	assert.Less(t, r.Prescriptions[0].Explanation.SecondPass.EntryIntervalH, int32(999))
	assert.Equal(t, int32(999), r.Prescriptions[1].Explanation.SecondPass.EntryIntervalH)
}
