package rules

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"example.org/rootward/rules/quantity"
)

// covers reports whether a row restricts at least as much as another, wherever and
// whenever that does. What cannot be told counts as not covered.
func (r *Row) covers(other *Row) bool {
	return r.When.wider(&other.When) && narrowerExceptions(r.Unless, other.Unless) &&
		throughout(r.During, other.During) && coversEffect(r.Effect, other.Effect) &&
		(!r.IsSeasonal() || sameEffect(r.Effect, other.Effect) || onlyForbids(other.Effect))
}

// onlyForbids reports whether an effect, where it says anything, forbids. What else
// it asks for it would ask for in the rest of the year too, in which a row that
// forbids in a season says nothing.
func onlyForbids(e Effect) bool {
	switch e := e.(type) {
	case Prohibit, Window:
		return true
	case Buffer:
		return e.Activity != MixAndLoad && !e.Reduction.Stated()
	case Setback:
		return !e.Hours.Stated()
	case RequireStanding:
		return e.MaxSupervised == 0
	}
	return false
}

func sameEffect(e, other Effect) bool { return e.Kind() == other.Kind() && sameText(e, other) }

// narrowerExceptions reports whether all that one list of exceptions excepts is
// excepted by another.
func narrowerExceptions(list, other []Selector) bool {
	for i := range list {
		if !slices.ContainsFunc(other, func(o Selector) bool { return o.wider(&list[i]) }) {
			return false
		}
	}
	return true
}

// wider reports whether all that another selector fits is fitted.
func (s *Selector) wider(other *Selector) bool {
	return widerNames(s.Species, other.Species) && widerNames(s.Actives, other.Actives) &&
		wider(s.Suckering, other.Suckering) && wider(s.Forms, other.Forms) &&
		wider(s.Methods, other.Methods) && wider(s.Equipment, other.Equipment) &&
		wider(s.Formulations, other.Formulations) && wider(s.SoilActivity, other.SoilActivity) &&
		wider(s.AquaticLabel, other.AquaticLabel) && wider(s.RestrictedUse, other.RestrictedUse) &&
		wider(s.Toxicity, other.Toxicity) && wider(s.Droplets, other.Droplets) &&
		wider(s.DriftControl, other.DriftControl) && wider(s.LandUses, other.LandUses) &&
		wider(s.Soil, other.Soil) && wider(s.Bark, other.Bark) &&
		wider(s.Desirable, other.Desirable) && widerRanges(s.Ranges, other.Ranges)
}

// wider compares parts of selectors: one left empty fits anything.
func wider[T Vocabulary](s, other OneOf[T]) bool {
	return s.Empty() || !other.Empty() && other&^s == 0
}

func widerNames(list, other []string) bool {
	return len(list) == 0 || len(other) > 0 && holdsAll(list, other)
}

// holdsAll reports whether every name of another list is in a list.
func holdsAll(list, other []string) bool {
	return !slices.ContainsFunc(other, func(name string) bool {
		return !slices.ContainsFunc(list, func(s string) bool { return strings.EqualFold(s, name) })
	})
}

// widerRanges reports whether what lies in all of other lies in all of list.
func widerRanges(list, other []Range) bool {
	for i := range list {
		if !slices.ContainsFunc(other, func(o Range) bool { return list[i].holdsRange(&o) }) {
			return false
		}
	}
	return true
}

func (r *Range) holdsRange(o *Range) bool {
	fromMin := o.Min > r.Min || o.Min == r.Min && (!r.MinOpen || o.MinOpen)
	toMax := o.Max < r.Max || o.Max == r.Max && (!r.MaxOpen || o.MaxOpen)
	return r.Of == o.Of && fromMin && toMax
}

// coversEffect reports whether who does as one effect asks does as another asks. A
// season allows and forbids through the planner, so that none covers another.
func coversEffect(e, other Effect) bool {
	if sameEffect(e, other) {
		return true
	}
	if e.Kind() == KindProhibit {
		return other.Kind() != KindSeason
	}
	switch e := e.(type) {
	case Buffer:
		return asked(other, func(o Buffer) bool { return e.coversAll(&o) })
	case Setback:
		return asked(other, func(o Setback) bool { return o.Places&^e.Places == 0 && e.covers(&o) })
	case Window:
		return asked(other, func(o Window) bool { return len(e.Open.Except(o.Open)) == 0 })
	case Cap:
		return asked(other, func(o Cap) bool { return strings.EqualFold(e.Active, o.Active) && e.covers(&o) })
	case RequireStanding:
		return asked(other, func(o RequireStanding) bool { return e.covers(&o) })
	case EntryInterval:
		return asked(other, func(o EntryInterval) bool { return e.Hours >= o.Hours })
	case ExclusionZone:
		return asked(other, func(o ExclusionZone) bool { return e.Radius >= o.Radius })
	case Warn:
		return other.Kind() == KindWarn
	}
	return coversCondition(e, other)
}

