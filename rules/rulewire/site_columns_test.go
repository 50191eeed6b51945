package rulewire_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
)

func drawSites(t *rapid.T) []rules.SiteFacts {
	temperature := rapid.Int32Range(-6_000, 6_000)
	series := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) *rules.TemperatureSeries {
		days := rapid.IntRange(1, 4).Draw(t, "days")
		return &rules.TemperatureSeries{
			First: civil.Of(2026, time.January, rapid.IntRange(1, 300).Draw(t, "first")),
			Min:   rapid.SliceOfN(temperature, days, days).Draw(t, "min"),
			Max:   rapid.SliceOfN(temperature, days, days).Draw(t, "max"),
		}
	}), 1, 3).Draw(t, "series")
	return rapid.SliceOf(rapid.Custom(func(t *rapid.T) rules.SiteFacts {
		var s rules.SiteFacts
		if s.HasPosition = rapid.Bool().Draw(t, "position"); s.HasPosition {
			s.Latitude = rapid.Int32Range(-900_000_000, 900_000_000).Draw(t, "latitude")
			s.Longitude = rapid.Int32Range(-1_800_000_000, 1_800_000_000).Draw(t, "longitude")
		}
		if s.HasElevation = rapid.Bool().Draw(t, "elevation"); s.HasElevation {
			s.Elevation = quantity.Micrometres(rapid.Int64Range(-50_000, 900_000).Draw(t, "cm")) * quantity.Centimetre
		}
		if rapid.Bool().Draw(t, "temperatures") {
			s.Temperatures = rapid.SampledFrom(series).Draw(t, "of")
		}
		return s
	})).Draw(t, "sites")
}

// over sends a message as bytes, as between two processes.
func over[M proto.Message](t require.TestingT, m M) M {
	text, err := proto.Marshal(m)
	require.NoError(t, err)
	back := m.ProtoReflect().New().Interface()
	require.NoError(t, proto.Unmarshal(text, back))
	return back.(M)
}

func TestSitesAreReadAsTheyWereWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sites := drawSites(t)
		back, err := rulewire.DecodeSites(over(t, rulewire.EncodeSites(sites)))
		require.NoError(t, err)
		require.Len(t, back, len(sites))
		for i := range sites {
			require.Equal(t, sites[i], back[i])
		}
	})
}

func TestSitesShareTheirTemperatures(t *testing.T) {
	series := &rules.TemperatureSeries{First: civil.Of(2026, 1, 1), Min: []int32{-150}, Max: []int32{300}}
	c := rulewire.EncodeSites([]rules.SiteFacts{{Temperatures: series}, {}, {Temperatures: series}})
	assert.Len(t, c.GetTemperatures(), 1)
	assert.Equal(t, []int32{0, -1, 0}, c.GetTemperaturesOf())
	assert.Empty(t, c.GetLatitudeE7())
}

func TestSitesThatCannotBeRead(t *testing.T) {
	const unknown = -2147483648
	cases := map[string]struct {
		columns *pluginv1.SiteColumns
		want    string
	}{
		"a short column":     {&pluginv1.SiteColumns{Count: 2, ElevationCm: []int32{1}}, "sites.elevation_cm: has 1 values for 2 sites"},
		"below zero":         {&pluginv1.SiteColumns{Count: -1}, "below zero"},
		"a count alone":      {&pluginv1.SiteColumns{Count: 1 << 30}, "without any fact"},
		"off the earth":      {&pluginv1.SiteColumns{Count: 1, LatitudeE7: []int32{900_000_001}, LongitudeE7: []int32{0}}, "no place on earth"},
		"no such series":     {&pluginv1.SiteColumns{Count: 1, TemperaturesOf: []int32{0}}, "there are 0 series"},
		"below no series":    {&pluginv1.SiteColumns{Count: 1, TemperaturesOf: []int32{-2}}, "there are 0 series"},
		"a series undated":   {&pluginv1.SiteColumns{Count: 0, Temperatures: []*pluginv1.TemperatureSeries{{}}}, "first_day"},
		"half of a position": {&pluginv1.SiteColumns{Count: 1, LatitudeE7: []int32{unknown}, LongitudeE7: []int32{5}}, ""},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			sites, err := rulewire.DecodeSites(c.columns)
			if c.want == "" {
				require.NoError(t, err)
				assert.False(t, sites[0].HasPosition, "a position of which half is not known is not known")
				return
			}
			assert.ErrorContains(t, err, c.want)
		})
	}
}

