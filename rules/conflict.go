package rules

import (
	"fmt"
	"strings"

	"example.org/rootward/rules/civil"
)

// Conflict is two rows of different rule sets that ask for different things of one
// kind of the same treatment.
type Conflict struct {
	Holds Finding // the stricter, which holds
	Other Finding
	// Both says that neither takes in the other: Holds is the first of the two, and
	// each is to be met.
	Both bool
	// Impossible says that nothing meets both; the treatment can then not be done.
	Impossible bool
	Text       string // both rows and what follows, in one sentence
}

// Conflicts lists what rows of different rule sets ask for differently, in the
// order of the findings: distances to the same class of water or places, parts of
// the year and of the day, limits on the same active ingredient or weather factor,
// lead times of notices, entry intervals, exclusion zones and standings. Rows of the same
// demand are no conflict.
func Conflicts(findings []Finding) []Conflict {
	var conflicts []Conflict
	for i := range findings {
		for j := i + 1; j < len(findings); j++ {
			a, b := &findings[i], &findings[j]
			if a.Set.ID == b.Set.ID {
				continue
			}
			if c, ok := conflict(a, b); ok {
				conflicts = append(conflicts, c)
			}
		}
	}
	return conflicts
}

// relation is how what two rows ask for compares.
type relation uint8

const (
	unrelated   relation = iota // not about the same, or the same
	firstHolds                  // who meets the first meets the second
	secondHolds                 // the other way round
	bothHold                    // neither takes in the other
	noneMeets                   // nothing meets both
)

func conflict(a, b *Finding) (Conflict, bool) {
	r := inSeason(compare(a, b), a, b)
	if r == unrelated {
		return Conflict{}, false
	}
	c := Conflict{Holds: *a, Other: *b, Both: r == bothHold, Impossible: r == noneMeets}
	if r == secondHolds {
		c.Holds, c.Other = *b, *a
	}
	verdict := fmt.Sprintf("%s is the stricter and holds", c.Holds.name())
	switch r {
	case bothHold:
		verdict = "neither takes in the other, and each is to be met"
	case noneMeets:
		verdict = "nothing meets both"
	}
	if !a.Certain || !b.Certain {
		verdict += ", if both apply, which is not known"
	}
	c.Text = fmt.Sprintf("%s asks: %s; %s asks: %s; %s.", a.name(), a.Text(), b.name(), b.Text(), verdict)
	return c, true
}

// inSeason corrects a relation for the parts of the year in which the rows apply:
// one that does not apply whenever the other does cannot stand for it.
func inSeason(r relation, a, b *Finding) relation {
	x, y := a.Row.During, b.Row.During
	switch {
	case x.Valid() && y.Valid() && !x.Meets(y):
		return unrelated
	case r == firstHolds && !throughout(x, y), r == secondHolds && !throughout(y, x):
		return bothHold
	}
	return r
}

// throughout reports whether a row applies whenever one of another season does.
func throughout(season, other civil.Window) bool {
	return !season.Valid() || other.Valid() && len(other.Except(season)) == 0
}

// name is the row's name among all sets.
func (f *Finding) name() string { return f.Set.ID + "/" + f.Row.ID }

func compare(a, b *Finding) relation {
	if wa, wb := a.window(), b.window(); wa != nil && wb != nil {
		return compareWindows(wa, wb)
	}
	switch x := a.Row.Effect.(type) {
	case Buffer:
		return with(b, func(y Buffer) relation { return compareBuffers(&x, &y) })
	case Setback:
		return with(b, func(y Setback) relation { return compareSetbacks(&x, &y) })
	case Cap:
		return with(b, func(y Cap) relation { return compareCaps(&x, &y) })
	case EntryInterval:
		return with(b, func(y EntryInterval) relation { return relate(x.Hours >= y.Hours, y.Hours >= x.Hours) })
	case ExclusionZone:
		return with(b, func(y ExclusionZone) relation { return relate(x.Radius >= y.Radius, y.Radius >= x.Radius) })
	case Notice:
		return with(b, func(y Notice) relation { return compareNotices(&x, &y) })
	case RequireStanding:
		return with(b, func(y RequireStanding) relation { return relate(x.covers(&y), y.covers(&x)) })
	case WeatherLimit:
		return with(b, func(y WeatherLimit) relation { return compareWeather(&x, &y) })
	case DailyHours:
		return with(b, func(y DailyHours) relation { return compareHours(x.Open, y.Open) })
	}
	return unrelated
}

