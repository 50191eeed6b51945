package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/rootward/rules/quantity"
)

// problems gathers what does not hold.
type problems []string

func (p *problems) unless(ok bool, format string, args ...any) {
	if !ok {
		*p = append(*p, fmt.Sprintf(format, args...))
	}
}

const (
	maxBuffer = 50 * quantity.Mile
	// maxDays bounds lead times and deadlines: more than ten years is a slip.
	maxDays = 3_660
	// maxCount bounds numbers of people and dates, and years.
	maxCount = 1_000
)

func (Prohibit) faults() []string { return nil }

func (b Buffer) faults() []string {
	var p problems
	p.unless(!b.Water.Empty() && b.Water.valid(), "water names no class that this program knows")
	p.unless(b.Distance > 0 && b.Distance <= maxBuffer, "distance %d µm is not above 0 and at most 50 miles", b.Distance)
	p.unless(Known(b.From), "it is not said where the distance starts; use one of %s", strings.Join(wordsDistanceOrigin[1:], ", "))
	p.unless(maybeKnown(b.Activity), "the activity is not one of %s", strings.Join(wordsActivity[1:], ", "))
	p.unless(maybeKnown(b.Along), "the distance is not along one of %s", strings.Join(wordsDistanceAlong[1:], ", "))
	if r := b.Reduction; r.Stated() {
		p.unless(r.Distance >= InWater && r.Distance < b.Distance, "the reduced distance %d µm is not %d, which is in the water alone, to less than %d µm", r.Distance, InWater, b.Distance)
		p.unless(stated(r.Evidence) && stated(r.DecidedBy) && stated(r.RecordField), "name the evidence for the reduction, who decides and where it is recorded")
	}
	if a := b.Allowance; a.Stated() {
		p.unless(b.From > WaterEdge, "an allowance makes up for distances that start nearer the water, and none does than the water's edge; leave it out")
		p.unless(a.Distance > 0 && a.Distance <= maxBuffer, "the allowance %d µm is not above 0 and at most 50 miles", a.Distance)
		p.unless(stated(a.Basis), "name what the allowance rests on: the law, or a survey")
	}
	return p
}

// maybeKnown reports whether a word is one of the vocabulary, or not stated.
func maybeKnown[T Vocabulary](v T) bool { return v == 0 || Known(v) }

func (s Setback) faults() []string {
	var p problems
	p.unless(!s.Places.Empty() && s.Places.valid(), "places names no class that this program knows")
	p.unless(s.Distance > 0 && s.Distance <= maxBuffer, "distance %d µm is not above 0 and at most 50 miles", s.Distance)
	if s.Hours.Stated() {
		p = append(p, s.Hours.faults()...)
	}
	return p
}

func (d DailyHours) faults() []string { return d.Open.faults() }

func (h ClockHours) faults() []string {
	var p problems
	p.unless(h.FromAnchor.takes(h.From) && h.ToAnchor.takes(h.To), "%d minutes from %s or %d from %s are no time: count 0 to 1440 from midnight, -720 to 720 from sunrise or sunset", h.From, max(h.FromAnchor, Midnight), h.To, max(h.ToAnchor, Midnight))
	same := max(h.FromAnchor, Midnight) == max(h.ToAnchor, Midnight)
	p.unless(!same || h.From != h.To && h.From-h.To != minutesOfDay, "they end when they start, so that there is no part of the day")
	p.unless(!same || h.To-h.From < minutesOfDay, "they are the whole day; leave them out")
	return p
}

// takes reports whether a time of day can lie so many minutes after the anchor.
func (v ClockAnchor) takes(minutes int) bool {
	if v == 0 || v == Midnight {
		return minutes >= 0 && minutes <= minutesOfDay
	}
	return Known(v) && minutes >= -minutesOfDay/2 && minutes <= minutesOfDay/2
}

func (u UseThreshold) faults() []string {
	var p problems
	p.unless(u.Area >= 0 && u.Length >= 0 && (u.Area > 0) != (u.Length > 0), "state either an area or a length of shore above 0, and not both")
	p.unless(Known(u.RepeatsCounted), "it is not said whether ground treated again counts again")
	p.unless(maybeKnown(u.BothBanks) && (u.BothBanks == 0 || u.Length > 0), "whether both banks count is asked of a length of shore alone")
	p.unless(!u.SingleArea || u.Area > 0, "one area alone can pass a limit of area only")
	p.unless(stated(u.Then), "it is not said what is asked for beyond the limit")
	return p
}

func (l Lookup) faults() []string {
	var p problems
	p.unless(stated(l.Register) && stated(l.Then), "name the register, and what to do about an entry")
	p.unless(l.Within >= 0 && l.Within <= maxBuffer, "distance %d µm is not 0 to 50 miles", l.Within)
	p.unless(l.MaxDays >= 0 && l.MaxDays <= maxDays, "%d days before is not 0 to %d", l.MaxDays, maxDays)
	return p
}

func (c Computed) faults() []string {
	var p problems
	p.unless(stated(c.Method), "the method is not named")
	p.unless(!c.Needs.Empty() && c.Needs.valid(), "it is not said which facts of a site it needs; name some of %s", strings.Join(wordsSiteFact[1:], ", "))
	return p
}

func (w Window) faults() []string {
	var p problems
	p.unless(w.Open.Valid(), "%s is not a part of the year", w.Open)
	return p
}

