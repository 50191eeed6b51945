package api_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

func TestSelectMethodRanksWhatPrescribeChooses(t *testing.T) {
	c := serveFull(t)
	for _, s := range newDraw(7).stems(300) {
		p := prescribed(t, c, goodSite(), []*treatmentv1.Stem{s}).Prescriptions[0]
		r, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: goodSite(), Stem: s})
		if p.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
			var fields []string
			for _, f := range p.Faults {
				fields = append(fields, "stem."+f.Field)
			}
			requireViolations(t, err, fields...)
			continue
		}
		require.NoError(t, err)
		assert.NotEmpty(t, r.Why)
		if p.Outcome == treatmentv1.Outcome_OUTCOME_PRESCRIBED {
			require.NotEmpty(t, r.Ranked)
			requireSame(t, p.Explanation.Choice, r.Ranked[0])
			assert.Equal(t, p.Explanation.Why, r.Why)
		} else {
			assert.Empty(t, r.Ranked)
		}
		for _, a := range r.Refused {
			assert.NotEmpty(t, a.Reasons, "%v of %v", a, s)
		}
	}
}

func TestSelectMethodNeedsItsFields(t *testing.T) {
	_, err := serveFull(t).SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{})
	requireViolations(t, err, "date", "site", "stem")
}

// Four inches take four cuts of 1 mL (Pacific Northwest Weed Management Handbook,
// stem injection: 1 mL a cut; Rutgers Plant & Pest Advisory: a cut an inch).
func TestCalculateDoseShowsItsWorking(t *testing.T) {
	c := serveFull(t)
	id := formulationFor(t, c, commonv1.Method_METHOD_HACK_AND_SQUIRT, "triclopyr")
	s := goodStem()
	s.DiameterCm, s.Count = ptr(10.16), ptr(int64(3))
	r, err := c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{Stem: s, Method: commonv1.Method_METHOD_HACK_AND_SQUIRT, FormulationId: id})
	require.NoError(t, err)
	assert.Equal(t, int64(12), r.Dose.Cuts)
	assert.InDelta(t, 12, r.Dose.MixMl, 1e-9)
	working := strings.Join(r.Working, "\n")
	assert.Contains(t, working, "cuts = ")
	assert.Contains(t, working, "× 3 = 12")
	assert.Contains(t, working, "12 × 1 mL = 12 mL")
	assert.Contains(t, working, "acid equivalent = ")
}

// The figures are computed by hand from π = 3.14159, 43,560 ft² an acre and
// 3,785.41 mL a gallon; the default settings are those of message Settings.
func TestWorkingOfEachMethod(t *testing.T) {
	c := serveFull(t)
	for name, tc := range map[string]struct {
		method commonv1.Method
		active string
		change func(*treatmentv1.Stem)
		want   []string
	}{
		"basal bark": {
			commonv1.Method_METHOD_BASAL_BARK, "triclopyr",
			func(s *treatmentv1.Stem) { s.DiameterCm, s.Count = ptr(10.16), ptr(int64(2)) },
			[]string{"π × 4 in × 15 in = 188.496 in²", "188.496 in² × 0.3 mL/in² × 2 = 113.098 mL"},
		},
		"cut stump": { // π/4 × (4² - 2²) = 9.42478 in²
			commonv1.Method_METHOD_CUT_STUMP, "glyphosate",
			func(s *treatmentv1.Stem) { s.DiameterCm = ptr(10.16) },
			[]string{"outer 1 in of a circle of 4 in = 9.424", "× 0.3 mL/in² × 1 = 2.82"},
		},
		"the least cuts": {
			commonv1.Method_METHOD_HACK_AND_SQUIRT, "triclopyr",
			func(s *treatmentv1.Stem) { s.DiameterCm = ptr(3.0) },
			[]string{"max(2, 1.1811 ÷ 1) × 1 = 2"},
		},
		"foliar on a patch": { // an acre at 20 gal
			commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, "glyphosate",
			func(s *treatmentv1.Stem) { s.AreaM2 = ptr(4_046.8564224) },
			[]string{"area = the patch = 1 acre", "1 acre × 20 gal/acre = 75708.2 mL", "rate = "},
		},
		"foliar under a crown": { // π/4 × 2² = 3.14159 m² = 0.000776 acre
			commonv1.Method_METHOD_LOW_VOLUME_FOLIAR, "glyphosate",
			func(s *treatmentv1.Stem) { s.CrownWidthM = ptr(2.0) },
			[]string{"circle of the crown's width, 2 m, × 1 stem = 0.000776"},
		},
		"foliar by height": {
			commonv1.Method_METHOD_HIGH_VOLUME_FOLIAR, "glyphosate",
			func(s *treatmentv1.Stem) { s.HeightM = ptr(4.0) },
			[]string{"circle of half the height, 2 m, × 1 stem = 0.000776", "× 75 gal/acre"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := goodStem()
			tc.change(s)
			r, err := c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{Stem: s, Method: tc.method, FormulationId: formulationFor(t, c, tc.method, tc.active)})
			require.NoError(t, err)
			working := strings.Join(r.Working, "\n")
			for _, want := range tc.want {
				assert.Contains(t, working, want)
			}
		})
	}
}

