package api_test

import (
	"context"
	"math"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/type/date"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/api"
)

// computedLaw is a law with a row that closes what lies above 1,000 m, and notes what
// it was asked.
type computedLaw struct {
	mu    sync.Mutex
	asked [][]rules.SiteFacts
}

func (c *computedLaw) law(t *testing.T) api.Law {
	needs := rules.AnyOf(rules.FactElevation)
	summits := setOf(t, "summits", rules.District, district,
		row("by-height", rules.Selector{}, rules.Computed{Method: "a method for tests", Needs: needs}))
	l := lawOf(nation(t), state(t), summits)
	l.Compute = func(_ context.Context, g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.asked = append(c.asked, sites)
		return byHeight(g, sites)
	}
	return l
}

func byHeight(g *rules.Governing, sites []rules.SiteFacts) []*rules.Governing {
	by := map[rules.AnswerKind]*rules.Governing{}
	for kind, words := range map[rules.AnswerKind]string{rules.NotRestricted: "low", rules.Closed: "high", rules.FactMissing: "how high it lies"} {
		by[kind] = g.Resolve(map[*rules.Row]rules.Answer{g.Computed()[0].Row: {Kind: kind, Words: words}})
	}
	laws := make([]*rules.Governing, len(sites))
	for i, s := range sites {
		switch {
		case !s.HasElevation:
			laws[i] = by[rules.FactMissing]
		case s.Elevation > 1_000*quantity.Metre:
			laws[i] = by[rules.Closed]
		default:
			laws[i] = by[rules.NotRestricted]
		}
	}
	return laws
}

func siteAt(id string, elevation *float64) *treatmentv1.Site {
	s := goodSite()
	s.SiteId, s.ElevationM = id, elevation
	return s
}

func TestComputedRowsAreDecidedBySite(t *testing.T) {
	var computed computedLaw
	law := computed.law(t)
	c := serve(t, func() api.Law { return law })
	for _, k := range []struct {
		name      string
		elevation *float64
		want      treatmentv1.Outcome
	}{
		{"low", ptr(1_000.0), treatmentv1.Outcome_OUTCOME_PRESCRIBED},
		{"high", ptr(1_000.01), treatmentv1.Outcome_OUTCOME_DEFERRED},
		{"nobody knows", nil, treatmentv1.Outcome_OUTCOME_UNDETERMINED},
	} {
		t.Run(k.name, func(t *testing.T) {
			site := siteAt(k.name, k.elevation)
			r, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Stems: []*treatmentv1.Stem{goodStem()}})
			require.NoError(t, err)
			assert.Equal(t, k.want, r.Prescriptions[0].Outcome, "%v", r)
			m, err := c.SelectMethod(t.Context(), &treatmentv1.SelectMethodRequest{Date: midsummer(), Site: site, Stem: goodStem()})
			require.NoError(t, err)
			assert.Equal(t, k.want == treatmentv1.Outcome_OUTCOME_PRESCRIBED, len(m.Ranked) > 0)
		})
	}
}

func TestAStreamAsksOnceForThePlacesSites(t *testing.T) {
	var computed computedLaw
	law := computed.law(t)
	c := serve(t, func() api.Law { return law })
	low, high, elsewhere := siteAt("low", ptr(500.0)), siteAt("high", ptr(1_500.0)), siteAt("elsewhere", nil)
	elsewhere.Place = "us/velmora"
	rows := chunkOf(1, "low", []*treatmentv1.Stem{goodStem(), goodStem(), goodStem(), goodStem()})
	rows.Words = append(rows.Words, "high", "elsewhere")
	n := int32(len(rows.Words))
	rows.Site = []int32{rows.Site[0], n - 2, n - 1, rows.Site[0]}
	answers, err := send(t, c, begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{low, high, elsewhere}}), chunk(rows))
	require.NoError(t, err)
	assert.Equal(t, []byte{
		byte(treatmentv1.Outcome_OUTCOME_PRESCRIBED), byte(treatmentv1.Outcome_OUTCOME_DEFERRED),
		byte(treatmentv1.Outcome_OUTCOME_PRESCRIBED), byte(treatmentv1.Outcome_OUTCOME_PRESCRIBED),
	}, answers[0].GetChunk().Outcome)
	require.Len(t, computed.asked, 1, "a law without computed rows asks nobody")
	assert.Len(t, computed.asked[0], 2)
	assert.Len(t, answers[1].GetSummary().SiteUses, 2, "nothing is used where it is closed")
	assert.Len(t, answers[1].GetSummary().RuleSets, 3)
}

// Without a plugin to ask, nothing is allowed.
func TestWithoutPluginsComputedRowsAreUndetermined(t *testing.T) {
	var computed computedLaw
	law := computed.law(t)
	law.Compute = nil
	c := serve(t, func() api.Law { return law })
	r, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: siteAt("low", ptr(500.0)), Stems: []*treatmentv1.Stem{goodStem()}})
	require.NoError(t, err)
	assert.Equal(t, treatmentv1.Outcome_OUTCOME_UNDETERMINED, r.Prescriptions[0].Outcome)
}

