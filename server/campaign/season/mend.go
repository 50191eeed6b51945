package season

import (
	"fmt"
	"slices"
	"time"
)

// change is something that may make work fit.
type change struct {
	words string
	cost  func(s *Season, shifts []Shift) (float64, bool) // more than without it
	apply func(s *Season)
}

// mend finds the cheapest change that makes the job of a misfit fit without keeping out
// another one; of those that are not priced, the one that is tried first.
func (s *Season) mend(m *Misfit) {
	_, before := s.plan()
	for _, c := range s.changes(m.Job) {
		other := s.clone()
		c.apply(other)
		shifts, left := other.plan()
		if slices.ContainsFunc(left, func(l Misfit) bool { return l.Job == m.Job }) || worse(left, before) {
			continue
		}
		cost, priced := c.cost(other, shifts)
		switch {
		case m.Change == "", priced && (m.Cost == nil || cost < *m.Cost):
			m.Change, m.Cost = c.words, nil
			if priced {
				m.Cost = &cost
			}
		}
	}
}

// worse reports whether something does not fit that did before.
func worse(after, before []Misfit) bool {
	return slices.ContainsFunc(after, func(a Misfit) bool {
		i := slices.IndexFunc(before, func(b Misfit) bool { return b.Job == a.Job })
		return i < 0 || a.Work > before[i].Work
	})
}

func (s *Season) clone() *Season {
	other := *s
	other.Jobs, other.Crews = slices.Clone(s.Jobs), slices.Clone(s.Crews)
	return &other
}

// longestDay is how long days are tried; common practice, no source.
const longestDay = 10 * 60

// mostMore is how many people or crews more are tried.
const mostMore = 4

// changes lists what is tried, what is easiest to arrange first.
func (s *Season) changes(job string) []change {
	j := s.Jobs[slices.IndexFunc(s.Jobs, func(j Job) bool { return j.ID == job })]
	var list []change
	for c := range s.Crews {
		crew := &s.Crews[c]
		if !crew.may(j.Method) {
			list = append(list, change{fmt.Sprintf("let crew %s do %s, if it is certified for it", crew.ID, j.Method), free, func(o *Season) { o.Crews[c].Methods = nil }})
			continue
		}
		if !crew.Weekdays[time.Saturday] {
			list = append(list, change{fmt.Sprintf("crew %s works on Saturdays, too", crew.ID), s.hoursOf(c), func(o *Season) { o.Crews[c].Weekdays[time.Saturday] = true }})
		}
		for day := crew.Day + 60; day <= longestDay; day += 60 {
			list = append(list, change{fmt.Sprintf("crew %s works %g hours a day", crew.ID, day.Hours()), s.hoursOf(c), func(o *Season) { o.Crews[c].Day = day }})
		}
		for n := int64(1); n <= mostMore; n++ {
			list = append(list, change{fmt.Sprintf("%d more in crew %s", n, crew.ID), s.hoursOf(c), func(o *Season) { o.Crews[c].People += n }})
		}
		list = append(list, change{fmt.Sprintf("a second crew like %s", crew.ID), s.hoursOf(c), func(o *Season) {
			second := o.Crews[c]
			second.ID += " (second)"
			o.Crews = append(o.Crews, second)
		}})
	}
	return list
}

func free(*Season, []Shift) (float64, bool) { return 0, true }

// hoursOf prices the hours that are worked and kept free more than without a change, at
// what the crew costs.
func (s *Season) hoursOf(c int) func(*Season, []Shift) (float64, bool) {
	return func(o *Season, shifts []Shift) (float64, bool) {
		if s.Crews[c].Cost <= 0 {
			return 0, false
		}
		before, _ := s.plan()
		return (paid(shifts) - paid(before)).Hours() * s.Crews[c].Cost, true
	}
}

func paid(shifts []Shift) (sum Minutes) {
	for _, s := range shifts {
		sum += s.Work
	}
	return sum
}