var someAnswers = []rules.Answer{
	{Kind: rules.NotRestricted, Words: "below the tree line"},
	{Kind: rules.OpenDuring, Words: "moved by 8 days", Open: civil.Window{From: civil.DayOfYear{Month: time.July, Day: 9}, To: civil.DayOfYear{Month: time.February, Day: 29}}},
	{Kind: rules.Closed, Words: "above the tree line"},
	{Kind: rules.FactMissing, Words: "elevation is not known"},
	{Kind: rules.Closed, Words: "above the tree line"},
}

func TestAnswersAreReadAsTheyWereWritten(t *testing.T) {
	p := over(t, rulewire.EncodeAnswers("spring", someAnswers))
	assert.Len(t, p.GetWords(), 4)
	back, err := rulewire.DecodeAnswers(p, "spring", len(someAnswers))
	require.NoError(t, err)
	assert.Equal(t, someAnswers, back)
}

// Each of these could open what is closed, or tell nobody why.
func TestAnswersThatCannotBeTrusted(t *testing.T) {
	cases := map[string]struct {
		spoil func(*pluginv1.RuleAnswers)
		want  string
	}{
		"another row":       {func(p *pluginv1.RuleAnswers) { p.RuleId = "autumn" }, "rule_id"},
		"a site too few":    {func(p *pluginv1.RuleAnswers) { p.Kind = p.Kind[1:] }, "kind: has 4 values for 5 sites"},
		"no kind":           {func(p *pluginv1.RuleAnswers) { p.Kind[0] = 0 }, "no answer"},
		"a later kind":      {func(p *pluginv1.RuleAnswers) { p.Kind[0] = 5 }, "no answer"},
		"a kind that wraps": {func(p *pluginv1.RuleAnswers) { p.Kind[0] = 257 }, "no answer"},
		"31 June":           {func(p *pluginv1.RuleAnswers) { p.FromMmdd[1] = 631 }, "no days of a year"},
		"open without days": {func(p *pluginv1.RuleAnswers) { p.Kind[0] = 2 }, "no days of a year"},
		"closed with days":  {func(p *pluginv1.RuleAnswers) { p.FromMmdd[2] = 701 }, "not open for part"},
		"no words":          {func(p *pluginv1.RuleAnswers) { p.Words[0] = "" }, "words: has 0 bytes"},
		"words elsewhere":   {func(p *pluginv1.RuleAnswers) { p.Word[0] = 4 }, "beyond 4 words"},
		"too many words":    {func(p *pluginv1.RuleAnswers) { p.Words[0] = string(make([]byte, 1_001)) }, "1001 bytes"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			p := rulewire.EncodeAnswers("spring", someAnswers)
			c.spoil(p)
			_, err := rulewire.DecodeAnswers(p, "spring", len(someAnswers))
			assert.ErrorContains(t, err, c.want)
		})
	}
}

// A day that is in no calendar must not become another day on its way: 120 January
// would be 20 February.
func TestADayThatIsNoneDoesNotArrive(t *testing.T) {
	for _, from := range []civil.DayOfYear{{Month: time.January, Day: 120}, {Month: time.June, Day: 31}, {Month: 0, Day: 701}, {Day: 1}} {
		answers := []rules.Answer{{Kind: rules.OpenDuring, Open: civil.Window{From: from, To: civil.DayOfYear{Month: time.August, Day: 1}}, Words: "from a day of the year"}}
		_, err := rulewire.DecodeAnswers(rulewire.EncodeAnswers("spring", answers), "spring", 1)
		assert.ErrorContains(t, err, "no days of a year", "%d %d", from.Month, from.Day)
	}
}

func FuzzDecodeSites(f *testing.F) {
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, text []byte) {
		var c pluginv1.SiteColumns
		if proto.Unmarshal(text, &c) != nil {
			return
		}
		sites, err := rulewire.DecodeSites(&c)
		if err == nil {
			again, err := rulewire.DecodeSites(rulewire.EncodeSites(sites))
			require.NoError(t, err)
			require.Len(t, again, len(sites))
		}
	})
}

func FuzzDecodeAnswers(f *testing.F) {
	f.Add([]byte{}, 0)
	f.Fuzz(func(t *testing.T, text []byte, sites int) {
		var p pluginv1.RuleAnswers
		if sites < 0 || proto.Unmarshal(text, &p) != nil {
			return
		}
		answers, err := rulewire.DecodeAnswers(&p, p.GetRuleId(), sites)
		if err == nil {
			again, err := rulewire.DecodeAnswers(rulewire.EncodeAnswers("row", answers), "row", len(answers))
			require.NoError(t, err)
			require.Equal(t, answers, again)
		}
	})
}
