package rulecoverage

import (
	"fmt"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// windowLimits are the two edges of a part of the year, each between the last day on
// one side and the first on the other. A case on such a day of any year shows it.
func windowLimits(name string, w civil.Window, r *rules.Row, m *rules.Manifest) []limit {
	if !w.Valid() {
		return nil
	}
	var limits []limit
	for _, edge := range edges(w) {
		if first, ok := edgeInForce(w, edge, r, m); ok {
			limits = append(limits, limit{"at an edge of " + name + ", " + w.String(), before(w, first), after(w, first)})
		}
	}
	return limits
}

// edges gives the first day of the window, and of what follows it, in a year.
func edges(w civil.Window) []func(year int) civil.Date {
	return []func(int) civil.Date{
		func(year int) civil.Date { return civil.Of(year, w.From.Month, w.From.Day) },
		func(year int) civil.Date {
			day := civil.Of(year, w.To.Month, w.To.Day)
			for w.Holds(day) {
				day = day.AddDays(1)
			}
			return day
		},
	}
}

// edgeInForce gives the edge in the first year in which the row is law on both sides
// of it, and false where there is none, or no edge since the year is full.
func edgeInForce(w civil.Window, edge func(int) civil.Date, r *rules.Row, m *rules.Manifest) (civil.Date, bool) {
	if fullYear(w) {
		return 0, false
	}
	year, _, _ := max(r.ValidFrom, m.ValidFrom).Parts()
	for y := year; y <= year+8; y++ {
		d := edge(y)
		before := d.AddDays(-1)
		if w.Holds(d) != w.Holds(before) && isLaw(r, m, d) && isLaw(r, m, before) && (w == r.During || appliesOn(r, d) && appliesOn(r, before)) {
			return d, true
		}
	}
	return 0, false
}

func isLaw(r *rules.Row, m *rules.Manifest, on civil.Date) bool {
	return r.InForce(on) && m.InForce(on)
}

// appliesOn reports whether the day lies in the part of the year in which the row
// applies.
func appliesOn(r *rules.Row, on civil.Date) bool { return !r.During.Valid() || r.During.Holds(on) }

// fullYear reports whether the window holds every day of a leap year.
func fullYear(w civil.Window) bool {
	for d := civil.Of(2024, time.January, 1); d <= civil.Of(2024, time.December, 31); d++ {
		if !w.Holds(d) {
			return false
		}
	}
	return true
}

// before is the last day on one side of an edge, of any year; first is the first day
// beyond it in a year in which the row is law.
func before(w civil.Window, first civil.Date) side {
	beyond := w.Holds(first)
	return onSide(first.AddDays(-1), -1, func(on civil.Date) bool { return w.Holds(on) != beyond && w.Holds(on.AddDays(1)) == beyond })
}

// after is the first day beyond the edge.
func after(w civil.Window, first civil.Date) side {
	beyond := w.Holds(first)
	return onSide(first, 1, func(on civil.Date) bool { return w.Holds(on) == beyond && w.Holds(on.AddDays(-1)) != beyond })
}

// onSide is the side of an edge on which the days lie for which at holds. A case next
// to it is moved across, any other to the given day.
func onSide(day civil.Date, across int, at func(civil.Date) bool) side {
	return side{
		says: "the day " + day.DayOfYear().String(),
		at:   func(c *rules.Case) bool { return at(c.On) },
		put: func(c *rules.Case) {
			switch {
			case at(c.On):
			case at(c.On.AddDays(across)):
				c.On = c.On.AddDays(across)
			default:
				c.On = day
			}
		},
	}
}

// validityLimits are the first and last day of the row, where the set is law on both
// sides of them.
func validityLimits(r *rules.Row, m *rules.Manifest) []limit {
	var limits []limit
	between := func(name string, before civil.Date) {
		if after := before.AddDays(1); m.InForce(before) && m.InForce(after) {
			limits = append(limits, limit{name, date(before), date(after)})
		}
	}
	between("next to the first day on which it is law", r.ValidFrom.AddDays(-1))
	if r.ValidTo.Known() {
		between("next to the last day on which it is law", r.ValidTo)
	}
	return limits
}

func date(d civil.Date) side {
	return side{
		says: fmt.Sprintf("the date %s", d),
		at:   func(c *rules.Case) bool { return c.On == d },
		put:  onDay(d),
	}
}
