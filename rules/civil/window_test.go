package civil_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/civil"
)

// windowOf reads a window from four numbers.
func windowOf(fromMonth time.Month, fromDay int, toMonth time.Month, toDay int) civil.Window {
	return civil.Window{From: civil.DayOfYear{Month: fromMonth, Day: fromDay}, To: civil.DayOfYear{Month: toMonth, Day: toDay}}
}

var (
	summer    = windowOf(time.July, 15, time.October, 15)
	felling   = windowOf(time.November, 15, time.April, 30) // wraps the year's end
	winter    = windowOf(time.December, 1, time.February, 28)
	february  = windowOf(time.February, 1, time.February, 28)
	leapDay   = windowOf(time.February, 29, time.February, 29)
	wholeYear = windowOf(time.January, 1, time.December, 31)
)

func date(t require.TestingT, text string) civil.Date {
	d, err := civil.Parse(text)
	require.NoError(t, err)
	return d
}

func TestWindowHolds(t *testing.T) {
	cases := []struct {
		name   string
		window civil.Window
		day    string
		want   bool
	}{
		{"day before it opens", summer, "2026-07-14", false},
		{"day it opens", summer, "2026-07-15", true},
		{"day it closes", summer, "2026-10-15", true},
		{"day after it closes", summer, "2026-10-16", false},
		{"wrapping, day before it opens", felling, "2026-11-14", false},
		{"wrapping, day it opens", felling, "2026-11-15", true},
		{"wrapping, last day of the year", felling, "2026-12-31", true},
		{"wrapping, first day of the year", felling, "2027-01-01", true},
		{"wrapping, leap day inside", felling, "2028-02-29", true},
		{"wrapping, day it closes", felling, "2027-04-30", true},
		{"wrapping, day after it closes", felling, "2027-05-01", false},
		{"to 28 February holds the 28th", february, "2026-02-28", true},
		{"to 28 February holds the leap day", february, "2028-02-29", true},
		{"to 28 February, 1 March", february, "2028-03-01", false},
		{"wrapping to 28 February holds the leap day", winter, "2028-02-29", true},
		{"wrapping to 28 February, 1 March", winter, "2026-03-01", false},
		{"leap day alone", leapDay, "2028-02-29", true},
		{"leap day alone, 28 February", leapDay, "2028-02-28", false},
		{"leap day alone, 1 March of a common year", leapDay, "2026-03-01", false},
		{"to 27 February does not hold the 28th", windowOf(time.February, 1, time.February, 27), "2028-02-28", false},
		{"from 28 February to itself holds the leap day", windowOf(time.February, 28, time.February, 28), "2028-02-29", true},
		{"from the leap day round to 28 February is all year", windowOf(time.February, 29, time.February, 28), "2026-08-01", true},
		{"from 1 March round to 28 February is all year", windowOf(time.March, 1, time.February, 28), "2028-02-29", true},
		{"whole year, first day", wholeYear, "2026-01-01", true},
		{"whole year, last day", wholeYear, "2026-12-31", true},
		{"one day, that day", windowOf(time.May, 5, time.May, 5), "2026-05-05", true},
		{"one day, the next", windowOf(time.May, 5, time.May, 5), "2026-05-06", false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.True(t, c.window.Valid())
			assert.Equal(t, c.want, c.window.Holds(date(t, c.day)))
		})
	}
}

func TestNoDateIsWithinNoWindow(t *testing.T) {
	for _, w := range []civil.Window{summer, felling, winter, wholeYear, {}} {
		assert.False(t, w.Holds(0), w.String())
	}
	_, ok := civil.Next(0, nil)
	assert.False(t, ok)
}

