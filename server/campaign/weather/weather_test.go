package weather_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/weather"
)

const mph = 0.44704

func TestAGoodDayIsAGo(t *testing.T) {
	for _, m := range methods {
		a := good(m).Check()
		for _, c := range a.Checks {
			assert.Equal(t, weather.Go, c.Verdict, "%s: %s: %s", m, c.What, c.Why)
		}
		assert.Equal(t, weather.Go, a.Verdict)
		assert.Equal(t, morning(10, 0), a.ValidUntil.In(eastern), "an hour from the measurement")
		assert.Contains(t, a.Conditions[0], "2026-07-20 10:00 -04:00")
	}
}

// Both sides of every limit, for a method that it bears on.
func TestBothSidesOfEveryLimit(t *testing.T) {
	wind := func(v float64) func(*weather.Day) {
		return func(d *weather.Day) { everywhere(d, func(r *weather.Reading) { r.Wind = ptr(v) }) }
	}
	noLabel := func(v float64) func(*weather.Day) {
		return func(d *weather.Day) { d.MaxWind = nil; wind(v)(d) }
	}
	gusts := func(v float64) func(*weather.Day) {
		return func(d *weather.Day) { everywhere(d, func(r *weather.Reading) { r.Gust = ptr(v) }) }
	}
	heat := func(v float64, oil bool, kind rules.FormulationKind) func(*weather.Day) {
		return func(d *weather.Day) {
			d.Oil, d.Kind = oil, kind
			everywhere(d, func(r *weather.Reading) { r.Temperature = ptr(v) })
		}
	}
	rain := func(hour int, mm, chance float64) func(*weather.Day) {
		return func(d *weather.Day) { d.Forecast[hour].Rain, d.Forecast[hour].RainChance = &mm, &chance }
	}
	const leaf, bark, cut = rules.LowVolumeFoliar, rules.BasalBark, rules.HackAndSquirt
	for name, c := range map[string]struct {
		method rules.Method
		change func(*weather.Day)
		what   string
		want   weather.Verdict
	}{
		"W14 2.9 mph":            {leaf, noLabel(2.9 * mph), "wind, at least", weather.Caution},
		"W14 3 mph":              {leaf, noLabel(3 * mph), "wind, at least", weather.Go},
		"W14 8 mph":              {leaf, noLabel(8 * mph), "wind, at most", weather.Go},
		"W14 8.1 mph":            {leaf, noLabel(8.1 * mph), "wind, at most", weather.NoGo},
		"just calm":              {leaf, noLabel(2.999 * mph), "wind, at least", weather.Caution},
		"just too strong":        {leaf, noLabel(8.001 * mph), "wind, at most", weather.NoGo},
		"just too gusty":         {leaf, gusts(10.001 * mph), "gusts", weather.NoGo},
		"label's wind unread":    {cut, func(d *weather.Day) { d.MaxWind = nil }, "wind, label", weather.Caution},
		"label's heat unread":    {cut, func(d *weather.Day) { d.MaxTemperature = nil }, "temperature, label", weather.Caution},
		"the longer dry hours":   {leaf, func(d *weather.Day) { d.Usual, d.UsualSource = ptr(9.6), "from memory" }, "rain-free hours", weather.Unknown},
		"the label's are longer": {leaf, func(d *weather.Day) { d.Usual, d.UsualSource = ptr(1.0), "from memory" }, "rain-free hours", weather.Go},
		"label above W14":        {leaf, func(d *weather.Day) { wind(9 * mph)(d); d.MaxWind = ptr(10 * mph) }, "wind, at most", weather.Caution},
		"label at":               {leaf, wind(4), "wind, label", weather.Go},
		"label past":             {leaf, wind(4.001), "wind, label", weather.NoGo},
		"label for cuts":         {cut, wind(4.001), "wind, label", weather.NoGo},
		"W16 gust at":            {leaf, gusts(10 * mph), "gusts", weather.Caution},
		"W16 gust past":          {leaf, gusts(10.1 * mph), "gusts", weather.NoGo},
		"gust at the label":      {leaf, gusts(4), "gusts", weather.Go},
		"calm, inversion not known": {leaf, func(d *weather.Day) {
			everywhere(d, func(r *weather.Reading) { r.Wind, r.Inversion = ptr(1.0), 0 })
		}, "wind, at least", weather.Unknown},
		"W15 inversion":          {leaf, func(d *weather.Day) { d.Observed.Inversion = rules.Yes }, "inversion", weather.NoGo},
		"inversion not looked":   {leaf, func(d *weather.Day) { d.Observed.Inversion = 0 }, "inversion", weather.Unknown},
		"inversion not forecast": {leaf, func(d *weather.Day) { d.Forecast[0].Inversion = 0 }, "inversion", weather.Caution},
		"W19 24 °C":              {bark, heat(24, true, rules.Ester), "temperature, oil", weather.Go},
		"W19 24.1 °C":            {bark, heat(24.1, true, rules.Ester), "temperature, oil", weather.Caution},
		"W19 25 °C":              {bark, heat(25, true, rules.Ester), "temperature, oil", weather.Caution},
		"W19 25.1 °C":            {bark, heat(25.1, true, rules.Ester), "temperature, oil", weather.NoGo},
		"ester 85 °F":            {leaf, heat((85-32)/1.8, false, rules.Ester), "temperature, ester", weather.Go},
		"ester 85.1 °F":          {leaf, heat((85.1-32)/1.8, false, rules.Ester), "temperature, ester", weather.NoGo},
		"label heat at":          {leaf, heat(32, false, rules.WaterSalt), "temperature, label", weather.Go},
		"label heat past":        {leaf, heat(32.1, false, rules.WaterSalt), "temperature, label", weather.NoGo},
		"frost at":               {cut, heat(0, false, rules.WaterSalt), "temperature, at least", weather.Go},
		"frost past":             {cut, heat(-0.1, false, rules.WaterSalt), "temperature, at least", weather.NoGo},
		"T11 wet bark":           {bark, func(d *weather.Day) { d.Bark = rules.BarkWet }, "bark", weather.NoGo},
		"T11 icy bark":           {bark, func(d *weather.Day) { d.Bark = rules.BarkFrozen }, "bark", weather.NoGo},
		"bark not looked at":     {bark, func(d *weather.Day) { d.Bark = 0 }, "bark", weather.Unknown},
		"wet bark, cuts":         {cut, func(d *weather.Day) { d.Bark = rules.BarkWet }, "bark", weather.Caution},
		"wet soil":               {leaf, func(d *weather.Day) { d.Soil = rules.SoilWet }, "soil", weather.Caution},
		"frozen soil":            {leaf, func(d *weather.Day) { d.Soil = rules.SoilFrozen }, "soil", weather.NoGo},
		"soil not looked at":     {leaf, func(d *weather.Day) { d.Soil = 0 }, "soil", weather.Unknown},
		// Work ends at 9:30 and wants 4 hours: to 13:30, so that the hour from 13:00 counts.
		"rain in the last hour":  {leaf, rain(4, 0.1, 0), "rain-free hours", weather.NoGo},
		"rain after it":          {leaf, rain(5, 5, 100), "rain-free hours", weather.Go},
		"chance of 20 %":         {leaf, rain(4, 0, 20), "rain-free hours", weather.Go},
		"chance of 21 %":         {leaf, rain(4, 0, 21), "rain-free hours", weather.Caution},
		"chance of 50 %":         {leaf, rain(4, 0, 50), "rain-free hours", weather.Caution},
		"chance of 51 %":         {leaf, rain(4, 0, 51), "rain-free hours", weather.NoGo},
		"gap in the forecast":    {leaf, func(d *weather.Day) { d.Forecast = append(d.Forecast[:2], d.Forecast[3:]...) }, "rain-free hours", weather.Unknown},
		"forecast ends too soon": {leaf, func(d *weather.Day) { d.Forecast = d.Forecast[:4] }, "rain-free hours", weather.Unknown},
		"forecast just reaches":  {leaf, func(d *weather.Day) { d.Forecast = d.Forecast[:5] }, "rain-free hours", weather.Go},
		"label's hours unstated": {leaf, func(d *weather.Day) { d.RainFree = nil }, "rain-free hours", weather.Unknown},
		"catalogue's hours":      {leaf, func(d *weather.Day) { d.RainFree, d.Usual, d.UsualSource = nil, ptr(4.0), "from memory" }, "rain-free hours", weather.Caution},
		"before the window":      {leaf, func(d *weather.Day) { d.From = civil.Of(2026, time.July, 21) }, "treatment window", weather.NoGo},
		"first day":              {leaf, func(d *weather.Day) { d.From = civil.Of(2026, time.July, 20) }, "treatment window", weather.Go},
		"last day":               {leaf, func(d *weather.Day) { d.Until = civil.Of(2026, time.July, 20) }, "treatment window", weather.Go},
		"after the window":       {leaf, func(d *weather.Day) { d.Until = civil.Of(2026, time.July, 19) }, "treatment window", weather.NoGo},
		"window not known":       {leaf, func(d *weather.Day) { d.From = 0 }, "treatment window", weather.Unknown},
		"plan not looked at":     {leaf, func(d *weather.Day) { d.Plan = nil }, "plan", weather.Unknown},
		"plan without a verdict": {leaf, func(d *weather.Day) { d.Plan[0].Verdict = 0 }, "plan", weather.Unknown},
		"plan that fell":         {leaf, func(d *weather.Day) { d.Plan[0].Verdict = weather.NoGo }, "plan", weather.NoGo},
		"position not known":     {leaf, func(d *weather.Day) { d.Place = nil }, "daylight", weather.Unknown},
		"nothing measured":       {leaf, func(d *weather.Day) { d.Observed = nil }, "wind, at most", weather.Unknown},
		"measured an hour ago":   {leaf, func(d *weather.Day) { d.Observed.At = morning(8, 0) }, "wind, at most", weather.Go},
		"measured before that":   {leaf, func(d *weather.Day) { d.Observed.At = morning(7, 59) }, "wind, at most", weather.Unknown},
		"wind to come":           {leaf, func(d *weather.Day) { d.For = 61 * time.Minute; d.Forecast[1].Wind = ptr(4.1) }, "wind, label", weather.NoGo},
		"wind after the work":    {leaf, func(d *weather.Day) { d.For = 60 * time.Minute; d.Forecast[1].Wind = ptr(4.1) }, "wind, label", weather.Go},
	} {
		t.Run(name, func(t *testing.T) {
			d := good(c.method)
			c.change(d)
			a := d.Check()
			got := named(t, a, c.what)
			assert.Equal(t, c.want, got.Verdict, got.Why)
			assert.NotEmpty(t, got.Source)
			assert.GreaterOrEqual(t, a.Verdict, got.Verdict)
			if got.Margin != nil && *got.Margin < 0 {
				assert.NotEqual(t, weather.Go, got.Verdict)
				assert.NotEmpty(t, got.Why)
			}
		})
	}
}

