package weather

import (
	"fmt"
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// Reading is the weather as it was measured, or the forecast of the hour from At on. What
// is nil was not measured or is not forecast.
type Reading struct {
	At          time.Time
	Wind        *float64 // mean sustained wind, m/s
	Gust        *float64 // m/s
	WindFrom    *float64 // degrees from north
	Temperature *float64 // °C
	Humidity    *float64 // relative, percent
	Rain        *float64 // mm in the hour
	RainChance  *float64 // percent
	Inversion   rules.YesNo
}

// Work is what is to be done. A method that is not stated is held to every limit.
type Work struct {
	Method rules.Method
	Kind   rules.FormulationKind
	Oil    bool // it is carried in oil
	Start  time.Time
	For    time.Duration
	// Place is where it is done, nil if that is not known; Zone is the time of day there.
	Place *Place
	Zone  *time.Location
	// From and Until are the treatment window of the job; no Until: it does not close.
	From, Until civil.Date
}

// Place is a position in degrees.
type Place struct{ Latitude, Longitude float64 }

// Label is what the label limits, as the caller states it, and what is known of the
// formulation besides.
type Label struct {
	MaxTemperature *float64 // °C
	MaxWind        *float64 // m/s
	RainFree       *float64 // hours
	// Usual are the rain-free hours of the formulation where the label's are not stated.
	Usual       *float64
	UsualSource string
}

// Rule is a limit that the rules that govern put on the weather or the hours of the day.
type Rule struct {
	Effect rules.Effect // a WeatherLimit or DailyHours
	During civil.Window // the part of the year in which it holds; not valid: all of it
	// Uncertain says that it is not known whether the rule applies, or an exemption from
	// it does: then it is kept.
	Uncertain bool
	Text      string
	Source    string
}

// Day is all that is held against the limits.
type Day struct {
	Work
	Label
	Observed *Reading
	Forecast []Reading // in any order
	// Done says that the work is done: what was Written down of it, in any order, is held
	// against the limits on what varies by the hour, but for rain.
	Done    bool
	Written []Reading
	Bark    rules.BarkState
	Soil    rules.SoilState
	Rules   []Rule
	// Plan says whether what was planned still holds on the day, which the caller finds out.
	// Without any it is not known.
	Plan []Check
}

// Answer is a go or a no-go.
type Answer struct {
	Verdict    Verdict
	Checks     []Check
	ValidUntil time.Time // zero unless work may begin
	Conditions []string
}

// Check holds a day against every limit that bears on the work.
func (d *Day) Check() Answer {
	d = d.sorted()
	a := Answer{Verdict: Go}
	a.Checks = append(a.Checks, d.planned()...)
	a.Checks = append(a.Checks, d.window(), d.daylight())
	at := d.atWork()
	for _, l := range d.limits() {
		a.Checks = append(a.Checks, l.over(at))
	}
	a.Checks = append(a.Checks, d.unread()...)
	a.Checks = append(a.Checks, d.ofGround()...)
	if rain := d.rain(); rain != nil {
		a.Checks = append(a.Checks, *rain)
	}
	for i := range d.Rules {
		a.Checks = append(a.Checks, d.byRule(&d.Rules[i], at))
	}
	a.sum()
	a.Conditions = d.conditions()
	if a.Verdict.LetsWork() {
		d.limitTime(&a)
	}
	return a
}

func (a *Answer) sum() {
	for i := range a.Checks {
		if a.Checks[i].Verdict == 0 {
			a.Checks[i].Verdict = Unknown
		}
		a.Verdict = max(a.Verdict, a.Checks[i].Verdict)
	}
}

// limitTime says until when a verdict holds that lets work begin. One that holds for no
// time lets nothing begin.
func (d *Day) limitTime(a *Answer) {
	until, why := d.validUntil()
	if !until.After(d.Start) {
		a.Checks = append(a.Checks, Check{What: "time left", Verdict: Unknown, Why: why + ": measure, and check anew", Source: "the checks above"})
		a.sum()
		return
	}
	a.ValidUntil = until
	a.Conditions = append([]string{fmt.Sprintf("This holds until %s: %s. Stop then, or measure and check anew.", d.clock(until), why)}, a.Conditions...)
}

func (d *Day) planned() []Check {
	if len(d.Plan) == 0 {
		return []Check{{What: "plan", Verdict: Unknown, Why: "nobody has looked whether the plan still holds", Source: sourceJob}}
	}
	return d.Plan
}

func (d *Day) sorted() *Day {
	s := *d
	s.Forecast = slices.SortedFunc(slices.Values(d.Forecast), func(a, b Reading) int { return a.At.Compare(b.At) })
	s.Written = slices.SortedFunc(slices.Values(d.Written), func(a, b Reading) int { return a.At.Compare(b.At) })
	for _, list := range [][]Reading{s.Forecast, s.Written} {
		for i := range list {
			list[i].At = list[i].At.In(s.zone()) // as it is shown
		}
	}
	return &s
}

func (d *Day) end() time.Time { return d.Start.Add(d.For) }

func (d *Day) clock(t time.Time) string { return t.In(d.zone()).Format("2006-01-02 15:04 -07:00") }

func (d *Day) zone() *time.Location {
	if d.Zone == nil {
		return time.UTC
	}
	return d.Zone
}

func (d *Day) dayOf(t time.Time) civil.Date {
	year, month, day := t.In(d.zone()).Date()
	return civil.Of(year, month, day)
}

// Fresh is how old a measurement may be when work begins, and how long what rests on it
// holds (common practice, no source).
const Fresh = time.Hour

// spell is what is known of the weather over a time, and why not all of it is.
type spell struct {
	measured []Reading
	forecast []Reading
	gap      string
	done     *Day // the work that was done meanwhile; nil: it is to come
}

// atWork is the weather while the work is done: as it was measured, and as it is forecast
// for every hour that the work touches.
func (d *Day) atWork() spell {
	if d.Done {
		return d.written()
	}
	var s spell
	s.forecast, s.gap = d.hours(d.Start, d.end())
	switch o := d.Observed; {
	case o == nil:
		s.gap = "it was not measured"
	case o.At.After(d.Start) || d.Start.Sub(o.At) > Fresh:
		s.gap = fmt.Sprintf("it was measured at %s, and not within the hour before %s", d.clock(o.At), d.clock(d.Start))
	default:
		s.measured = []Reading{*o}
	}
	return s
}

// written is what was written down of work that is done. Like a measurement before it, a
// reading speaks for the hour round it, and beginning and end are to be known.
func (d *Day) written() spell {
	s := spell{done: d}
	var began, ended bool
	for _, r := range d.Written {
		atStart, atEnd := r.off(d.Start) <= Fresh, r.off(d.end()) <= Fresh
		began, ended = began || atStart, ended || atEnd
		if atStart || atEnd || r.At.After(d.Start) && r.At.Before(d.end()) {
			s.measured = append(s.measured, r)
		}
	}
	switch {
	case !began:
		s.gap = fmt.Sprintf("nothing was written down within the hour round the beginning, %s", d.clock(d.Start))
	case !ended:
		s.gap = fmt.Sprintf("nothing was written down within the hour round the end, %s", d.clock(d.end()))
	}
	return s
}

func (r *Reading) off(t time.Time) time.Duration { return r.At.Sub(t).Abs() }

// telling are the readings that are held against a limit on a value. Of work that is done
// one before the beginning or after the end is, unless a nearer one tells the value, which
// is not beyond the other end.
func (s *spell) telling(value func(*Reading) (float64, bool)) []Reading {
	if s.done == nil {
		return s.measured
	}
	start, end := s.done.Start, s.done.end()
	atStart, atEnd := Fresh, Fresh
	for i := range s.measured {
		r := &s.measured[i]
		if _, known := value(r); !known {
			continue
		}
		if !r.At.After(end) {
			atStart = min(atStart, r.off(start))
		}
		if !r.At.Before(start) {
			atEnd = min(atEnd, r.off(end))
		}
	}
	var list []Reading
	for _, r := range s.measured {
		if r.At.Before(start) && r.off(start) > atStart || r.At.After(end) && r.off(end) > atEnd {
			continue
		}
		list = append(list, r)
	}
	return list
}

// hours gives the forecast of every hour that a time touches, and what is missing.
func (d *Day) hours(from, to time.Time) (list []Reading, gap string) {
	covered := from
	for _, r := range d.Forecast {
		end := r.At.Add(time.Hour)
		if !end.After(from) || !r.At.Before(to) {
			continue
		}
		if r.At.After(covered) && gap == "" {
			gap = "no forecast for " + d.clock(covered)
		}
		list = append(list, r)
		covered = end
	}
	if covered.Before(to) && gap == "" {
		gap = "no forecast for " + d.clock(covered)
	}
	return list, gap
}
