package civil_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/civil"
)

// Every day of two centuries, against package time.
func TestEveryDayOfTwoCenturies(t *testing.T) {
	first := time.Date(1900, time.January, 1, 0, 0, 0, 0, time.UTC)
	date := civil.Of(1900, time.January, 1)
	for at := first; at.Year() <= 2100; at = at.AddDate(0, 0, 1) {
		year, month, day := date.Parts()
		if year != at.Year() || month != at.Month() || day != at.Day() {
			t.Fatalf("%s has parts %d %d %d", at.Format(time.DateOnly), year, month, day)
		}
		parsed, err := civil.Parse(at.Format(time.DateOnly))
		if err != nil || parsed != date || civil.Of(at.Date()) != date || date.String() != at.Format(time.DateOnly) {
			t.Fatalf("%s: parsed %s (%v), of its parts %s", date, parsed, err, civil.Of(at.Date()))
		}
		if got := date.DayOfYear(); got != (civil.DayOfYear{Month: month, Day: day}) || !got.Valid() {
			t.Fatalf("%s is day %s", date, got)
		}
		date = date.AddDays(1)
	}
}

func TestParse(t *testing.T) {
	cases := []struct {
		name, text, want string // want is empty for an error
	}{
		{"plain day", "2026-07-15", "2026-07-15"},
		{"leap day", "2028-02-29", "2028-02-29"},
		{"first day there is", "0001-01-01", "0001-01-01"},
		{"last day there is", "9999-12-31", "9999-12-31"},
		{"no leap day in that year", "2026-02-29", ""},
		{"no leap day at the turn of that century", "2100-02-29", ""},
		{"thirteenth month", "2026-13-01", ""},
		{"31 June", "2026-06-31", ""},
		{"year zero", "0000-12-31", ""},
		{"one digit for the month", "2026-7-15", ""},
		{"day first", "15-07-2026", ""},
		{"slashes", "2026/07/15", ""},
		{"with a time of day", "2026-07-15T00:00:00Z", ""},
		{"blank before it", " 2026-07-15", ""},
		{"five digits for the year", "12026-07-15", ""},
		{"nothing", "", ""},
		{"a word", "unknown", ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			date, err := civil.Parse(c.text)
			if c.want == "" {
				assert.ErrorContains(t, err, "YYYY-MM-DD")
				assert.False(t, date.Known())
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.want, date.String())
		})
	}
}

func TestOfNormalisesAndRefusesOtherYears(t *testing.T) {
	cases := []struct {
		name  string
		year  int
		month time.Month
		day   int
		want  string
	}{
		{"32 January is 1 February", 2026, time.January, 32, "2026-02-01"},
		{"0 March is the last of February", 2028, time.March, 0, "2028-02-29"},
		{"29 February of a common year is 1 March", 2026, time.February, 29, "2026-03-01"},
		{"month 13 is January", 2026, 13, 1, "2027-01-01"},
		{"before year 1", 0, time.December, 31, "unknown"},
		{"after year 9999", 10_000, time.January, 1, "unknown"},
		{"a year that package time would wrap", math.MaxInt, time.January, 1, "unknown"},
		{"a day that package time would wrap", 2026, time.January, math.MinInt, "unknown"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, civil.Of(c.year, c.month, c.day).String())
		})
	}
	// Whatever comes in, a date that comes out lies in the years there are.
	rapid.Check(t, func(t *rapid.T) {
		d := civil.Of(rapid.Int().Draw(t, "year"), time.Month(rapid.Int().Draw(t, "month")), rapid.Int().Draw(t, "day"))
		if d.Known() {
			assert.LessOrEqual(t, d, civil.Of(9999, time.December, 31))
		}
	})
}

// Nothing follows from a date that nobody knows, and no sum leaves the calendar.
func TestAddDays(t *testing.T) {
	var unknown civil.Date
	first, last := civil.Of(1, time.January, 1), civil.Of(9999, time.December, 31)
	cases := []struct {
		name string
		from civil.Date
		days int
		want string
	}{
		{"30 days over the year's end", civil.Of(2025, time.December, 15), 30, "2026-01-14"},
		{"30 days over a leap day", civil.Of(2028, time.February, 1), 30, "2028-03-02"},
		{"backwards", civil.Of(2026, time.March, 1), -1, "2026-02-28"},
		{"to the first day", civil.Of(1, time.January, 31), -30, "0001-01-01"},
		{"to the last day", last, 0, "9999-12-31"},
		{"30 days after no date", unknown, 30, "unknown"},
		{"before the first day", first, -1, "unknown"},
		{"after the last day", last, 1, "unknown"},
		{"more days than there are", first, math.MaxInt, "unknown"},
		{"fewer days than there are", last, math.MinInt, "unknown"},
		{"a number of days that fits no date's size", first, 1 << 32, "unknown"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, c.from.AddDays(c.days).String()) })
	}
}

func TestNoDate(t *testing.T) {
	var none civil.Date
	assert.False(t, none.Known())
	assert.Equal(t, "unknown", none.String())
	year, month, day := none.Parts()
	assert.Zero(t, year)
	assert.Zero(t, month)
	assert.Zero(t, day)
	assert.False(t, none.DayOfYear().Valid())
	text, err := none.MarshalText()
	require.NoError(t, err)
	assert.Empty(t, text)
}

func TestDatesAsJSON(t *testing.T) {
	type plan struct{ Treated, Felled civil.Date }
	text, err := json.Marshal(plan{Treated: civil.Of(2026, time.August, 1)})
	require.NoError(t, err)
	assert.JSONEq(t, `{"Treated":"2026-08-01","Felled":""}`, string(text))

	var read plan
	require.NoError(t, json.Unmarshal(text, &read))
	assert.Equal(t, "2026-08-01", read.Treated.String())
	assert.False(t, read.Felled.Known())
	assert.ErrorContains(t, json.Unmarshal([]byte(`{"Felled":"2026-02-30"}`), &read), "2026-02-30")
	assert.False(t, read.Felled.Known())
}

// What is read is written back letter for letter.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{"2026-07-15", "2028-02-29", "2100-02-29", "0000-01-01", "9999-12-31", "2026-7-1", ""} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		date, err := civil.Parse(text)
		if err != nil {
			assert.False(t, date.Known())
			return
		}
		assert.True(t, date.Known())
		assert.Equal(t, text, date.String())
	})
}
