package after

import (
	"fmt"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// GrowingSeason is one year's time in leaf, both days included.
type GrowingSeason struct {
	From, Until civil.Date
}

// Holds reports whether a day lies in the season.
func (s GrowingSeason) Holds(day civil.Date) bool {
	return day.Known() && day >= s.From && day <= s.Until
}

// String names the season by its year, or by both where it goes over the year's end.
func (s GrowingSeason) String() string {
	first, _, _ := s.From.Parts()
	last, _, _ := s.Until.Parts()
	if first == last {
		return fmt.Sprint(first)
	}
	return fmt.Sprintf("%d/%02d", first, last%100)
}

// Teller tells the season of the year for a species at a place, as rules.Governing
// does.
type Teller interface {
	SeasonOn(day civil.Date, species string) (rules.Season, bool)
}

// LeafWindow is the part of the year in full leaf, by the rules' seasons: growing and
// translocation. Days of which no rule tells are not in it. It reports false unless the
// days in leaf follow on each other: then nothing can be said of when to look.
func LeafWindow(t Teller, species string, year int) (civil.Window, bool) {
	first := civil.Of(year, time.January, 1)
	days := int(civil.Of(year+1, time.January, 1) - first)
	inLeaf := func(n int) bool {
		season, known := t.SeasonOn(first.AddDays((n+days)%days), species)
		return known && (season == rules.Growing || season == rules.Translocation)
	}
	var w civil.Window
	opens, closes := 0, 0
	for n := range days {
		if inLeaf(n) && !inLeaf(n-1) {
			w.From = first.AddDays(n).DayOfYear()
			opens++
		}
		if inLeaf(n) && !inLeaf(n+1) {
			w.To = first.AddDays(n).DayOfYear()
			closes++
		}
	}
	return w, opens == 1 && closes == 1
}

// Seasons gives the growing seasons that begin on or after a day and not after another,
// in order.
func Seasons(leaf civil.Window, from, to civil.Date) []GrowingSeason {
	if !leaf.Valid() || !from.Known() || !to.Known() {
		return nil
	}
	var list []GrowingSeason
	year, _, _ := from.Parts()
	for ; ; year++ {
		s := seasonOf(leaf, year)
		if !s.From.Known() || !s.Until.Known() || s.From > to {
			return list
		}
		if s.From >= from {
			list = append(list, s)
		}
	}
}

// seasonAfter is the first growing season that begins after a day.
func seasonAfter(leaf civil.Window, day civil.Date) (GrowingSeason, bool) {
	list := Seasons(leaf, day.AddDays(1), day.AddDays(2*366))
	if len(list) == 0 {
		return GrowingSeason{}, false
	}
	return list[0], true
}

// seasonOf is the growing season that begins in a year.
func seasonOf(leaf civil.Window, year int) GrowingSeason {
	from := civil.Of(year, leaf.From.Month, leaf.From.Day)
	return GrowingSeason{From: from, Until: lastIn(leaf, from)}
}
