package api_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/api"
)

func TestPrescribeGivesTheWholeAnswer(t *testing.T) {
	r := prescribed(t, serveFull(t), goodSite(), []*treatmentv1.Stem{goodStem()})
	p := r.Prescriptions[0]
	assert.Equal(t, "1", p.StemId)
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_PRESCRIBED, p.Outcome)
	e := p.Explanation
	assert.NotEqual(t, commonv1.Method_METHOD_UNSPECIFIED, e.Choice.Method)
	assert.NotEqual(t, commonv1.Decision_DECISION_UNSPECIFIED, e.Choice.Decision)
	assert.Positive(t, e.Choice.MixGAePerL)
	assert.NotEmpty(t, e.Why)
	assert.NotEmpty(t, e.Alternatives)
	assert.NotEmpty(t, e.Steps)
	assert.Contains(t, e.Cautions, "The label is the law and stands above this plan.")
	assert.Equal(t, int32(7), e.Dates.TreatFrom.Month)
	assert.Len(t, e.RuleSets, 3)
	for _, f := range e.Findings {
		assert.NotEmpty(t, f.Citation)
		assert.Len(t, f.RuleSet.Digest, 64, "SHA-256 in hexadecimal")
	}
	d := p.Dose
	assert.InDelta(t, d.MixMl, d.ProductMl+d.CarrierMl+d.AdjuvantMl+d.DyeMl, 1e-9, "parts of a mix add up")
	assert.Positive(t, d.AeG)

	s := r.Summary
	assert.Equal(t, int64(1), s.Totals.Prescribed)
	require.Len(t, s.Mixes, 1)
	assert.InDelta(t, d.MixMl/1000, s.Mixes[0].MixL, 1e-9)
	assert.InDelta(t, d.AeG, s.Mixes[0].AeG, 1e-9)
	assert.Equal(t, e.Choice.FormulationId, s.Mixes[0].FormulationId)
	assert.NotEmpty(t, s.Purchases)
	require.Len(t, s.SiteUses, 1)
	assert.Equal(t, int64(1), s.SiteUses[0].Seasons)
	assert.Nil(t, s.SiteUses[0].Share)
}

