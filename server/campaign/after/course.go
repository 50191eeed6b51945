package after

import (
	"fmt"
	"math"
	"slices"

	"example.org/rootward/rules/civil"
)

// course is what was seen and done, each in order.
type course struct {
	leaf   civil.Window
	seen   []Observation
	rounds []Round
}

// gaps gives the growing seasons, over by a day, of which there is no complete
// observation, between the first observation and that day.
func (c *course) gaps(on civil.Date) []Point {
	if len(c.seen) == 0 {
		return nil
	}
	var list []Point
	for _, s := range Seasons(c.leaf, c.seen[0].On, on) {
		looked := slices.ContainsFunc(c.seen, func(o Observation) bool { return o.Complete && s.Holds(o.On) })
		if s.Until < on && !looked {
			list = append(list, Point{Gap: s, Verdict: NotJudged, Why: []string{fmt.Sprintf("season %s: nobody looked enough", s)}})
		}
	}
	return list
}

// judge holds an observation against what its rounds let expect.
func (c *course) judge(p *Point) {
	p.Verdict = NotJudged
	expected, why := c.expected(p.On)
	p.Expected = expected
	early := c.pending(p.On, p.On)
	switch {
	case why != "":
		p.Why = []string{why}
	case !p.Stems.valid():
		p.Why = []string{"stems were not counted"}
	case early != "":
		p.Why = []string{early}
	case p.Stems.Low > expected.High:
		p.Verdict, p.Why = Worse, Questions()
	case !p.Complete:
		p.Why = []string{"not the whole site was counted"}
	default:
		p.Verdict = AsExpected
	}
}

// pending says which of the rounds begun by a first day is too fresh to be judged on
// another; empty: none.
func (c *course) pending(begun, day civil.Date) string {
	for i := range c.rounds {
		r := &c.rounds[i]
		if r.From > begun {
			continue
		}
		next, ok := seasonAfter(c.leaf, max(r.From, r.Until))
		if !ok {
			return "no rule tells when the growing season after a round begins"
		}
		if day < next.From {
			return fmt.Sprintf("too early: the round of %s is judged from %s on", r.From, next.From)
		}
	}
	return ""
}

// expected gives the stems that published efficacy lets expect on a day, or why nothing
// can be expected.
func (c *course) expected(day civil.Date) (Estimate, string) {
	last := -1
	for i := range c.rounds {
		if !c.rounds[i].From.Known() || !c.rounds[i].Until.Known() {
			return Estimate{}, "the days of a round of treatment are not known"
		}
		if c.rounds[i].From <= day {
			last = i
		}
	}
	if last < 0 {
		return Estimate{}, "nothing has been treated before it"
	}
	base := c.before(c.rounds[last].From)
	if base < 0 {
		return Estimate{}, "no count of the whole site stands before the round"
	}
	least, most := c.seen[base].Stems.Low, c.seen[base].Stems.High
	for _, r := range c.rounds[:last+1] {
		if r.Until < c.seen[base].On {
			continue
		}
		low, high, why := r.left()
		if why != "" {
			return Estimate{}, why
		}
		least, most = least*low, most*high
	}
	// A stem is whole: what is left of one is one.
	most = math.Ceil(most - 1e-9)
	return Estimate{Value: (least + most) / 2, Low: least, High: most, Known: true}, ""
}

// before is the last count of the whole site up to a day that no earlier round was too
// fresh for, or the first of all; -1: none.
func (c *course) before(day civil.Date) int {
	found := -1
	for i, o := range c.seen {
		if o.On <= day && counted(o) && (found < 0 || c.pending(o.On.AddDays(-1), o.On) == "") {
			found = i
		}
	}
	return found
}

// left is the least and the most of the stems that a round leaves, as parts of one.
func (r *Round) left() (least, most float64, why string) {
	least, most = 1, 1
	parts := int64(0)
	for _, c := range r.Controls {
		switch {
		case c.Source == "":
			return 0, 0, fmt.Sprintf("no efficacy is published of what was done in the round of %s", r.From)
		case c.Part < 0 || c.Low < 0 || c.High > whole || c.Low > c.High:
			return 0, 0, fmt.Sprintf("the efficacy stated for the round of %s is no range within 0 to 100 %%", r.From)
		}
		parts += int64(c.Part)
		part := float64(c.Part) / float64(whole)
		least -= part * float64(c.High) / float64(whole)
		most -= part * float64(c.Low) / float64(whole)
	}
	switch {
	case len(r.Controls) == 0:
		return 0, 0, fmt.Sprintf("no efficacy is stated of the round of %s", r.From)
	case parts > int64(whole):
		return 0, 0, fmt.Sprintf("the parts of the round of %s come to more than all", r.From)
	}
	return max(0, least), max(0, most), ""
}