func (s InSeason) faults() []string {
	var p problems
	p.unless(Known(s.Season), "the season is not one of %s", strings.Join(wordsSeason[1:], ", "))
	p.unless(s.During.Valid(), "%s is not a part of the year", s.During)
	return p
}

func (c Cap) faults() []string {
	var p problems
	p.unless(isName(c.Active), "the active ingredient %q is not a name, or has stray spaces", c.Active)
	p.unless(c.Rate > 0 && c.Rate <= quantity.PoundsPerAcre(100), "rate %.4g lb ae/acre is not above 0 and at most 100", c.Rate.PoundsPerAcre())
	p.unless(maybeKnown(c.Over), "the ground it counts over is not one of %s", strings.Join(wordsAreaCounted[1:], ", "))
	p.unless(maybeKnown(c.RepeatsCounted), "whether ground treated again counts again is neither yes nor no")
	return p
}

func (r RequireStanding) faults() []string {
	var p problems
	p.unless(Known(r.AtLeast), "the standing is not one of %s", strings.Join(wordsStanding[1:], ", "))
	p.unless(r.Categories.valid(), "categories holds a word this program does not know")
	p.unless(r.MaxSupervised >= 0 && r.MaxSupervised <= maxCount, "%d supervised is not 0 to %d", r.MaxSupervised, maxCount)
	return p
}

func (r Permit) faults() []string {
	var p problems
	p.unless(r.Name != "" && r.From != "", "name the permit and who gives it")
	p.unless(r.ValidYears >= 0 && r.ValidYears <= maxCount, "%d years is not 0 to %d", r.ValidYears, maxCount)
	return p
}

func (n Notice) faults() []string {
	var p problems
	p.unless(n.To != "", "it is not said who is told")
	p.unless(n.MinDays >= 0 && n.MinDays <= maxDays, "%d days before is not 0 to %d", n.MinDays, maxDays)
	p.unless(n.MaxDays == 0 || n.MaxDays >= n.MinDays && n.MaxDays <= maxDays, "the earliest day, %d before, lies after the latest, %d before", n.MaxDays, n.MinDays)
	p.unless(n.Within >= 0 && n.RainDates >= 0, "a distance or a number of dates is below zero")
	p.unless(!slices.ContainsFunc(n.Languages, func(s string) bool { return !isName(s) }), "a language is empty or has stray spaces")
	return p
}

func (g Posting) faults() []string {
	var p problems
	p.unless(g.Says != "", "it is not said what the sign says")
	p.unless(g.Width >= 0 && g.Height >= 0, "a sign's size is below zero")
	p.unless(g.Every >= 0 && g.EarliestHours >= 0 && g.RemoveWithinDays >= 0, "a spacing or a time is below zero")
	return p
}

func (w WeatherLimit) faults() []string {
	var p problems
	p.unless(Known(w.Factor), "the factor is not one of %s", strings.Join(wordsWeatherFactor[1:], ", "))
	p.unless(w.HasMin || w.HasMax, "neither a lower nor an upper limit is stated")
	p.unless(finite(w.Min) && finite(w.Max), "a limit is not a finite number")
	p.unless(!w.HasMin || !w.HasMax || w.Min <= w.Max, "the lower limit %g lies above the upper, %g", w.Min, w.Max)
	p.unless(maybeKnown(w.Statistic), "the statistic is not one of %s", strings.Join(wordsStatistic[1:], ", "))
	p.unless(w.OverMinutes >= 0 && w.OverMinutes <= minutesOfDay, "%d minutes is not 0 to %d", w.OverMinutes, minutesOfDay)
	p.unless(w.OverMinutes == 0 || w.Statistic > Reading, "a single reading is not taken over %d minutes; say which statistic is meant", w.OverMinutes)
	if most, ok := scales[w.Factor]; ok && finite(w.Min) && finite(w.Max) {
		p.unless(min(w.Min, w.Max) >= 0 && max(w.Min, w.Max) <= most, "the limits %g and %g do not both lie between 0 and %g, where %s does", w.Min, w.Max, most, w.Factor)
	}
	return p
}

// scales gives the greatest value of factors that cannot be less than zero.
var scales = map[WeatherFactor]float64{Inversion: 1, RelativeHumidity: 100}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (r Record) faults() []string {
	var p problems
	p.unless(len(r.Fields) > 0 && !slices.Contains(r.Fields, ""), "it is not said what is recorded")
	p.unless(r.WithinDays >= 0 && r.WithinDays <= maxDays && r.KeepYears >= 0 && r.KeepYears <= 100, "the deadline or the years to keep are out of range")
	p.unless(r.WithinHours >= 0 && r.WithinHours <= 24*maxDays, "%d hours is not 0 to %d", r.WithinHours, 24*maxDays)
	p.unless(r.WithinHours == 0 || r.WithinDays == 0, "the deadline is stated in days and in hours; state it once")
	return p
}

func (e EntryInterval) faults() []string {
	var p problems
	p.unless(e.Hours > 0 && e.Hours <= 24*365, "%d hours is not 1 to 8760", e.Hours)
	return p
}

func (e ExclusionZone) faults() []string {
	var p problems
	p.unless(e.Radius >= 0 && e.Radius <= quantity.Mile, "radius %d µm is not 0 to one mile", e.Radius)
	return p
}

func (w Warn) faults() []string {
	var p problems
	p.unless(w.Message != "", "the warning says nothing")
	return p
}
