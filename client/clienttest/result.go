package clienttest

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
)

// Summary is the fixture's summary for the rows that reach a server.
func Summary() *treatmentv1.Summary {
	return &treatmentv1.Summary{
		Totals: &treatmentv1.Totals{Rows: 10, Prescribed: 6, Deferred: 1, Undetermined: 2, Rejected: 1},
		Mixes: []*treatmentv1.Mix{
			{Method: commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, FormulationId: "glyphosate-3", Formulation: "glyphosate salt, 3 lb ae/gal", Carrier: "water",
				Rows: 1, Stems: 40, MixL: 1.5141, Loads: 1, AeG: 10.9,
				LastLoad: &treatmentv1.Load{MixGal: 0.4, ProductMl: 30, ProductFlOz: 1, CarrierGal: 0.39, CarrierL: 1.476, AdjuvantMl: 7.6}},
			{Method: commonv1.Method_METHOD_BASAL_BARK, FormulationId: "triclopyr-ester-4", Formulation: "triclopyr ester, 4 lb ae/gal", Carrier: "oil",
				Rows: 121, Stems: 1212, MixL: 24.3, Loads: 3, AeG: 2329,
				FullLoad: &treatmentv1.Load{MixGal: 3, ProductMl: 2271, ProductFlOz: 76.75, CarrierGal: 2.38, CarrierL: 9.02, DyeMl: 56},
				LastLoad: &treatmentv1.Load{MixGal: 0.42, ProductMl: 317, ProductFlOz: 10.7, CarrierGal: 0.333, CarrierL: 1.26, DyeMl: 7.9}},
		},
		Purchases: []*treatmentv1.Purchase{
			{ItemId: "triclopyr-ester-4", Item: "triclopyr ester, 4 lb ae/gal", NeededL: 4.86, SpareL: 0.486, ContainerGal: 2.5, Containers: 1, SurplusL: 4.117},
			{ItemId: "dye", Item: "dye", NeededL: 0.12, SpareL: 0.012, ContainerGal: 0.25, Containers: 1, SurplusL: 0.814},
		},
		SiteUses: []*treatmentv1.SiteUse{
			{SiteId: "mill-meadow", Active: "glyphosate", LimitLbAePerAc: 8, UsedLbAePerAc: 0.8, WantedLbAePerAc: 0.8, Seasons: 1, Source: "invented decision"},
			{SiteId: "mill-meadow", Active: "triclopyr", LimitLbAePerAc: 8, UsedLbAePerAc: 7.4, WantedLbAePerAc: 14.1, Seasons: 2, Source: "invented decision",
				Share: &treatmentv1.SeasonShare{Active: "triclopyr", Admitted: []byte{0xff, 0}}},
		},
		RuleSets: RuleSets,
	}
}

// Result is the fixture's result as a whole.
func Result() *client.Result {
	return &client.Result{
		Sites: []*treatmentv1.Site{
			{SiteId: "mill-meadow", Place: "us/velmora", AreaM2: new(8093.7128448)},
			{SiteId: `bank & "brook"`, Place: "us/velmora/ossel-creek", AreaM2: new(4046.8564224)},
		},
		Totals:  &treatmentv1.Totals{Rows: 11, Prescribed: 6, Deferred: 1, Undetermined: 2, Rejected: 2},
		Summary: Summary(),
	}
}

// Table is what the rows of the fixture's rule sets do, by id of the set.
func Table(ruleSetID string) *ruletablev1.Table {
	t := &ruletablev1.Table{Manifest: &ruletablev1.Manifest{RuleSetId: ruleSetID}}
	for _, f := range findings {
		if f.GetRuleSet().GetRuleSetId() == ruleSetID {
			t.Rows = append(t.Rows, &ruletablev1.Row{RuleId: f.GetRuleId(), Purpose: f.GetPurpose(), Citation: f.GetCitation(), Effect: effects[f.GetRuleId()]})
		}
	}
	return t
}

var effects = map[string]*ruletablev1.Effect{
	"entry":    {Kind: &ruletablev1.Effect_EntryInterval{EntryInterval: &ruletablev1.EntryInterval{Hours: 12}}},
	"zone":     {Kind: &ruletablev1.Effect_ExclusionZone{ExclusionZone: &ruletablev1.ExclusionZone{RadiusUm: 7_620_000}}},
	"standing": {Kind: &ruletablev1.Effect_Standing{Standing: &ruletablev1.RequireStanding{AtLeast: commonv1.Standing_STANDING_CERTIFIED}}},
	"notice":   {Kind: &ruletablev1.Effect_Notice{Notice: &ruletablev1.Notice{To: "the owners of adjoining land", MinDays: 3, MaxDays: 14}}},
	"stream":   {Kind: &ruletablev1.Effect_Buffer{Buffer: &ruletablev1.Buffer{DistanceUm: 7_620_000}}},
	"wind":     {Kind: &ruletablev1.Effect_Weather{Weather: &ruletablev1.WeatherLimit{Factor: commonv1.WeatherFactor_WEATHER_FACTOR_WIND_SPEED_MPH, Min: new(3.0), Max: new(10.0)}}},
	"dated":    {Kind: &ruletablev1.Effect_Season{Season: &ruletablev1.InSeason{Season: commonv1.Season_SEASON_TRANSLOCATION}}},
}

// Effects is what a client learns of the fixture's rule sets.
func Effects() client.Effects {
	all := client.Effects{}
	for _, ref := range RuleSets {
		for _, row := range Table(ref.GetRuleSetId()).GetRows() {
			all[client.EffectKey{Digest: ref.GetDigest(), RuleID: row.GetRuleId()}] = row.GetEffect()
		}
	}
	return all
}