// Work that goes on over midnight ends on the next day.
func TestTheWindowHoldsToTheEndOfTheWork(t *testing.T) {
	d := good(rules.HandPull)
	d.Start, d.Until = morning(23, 30), civil.Of(2026, time.July, 20)
	d.For = 29 * time.Minute
	assert.Equal(t, weather.Go, named(t, d.Check(), "treatment window").Verdict)
	d.For = 31 * time.Minute
	assert.Equal(t, weather.NoGo, named(t, d.Check(), "treatment window").Verdict)
}

// A rule that holds in a part of the year holds then alone, also over the year's end.
func TestARuleOfASeason(t *testing.T) {
	d := good(rules.LowVolumeFoliar)
	everywhere(d, func(r *weather.Reading) { r.Wind = ptr(3.9) })
	season := func(fromMonth time.Month, fromDay int, toMonth time.Month, toDay int) weather.Verdict {
		d.Rules = []weather.Rule{{
			Effect: rules.WeatherLimit{Factor: rules.WindSpeed, Max: 8, HasMax: true, Statistic: rules.SustainedMean}, Text: "wind", Source: "invented",
			During: civil.Window{From: civil.DayOfYear{Month: fromMonth, Day: fromDay}, To: civil.DayOfYear{Month: toMonth, Day: toDay}},
		}}
		return named(t, d.Check(), "by rule: wind").Verdict
	}
	assert.Equal(t, weather.NoGo, season(time.July, 20, time.July, 20))
	assert.Equal(t, weather.NoGo, season(time.November, 1, time.July, 20), "wraps the year")
	assert.Equal(t, weather.Go, season(time.November, 1, time.July, 19))
	assert.Equal(t, weather.Go, season(time.July, 21, time.June, 30))
}