func TestSiteFactsAreRead(t *testing.T) {
	var computed computedLaw
	law := computed.law(t)
	c := serve(t, func() api.Law { return law })
	site := siteAt("all", ptr(-12.345))
	site.LatitudeDeg, site.LongitudeDeg = ptr(41.23456789), ptr(-180.0)
	site.Temperatures = &treatmentv1.Temperatures{FirstDay: &date.Date{Year: 2026, Month: 1, Day: 1}, MinC: []float64{-1.005, 0}, MaxC: []float64{2.5, 0}}
	_, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Stems: []*treatmentv1.Stem{goodStem()}})
	require.NoError(t, err)
	require.Len(t, computed.asked, 1)
	got := computed.asked[0][0]
	assert.Equal(t, &rules.TemperatureSeries{First: civil.Of(2026, 1, 1), Min: []int32{-100, 0}, Max: []int32{250, 0}}, got.Temperatures)
	got.Temperatures = nil
	assert.Equal(t, rules.SiteFacts{
		HasPosition: true, Latitude: 412_345_679, Longitude: -1_800_000_000,
		HasElevation: true, Elevation: -1_235 * quantity.Centimetre,
	}, got)
}

func TestSiteFactsThatCannotBe(t *testing.T) {
	c := serveFull(t)
	days := func(least, greatest []float64) *treatmentv1.Temperatures {
		return &treatmentv1.Temperatures{FirstDay: &date.Date{Year: 2026, Month: 1, Day: 1}, MinC: least, MaxC: greatest}
	}
	cases := []struct {
		name   string
		change func(*treatmentv1.Site)
		field  string
		want   string
	}{
		{"half a position", func(s *treatmentv1.Site) { s.LatitudeDeg = ptr(41.0) }, "site.latitude_deg", "state both, or neither"},
		{"beyond the pole", func(s *treatmentv1.Site) { s.LatitudeDeg, s.LongitudeDeg = ptr(90.1), ptr(0.0) }, "site.latitude_deg", "90.1 is not from -90 to 90 degrees"},
		{"round the earth", func(s *treatmentv1.Site) { s.LatitudeDeg, s.LongitudeDeg = ptr(0.0), ptr(-180.1) }, "site.longitude_deg", "-180.1"},
		{"no number", func(s *treatmentv1.Site) { s.ElevationM = ptr(math.NaN()) }, "site.elevation_m", "NaN is not from -500 to 9000 metres"},
		{"too high", func(s *treatmentv1.Site) { s.ElevationM = ptr(9_000.1) }, "site.elevation_m", "9000.1"},
		{"no first day", func(s *treatmentv1.Site) {
			s.Temperatures = &treatmentv1.Temperatures{MinC: []float64{0}, MaxC: []float64{0}}
		}, "site.temperatures.first_day", "is missing"},
		{"no days", func(s *treatmentv1.Site) { s.Temperatures = days(nil, nil) }, "site.temperatures", "has 0 days"},
		{"half a day", func(s *treatmentv1.Site) { s.Temperatures = days([]float64{0, 0}, []float64{0}) }, "site.temperatures", "2 least and 1 greatest"},
		{"three years", func(s *treatmentv1.Site) { s.Temperatures = days(make([]float64, 732), make([]float64, 732)) }, "site.temperatures", "has 732 days: state 1 to 731"},
		{"the wrong way round", func(s *treatmentv1.Site) { s.Temperatures = days([]float64{0, 5}, []float64{1, 4}) }, "site.temperatures", "5 to 4 °C on 2026-01-02"},
		{"degrees Fahrenheit", func(s *treatmentv1.Site) { s.Temperatures = days([]float64{50}, []float64{86}) }, "site.temperatures", "50 to 86 °C"},
		{"no temperature", func(s *treatmentv1.Site) { s.Temperatures = days([]float64{math.NaN()}, []float64{0}) }, "site.temperatures", "NaN to 0 °C"},
		{"endless", func(s *treatmentv1.Site) { s.Temperatures = days([]float64{0}, []float64{math.Inf(1)}) }, "site.temperatures", "0 to +Inf °C"},
	}
	for _, k := range cases {
		t.Run(k.name, func(t *testing.T) {
			site := goodSite()
			k.change(site)
			_, err := c.Prescribe(t.Context(), &treatmentv1.PrescribeRequest{Date: midsummer(), Site: site, Stems: []*treatmentv1.Stem{goodStem()}})
			_, bad := details(t, err)
			require.Len(t, bad.GetFieldViolations(), 1)
			assert.Equal(t, k.field, bad.FieldViolations[0].Field)
			assert.Contains(t, bad.FieldViolations[0].Description, k.want)
		})
	}
}

// Sites that are stated one after the other are computed for one after the other; what is
// answered alike for them is one law all the same, and their rows share an explanation.
func TestSitesStatedLaterShareTheLawOfEqualAnswers(t *testing.T) {
	var computed computedLaw
	law := computed.law(t)
	c := serve(t, func() api.Law { return law })
	messages := []*treatmentv1.PrescribeStreamRequest{begin(&treatmentv1.StreamBegin{Date: midsummer(), Sites: []*treatmentv1.Site{siteAt("first", new(200.0))}})}
	ids := []string{"first", "second", "third", "high"}
	for i, id := range ids[1:] {
		messages = append(messages, more(siteAt(id, new([]float64{300, 400, 1_500}[i]))))
	}
	rows := chunkOf(1, "", slices.Repeat([]*treatmentv1.Stem{goodStem()}, len(ids)))
	for i, id := range ids {
		rows.Words = append(rows.Words, id)
		rows.Site[i] = int32(len(rows.Words) - 1)
	}
	answers, err := send(t, c, append(messages, chunk(rows))...)
	require.NoError(t, err)
	require.Len(t, computed.asked, len(ids), "each site for itself")
	a := answers[0].GetChunk()
	assert.Equal(t, a.Explanation[0], a.Explanation[1])
	assert.Equal(t, a.Explanation[0], a.Explanation[2])
	assert.NotEqual(t, a.Explanation[0], a.Explanation[3])
	assert.Len(t, a.ExplanationEnds, 2)
}