// coversCondition is coversEffect for what is a condition alone.
func coversCondition(e, other Effect) bool {
	switch e := e.(type) {
	case Permit:
		return asked(other, func(o Permit) bool { return e.covers(&o) })
	case Notice:
		return asked(other, func(o Notice) bool { return e.coversAll(&o) })
	case Posting:
		return asked(other, func(o Posting) bool { return e.covers(&o) })
	case WeatherLimit:
		return asked(other, func(o WeatherLimit) bool {
			return e.Factor == o.Factor && e.Statistic == o.Statistic && e.OverMinutes == o.OverMinutes && e.covers(&o)
		})
	case Record:
		return asked(other, func(o Record) bool { return e.covers(&o) })
	case DailyHours:
		return asked(other, func(o DailyHours) bool { return e.Open.covers(o.Open) })
	case UseThreshold:
		return asked(other, func(o UseThreshold) bool { return e.covers(&o) })
	case Lookup:
		return asked(other, func(o Lookup) bool { return e.covers(&o) })
	}
	return false
}

// asked puts a question about an effect, and gives no if it is of another kind.
func asked[E Effect](e Effect, question func(E) bool) bool {
	o, ok := e.(E)
	return ok && question(o)
}

// coversAll is covers for all waters of the other, granted reductions counted in.
func (b *Buffer) coversAll(other *Buffer) bool {
	reduced := !b.Reduction.Stated() || other.Reduction.Stated() && b.Reduction.Distance >= other.Reduction.Distance &&
		b.Reduction.Evidence == other.Reduction.Evidence && b.Reduction.DecidedBy == other.Reduction.DecidedBy
	return other.Water&^b.Water == 0 && b.Activity == other.Activity && b.covers(other) && reduced
}

func (p *Permit) covers(other *Permit) bool {
	return p.Name == other.Name && p.From == other.From && atMost(p.ValidYears, other.ValidYears) &&
		(other.Yearly == "" || p.Yearly == other.Yearly)
}

// atMost compares limits of which zero is none.
func atMost[N ~int | ~int64](n, other N) bool { return other == 0 || n > 0 && n <= other }

func (n *Notice) coversAll(other *Notice) bool {
	return strings.EqualFold(n.To, other.To) && n.covers(other) && n.RainDates <= other.RainDates &&
		(other.By == "" || n.By == other.By) && holdsAll(n.Languages, other.Languages)
}

func (p *Posting) covers(other *Posting) bool {
	return p.Says == other.Says && (p.Every == other.Every || p.Every > 0 && other.Every > 0 && p.Every < other.Every) &&
		atMost(p.EarliestHours, other.EarliestHours) && p.RemoveWithinDays == other.RemoveWithinDays &&
		p.Width >= other.Width && p.Height >= other.Height && p.Until == other.Until
}

func (r *Record) covers(other *Record) bool {
	return holdsAll(r.Fields, other.Fields) && r.deadline() <= other.deadline() && r.KeepYears >= other.KeepYears
}

// deadline is in hours.
func (r *Record) deadline() int {
	if r.WithinHours == 0 && r.WithinDays == 0 {
		return math.MaxInt
	}
	return cmp.Or(r.WithinHours, r.WithinDays*24)
}

// covers reports whether the part of the day lies within another, as far as that can
// be told.
func (h ClockHours) covers(other ClockHours) bool {
	return h == other || !h.fromSun() && !other.fromSun() && h.arc().within(other.arc())
}

func (u *UseThreshold) covers(other *UseThreshold) bool {
	return atMost(quantity.SquareMillimetres(u.Area), other.Area) && atMost(u.Length, other.Length) && u.Then == other.Then &&
		u.RepeatsCounted == other.RepeatsCounted && u.BothBanks == other.BothBanks && u.SingleArea == other.SingleArea
}

func (l *Lookup) covers(other *Lookup) bool {
	return l.Register == other.Register && l.Then == other.Then && l.Within >= other.Within && l.MaxDays <= other.MaxDays
}