func TestTheLightOfTheDay(t *testing.T) {
	d := good(rules.HandPull)
	sun := weather.SunOn(d.Start, 40.4, -75.2)
	for name, c := range map[string]struct {
		start time.Time
		want  weather.Verdict
	}{
		"at sunrise":           {sun.Rise, weather.Go},
		"before sunrise":       {sun.Rise.Add(-time.Second), weather.NoGo},
		"ends at sunset":       {sun.Set.Add(-30 * time.Minute), weather.Go},
		"ends after sunset":    {sun.Set.Add(-30*time.Minute + time.Second), weather.NoGo},
		"begins after it":      {sun.Set.Add(time.Minute), weather.NoGo},
		"in the dead of night": {morning(1, 0), weather.NoGo},
	} {
		t.Run(name, func(t *testing.T) {
			d.Start = c.start
			got := named(t, d.Check(), "daylight")
			assert.Equal(t, c.want, got.Verdict)
			require.NotNil(t, got.Margin)
			assert.Equal(t, c.want == weather.NoGo, *got.Margin < 0)
		})
	}
	d.Start, d.Place = time.Date(2026, time.June, 21, 0, 0, 0, 0, time.UTC), &weather.Place{Latitude: 70, Longitude: 25}
	assert.Equal(t, weather.Go, named(t, d.Check(), "daylight").Verdict, "the sun does not set")
	d.Start = time.Date(2026, time.December, 21, 11, 0, 0, 0, time.UTC)
	assert.Equal(t, weather.NoGo, named(t, d.Check(), "daylight").Verdict, "it does not rise")
}

