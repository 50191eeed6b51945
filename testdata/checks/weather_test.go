package checks_test

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/weather"
)

func TestWeather(t *testing.T) { drive(t, "weather") }

// weathers are the limits of the day, each held against by a day on which all else is kept.
var weathers = map[string]func(*input) answer{
	"wet_bulb_c": func(in *input) answer {
		wet, ok := weather.WetBulb(in.number("temperature_c"), in.number("humidity_percent"))
		require.True(in.t, ok)
		return number(wet)
	},
	"delta_t_c": func(in *input) answer {
		d, ok := weather.DeltaT(in.number("temperature_c"), in.number("humidity_percent"))
		require.True(in.t, ok)
		return number(d)
	},
	"delta_t_verdict": func(in *input) answer {
		humidity := humidityOf(in.number("delta_t_c"))
		return verdict(fairDay(rules.LowVolumeFoliar), func(r *weather.Reading) { r.Temperature, r.Humidity = new(25.0), &humidity })
	},
	"wind_verdict": func(in *input) answer {
		wind, inversion := in.number("mph")*weather.MetresPerSecond, rules.YesNo(0)
		if in.text("inversion") != "not_stated" {
			inversion = vocabulary[rules.YesNo](in, "inversion")
		}
		d := fairDay(rules.LowVolumeFoliar)
		d.MaxWind = nil
		return worstOf(d, "wind, at least", "wind, at most", "inversion")(func(r *weather.Reading) { r.Wind, r.Inversion = &wind, inversion })
	},
	"gust_verdict": func(in *input) answer {
		gust := in.number("mph") * weather.MetresPerSecond
		d := fairDay(rules.LowVolumeFoliar)
		d.MaxWind = nil
		return worstOf(d, "gusts")(func(r *weather.Reading) { r.Gust = &gust })
	},
	"oil_verdict": func(in *input) answer {
		d, heat := fairDay(rules.BasalBark), in.number("temperature_c")
		d.Kind, d.Oil = rules.Ester, true
		return verdict(d, func(r *weather.Reading) { r.Temperature = &heat })
	},
	"bark_verdict": func(in *input) answer {
		d := fairDay(rules.BasalBark)
		d.Bark = vocabulary[rules.BarkState](in, "bark_state")
		return verdict(d, func(*weather.Reading) {})
	},
	"fine_droplets_percent": func(in *input) answer {
		class := strings.ReplaceAll(in.text("class"), "_", " ")
		found := regexp.MustCompile(`of a ` + class + ` (?:spray|one) (?:at most|less than) (\d+) %`).FindStringSubmatch(conditionsOf())
		require.NotNil(in.t, found)
		percent, err := strconv.ParseFloat(found[1], 64)
		require.NoError(in.t, err)
		return number(percent)
	},
	"droplet_class": func(*input) answer {
		return either(strings.Contains(conditionsOf(), "A class is relative to reference nozzles, and no size"), "relative", "a size")
	},
	"wind_rule": func(in *input) answer {
		d := fairDay(rules.LowVolumeFoliar)
		year, month, day := in.date("date").Parts()
		shift := time.Date(year, month, day, 13, 0, 0, 0, time.UTC).Sub(d.Start)
		d.Start, d.Observed.At, d.From, d.Until = d.Start.Add(shift), d.Observed.At.Add(shift), civil.Of(year, time.January, 1), 0
		for i := range d.Forecast {
			d.Forecast[i].At = d.Forecast[i].At.Add(shift)
		}
		d.Rules = []weather.Rule{{Effect: windLimit, During: civil.Window{From: dayOfYear(in, "from"), To: dayOfYear(in, "to")}, Text: windLimit.Text(), Source: "as read"}}
		wind := in.number("mph") * weather.MetresPerSecond
		return worstOf(d, "by rule: wind")(func(r *weather.Reading) { r.Wind = &wind })
	},
	"wind_rule_kind": windRuleKind,
}

var windLimit = rules.WeatherLimit{Factor: rules.WindSpeed, Max: 10, HasMax: true, Statistic: rules.SustainedMean}

