package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/ruletest"
)

func TestTable(t *testing.T)  { ruletest.Check(t, table) }
func TestBinary(t *testing.T) { ruletest.CheckBinary(t, ".") }

func TestHook(t *testing.T) {
	station := place(0, 0, 0)
	station.Temperatures = warmFrom(civil.Of(2026, 1, 1), 365, 11_00)
	tarn := place(2_500_000, -1_000_000, 3_000)
	tarn.Temperatures = warmFrom(civil.Of(2026, 1, 1), 200, 2_00)
	far := place(400_000_000, 0, 0)
	far.Temperatures = &rules.TemperatureSeries{First: civil.Of(2026, 5, 1), Min: []int32{0}, Max: []int32{0}}
	ruletest.CheckHook(t, plugin(), station, tarn, far)
}

// place is a site so many ten-millionths of a degree and feet off the valley station.
func place(north, east int32, up quantity.Micrometres) rules.SiteFacts {
	return rules.SiteFacts{
		HasPosition: true, Latitude: valley.From.Latitude + north, Longitude: valley.From.Longitude + east,
		HasElevation: true, Elevation: valley.From.Elevation + up*quantity.Foot,
	}
}

// warmFrom is days of one temperature.
func warmFrom(first civil.Date, days int, t int32) *rules.TemperatureSeries {
	s := &rules.TemperatureSeries{First: first}
	for range days {
		s.Min, s.Max = append(s.Min, t), append(s.Max, t)
	}
	return s
}

const degree = 10_000_000

// 4 days for a degree of latitude, for 400 ft and for 5 degrees of longitude
// (Applications in Plant Sciences 7(3) e01228, 2019; its text has spring later going
// west). The wire carries whole centimetres, and 100 ft are 3,048 of them.
func TestTheWindowMovesWithTheMountain(t *testing.T) {
	cases := []struct {
		name string
		site rules.SiteFacts
		want string // the window, or the kind of another answer
	}{
		{"at the station", place(0, 0, 0), "1 July to 30 September"},
		{"100 ft up is a day", place(0, 0, 100), "2 July to 29 September"},
		{"a foot more begins another", place(0, 0, 101), "3 July to 28 September"},
		{"a foot less does not end the first", place(0, 0, 99), "2 July to 29 September"},
		{"100 ft down", place(0, 0, -100), "30 June to 1 October"},
		{"less than that does not widen it", place(0, 0, -99), "1 July to 30 September"},
		{"a degree north and 400 ft up", place(degree, 0, 400), "9 July to 22 September"},
		{"5 degrees west", place(0, -5*degree, 0), "5 July to 26 September"},
		{"5 degrees east", place(0, 5*degree, 0), "27 June to 4 October"},
		{"4,500 ft up two days are left", place(0, 0, 4_500), "15 August to 16 August"},
		{"a foot more and none is", place(0, 0, 4_501), "closed"},
		{"beyond where the law is followed", place(23*degree, 0, 0), "undetermined"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, said(ruletest.Answer(t, plugin(), foliarRow, civil.Of(2026, 8, 10), c.site)))
		})
	}
}

func said(a rules.Answer) string {
	if a.Kind == rules.OpenDuring {
		return a.Open.String()
	}
	return a.Kind.String()
}

// A day of 20 °C gives 10 degree days above 10 °C by each of the methods.
func TestBarkOpensByWarmth(t *testing.T) {
	from, june := civil.Of(2026, 1, 1), civil.Of(2026, 6, 10)
	cold := 120 // days without warmth; 1 May is the first with it
	year := func(warmDays int) *rules.TemperatureSeries {
		s := warmFrom(from, cold, 5_00)
		s.Min, s.Max = append(s.Min, make([]int32, warmDays)...), append(s.Max, make([]int32, warmDays)...)
		for i := range warmDays {
			s.Min[cold+i], s.Max[cold+i] = 15_00, 25_00
		}
		return s
	}
	late := warmFrom(from, 365, 11_00) // 300 degree days on 27 October
	cases := []struct {
		name   string
		on     civil.Date
		series *rules.TemperatureSeries
		want   string
	}{
		{"30 days of 10, reached on 30 May", june, year(60), "31 May to 31 October"},
		{"on the first open day", civil.Of(2026, 5, 31), year(30), "31 May to 31 October"},
		{"on the day on which it is reached", civil.Of(2026, 5, 30), year(29), "closed"},
		{"temperatures end the day before it", civil.Of(2026, 5, 31), year(29), "undetermined"},
		{"temperatures end early but it was reached", june, year(30), "31 May to 31 October"},
		{"last year's temperatures", june, warmFrom(civil.Of(2025, 1, 1), 365, 20_00), "undetermined"},
		{"temperatures from 2 January on", june, warmFrom(from+1, 200, 20_00), "undetermined"},
		{"late in the year", civil.Of(2026, 11, 5), late, "28 October to 31 October"},
		{"the day before New Year's Day", civil.Of(2026, 12, 31), warmFrom(from, 365, 10_99), "closed"},
		{"New Year's Day", from, warmFrom(from, 1, 20_00), "closed"},
		{"reached after the season", civil.Of(2026, 12, 31), warmFrom(from, 365, 10_95), "closed"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			a := ruletest.Answer(t, plugin(), barkRow, c.on, rules.SiteFacts{Temperatures: c.series})
			assert.Equal(t, c.want, said(a), a.Words)
		})
	}
	a := ruletest.Answer(t, plugin(), barkRow, civil.Of(2026, 12, 31), rules.SiteFacts{Temperatures: warmFrom(from, 365, 10_95)})
	assert.Contains(t, a.Words, "after the season")
}

func TestAnotherRowIsAnError(t *testing.T) {
	_, err := evaluate(t.Context(), "window-of-nothing", civil.Of(2026, time.May, 1), nil)
	require.ErrorContains(t, err, "window-of-nothing")
}