// Drift limits bear on what is sprayed into the air.
func TestWhichLimitsBearOnWhichMethod(t *testing.T) {
	for _, m := range methods {
		d := good(m)
		everywhere(d, func(r *weather.Reading) {
			r.Wind, r.Gust, r.Humidity, r.Inversion = ptr(6.0), ptr(9.0), ptr(20.0), rules.Yes
		})
		d.MaxWind = ptr(10.0)
		sprayed := m == rules.LowVolumeFoliar || m == rules.HighVolumeFoliar
		assert.Equal(t, sprayed, d.Check().Verdict == weather.NoGo, "%s", m)
		d.Rules = []weather.Rule{{Effect: rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true, Statistic: rules.SustainedMean}, Text: "wind", Source: "invented"}}
		assert.Equal(t, weather.NoGo, d.Check().Verdict, "%s: a rule limits the wind for any method that it is for", m)
	}
	d := good(rules.HandPull)
	d.Observed, d.Forecast, d.Bark, d.Soil = nil, nil, 0, 0
	assert.Equal(t, weather.Go, d.Check().Verdict, "nothing is applied")
	d = good(0)
	assert.NotEqual(t, weather.NoGo, d.Check().Verdict)
	d.Bark = rules.BarkWet
	assert.Equal(t, weather.NoGo, d.Check().Verdict, "of a method that is not known every limit is kept")
}

