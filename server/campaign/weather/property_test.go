package weather_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"example.org/rootward/rules"
	"example.org/rootward/server/campaign/weather"
)

// drawDay draws a day round the limits, with values missing here and there.
func drawDay(t *rapid.T) *weather.Day {
	maybe := func(name string, low, high float64) *float64 {
		if rapid.IntRange(0, 19).Draw(t, name+" missing") == 0 {
			return nil
		}
		return ptr(float64(rapid.IntRange(int(low*10), int(high*10)).Draw(t, name)) / 10)
	}
	reading := func(at time.Time) weather.Reading {
		return weather.Reading{
			At: at, Wind: maybe("wind", 1, 5), Gust: maybe("gust", 1, 5), Temperature: maybe("temperature", 10, 26), Humidity: maybe("humidity", 30, 95),
			Rain: maybe("rain", -0.2, 0.1), RainChance: maybe("chance", 0, 55), Inversion: rapid.SampledFrom([]rules.YesNo{rules.No, rules.No, rules.No, rules.Yes, 0}).Draw(t, "inversion"),
		}
	}
	d := good(rapid.SampledFrom(append(methods, 0)).Draw(t, "method"))
	d.Kind, d.Oil = rapid.SampledFrom(append(rules.Words[rules.FormulationKind](), 0)).Draw(t, "kind"), rapid.Bool().Draw(t, "oil")
	d.For = time.Duration(rapid.IntRange(1, 120).Draw(t, "minutes")) * time.Minute
	observed := reading(morning(8, 30))
	d.Observed = &observed
	for i := range d.Forecast {
		d.Forecast[i] = reading(d.Forecast[i].At)
		if r := &d.Forecast[i]; r.Rain != nil {
			r.Rain = ptr(max(0, *r.Rain))
		}
	}
	d.RainFree, d.MaxTemperature, d.MaxWind = maybe("rain-free", 0, 5), maybe("label heat", 20, 30), maybe("label wind", 2, 5)
	d.Bark = rapid.SampledFrom([]rules.BarkState{rules.BarkDry, rules.BarkDry, rules.BarkWet, 0}).Draw(t, "bark")
	d.Soil = rapid.SampledFrom([]rules.SoilState{rules.SoilDry, rules.SoilMoist, rules.SoilWet, 0}).Draw(t, "soil")
	for _, w := range []rules.WeatherLimit{
		{Factor: rules.WindSpeed, Min: 3, HasMin: true, Max: 10, HasMax: true}, {Factor: rules.WindSpeed, Max: 10, HasMax: true, Statistic: rules.SustainedMean},
		{Factor: rules.WindSpeed, Max: 10, HasMax: true, Statistic: rules.Gust}, {Factor: rules.AirTemperature, Max: 78, HasMax: true},
		{Factor: rules.Inversion, Max: 0, HasMax: true}, {Factor: rules.RainFreeHours, Min: 4, HasMin: true},
		{Factor: rules.RelativeHumidity, Min: 30, HasMin: true}, {Factor: rules.DeltaT, Max: 8, HasMax: true},
	} {
		if rapid.IntRange(0, 3).Draw(t, "rule") == 0 {
			d.Rules = append(d.Rules, weather.Rule{Effect: w, Text: w.Text(), Source: "invented"})
		}
	}
	return d
}

// drawReading picks what was measured or an hour of the forecast.
func drawReading(t *rapid.T, d *weather.Day) *weather.Reading {
	if at := rapid.IntRange(-1, len(d.Forecast)-1).Draw(t, "reading"); at >= 0 {
		return &d.Forecast[at]
	}
	return d.Observed
}

func copied(d *weather.Day) *weather.Day {
	c := *d
	observed := *d.Observed
	c.Observed = &observed
	c.Forecast = append([]weather.Reading(nil), d.Forecast...)
	return &c
}