func TestDaysOfTheYear(t *testing.T) {
	cases := []struct {
		name  string
		month time.Month
		day   int
		valid bool
	}{
		{"31 January", time.January, 31, true},
		{"29 February", time.February, 29, true},
		{"30 February", time.February, 30, false},
		{"31 April", time.April, 31, false},
		{"31 December", time.December, 31, true},
		{"32 December", time.December, 32, false},
		{"day zero", time.March, 0, false},
		{"month zero", 0, 1, false},
		{"month 13", 13, 1, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.valid, civil.DayOfYear{Month: c.month, Day: c.day}.Valid())
			assert.Equal(t, c.valid, windowOf(time.January, 1, c.month, c.day).Valid())
			assert.Equal(t, c.valid, windowOf(c.month, c.day, time.January, 1).Valid())
		})
	}
	assert.Equal(t, "15 July to 15 October", summer.String())
}

func TestNext(t *testing.T) {
	cases := []struct {
		name    string
		windows []civil.Window
		from    string
		next    string // empty: there is none
	}{
		{"open today", []civil.Window{summer}, "2026-08-01", "2026-08-01"},
		{"opens this year", []civil.Window{summer}, "2026-07-01", "2026-07-15"},
		{"opens next year", []civil.Window{summer}, "2026-10-20", "2027-07-15"},
		{"wrapping", []civil.Window{felling}, "2026-05-01", "2026-11-15"},
		{"two that overlap", []civil.Window{summer, windowOf(time.September, 1, time.December, 31)}, "2026-08-01", "2026-09-01"},
		{"two that wrap", []civil.Window{felling, winter}, "2026-03-01", "2026-12-01"},
		{"two that wrap, to a leap year", []civil.Window{felling, winter}, "2027-03-01", "2027-12-01"},
		{"two that never meet", []civil.Window{summer, felling}, "2026-08-01", ""},
		{"leap day alone", []civil.Window{leapDay}, "2026-03-01", "2028-02-29"},
		{"leap day alone, over the turn of a century", []civil.Window{leapDay}, "2096-03-01", "2104-02-29"},
		{"from the leap day on, in a common year", []civil.Window{windowOf(time.February, 29, time.March, 15)}, "2026-01-01", "2026-03-01"},
		{"none", nil, "2026-08-01", "2026-08-01"},
		{"whole year", []civil.Window{wholeYear}, "2026-08-01", "2026-08-01"},
		{"at the end of the calendar", []civil.Window{summer}, "9999-11-01", ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			next, ok := civil.Next(date(t, c.from), c.windows)
			require.Equal(t, c.next != "", ok)
			if !ok {
				assert.False(t, next.Known())
				return
			}
			assert.Equal(t, c.next, next.String())
		})
	}
}

// drawWindow draws a valid window; ends of February come often.
func drawWindow(t *rapid.T) civil.Window {
	day := func(name string) civil.DayOfYear {
		if rapid.IntRange(0, 5).Draw(t, name+" is special") == 0 {
			return rapid.SampledFrom([]civil.DayOfYear{
				{Month: time.February, Day: 28}, {Month: time.February, Day: 29}, {Month: time.March, Day: 1},
				{Month: time.January, Day: 1}, {Month: time.December, Day: 31},
			}).Draw(t, name)
		}
		leapYear := civil.Of(2028, time.January, 1)
		return leapYear.AddDays(rapid.IntRange(0, 365).Draw(t, name)).DayOfYear()
	}
	return civil.Window{From: day("from"), To: day("to")}
}

// Next against a walk day by day.
func TestNextIsTheFirstDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		windows := make([]civil.Window, rapid.IntRange(1, 3).Draw(t, "windows"))
		for i := range windows {
			windows[i] = drawWindow(t)
		}
		from := civil.Of(1899, time.January, 1).AddDays(rapid.IntRange(0, 210*365).Draw(t, "from"))
		next, ok := civil.Next(from, windows)
		horizon := from.AddDays(8 * 365)
		if ok {
			require.True(t, civil.AllHold(windows, next), "%s with %v", next, windows)
			require.GreaterOrEqual(t, next, from)
			horizon = next.AddDays(-1)
		}
		for d := from; d <= horizon; d = d.AddDays(1) {
			require.False(t, civil.AllHold(windows, d), "%v hold on %s, before %s", windows, d, next)
		}
	})
}