func TestUntilWhenItHolds(t *testing.T) {
	late := weather.SunOn(morning(9, 0), 40.4, -75.2).Set
	for name, c := range map[string]struct {
		change func(*weather.Day)
		want   time.Time
		why    string
	}{
		"an hour from the measurement": {func(d *weather.Day) { d.Observed.At = morning(8, 40) }, morning(9, 40), "an hour old"},
		"the forecast breaks a limit": {func(d *weather.Day) {
			d.Start, d.Observed.At, d.For = morning(9, 20), morning(9, 10), 10*time.Minute
			d.Forecast[1].Gust = ptr(9.0)
		}, morning(10, 0), "the forecast says NO_GO of gusts"},
		"the forecast does not tell": {func(d *weather.Day) {
			d.Start, d.Observed.At, d.For = morning(9, 20), morning(9, 10), 10*time.Minute
			d.Forecast[1].Humidity = nil
		}, morning(10, 0), "the forecast says UNKNOWN of delta T"},
		"the dry spell": {func(d *weather.Day) { d.Forecast[5].Rain = ptr(1.0); d.RainFree = ptr(4.25) }, morning(9, 45), "4.25 dry hours"},
		"sunset": {func(d *weather.Day) {
			d.Method = rules.HandPull
			d.Start = late.Add(-40 * time.Minute)
			d.Observed.At = d.Start
		}, late, "the sun sets"},
		"hours of the day": {func(d *weather.Day) {
			d.Rules = []weather.Rule{{Effect: rules.DailyHours{Open: rules.ClockHours{From: 6 * 60, To: 9*60 + 50}}, Text: "hours", Source: "invented"}}
		}, morning(9, 50), "hours of the day close"},
		"midnight": {func(d *weather.Day) {
			d.Method, d.Observed, d.Place = rules.HandPull, nil, &weather.Place{Latitude: 70, Longitude: -75}
			d.Start = time.Date(2026, time.July, 20, 22, 0, 0, 0, eastern)
		}, morning(24, 0), "the law was decided for this day"},
	} {
		t.Run(name, func(t *testing.T) {
			d := good(rules.LowVolumeFoliar)
			c.change(d)
			a := d.Check()
			require.True(t, a.Verdict.LetsWork(), "%v", a)
			assert.Equal(t, c.want.UTC(), a.ValidUntil.UTC())
			assert.Contains(t, a.Conditions[0], c.why)
		})
	}
	d := good(rules.LowVolumeFoliar)
	d.Observed.At = morning(8, 0)
	a := d.Check()
	assert.Equal(t, weather.Unknown, a.Verdict)
	assert.Contains(t, named(t, a, "time left").Why, "an hour old then")
	d = good(rules.HandPull)
	d.Observed, d.Forecast = nil, nil
	d.Rules = []weather.Rule{{Effect: rules.DailyHours{Open: rules.ClockHours{From: 6 * 60, To: 19 * 60}}, Text: "hours", Source: "invented"}}
	assert.Equal(t, morning(19, 0), d.Check().ValidUntil.In(eastern), "pulling needs no forecast")
	d = good(rules.LowVolumeFoliar)
	d.Soil = 0
	assert.Zero(t, d.Check().ValidUntil, "only what lets work begin holds for a time")
}

func TestConditionsByMethod(t *testing.T) {
	text := strings.Join(good(rules.LowVolumeFoliar).Check().Conditions, "\n")
	// W17 (extension guidance on droplet sizes), W18 (the classes are relative).
	for _, want := range []string{"at most 20 %", "less than 10 %", "less than 5 %", "no size", "blows towards east"} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, strings.Join(good(rules.BasalBark).Check().Conditions, "\n"), "droplet")
}

