package civil

import (
	"fmt"
	"time"
)

// DayOfYear is a month and a day, of every year.
type DayOfYear struct {
	Month time.Month
	Day   int
}

// Valid reports whether the day exists in a leap year.
func (d DayOfYear) Valid() bool {
	return d.Month >= 1 && d.Month <= 12 && d.Day >= 1 && d.Day <= daysIn(d.Month)
}

func daysIn(m time.Month) int { return time.Date(2000, m+1, 0, 0, 0, 0, 0, time.UTC).Day() }

// String gives the day as "1 July".
func (d DayOfYear) String() string { return fmt.Sprintf("%d %s", d.Day, d.Month) }

// ordinal sorts days within a year; months are given 32 places each, so that
// the order does not depend on leap years.
func (d DayOfYear) ordinal() int { return int(d.Month)*32 + d.Day }

// Window is the part of every year from one day to another, both included. From
// a later to an earlier day it wraps over the year's end. A window that ends on
// 28 February also holds 29 February: its end is the last day of the month.
type Window struct {
	From, To DayOfYear
}

// Valid reports whether both ends are days of the calendar.
func (w Window) Valid() bool { return w.From.Valid() && w.To.Valid() }

// String gives the window as "15 July to 15 October".
func (w Window) String() string { return w.From.String() + " to " + w.To.String() }

// Holds reports whether the date is within the window. No date is within any.
func (w Window) Holds(d Date) bool {
	if !d.Known() {
		return false
	}
	from, to, at := w.From.ordinal(), w.To.ordinal(), d.DayOfYear().ordinal()
	wraps := from > to
	if w.To == (DayOfYear{time.February, 28}) {
		to++
	}
	if wraps {
		return at >= from || at <= to
	}
	return from <= at && at <= to
}

// Next gives the first date on or after d on which every window is open, and
// false if there is none within eight years (eight, for 29 February alone can
// be that far off, over the turn of a century).
func Next(d Date, windows []Window) (Date, bool) {
	if !d.Known() || AllHold(windows, d) {
		return d, d.Known()
	}
	// If they are not all open on d, the first day they are is the first of one.
	year, _, _ := d.Parts()
	for y := year; y <= year+8; y++ {
		var first Date
		for _, w := range windows {
			opens := Of(y, w.From.Month, w.From.Day)
			if opens > d && (first == 0 || opens < first) && AllHold(windows, opens) {
				first = opens
			}
		}
		if first != 0 {
			return first, true
		}
	}
	return 0, false
}

// AllHold reports whether every window is open on a day.
func AllHold(windows []Window, d Date) bool {
	for _, w := range windows {
		if !w.Holds(d) {
			return false
		}
	}
	return true
}

// Complement gives the rest of the year, and false if the window is all of it. It
// holds no day of the window; that of a window that starts on 29 February ends on
// 27 February, since an end on the 28th would hold the 29th.
func (w Window) Complement() (Window, bool) {
	rest := w.arc().rest()
	if rest.length == 0 {
		return Window{}, false
	}
	c := rest.window()
	if c.To == (DayOfYear{time.February, 28}) {
		if rest.length == 1 {
			return Window{}, false
		}
		c.To.Day = 27
	}
	return c, true
}

// Except gives the parts of the window that another does not hold, at most two. One
// that ends on 28 February holds the 29th as well.
func (w Window) Except(other Window) []Window {
	var parts []Window
	a, b := w.arc(), other.arc().rest()
	for _, from := range []int{a.from, b.from} {
		if n := min(a.left(from), b.left(from)); n > 0 && (len(parts) == 0 || a.from != b.from) {
			parts = append(parts, arc{from: from, length: n}.window())
		}
	}
	return parts
}

// arc is a part of the circle of a leap year's days, from 0 for 1 January.
type arc struct{ from, length int }

const daysOfYear = 366

func (w Window) arc() arc {
	from, to := w.From.index(), w.To.index()
	if from > to {
		to += daysOfYear
	}
	if w.To == (DayOfYear{time.February, 28}) {
		to++
	}
	return arc{from: from, length: min(to-from+1, daysOfYear)}
}

func (a arc) rest() arc {
	return arc{from: (a.from + a.length) % daysOfYear, length: daysOfYear - a.length}
}

// left is how many days of the arc are left from a day on, none if it does not
// hold the day.
func (a arc) left(day int) int {
	return a.length - (day-a.from+daysOfYear)%daysOfYear
}

func (a arc) window() Window {
	return Window{From: dayAt(a.from), To: dayAt((a.from + a.length - 1) % daysOfYear)}
}

func (d DayOfYear) index() int {
	return time.Date(2000, d.Month, d.Day, 0, 0, 0, 0, time.UTC).YearDay() - 1
}

func dayAt(index int) DayOfYear {
	t := time.Date(2000, time.January, 1+index, 0, 0, 0, 0, time.UTC)
	return DayOfYear{Month: t.Month(), Day: t.Day()}
}

// Meets reports whether the windows have a day in common.
func (w Window) Meets(other Window) bool {
	a, b := w.arc(), other.arc()
	return a.left(b.from) > 0 || b.left(a.from) > 0
}