func formulationFor(t *testing.T, c clients, m commonv1.Method, active string) string {
	t.Helper()
	r, err := c.ListCatalogue(t.Context(), &treatmentv1.ListCatalogueRequest{})
	require.NoError(t, err)
	for _, f := range r.Formulations {
		for _, serves := range f.Methods {
			if serves == m && f.Active == active {
				return f.FormulationId
			}
		}
	}
	require.Fail(t, "the catalogue has no such formulation")
	return ""
}

// Every dose of a prescription is the dose that its method and formulation give.
func TestCalculateDoseAgreesWithPrescribe(t *testing.T) {
	c := serveFull(t)
	compared := map[commonv1.Method]int{}
	for _, s := range newDraw(8).stems(1_500) {
		p := prescribed(t, c, goodSite(), []*treatmentv1.Stem{s}).Prescriptions[0]
		if p.Dose == nil {
			continue
		}
		choice := p.Explanation.Choice
		r, err := c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{Stem: s, Method: choice.Method, FormulationId: choice.FormulationId})
		require.NoError(t, err)
		compared[choice.Method]++
		// The rate of a prescription may be over the site; here there is none.
		if s.AreaM2 == nil {
			p.Dose.RateLbAePerAc = nil
		}
		requireSame(t, p.Dose, r.Dose)
		assert.NotEmpty(t, r.Working)
	}
	assert.GreaterOrEqual(t, len(compared), 3, "methods compared: %v", compared)
}

func TestCalculateDoseRefuses(t *testing.T) {
	c := serveFull(t)
	_, err := c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{})
	requireViolations(t, err, "formulation_id", "method", "stem")
	_, err = c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{
		Stem: goodStem(), Method: 88, FormulationId: strings.Repeat("z", 5_000), Settings: &treatmentv1.Settings{CutMl: ptr(99.0)},
	})
	requireViolations(t, err, "formulation_id", "method", "settings.cut_ml")
	assert.Less(t, len(err.Error()), 1_000)

	id := formulationFor(t, c, commonv1.Method_METHOD_HACK_AND_SQUIRT, "triclopyr")
	_, err = c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{Stem: goodStem(), Method: commonv1.Method_METHOD_HAND_PULL, FormulationId: id})
	requireViolations(t, err, "method")
	s := goodStem()
	s.DiameterCm = nil
	_, err = c.CalculateDose(t.Context(), &treatmentv1.CalculateDoseRequest{Stem: s, Method: commonv1.Method_METHOD_HACK_AND_SQUIRT, FormulationId: id})
	requireViolations(t, err, "method")
}

