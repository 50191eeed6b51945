package civil

import (
	"fmt"
	"time"
)

// Date is a day of the proleptic Gregorian calendar, counted from 1 January of
// year 1 as day 1. Zero is no date.
type Date int32

var epoch = time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC)

// lastDate is 31 December 9999, the last day that YYYY-MM-DD can write.
var lastDate = Of(9999, time.December, 31)

// Of gives the date, normalising overflow as time.Date does (32 January is
// 1 February). What does not come to lie in the years 1 to 9999 gives no date.
func Of(year int, month time.Month, day int) Date {
	// Far beyond the years in question, time.Date wraps.
	const far = 10_000_000
	if max(year, int(month), day) > far || min(year, int(month), day) < -far {
		return 0
	}
	t := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if t.Year() < 1 || t.Year() > 9999 {
		return 0
	}
	return Date(t.Unix()/secondsPerDay-epoch.Unix()/secondsPerDay) + 1
}

const secondsPerDay = 24 * 60 * 60

// Parse reads an ISO 8601 calendar date, YYYY-MM-DD.
func Parse(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1 {
		return 0, fmt.Errorf("date %q is not a day of the calendar written YYYY-MM-DD", s)
	}
	return Of(t.Date()), nil
}

// Known reports whether there is a date at all.
func (d Date) Known() bool { return d > 0 }

// Parts gives year, month and day, all zero for no date.
func (d Date) Parts() (int, time.Month, int) {
	if !d.Known() {
		return 0, 0, 0
	}
	return time.Unix(epoch.Unix()+int64(d-1)*secondsPerDay, 0).UTC().Date()
}

// String gives YYYY-MM-DD, and "unknown" for no date.
func (d Date) String() string {
	if !d.Known() {
		return "unknown"
	}
	year, month, day := d.Parts()
	return fmt.Sprintf("%04d-%02d-%02d", year, month, day)
}

// AddDays gives the date n days later. From no date there is none, nor is there
// one outside the years 1 to 9999.
func (d Date) AddDays(n int) Date {
	if !d.Known() || n < 1-int(d) || n > int(lastDate-d) {
		return 0
	}
	return d + Date(n)
}

// DayOfYear gives the day's place in the calendar; for no date it is not Valid.
func (d Date) DayOfYear() DayOfYear {
	_, month, day := d.Parts()
	return DayOfYear{Month: month, Day: day}
}

// MarshalText writes YYYY-MM-DD, and nothing for no date.
func (d Date) MarshalText() ([]byte, error) {
	if !d.Known() {
		return nil, nil
	}
	return []byte(d.String()), nil
}

// UnmarshalText reads what MarshalText writes.
func (d *Date) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = 0
		return nil
	}
	parsed, err := Parse(string(text))
	*d = parsed
	return err
}