// windRuleKind asks a table of one row whether it is for the formulation, and then holds
// the wind against it.
func windRuleKind(in *input) answer {
	from := civil.Of(2024, time.January, 1)
	set, err := rules.NewSet(rules.Table{
		Manifest: rules.Manifest{ID: "nation", Version: "1", Title: "One row", Publisher: "Invented agency", Layer: rules.Federal, Scope: "us", ValidFrom: from},
		Rows: []rules.Row{{
			ID: "wind", Purpose: "Limits the wind in one row.", Citation: "as read", ValidFrom: from, Effect: windLimit,
			Unless: []rules.Selector{{Formulations: rules.AnyOf(rules.DryGranule)}},
		}},
	})
	require.NoError(in.t, err)
	wind := in.number("mph") * weather.MetresPerSecond
	treatment := rules.Treatment{Method: rules.LowVolumeFoliar, Formulation: vocabulary[rules.FormulationKind](in, "kind")}
	found := rules.Govern("us", summer, []*rules.Set{set}).Narrow(treatment).Explain(&rules.Surroundings{})
	if len(found) == 0 {
		return word("exempt")
	}
	d := fairDay(rules.LowVolumeFoliar)
	d.Rules = []weather.Rule{{Effect: found[0].Row.Effect, Text: found[0].Text(), Source: found[0].Row.Citation, Uncertain: !found[0].Certain}}
	return worstOf(d, "by rule: wind")(func(r *weather.Reading) { r.Wind = &wind })
}

// dayOfYear reads a month and a day, as MM-DD.
func dayOfYear(in *input, key string) civil.DayOfYear {
	d, err := time.Parse("01-02", in.text(key))
	require.NoError(in.t, err)
	return civil.DayOfYear{Month: d.Month(), Day: d.Day()}
}

// fairDay keeps every limit.
func fairDay(method rules.Method) *weather.Day {
	start := time.Date(2025, time.July, 20, 13, 0, 0, 0, time.UTC)
	fair := func(at time.Time) weather.Reading {
		return weather.Reading{
			At: at, Wind: new(2.0), Gust: new(3.0), Temperature: new(20.0), Humidity: new(60.0), Rain: new(0.0), RainChance: new(0.0), Inversion: rules.No,
		}
	}
	observed := fair(start)
	d := &weather.Day{
		Work: weather.Work{
			Method: method, Kind: rules.WaterSalt, Start: start, For: time.Hour, Zone: time.FixedZone("", -4*3600),
			Place: &weather.Place{Latitude: 40, Longitude: -75}, From: civil.Of(2025, time.July, 15), Until: civil.Of(2025, time.October, 15),
		},
		Label:    weather.Label{MaxTemperature: new(40.0), MaxWind: new(10.0), RainFree: new(1.0)},
		Observed: &observed, Bark: rules.BarkDry, Soil: rules.SoilMoist, Plan: []weather.Check{{Verdict: weather.Go}},
	}
	for hour := range 3 {
		d.Forecast = append(d.Forecast, fair(start.Add(time.Duration(hour)*time.Hour)))
	}
	return d
}

// verdict is that on the whole day, once what was measured and is forecast is changed.
func verdict(d *weather.Day, change func(*weather.Reading)) answer {
	changed(d, change)
	return word(strings.ToLower(d.Check().Verdict.String()))
}

// worstOf is the worst verdict on the named limits.
func worstOf(d *weather.Day, names ...string) func(func(*weather.Reading)) answer {
	return func(change func(*weather.Reading)) answer {
		changed(d, change)
		worst := weather.Verdict(0)
		for _, c := range d.Check().Checks {
			for _, name := range names {
				if c.What == name {
					worst = max(worst, c.Verdict)
				}
			}
		}
		return word(strings.ToLower(worst.String()))
	}
}

func changed(d *weather.Day, change func(*weather.Reading)) {
	change(d.Observed)
	for i := range d.Forecast {
		change(&d.Forecast[i])
	}
}

func conditionsOf() string {
	return strings.Join(fairDay(rules.LowVolumeFoliar).Check().Conditions, "\n")
}

// humidityOf is the humidity at which air of 25 °C has a delta T.
func humidityOf(want float64) float64 {
	low, high := 5.0, 99.0
	for range 100 {
		mid := (low + high) / 2
		if d, _ := weather.DeltaT(25, mid); d > want {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

func saturationOf(in *input) answer { return number(saturation(in.number("temperature_c"))) }

func vapourPressure(in *input) answer {
	moist := saturation(in.number("min_c")) * in.number("max_humidity_percent")
	return number((moist + saturation(in.number("max_c"))*in.number("min_humidity_percent")) / 200)
}

// saturation is e°(T) in kPa of FAO Irrigation and Drainage Paper 56 (from memory).
func saturation(celsius float64) float64 {
	return 0.6108 * math.Exp(17.27*celsius/(celsius+237.3))
}