func TestHoursOfTheDay(t *testing.T) {
	sunrise := rules.ClockHours{FromAnchor: rules.Sunrise, From: 60, ToAnchor: rules.Sunset, To: -120}
	sun := weather.SunOn(morning(9, 0), 40.4, -75.2)
	for name, c := range map[string]struct {
		open  rules.ClockHours
		start time.Time
		want  weather.Verdict
	}{
		"at the opening":        {rules.ClockHours{From: 9 * 60, To: 17 * 60}, morning(9, 0), weather.Go},
		"before":                {rules.ClockHours{From: 9*60 + 1, To: 17 * 60}, morning(9, 0), weather.NoGo},
		"to the end":            {rules.ClockHours{From: 8 * 60, To: 9*60 + 30}, morning(9, 0), weather.Go},
		"past it":               {rules.ClockHours{From: 8 * 60, To: 9*60 + 29}, morning(9, 0), weather.NoGo},
		"over midnight, early":  {rules.ClockHours{From: 20 * 60, To: 9*60 + 30}, morning(9, 0), weather.Go},
		"over midnight, late":   {rules.ClockHours{From: 20 * 60, To: 6 * 60}, morning(20, 0), weather.Go},
		"over midnight, closed": {rules.ClockHours{From: 20 * 60, To: 9*60 + 29}, morning(9, 0), weather.NoGo},
		"an hour after sunrise": {sunrise, sun.Rise.Add(time.Hour), weather.Go},
		"before that":           {sunrise, sun.Rise.Add(time.Hour - time.Minute), weather.NoGo},
		"2 h before sunset":     {sunrise, sun.Set.Add(-150 * time.Minute), weather.Go},
		"after that":            {sunrise, sun.Set.Add(-149 * time.Minute), weather.NoGo},
	} {
		t.Run(name, func(t *testing.T) {
			d := good(rules.HandPull)
			d.Start, d.Rules = c.start, []weather.Rule{{Effect: rules.DailyHours{Open: c.open}, Text: "hours", Source: "invented"}}
			got := named(t, d.Check(), "by rule: hours of the day")
			assert.Equal(t, c.want, got.Verdict, got.Why)
			assert.Equal(t, c.want == weather.NoGo, *got.Margin < 0)
			d.Place = nil
			if c.open.FromAnchor == rules.Sunrise {
				assert.Equal(t, weather.Unknown, named(t, d.Check(), "by rule: hours of the day").Verdict)
			}
		})
	}
}

