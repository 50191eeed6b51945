package api_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/server/api"
)

func TestListRuleSets(t *testing.T) {
	law := fullLaw(t)
	law.NotLoaded = []api.NotLoaded{{Where: "broken", Problem: "it does not start: build it anew"}}
	c := serve(t, func() api.Law { return law })
	for name, tc := range map[string]struct {
		q    *rulesetv1.ListRuleSetsRequest
		want []string
	}{
		"all":              {&rulesetv1.ListRuleSetsRequest{}, []string{"nation", "velmora", "ossel-creek"}},
		"of the state":     {&rulesetv1.ListRuleSetsRequest{Place: "us/velmora"}, []string{"nation", "velmora"}},
		"of another state": {&rulesetv1.ListRuleSetsRequest{Place: "us/elsewhere"}, []string{"nation"}},
		"in force":         {&rulesetv1.ListRuleSetsRequest{On: midsummer()}, []string{"nation", "velmora", "ossel-creek"}},
		"before the law":   {&rulesetv1.ListRuleSetsRequest{On: &date.Date{Year: 2024, Month: 12, Day: 31}}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := c.rules.ListRuleSets(t.Context(), tc.q)
			require.NoError(t, err)
			var ids []string
			for _, s := range r.RuleSets {
				ids = append(ids, s.Ref.RuleSetId)
				assert.Positive(t, s.RowCount)
				assert.Equal(t, s.Ref.RuleSetId, s.Manifest.RuleSetId)
			}
			assert.Equal(t, tc.want, ids)
			require.Len(t, r.NotLoaded, 1)
			assert.Equal(t, "broken", r.NotLoaded[0].Where)
		})
	}
	_, err := c.rules.ListRuleSets(t.Context(), &rulesetv1.ListRuleSetsRequest{On: &date.Date{Year: 2026}, Place: strings.Repeat("p", 300)})
	requireViolations(t, err, "on", "place")
}

func TestGetRuleSet(t *testing.T) {
	c := serveFull(t)
	r, err := c.rules.GetRuleSet(t.Context(), &rulesetv1.GetRuleSetRequest{RuleSetId: "velmora"})
	require.NoError(t, err)
	assert.Equal(t, state(t).Ref.Digest, r.Ref.Digest)
	assert.Len(t, r.Table.Rows, len(state(t).Table.Rows))

	_, err = c.rules.GetRuleSet(t.Context(), &rulesetv1.GetRuleSetRequest{RuleSetId: "nowhere"})
	requireStatus(t, err, codes.NotFound, api.RuleSetNotFound, "nowhere")
	info, _ := details(t, err)
	assert.Equal(t, "nowhere", info.Metadata["rule_set_id"])
	_, err = c.rules.GetRuleSet(t.Context(), &rulesetv1.GetRuleSetRequest{})
	requireViolations(t, err, "rule_set_id")
}

// foliarNearLake is a treatment that the invented state forbids within 30 m.
func foliarNearLake(metres float64) *rulesetv1.ExplainRequest {
	return &rulesetv1.ExplainRequest{
		Place: district, On: midsummer(),
		Treatment: &ruletablev1.Treatment{
			Species: "Ailanthus altissima", Suckering: commonv1.Suckering_SUCKERING_STRONG,
			Method: commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, Equipment: commonv1.Equipment_EQUIPMENT_BACKPACK,
			Active: "glyphosate", Formulation: commonv1.FormulationKind_FORMULATION_KIND_WATER_SALT,
			SoilActivity: commonv1.SoilActivity_SOIL_ACTIVITY_NONE, AquaticLabel: commonv1.AquaticLabel_AQUATIC_LABEL_REGISTERED,
			RestrictedUse: commonv1.RestrictedUse_RESTRICTED_USE_GENERAL_USE, Toxicity: commonv1.ToxicityCategory_TOXICITY_CATEGORY_III,
			Droplet: commonv1.Droplet_DROPLET_MEDIUM_OR_COARSER, LandUse: commonv1.LandUse_LAND_USE_FOREST,
		},
		Site: &ruletablev1.Surroundings{Soil: commonv1.SoilState_SOIL_STATE_DRY, Water: []*ruletablev1.MeasuredWater{
			{WaterClass: commonv1.WaterClass_WATER_CLASS_LAKE, DistanceUm: int64(metres * 1e6), Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE},
			{WaterClass: commonv1.WaterClass_WATER_CLASS_PERENNIAL_STREAM, DistanceUm: 1e9, Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE, AtLeast: true},
			{WaterClass: commonv1.WaterClass_WATER_CLASS_WETLAND, DistanceUm: 1e9, Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_WATER_EDGE, AtLeast: true},
		}},
	}
}

func TestExplainRecomputesTheDecision(t *testing.T) {
	c := serveFull(t)
	elsewhere := foliarNearLake(30)
	elsewhere.Place = "us/velmora/unheard-of"
	unmeasured := foliarNearLake(30)
	unmeasured.Site.Water = unmeasured.Site.Water[1:]
	for name, tc := range map[string]struct {
		q    *rulesetv1.ExplainRequest
		want commonv1.Decision
		by   string
	}{
		"at the limit":     {foliarNearLake(30), commonv1.Decision_DECISION_CONDITIONAL, "zone"},
		"just inside":      {foliarNearLake(29.999999), commonv1.Decision_DECISION_PROHIBITED, "streams"},
		"distance unknown": {unmeasured, commonv1.Decision_DECISION_UNDETERMINED, "streams"},
		"a gap in the law": {elsewhere, commonv1.Decision_DECISION_UNDETERMINED, ""},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := c.rules.Explain(t.Context(), tc.q)
			require.NoError(t, err)
			assert.Equal(t, tc.want, r.Decision)
			strictest, by := commonv1.Decision_DECISION_ALLOWED, map[string]commonv1.Decision{}
			for _, f := range r.Findings {
				strictest = max(strictest, f.Decision)
				by[f.RuleId] = f.Decision
				assert.NotEmpty(t, f.Text)
				assert.Equal(t, f.Decision == commonv1.Decision_DECISION_UNDETERMINED, len(f.Missing) > 0, f.RuleId)
			}
			if tc.by == "" {
				require.Len(t, r.Gaps, 1)
				assert.Equal(t, tc.q.Place, r.Gaps[0].Where)
				return
			}
			assert.Equal(t, tc.want, strictest, "the decision is the strictest finding")
			assert.Equal(t, tc.want, by[tc.by])
			assert.Empty(t, r.Gaps)
			assert.Len(t, r.RuleSets, 3)
		})
	}
}

func TestExplainRefuses(t *testing.T) {
	c := serveFull(t)
	_, err := c.rules.Explain(t.Context(), &rulesetv1.ExplainRequest{})
	requireViolations(t, err, "on", "place", "treatment")
	q := foliarNearLake(1)
	q.Treatment.Method, q.Treatment.ReleaseHeightUm = 99, -1
	q.Site.Water[1].DistanceUm = -1
	q.Site.Water[2].WaterClass = 0
	_, err = c.rules.Explain(t.Context(), q)
	requireViolations(t, err, "site.water[1].distance_um", "site.water[2].water_class", "treatment.method", "treatment.release_height_um")
}
