package weather_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/server/campaign/weather"
)

func ptr[T any](v T) *T { return &v }

// eastern is the time of day in summer in the west of the Atlantic.
var eastern = time.FixedZone("", -4*3600)

// morning is a time of day on which leaves are sprayed.
func morning(hour, minute int) time.Time {
	return time.Date(2026, time.July, 20, hour, minute, 0, 0, eastern)
}

// mild is weather that keeps every limit: 70 °F, 60 %, 5 mph.
func mild(at time.Time) weather.Reading {
	return weather.Reading{
		At: at, Wind: ptr(2.2352), Gust: ptr(3.0), WindFrom: ptr(270.0), Temperature: ptr(21.0), Humidity: ptr(60.0),
		Rain: ptr(0.0), RainChance: ptr(5.0), Inversion: rules.No,
	}
}

// good is a day on which everything is known and kept.
func good(method rules.Method) *weather.Day {
	d := &weather.Day{
		Work: weather.Work{
			Method: method, Kind: rules.WaterSalt, Start: morning(9, 0), For: 30 * time.Minute, Zone: eastern,
			Place: &weather.Place{Latitude: 40.4, Longitude: -75.2},
			From:  civil.Of(2026, time.July, 15), Until: civil.Of(2026, time.October, 15),
		},
		Label: weather.Label{MaxTemperature: ptr(32.0), MaxWind: ptr(4.0), RainFree: ptr(4.0)},
		Bark:  rules.BarkDry, Soil: rules.SoilMoist,
		Plan: []weather.Check{{What: "plan", Verdict: weather.Go, Source: "invented"}},
	}
	observed := mild(morning(9, 0))
	d.Observed = &observed
	for hour := range 10 {
		d.Forecast = append(d.Forecast, mild(morning(9+hour, 0)))
	}
	return d
}

// everywhere changes what was measured and what is forecast.
func everywhere(d *weather.Day, change func(*weather.Reading)) {
	change(d.Observed)
	for i := range d.Forecast {
		change(&d.Forecast[i])
	}
}

func named(t *testing.T, a weather.Answer, what string) weather.Check {
	t.Helper()
	for _, c := range a.Checks {
		if c.What == what {
			return c
		}
	}
	require.Fail(t, "no such check", what)
	return weather.Check{}
}

var methods = rules.Words[rules.Method]()