// A window and the rest of the year hold each day once.
func TestAWindowAndItsRestMakeTheYear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWindow(t)
		if w.To == (civil.DayOfYear{Month: time.February, Day: 28}) || w.From == (civil.DayOfYear{Month: time.February, Day: 29}) {
			return // 29 February then goes with the end of the month, or is its own
		}
		leap := civil.Of(2028, time.January, 1)
		of := func(d civil.DayOfYear, n int) civil.DayOfYear {
			return civil.Of(2028, d.Month, d.Day).AddDays(n).DayOfYear()
		}
		rest := civil.Window{From: of(w.To, 1), To: of(w.From, -1)}
		if of(w.To, 1) == w.From || rest.To == (civil.DayOfYear{Month: time.February, Day: 28}) {
			return // the window is the whole year
		}
		for n := range 366 {
			d := leap.AddDays(n)
			require.NotEqual(t, w.Holds(d), rest.Holds(d), "%s: %s and %s", d, w, rest)
		}
	})
}

func BenchmarkHolds(b *testing.B) {
	d := civil.Of(2026, time.August, 1)
	for b.Loop() {
		summer.Holds(d)
	}
}

// BenchmarkNext looks for a day that does not come.
func BenchmarkNext(b *testing.B) {
	windows := []civil.Window{summer, felling}
	d := civil.Of(2026, time.August, 1)
	for b.Loop() {
		civil.Next(d, windows)
	}
}

func TestComplement(t *testing.T) {
	cases := []struct {
		name   string
		window civil.Window
		want   string // empty: there is none
	}{
		{"summer", summer, "16 October to 14 July"},
		{"wrapping", felling, "1 May to 14 November"},
		{"to the end of February", winter, "1 March to 30 November"},
		{"to the leap day", windowOf(time.December, 1, time.February, 29), "1 March to 30 November"},
		{"from the leap day", windowOf(time.February, 29, time.April, 30), "1 May to 27 February"},
		{"from 1 March", windowOf(time.March, 1, time.April, 30), "1 May to 29 February"},
		{"one day", windowOf(time.May, 5, time.May, 5), "6 May to 4 May"},
		{"all but one day", windowOf(time.May, 6, time.May, 4), "5 May to 5 May"},
		{"all but 28 February", windowOf(time.February, 29, time.February, 27), ""},
		{"the whole year", wholeYear, ""},
		{"the whole year from March", windowOf(time.March, 1, time.February, 28), ""},
		{"the whole year from the leap day", windowOf(time.February, 29, time.February, 28), ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			rest, ok := c.window.Complement()
			assert.Equal(t, c.want != "", ok)
			if ok {
				assert.Equal(t, c.want, rest.String())
			}
		})
	}
}

func leapYear() (days []civil.Date) {
	for d := civil.Of(2028, time.January, 1); d <= civil.Of(2028, time.December, 31); d++ {
		days = append(days, d)
	}
	return days
}

// A complement holds no day of the window, and every other but 28 February.
func TestAComplementIsTheRest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWindow(t)
		rest, ok := w.Complement()
		for _, d := range leapYear() {
			switch {
			case w.Holds(d):
				require.False(t, ok && rest.Holds(d), "%s: %s and %s", d, w, rest)
			case d.DayOfYear() != civil.DayOfYear{Month: time.February, Day: 28}:
				require.True(t, ok && rest.Holds(d), "%s: %s and %s", d, w, rest)
			}
		}
	})
}

// The parts of a window outside another hold each of its days that the other does not,
// and no other but the leap day.
func TestExceptIsTheDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, other := drawWindow(t), drawWindow(t)
		parts := w.Except(other)
		require.LessOrEqual(t, len(parts), 2)
		meets := false
		for _, d := range leapYear() {
			held := false
			for _, p := range parts {
				held = held || p.Holds(d)
			}
			meets = meets || w.Holds(d) && other.Holds(d)
			want := w.Holds(d) && !other.Holds(d)
			if want || d != civil.Of(2028, time.February, 29) {
				require.Equal(t, want, held, "%s: %s except %s is %v", d, w, other, parts)
			}
		}
		require.Equal(t, meets, w.Meets(other), "%s and %s", w, other)
		require.Equal(t, meets, other.Meets(w))
	})
}