// Work that is done is held against every reading that was written down of it, and of what
// was not written down nobody can say that it was kept.
func TestWorkThatIsDoneIsHeldAgainstItsReadings(t *testing.T) {
	at := func(hour, minute int, wind float64) weather.Reading {
		r := mild(morning(hour, minute))
		r.Wind = ptr(wind * mph)
		return r
	}
	noGust, untold := at(9, 0, 5), at(9, 0, 5)
	noGust.Gust, untold.Wind = nil, nil
	for name, c := range map[string]struct {
		written []weather.Reading
		want    weather.Verdict
		why     string
	}{
		"kept":                 {[]weather.Reading{at(12, 0, 5), at(9, 0, 5)}, weather.Go, ""},
		"broken at the start":  {[]weather.Reading{at(9, 0, 11), at(12, 0, 5)}, weather.NoGo, "measured at 09:00 -04:00: above the limit"},
		"broken in between":    {[]weather.Reading{at(9, 0, 5), at(12, 0, 5), at(10, 30, 11)}, weather.NoGo, "measured at 10:30 -04:00: above the limit"},
		"broken at the end":    {[]weather.Reading{at(9, 0, 5), at(12, 0, 11)}, weather.NoGo, "measured at 12:00 -04:00: above the limit"},
		"broken, gust missing": {[]weather.Reading{at(12, 0, 11), noGust}, weather.NoGo, "measured at 12:00 -04:00: above the limit"},
		"gust missing":         {[]weather.Reading{at(12, 0, 5), noGust}, weather.Unknown, "gusts: not known as measured at 09:00 -04:00"},
		"nothing":              {nil, weather.Unknown, "the beginning, 2026-07-20 09:00 -04:00"},
		"no beginning":         {[]weather.Reading{at(12, 0, 5)}, weather.Unknown, "the beginning, 2026-07-20 09:00 -04:00"},
		"no end":               {[]weather.Reading{at(9, 0, 5)}, weather.Unknown, "the end, 2026-07-20 12:00 -04:00"},
		"an hour off is near":  {[]weather.Reading{at(8, 0, 5), at(13, 0, 5)}, weather.Go, ""},
		// Outside of the work, the nearest of an hour stands for an end (common practice, no source).
		"end of the work is over":   {[]weather.Reading{at(9, 0, 5), at(11, 55, 5), at(12, 50, 12)}, weather.Go, ""},
		"waited until it was over":  {[]weather.Reading{at(8, 5, 12), at(9, 0, 5), at(12, 0, 5)}, weather.Go, ""},
		"broken, nearest outside":   {[]weather.Reading{at(9, 0, 5), at(11, 5, 5), at(12, 50, 12)}, weather.NoGo, "measured at 12:50 -04:00: above the limit"},
		"broken, as near outside":   {[]weather.Reading{at(8, 50, 12), at(9, 10, 5), at(12, 0, 5)}, weather.NoGo, "measured at 08:50 -04:00: above the limit"},
		"broken, twice at a time":   {[]weather.Reading{at(8, 50, 5), at(8, 50, 12), at(12, 0, 5)}, weather.NoGo, "measured at 08:50 -04:00: above the limit"},
		"nearer, but does not tell": {[]weather.Reading{at(8, 5, 12), untold, at(12, 0, 5)}, weather.NoGo, "measured at 08:05 -04:00: above the limit"},
		"farther is not":            {[]weather.Reading{at(7, 59, 11), at(12, 0, 5)}, weather.Unknown, "the beginning"},
	} {
		t.Run(name, func(t *testing.T) {
			d := good(rules.LowVolumeFoliar)
			d.Done, d.Written, d.For = true, c.written, 3*time.Hour
			d.Observed = nil
			d.Rules = []weather.Rule{{Effect: rules.WeatherLimit{Factor: rules.WindSpeed, Min: 3, HasMin: true, Max: 10, HasMax: true}, Text: "wind", Source: "invented"}}
			got := named(t, d.Check(), weather.ByRule+": wind")
			assert.Equal(t, c.want, got.Verdict, got.Why)
			assert.Contains(t, got.Why, c.why)
			assert.NotContains(t, got.Why, "wait", "there is nothing left to wait for")
		})
	}
	// What was read before short work says nothing of what came after it.
	d := good(rules.LowVolumeFoliar)
	d.Done, d.Written, d.For = true, []weather.Reading{at(8, 55, 5), at(9, 30, 12)}, 10*time.Minute
	assert.Equal(t, weather.NoGo, named(t, d.Check(), "wind, label").Verdict)
	d.Written[1].At = morning(9, 5)
	d.Written[1].Inversion = rules.Yes
	assert.Equal(t, "measured at 09:05 -04:00: droplets hang in an inversion and drift as a cloud", named(t, d.Check(), "inversion").Why)
}

