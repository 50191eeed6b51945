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
