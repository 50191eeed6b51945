package weather

import (
	"fmt"
	"slices"
	"time"

	"example.org/rootward/rules"
)

// validUntil is until when work may rest on a verdict that lets it begin, and what ends
// it: the earliest of the measurement's age, the first hour of the forecast that breaks a
// limit or does not tell, the dry spell less the hours wanted after the work, sunset, the
// closing of hours, and the end of the day for which the law was decided.
func (d *Day) validUntil() (time.Time, string) {
	until, why := d.midnight().AddDate(0, 0, 1), "the law was decided for this day"
	sooner := func(t time.Time, because string) {
		if t.Before(until) {
			until, why = t, because
		}
	}
	if d.Observed != nil {
		sooner(d.Observed.At.Add(Fresh), "the measurement is an hour old then (common practice, no source)")
	}
	if d.Place != nil {
		if sun := d.sun(); !sun.Up && !sun.Down {
			sooner(sun.Set, "the sun sets")
		}
	}
	if d.needsForecast() {
		sooner(d.firstBreach())
	}
	for _, need := range d.dryNeeds() {
		dry, _ := d.dryUntil()
		sooner(dry.Add(-asTime(need)), fmt.Sprintf("after that the forecast does not promise %g dry hours", need))
	}
	for i := range d.Rules {
		if e, ok := d.Rules[i].Effect.(rules.DailyHours); ok {
			if _, closes, known := d.open(e.Open); known && closes.After(d.Start) {
				sooner(closes, "the hours of the day close that a rule states")
			}
		}
	}
	return until, why
}

// needsForecast reports whether a limit bears on the work that varies by the hour.
func (d *Day) needsForecast() bool {
	return len(d.limits()) > 0 || slices.ContainsFunc(d.Rules, func(r Rule) bool {
		w, ok := r.Effect.(rules.WeatherLimit)
		return ok && w.Factor != rules.RainFreeHours
	})
}

// firstBreach is the first hour from the beginning of the work on for which the forecast
// breaks a limit, or does not tell.
func (d *Day) firstBreach() (time.Time, string) {
	at := d.Start
	for _, r := range d.Forecast {
		end := r.At.Add(time.Hour)
		if !end.After(at) {
			continue
		}
		if r.At.After(at) {
			return at, "the forecast has a gap"
		}
		if what, v := d.inHour(r); !v.LetsWork() {
			return at, "the forecast says " + v.String() + " of " + what
		}
		at = end
	}
	return at, "the forecast ends"
}

// inHour is the worst that the limits say of an hour of the forecast.
func (d *Day) inHour(r Reading) (string, Verdict) {
	at := spell{forecast: []Reading{r}}
	what, worst := "", Go
	note := func(c Check) {
		if c.Verdict > worst {
			what, worst = c.What, c.Verdict
		}
	}
	for _, l := range d.limits() {
		note(l.over(at))
	}
	for i := range d.Rules {
		if e, ok := d.Rules[i].Effect.(rules.WeatherLimit); ok && e.Factor != rules.RainFreeHours {
			note(d.byRule(&d.Rules[i], at))
		}
	}
	return what, worst
}

// dryNeeds are the hours without rain that label and rules ask for.
func (d *Day) dryNeeds() []float64 {
	var list []float64
	if need, _, wanted := d.rainFree(); wanted && need != nil {
		list = append(list, *need)
	}
	for i := range d.Rules {
		r := &d.Rules[i]
		if e, ok := r.Effect.(rules.WeatherLimit); ok && e.Factor == rules.RainFreeHours && e.HasMin && (!r.During.Valid() || r.During.Holds(d.dayOf(d.Start))) {
			list = append(list, e.Min)
		}
	}
	return list
}