func TestFaultsOfARequestAreToldAtOnce(t *testing.T) {
	good := func() *treatmentv1.PrescribeRequest {
		return &treatmentv1.PrescribeRequest{Date: midsummer(), Site: goodSite(), Stems: []*treatmentv1.Stem{goodStem()}}
	}
	for name, tc := range map[string]struct {
		spoil func(*treatmentv1.PrescribeRequest)
		want  []string
	}{
		"everything missing":     {func(q *treatmentv1.PrescribeRequest) { proto.Reset(q) }, []string{"date", "site", "stems"}},
		"no such day":            {func(q *treatmentv1.PrescribeRequest) { q.Date = &date.Date{Year: 2026, Month: 2, Day: 30} }, []string{"date"}},
		"a date without day":     {func(q *treatmentv1.PrescribeRequest) { q.Date = &date.Date{Year: 2026, Month: 2} }, []string{"date"}},
		"a year too early":       {func(q *treatmentv1.PrescribeRequest) { q.Date = &date.Date{Year: 1899, Month: 12, Day: 31} }, []string{"date"}},
		"a year too late":        {func(q *treatmentv1.PrescribeRequest) { q.Date = &date.Date{Year: 2201, Month: 1, Day: 1} }, []string{"date"}},
		"an empty site":          {func(q *treatmentv1.PrescribeRequest) { q.Site = &treatmentv1.Site{} }, []string{"site.place", "site.site_id"}},
		"area that is no number": {func(q *treatmentv1.PrescribeRequest) { q.Site.AreaM2 = ptr(math.NaN()) }, []string{"site.area_m2"}},
		"area zero":              {func(q *treatmentv1.PrescribeRequest) { q.Site.AreaM2 = ptr(0.0) }, []string{"site.area_m2"}},
		"area of a country":      {func(q *treatmentv1.PrescribeRequest) { q.Site.AreaM2 = ptr(1e10) }, []string{"site.area_m2"}},
		"misspelt active": {
			func(q *treatmentv1.PrescribeRequest) {
				q.Site.AppliedThisYear = []*treatmentv1.AppliedAmount{{Active: "glyfosate", AeG: 5}, {Active: "glyphosate", AeG: -1}, {Active: "glyphosate", AeG: math.Inf(1)}}
			},
			[]string{"site.applied_this_year[0].active", "site.applied_this_year[1].ae_g", "site.applied_this_year[2].active", "site.applied_this_year[2].ae_g"},
		},
		"a share of the wrong length": {
			func(q *treatmentv1.PrescribeRequest) {
				q.Site.SeasonShares = []*treatmentv1.SeasonShare{{Active: "glyphosate", Admitted: []byte{1}}}
			},
			[]string{"site.season_shares[0].admitted"},
		},
		"settings": {
			func(q *treatmentv1.PrescribeRequest) {
				q.Settings = &treatmentv1.Settings{
					BasalBandCm: ptr(10.0), CutMl: ptr(math.NaN()), TankGal: ptr(math.Inf(1)), SparePercent: ptr(-1.0),
					Standing: 9, FormulationIds: []string{"nothing-of-the-kind", strings.Repeat("x", 201)},
				}
			},
			[]string{"settings.basal_band_cm", "settings.cut_ml", "settings.formulation_ids", "settings.formulation_ids[1]", "settings.spare_percent", "settings.standing", "settings.tank_gal"},
		},
		"names too long": {
			func(q *treatmentv1.PrescribeRequest) {
				q.Site.SiteId, q.Site.Place = strings.Repeat("x", 201), strings.Repeat("y", 201)
			},
			[]string{"site.place", "site.site_id"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			q := good()
			tc.spoil(q)
			_, err := serveFull(t).Prescribe(t.Context(), q)
			requireViolations(t, err, tc.want...)
		})
	}
}

func TestManyViolationsAreCountedAndCutShort(t *testing.T) {
	q := &treatmentv1.PrescribeRequest{Date: midsummer(), Site: goodSite(), Stems: []*treatmentv1.Stem{goodStem()}}
	for range 1_000 {
		q.Site.AppliedThisYear = append(q.Site.AppliedThisYear, &treatmentv1.AppliedAmount{Active: "nonesuch-" + string(rune('a'+len(q.Site.AppliedThisYear)%26))})
	}
	_, err := serveFull(t).Prescribe(t.Context(), q)
	info, bad := details(t, err)
	assert.Len(t, bad.FieldViolations, 200)
	assert.Equal(t, "200", info.Metadata["listed"])
	assert.NotEqual(t, "200", info.Metadata["violations"])
}

func TestTooManyStems(t *testing.T) {
	c := serveFull(t)
	_, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Stems: slices.Repeat([]*treatmentv1.Stem{{}}, 10_001)})
	requireStatus(t, err, codes.ResourceExhausted, api.TooMany, "10,001 stems")
	info, _ := details(t, err)
	assert.Equal(t, map[string]string{"field": "stems", "given": "10001", "limit": "10000"}, info.Metadata)
}