// worsenings make one value worse, where it is known. Heat dries the air, so that it is
// worse only where the air is not too moist, and cold only where it is not too dry.
var worsenings = map[string]func(*weather.Day, *weather.Reading, float64){
	"more wind": func(_ *weather.Day, r *weather.Reading, by float64) {
		if r.Wind != nil && *r.Wind >= 3*mph {
			r.Wind = ptr(*r.Wind + by)
		}
	},
	"less wind": func(_ *weather.Day, r *weather.Reading, by float64) {
		if r.Wind != nil && *r.Wind <= 2 {
			r.Wind = ptr(max(0, *r.Wind-by))
		}
	},
	"gusts": func(_ *weather.Day, r *weather.Reading, by float64) {
		if r.Gust != nil {
			r.Gust = ptr(*r.Gust + by)
		}
	},
	"heat": func(_ *weather.Day, r *weather.Reading, by float64) {
		if d, ok := delta(r); ok && d >= 2 {
			r.Temperature = ptr(*r.Temperature + by)
		}
	},
	"cold": func(_ *weather.Day, r *weather.Reading, by float64) {
		if d, ok := delta(r); ok && d <= 8 && *r.Temperature < 20 {
			r.Temperature = ptr(*r.Temperature - 3*by)
		}
	},
	"dry air": func(_ *weather.Day, r *weather.Reading, by float64) {
		if d, ok := delta(r); ok && d >= 2 {
			r.Humidity = ptr(max(5, *r.Humidity-by*5))
		}
	},
	"inversion": func(_ *weather.Day, r *weather.Reading, _ float64) { r.Inversion = rules.Yes },
	"rain": func(_ *weather.Day, r *weather.Reading, by float64) {
		if r.Rain != nil {
			r.Rain = ptr(*r.Rain + by)
		}
	},
	"chance of rain": func(_ *weather.Day, r *weather.Reading, by float64) {
		if r.RainChance != nil {
			r.RainChance = ptr(min(100, *r.RainChance+10*by))
		}
	},
	"wet bark":    func(d *weather.Day, _ *weather.Reading, _ float64) { d.Bark = worse(d.Bark, rules.BarkWet) },
	"frozen bark": func(d *weather.Day, _ *weather.Reading, _ float64) { d.Bark = worse(d.Bark, rules.BarkFrozen) },
	"wet soil":    func(d *weather.Day, _ *weather.Reading, _ float64) { d.Soil = worse(d.Soil, rules.SoilWet) },
	"frozen soil": func(d *weather.Day, _ *weather.Reading, _ float64) { d.Soil = worse(d.Soil, rules.SoilFrozen) },
	"longer work": func(d *weather.Day, _ *weather.Reading, by float64) { d.For += time.Duration(by * float64(time.Hour)) },
	"stricter label": func(d *weather.Day, _ *weather.Reading, by float64) {
		if d.MaxTemperature != nil {
			d.MaxTemperature = ptr(*d.MaxTemperature - by)
		}
	},
	"more dry hours": func(d *weather.Day, _ *weather.Reading, by float64) {
		if d.RainFree != nil {
			d.RainFree = ptr(*d.RainFree + by)
		}
	},
	"old measurement": func(d *weather.Day, _ *weather.Reading, by float64) {
		d.Observed.At = d.Observed.At.Add(-time.Duration(by * float64(time.Hour)))
	},
}

// worse is the later state of the vocabulary, if it is known at all: to find out is not to
// worsen.
func worse[T rules.BarkState | rules.SoilState](is, becomes T) T {
	if is == 0 {
		return 0
	}
	return max(is, becomes)
}

func delta(r *weather.Reading) (float64, bool) {
	if r.Temperature == nil || r.Humidity == nil {
		return 0, false
	}
	return weather.DeltaT(*r.Temperature, *r.Humidity)
}

// A measurement that is too old is none, so that it may turn a no into a not known, and
// never into leave.
func TestWhatWorsensMakesNoVerdictBetter(t *testing.T) {
	for name, worsen := range worsenings {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			d := drawDay(t)
			before := d.Check()
			w := copied(d)
			by := float64(rapid.IntRange(1, 30).Draw(t, "by")) / 10
			if rapid.Bool().Draw(t, "one") {
				worsen(w, drawReading(t, w), by)
			} else {
				worsen(w, w.Observed, by)
			}
			after := w.Check()
			if name == "old measurement" {
				assert.False(t, after.Verdict.LetsWork() && !before.Verdict.LetsWork())
				return
			}
			assert.GreaterOrEqual(t, after.Verdict, before.Verdict, "%v\nwas %v", after.Checks, before.Checks)
		}))
	}
}