func TestListCatalogueNamesItsSources(t *testing.T) {
	r, err := serveFull(t).ListCatalogue(t.Context(), &treatmentv1.ListCatalogueRequest{})
	require.NoError(t, err)
	require.NotEmpty(t, r.Species)
	require.NotEmpty(t, r.Formulations)
	for _, s := range r.Species {
		assert.NotZero(t, s.Suckering, s.ScientificName)
		assert.NotEmpty(t, s.Sources, s.ScientificName)
	}
	for _, f := range r.Formulations {
		assert.NotEmpty(t, f.Methods, f.FormulationId)
		assert.NotEmpty(t, f.Sources, f.FormulationId)
		assert.NotEmpty(t, f.SignalWord, f.FormulationId)
		// 1 lb/gal is 119.826 g/L (453.59237 g over 3.785411784 L).
		assert.InEpsilon(t, f.LbAePerGal*119.82642731689663, f.GAePerL, 1e-9, f.FormulationId)
		assert.Positive(t, f.AnnualMaxLbAePerAc, f.FormulationId)
	}
}

// 0.4 gal/min, 300 ft in 68 s, 20 in: 3.008 mph, 39.5 gal/acre (5940 × gal/min ÷
// (mph × in), computed by hand).
func TestCalibrate(t *testing.T) {
	c := serveFull(t)
	r, err := c.Calibrate(t.Context(), &treatmentv1.CalibrateRequest{Measurement: &treatmentv1.CalibrateRequest_TimeDistance{
		TimeDistance: &treatmentv1.TimeDistance{OutputGalPerMin: 0.4, DistanceFt: 300, TimeS: 68, SwathIn: 20},
	}})
	require.NoError(t, err)
	assert.InDelta(t, 39.5, r.GetGalPerAc(), 0.1)
	assert.InDelta(t, r.GetGalPerAc()*9.3539, r.GetLPerHa(), 0.01) // 3.785411784 L over 0.404685642 ha
	assert.Nil(t, r.WettingMlPerIn2)
	assert.NotEmpty(t, r.Working)

	// On 1/128 acre, fluid ounces read as gallons per acre: 18.5 × 18.4 ft.
	r, err = c.Calibrate(t.Context(), &treatmentv1.CalibrateRequest{Measurement: &treatmentv1.CalibrateRequest_SmallPlot{
		SmallPlot: &treatmentv1.SmallPlot{LengthFt: 18.5, WidthFt: 18.4, CaughtFlOz: 20},
	}})
	require.NoError(t, err)
	assert.InDelta(t, 20, r.GetGalPerAc(), 0.1)

	// 471.2 g of 1 g/mL on a band of π × 10 in × 15 in = 471.2 in²: 1 mL/in².
	r, err = c.Calibrate(t.Context(), &treatmentv1.CalibrateRequest{Measurement: &treatmentv1.CalibrateRequest_Weighing{
		Weighing: &treatmentv1.Weighing{BeforeG: 5_471.2, AfterG: 5_000, DensityGPerMl: 1, Stems: []*treatmentv1.TreatedStem{{DiameterIn: 10, BandIn: 15, Count: 1}}},
	}})
	require.NoError(t, err)
	assert.InDelta(t, 1, r.GetWettingMlPerIn2(), 0.001)
	assert.Nil(t, r.GalPerAc)
}

func TestCalibrateRefuses(t *testing.T) {
	c := serveFull(t)
	_, err := c.Calibrate(t.Context(), &treatmentv1.CalibrateRequest{})
	requireViolations(t, err, "measurement")
	_, err = c.Calibrate(t.Context(), &treatmentv1.CalibrateRequest{Measurement: &treatmentv1.CalibrateRequest_TimeDistance{TimeDistance: &treatmentv1.TimeDistance{}}})
	requireViolations(t, err, "time_distance.distance_ft", "time_distance.output_gal_per_min", "time_distance.swath_in", "time_distance.time_s")
}