// with compares a finding's effect if it is of the same kind.
func with[E Effect](f *Finding, compare func(E) relation) relation {
	e, ok := f.Row.Effect.(E)
	if !ok {
		return unrelated
	}
	return compare(e)
}

// relate tells the relation of two demands by whether each takes in the other.
func relate(first, second bool) relation {
	switch {
	case first && second:
		return unrelated
	case first:
		return firstHolds
	case second:
		return secondHolds
	}
	return bothHold
}

// among is relate for demands that may have nothing in common.
func among(meet, first, second bool) relation {
	if !meet {
		return noneMeets
	}
	return relate(first, second)
}

func compareBuffers(a, b *Buffer) relation {
	if a.Water&b.Water == 0 || (a.Activity == MixAndLoad) != (b.Activity == MixAndLoad) {
		return unrelated
	}
	return relate(a.covers(b), b.covers(a))
}

// covers reports whether who keeps the buffer keeps another on the waters that both name.
func (b *Buffer) covers(other *Buffer) bool {
	return b.Distance >= other.Distance && b.From >= other.From &&
		(b.Along != AlongSlope || other.Along == AlongSlope) && (!b.WhileWet || other.WhileWet) && b.Reduction.within(other.Reduction) &&
		(other.From == WaterEdge || b.Allowance.within(other.Allowance))
}

// within reports whether an allowance clears no more than another that is added to no
// longer a distance.
func (a Allowance) within(other Allowance) bool {
	return !a.Stated() || other.Stated() && a.Distance >= other.Distance
}

// within reports whether a reduction shortens no more than another.
func (r Reduction) within(other Reduction) bool {
	return !r.Stated() || other.Stated() && r.Distance >= other.Distance
}

func compareSetbacks(a, b *Setback) relation {
	if a.Places&b.Places == 0 {
		return unrelated
	}
	return relate(a.covers(b), b.covers(a))
}

func (s *Setback) covers(other *Setback) bool {
	return s.Distance >= other.Distance && (!s.Hours.Stated() || s.Hours == other.Hours)
}

func compareCaps(a, b *Cap) relation {
	if !strings.EqualFold(a.Active, b.Active) {
		return unrelated
	}
	return relate(a.covers(b), b.covers(a))
}

// covers takes the smaller ground, and counting repeats, for the stricter.
func (c *Cap) covers(other *Cap) bool {
	return c.Rate <= other.Rate && max(c.Over, OverTreated) <= max(other.Over, OverTreated) &&
		(c.RepeatsCounted != No || other.RepeatsCounted == No)
}

func (r *RequireStanding) covers(other *RequireStanding) bool {
	categories := other.Categories.Empty() || !r.Categories.Empty() && r.Categories&^other.Categories == 0
	supervised := other.MaxSupervised == 0 || r.MaxSupervised > 0 && r.MaxSupervised <= other.MaxSupervised
	return r.AtLeast >= other.AtLeast && categories && supervised
}

func compareWeather(a, b *WeatherLimit) relation {
	if a.Factor != b.Factor || a.Statistic != b.Statistic {
		return unrelated
	}
	meet := !(a.HasMin && b.HasMax && a.Min > b.Max || b.HasMin && a.HasMax && b.Min > a.Max)
	return among(meet, a.covers(b), b.covers(a))
}

func (w *WeatherLimit) covers(other *WeatherLimit) bool {
	return (!other.HasMin || w.HasMin && w.Min >= other.Min) && (!other.HasMax || w.HasMax && w.Max <= other.Max)
}