// removals take one value away.
var removals = map[string]func(*weather.Day, *weather.Reading){
	"wind":          func(_ *weather.Day, r *weather.Reading) { r.Wind = nil },
	"gust":          func(_ *weather.Day, r *weather.Reading) { r.Gust = nil },
	"temperature":   func(_ *weather.Day, r *weather.Reading) { r.Temperature = nil },
	"humidity":      func(_ *weather.Day, r *weather.Reading) { r.Humidity = nil },
	"rain":          func(_ *weather.Day, r *weather.Reading) { r.Rain = nil },
	"chance":        func(_ *weather.Day, r *weather.Reading) { r.RainChance = nil },
	"inversion":     func(_ *weather.Day, r *weather.Reading) { r.Inversion = 0 },
	"bark":          func(d *weather.Day, _ *weather.Reading) { d.Bark = 0 },
	"soil":          func(d *weather.Day, _ *weather.Reading) { d.Soil = 0 },
	"measurement":   func(d *weather.Day, _ *weather.Reading) { d.Observed = nil },
	"forecast":      func(d *weather.Day, _ *weather.Reading) { d.Forecast = nil },
	"position":      func(d *weather.Day, _ *weather.Reading) { d.Place = nil },
	"window":        func(d *weather.Day, _ *weather.Reading) { d.From = 0 },
	"method":        func(d *weather.Day, _ *weather.Reading) { d.Method = 0 },
	"formulation":   func(d *weather.Day, _ *weather.Reading) { d.Kind = 0 },
	"label's heat":  func(d *weather.Day, _ *weather.Reading) { d.MaxTemperature = nil },
	"label's wind":  func(d *weather.Day, _ *weather.Reading) { d.MaxWind = nil },
	"label's hours": func(d *weather.Day, _ *weather.Reading) { d.RainFree = nil },
	"an hour": func(d *weather.Day, r *weather.Reading) {
		for i := range d.Forecast {
			if &d.Forecast[i] == r {
				d.Forecast = append(d.Forecast[:i:i], d.Forecast[i+1:]...)
				return
			}
		}
	},
}

// What is taken away never gives a GO that was not there, and never leave to work either,
// but for the label's own limits, without which it is a caution to read the label, and an
// inversion that no forecast tells of, which is a caution to look for it.
func TestWhatIsTakenAwayNeverGivesAGo(t *testing.T) {
	for name, remove := range removals {
		t.Run(name, rapid.MakeCheck(func(t *rapid.T) {
			d := drawDay(t)
			before := d.Check().Verdict
			c := copied(d)
			remove(c, drawReading(t, c))
			after := c.Check().Verdict
			assert.False(t, after == weather.Go && before != weather.Go, "%s became %s", before, after)
			switch name {
			case "label's heat", "label's wind", "label's hours", "inversion":
			default:
				assert.False(t, after.LetsWork() && !before.LetsWork(), "%s became %s", before, after)
			}
		}))
	}
}

// What holds until a time still holds shortly before it.
func TestAVerdictHoldsUntilItsTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDay(t)
		d.For = time.Minute
		a := d.Check()
		if !a.Verdict.LetsWork() {
			return
		}
		assert.True(t, a.ValidUntil.After(d.Start))
		assert.False(t, a.ValidUntil.After(d.Observed.At.Add(weather.Fresh)) && d.Method != rules.HandPull)
		later := copied(d)
		later.Start = a.ValidUntil.Add(-time.Duration(rapid.IntRange(1, 60).Draw(t, "before")) * time.Minute)
		if later.Start.Before(d.Start) {
			return
		}
		assert.True(t, later.Check().Verdict.LetsWork(), "%v", later.Check())
	})
}
