package season

import (
	"fmt"
	"slices"
	"time"
)

// mending finds changes by planning again.
type mending struct {
	*Season
	shifts  []Shift // without a change
	misfits []Misfit
	left    int // plans that may still be made
}

// tries is how often a season is planned again, so that thousands of jobs do not take
// hours: the fewer, the more there is to plan.
func (s *Season) tries() int { return max(50, 200_000/(1+len(s.Jobs)*len(s.Crews))) }

// change is something that may make work fit.
type change struct {
	words string
	crew  int // that is paid for it; -1: nobody
	apply func(s *Season)
}

// mend finds the cheapest change that makes the job of a misfit fit without keeping out
// another one; of those that are not priced, the one that is tried first.
func (s *mending) mend(m *Misfit) {
	for _, c := range s.changes(m.Job) {
		if s.left--; s.left < 0 {
			m.Why += "; not all changes were tried, there is too much to plan: plan fewer sites at once"
			return
		}
		other := s.clone()
		c.apply(other)
		shifts, left := other.plan()
		if slices.ContainsFunc(left, func(l Misfit) bool { return l.Job == m.Job }) || worse(left, s.misfits) {
			continue
		}
		cost, priced := s.price(&c, shifts)
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
			list = append(list, change{fmt.Sprintf("let crew %s do %s, if it is certified for it", crew.ID, j.Method), -1, func(o *Season) { o.Crews[c].Methods = nil }})
			continue
		}
		if !crew.Weekdays[time.Saturday] {
			list = append(list, change{fmt.Sprintf("crew %s works on Saturdays, too", crew.ID), c, func(o *Season) { o.Crews[c].Weekdays[time.Saturday] = true }})
		}
		for day := crew.Day + 60; day <= longestDay; day += 60 {
			list = append(list, change{fmt.Sprintf("crew %s works %g hours a day", crew.ID, day.Hours()), c, func(o *Season) { o.Crews[c].Day = day }})
		}
		for n := int64(1); n <= mostMore; n++ {
			list = append(list, change{fmt.Sprintf("%d more in crew %s", n, crew.ID), c, func(o *Season) { o.Crews[c].People += n }})
		}
		list = append(list, change{fmt.Sprintf("a second crew like %s", crew.ID), c, func(o *Season) {
			second := o.Crews[c]
			second.ID += " (second)"
			o.Crews = append(o.Crews, second)
		}})
	}
	return list
}

// price is what the hours cost that are worked and kept free more than without a change.
func (s *mending) price(c *change, shifts []Shift) (cost float64, priced bool) {
	if c.crew < 0 {
		return 0, true
	}
	hour := s.Crews[c.crew].Cost
	return (paid(shifts) - paid(s.shifts)).Hours() * hour, hour > 0
}

func paid(shifts []Shift) (sum Minutes) {
	for _, s := range shifts {
		sum += s.Work
	}
	return sum
}