// A fault of one stem is data: that row is rejected, with all that is wrong.
func TestFaultsOfStems(t *testing.T) {
	c := serveFull(t)
	for name, tc := range map[string]struct {
		spoil func(*treatmentv1.Stem)
		want  []string
	}{
		"nothing stated":        {func(s *treatmentv1.Stem) { proto.Reset(s) }, []string{"form", "scientific_name", "stem_id"}},
		"diameter zero":         {func(s *treatmentv1.Stem) { s.DiameterCm = ptr(0.0) }, []string{"diameter_cm"}},
		"diameter of an atom":   {func(s *treatmentv1.Stem) { s.DiameterCm = ptr(1e-8) }, []string{"diameter_cm"}},
		"diameter below zero":   {func(s *treatmentv1.Stem) { s.DiameterCm = ptr(-0.0001) }, []string{"diameter_cm"}},
		"diameter too large":    {func(s *treatmentv1.Stem) { s.DiameterCm = ptr(500.0001) }, []string{"diameter_cm"}},
		"not numbers":           {func(s *treatmentv1.Stem) { s.DiameterCm, s.HeightM = ptr(math.NaN()), ptr(math.Inf(1)) }, []string{"diameter_cm", "height_m"}},
		"beyond any type":       {func(s *treatmentv1.Stem) { s.DiameterCm, s.HeightM = ptr(1e300), ptr(-1e300) }, []string{"diameter_cm", "height_m"}},
		"count zero":            {func(s *treatmentv1.Stem) { s.Count = ptr(int64(0)) }, []string{"count"}},
		"count -1":              {func(s *treatmentv1.Stem) { s.Count = ptr(int64(-1)) }, []string{"count"}},
		"density without area":  {func(s *treatmentv1.Stem) { s.StemDensityPerHa = ptr(10.0) }, []string{"area_m2"}},
		"words not known":       {func(s *treatmentv1.Stem) { s.Form, s.Bark, s.LandUse = 7, 200, -1 }, []string{"bark", "form", "land_use"}},
		"a number past a byte":  {func(s *treatmentv1.Stem) { s.Form = 257 }, []string{"form"}},
		"slope too steep":       {func(s *treatmentv1.Stem) { s.SlopePercent = ptr(1_000.1) }, []string{"slope_percent"}},
		"an unknown species":    {func(s *treatmentv1.Stem) { s.ScientificName = "Nullius nullius" }, []string{"scientific_name"}},
		"a slip in a species":   {func(s *treatmentv1.Stem) { s.ScientificName = "ailanthus altisima" }, []string{"scientific_name"}},
		"a name of any length":  {func(s *treatmentv1.Stem) { s.ScientificName = strings.Repeat("n", 1_000) }, []string{"scientific_name"}},
		"an id of any length":   {func(s *treatmentv1.Stem) { s.StemId = strings.Repeat("n", 201) }, []string{"stem_id"}},
		"water farther than is": {func(s *treatmentv1.Stem) { s.OtherWaterBeyondM = ptr(1_000_000.1) }, []string{"other_water_beyond_m"}},
		"water": {
			func(s *treatmentv1.Stem) {
				s.WaterDistances = []*commonv1.WaterDistance{
					{WaterClass: 1, DistanceM: 3}, {WaterClass: 1, DistanceM: -3}, {DistanceM: math.NaN()}, {WaterClass: 77, Origin: 77},
				}
			},
			[]string{
				"water_distances[1].distance_m", "water_distances[1].water_class", "water_distances[2].distance_m",
				"water_distances[2].water_class", "water_distances[3].origin", "water_distances[3].water_class",
			},
		},
	} {
		t.Run(name, func(t *testing.T) {
			bad := goodStem()
			tc.spoil(bad)
			r := prescribed(t, c, goodSite(), []*treatmentv1.Stem{goodStem(), bad, goodStem()})
			p := r.Prescriptions[1]
			assert.Equal(t, treatmentv1.Outcome_OUTCOME_REJECTED, p.Outcome)
			assert.Nil(t, p.Explanation)
			var fields []string
			for _, f := range p.Faults {
				fields = append(fields, f.Field)
				assert.Less(t, len(f.Problem), 400, "a message is not as long as what it complains of")
			}
			assert.Equal(t, tc.want, fields)
			assert.Equal(t, int64(1), r.Summary.Totals.Rejected)
			assert.Equal(t, int64(2), r.Summary.Totals.Prescribed, "the other rows go on")
		})
	}
}