func TestLimitsOfTheRules(t *testing.T) {
	limit := func(f rules.WeatherFactor, least, most float64, s rules.Statistic) rules.WeatherLimit {
		return rules.WeatherLimit{Factor: f, Min: least, HasMin: least >= 0, Max: most, HasMax: most >= 0, Statistic: s}
	}
	set := func(change func(*weather.Reading)) func(*weather.Day) {
		return func(d *weather.Day) { everywhere(d, change) }
	}
	for name, c := range map[string]struct {
		limit  rules.WeatherLimit
		change func(*weather.Day)
		what   string
		want   weather.Verdict
	}{
		"a reading counts gusts":    {limit(rules.WindSpeed, 3, 6, 0), set(func(r *weather.Reading) { r.Gust = ptr(6.1 * mph) }), "wind", weather.NoGo},
		"gusts at the limit":        {limit(rules.WindSpeed, 3, 6, 0), set(func(r *weather.Reading) { r.Gust = ptr(6 * mph) }), "wind", weather.Go},
		"the mean below":            {limit(rules.WindSpeed, 3, 10, 0), set(func(r *weather.Reading) { r.Wind = ptr(2.9 * mph) }), "wind", weather.NoGo},
		"a mean does not":           {limit(rules.WindSpeed, -1, 6, rules.SustainedMean), set(func(r *weather.Reading) { r.Gust = ptr(9 * mph) }), "wind", weather.Go},
		"gusts alone":               {limit(rules.WindSpeed, -1, 6, rules.Gust), set(func(r *weather.Reading) { r.Gust = ptr(6.1 * mph) }), "wind", weather.NoGo},
		"gusts not known":           {limit(rules.WindSpeed, -1, 6, rules.Reading), set(func(r *weather.Reading) { r.Gust = nil }), "wind", weather.Unknown},
		"a mean above decides":      {limit(rules.WindSpeed, 3, 10, 0), set(func(r *weather.Reading) { r.Wind, r.Gust = ptr(20*mph), nil }), "wind", weather.NoGo},
		"a mean below decides":      {limit(rules.WindSpeed, 3, 10, 0), set(func(r *weather.Reading) { r.Wind, r.Gust = ptr(2*mph), nil }), "wind", weather.NoGo},
		"a mean within does not":    {limit(rules.WindSpeed, 3, 10, 0), set(func(r *weather.Reading) { r.Gust = nil }), "wind", weather.Unknown},
		"gusts without a mean":      {limit(rules.WindSpeed, -1, 10, 0), set(func(r *weather.Reading) { r.Wind = nil }), "wind", weather.Unknown},
		"gusts above without one":   {limit(rules.WindSpeed, -1, 10, 0), set(func(r *weather.Reading) { r.Wind, r.Gust = nil, ptr(11*mph) }), "wind", weather.NoGo},
		"85 °F":                     {limit(rules.AirTemperature, -1, 85, 0), set(func(r *weather.Reading) { r.Temperature = ptr((85 - 32) / 1.8) }), "temperature", weather.Go},
		"85.1 °F":                   {limit(rules.AirTemperature, -1, 85, 0), set(func(r *weather.Reading) { r.Temperature = ptr((85.1 - 32) / 1.8) }), "temperature", weather.NoGo},
		"humidity":                  {limit(rules.RelativeHumidity, 60, -1, 0), set(func(r *weather.Reading) { r.Humidity = ptr(59.9) }), "humidity", weather.NoGo},
		"humidity at":               {limit(rules.RelativeHumidity, 60, -1, 0), set(func(*weather.Reading) {}), "humidity", weather.Go},
		"inversion":                 {limit(rules.Inversion, -1, 0, 0), set(func(r *weather.Reading) { r.Inversion = rules.Yes }), "inversion", weather.NoGo},
		"inversion not looked for":  {limit(rules.Inversion, -1, 0, 0), func(d *weather.Day) { d.Observed.Inversion = 0 }, "inversion", weather.Unknown},
		"dry hours":                 {limit(rules.RainFreeHours, 9, -1, 0), func(*weather.Day) {}, "rain-free hours", weather.Go},
		"more than are forecast":    {limit(rules.RainFreeHours, 9.6, -1, 0), func(*weather.Day) {}, "rain-free hours", weather.Unknown},
		"rain in them":              {limit(rules.RainFreeHours, 9, -1, 0), func(d *weather.Day) { d.Forecast[9].Rain = ptr(1.0) }, "rain-free hours", weather.NoGo},
		"no limit":                  {limit(rules.AirTemperature, -1, -1, 0), func(*weather.Day) {}, "temperature", weather.Unknown},
		"a factor that is not read": {limit(0, -1, 3, 0), func(*weather.Day) {}, "weather", weather.Unknown},
	} {
		t.Run(name, func(t *testing.T) {
			d := good(rules.LowVolumeFoliar)
			d.Rules = []weather.Rule{{Effect: c.limit, Text: c.limit.Text(), Source: "invented"}}
			c.change(d)
			a := d.Check()
			got := named(t, a, "by rule: "+c.what)
			assert.Equal(t, c.want, got.Verdict, got.Why)
			assert.GreaterOrEqual(t, a.Verdict, c.want)
		})
	}
	d := good(rules.LowVolumeFoliar)
	d.Rules = []weather.Rule{{Effect: rules.Prohibit{}, Text: "no", Source: "invented"}}
	assert.Equal(t, weather.Unknown, named(t, d.Check(), "by rule").Verdict)
}
