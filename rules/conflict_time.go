package rules

import (
	"math"
	"strings"

	"example.org/rootward/rules/civil"
)

// window is the part of every year in which a row leaves the treatment open, or nil
// if it does not tell by days of the year alone.
func (f *Finding) window() *civil.Window {
	if f.Row.During.Valid() {
		return nil
	}
	switch e := f.Row.Effect.(type) {
	case Window:
		return &e.Open
	case Computed:
		return f.Answer.open()
	}
	return nil
}

func compareWindows(a, b *civil.Window) relation {
	return among(a.Meets(*b), len(a.Except(*b)) == 0, len(b.Except(*a)) == 0)
}

// compareNotices compares lead times. Notices to different people differ only
// where no single day serves for both.
func compareNotices(a, b *Notice) relation {
	meet := a.MinDays <= b.latest() && b.MinDays <= a.latest()
	switch {
	case !meet:
		return bothHold // each gets its own notice
	case !strings.EqualFold(a.To, b.To):
		return unrelated
	}
	return relate(a.covers(b), b.covers(a))
}

// latest is the greatest lead time.
func (n *Notice) latest() int {
	if n.MaxDays == 0 {
		return math.MaxInt
	}
	return n.MaxDays
}

func (n *Notice) covers(other *Notice) bool {
	// No distance is whoever is named, wherever they are: those within one are fewer.
	within := n.Within == 0 || other.Within > 0 && n.Within >= other.Within
	return n.MinDays >= other.MinDays && n.latest() <= other.latest() && within
}

// compareHours compares parts of the day. Those counted from the sun cannot be
// told to have a minute in common or not.
func compareHours(a, b ClockHours) relation {
	switch {
	case a == b:
		return unrelated
	case a.fromSun() || b.fromSun():
		return bothHold
	}
	x, y := a.arc(), b.arc()
	return among(x.meets(y), x.within(y), y.within(x))
}

func (h ClockHours) fromSun() bool { return h.FromAnchor > Midnight || h.ToAnchor > Midnight }

// minutes is a part of the circle of a day.
type minutes struct{ from, length int }

const minutesOfDay = 24 * 60

func (h ClockHours) arc() minutes {
	length := h.To - h.From
	if length <= 0 {
		length += minutesOfDay
	}
	return minutes{from: h.From % minutesOfDay, length: length}
}

// after is how long after the arc's start a time of day lies.
func (m minutes) after(at int) int { return (at - m.from + minutesOfDay) % minutesOfDay }

func (m minutes) meets(other minutes) bool {
	return m.after(other.from) < m.length || other.after(m.from) < other.length
}

func (m minutes) within(other minutes) bool { return other.after(m.from)+m.length <= other.length }