func TestLimitsIncludeTheirEnds(t *testing.T) {
	c := serveFull(t)
	for name, change := range map[string]func(*treatmentv1.Stem){
		"the thickest":   func(s *treatmentv1.Stem) { s.DiameterCm = ptr(500.0) },
		"the tallest":    func(s *treatmentv1.Stem) { s.HeightM = ptr(120.0) },
		"level ground":   func(s *treatmentv1.Stem) { s.SlopePercent = ptr(0.0) },
		"the steepest":   func(s *treatmentv1.Stem) { s.SlopePercent = ptr(1_000.0) },
		"none is larger": func(s *treatmentv1.Stem) { s.LargerCount = ptr(int64(0)) },
		"at the water":   func(s *treatmentv1.Stem) { s.OtherWaterBeyondM = ptr(0.0) },
		"a micrometre":   func(s *treatmentv1.Stem) { s.DiameterCm = ptr(0.0001) },
	} {
		t.Run(name, func(t *testing.T) {
			s := goodStem()
			change(s)
			p := prescribed(t, c, goodSite(), []*treatmentv1.Stem{s}).Prescriptions[0]
			assert.NotEqual(t, treatmentv1.Outcome_OUTCOME_REJECTED, p.Outcome, "%v", p.Faults)
		})
	}
}

// 6 in are 15.24 cm, and both are thin enough for basal bark; a micrometre more
// is not (Rutgers Plant & Pest Advisory, tree-of-heaven timing).
func TestLengthsAreExactAtALimit(t *testing.T) {
	c := serveFull(t)
	chosen := func(cm float64) *treatmentv1.SelectMethodResponse {
		s := goodStem()
		s.DiameterCm = &cm
		r, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: goodSite(), Stem: s})
		require.NoError(t, err)
		return r
	}
	basal := func(r *treatmentv1.SelectMethodResponse) bool {
		return slices.ContainsFunc(r.Ranked, func(c *treatmentv1.Choice) bool { return c.Method == commonv1.Method_METHOD_BASAL_BARK })
	}
	assert.True(t, basal(chosen(15.24)))
	assert.False(t, basal(chosen(15.2401)))
}

func TestNoRowIsLost(t *testing.T) {
	c := serveFull(t)
	rapid.Check(t, func(rt *rapid.T) {
		stems := newDraw(rapid.Uint64().Draw(rt, "seed")).stems(rapid.IntRange(1, 50).Draw(rt, "rows"))
		for i := range rapid.IntRange(0, len(stems)).Draw(rt, "without a name") {
			stems[i].ScientificName = ""
		}
		r := prescribed(t, c, goodSite(), stems)
		if len(r.Prescriptions) != len(stems) {
			rt.Fatalf("%d rows in, %d out", len(stems), len(r.Prescriptions))
		}
		counted := map[treatmentv1.Outcome]int64{}
		for i, p := range r.Prescriptions {
			counted[p.Outcome]++
			if p.StemId != stems[i].StemId {
				rt.Fatalf("row %d is answered as %q", i, p.StemId)
			}
			if (p.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED) != (len(p.Faults) > 0) {
				rt.Fatalf("row %d is %v with faults %v", i, p.Outcome, p.Faults)
			}
		}
		totals := r.Summary.Totals
		want := &treatmentv1.Totals{
			Rows:       int64(len(stems)),
			Prescribed: counted[treatmentv1.Outcome_OUTCOME_PRESCRIBED], Deferred: counted[treatmentv1.Outcome_OUTCOME_DEFERRED],
			Undetermined: counted[treatmentv1.Outcome_OUTCOME_UNDETERMINED], Rejected: counted[treatmentv1.Outcome_OUTCOME_REJECTED],
		}
		if !proto.Equal(want, totals) || totals.Rows != totals.Prescribed+totals.Deferred+totals.Undetermined+totals.Rejected {
			rt.Fatalf("totals %v, counted %v", totals, want)
		}
	})
}
