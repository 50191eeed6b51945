package treatment

import (
	"fmt"
	"slices"
)

// Ranking is every treatment of one stem, judged.
type Ranking struct {
	Ranked  []Choice      // what may be done on the day, the best first
	Refused []Alternative // what may not, with reasons
	Why     string        // why the first is first, or why there is none
}

// Rank judges every treatment of a stem for the planner's day. It counts nothing.
// The stem must be free of faults, by Check.
func (p *Planner) Rank(stem *Stem) Ranking {
	q := p.ask(stem, p.governing.On)
	options := p.optionsFor(stem)
	states := p.weigh(nil, &q, options)
	var may []int
	var rest []option
	var restStates []state
	for i := range options {
		if states[i].status == open {
			may = append(may, i)
		} else {
			rest, restStates = append(rest, options[i]), append(restStates, states[i])
		}
	}
	slices.SortStableFunc(may, func(i, j int) int { return states[i].rank.compare(&states[j].rank) })
	r := Ranking{Refused: p.alternatives(&q, rest, restStates, -1)}
	for _, i := range may {
		o := &options[i]
		r.Ranked = append(r.Ranked, *o.choice(&states[i], o.law.Explain(surroundingsOf(stem))))
	}
	if len(may) > 0 {
		r.Why = fmt.Sprintf("%s: %s.", options[may[0]].name(), r.Ranked[0].Words)
	} else {
		r.Why = fmt.Sprintf("Nothing may be done on %s: %s.", p.governing.On, p.whyNothing(stem, r.Refused))
	}
	return r
}

// whyNothing is the law that is missing, or else the reason against the method
// that one would think of first.
func (p *Planner) whyNothing(stem *Stem, refused []Alternative) string {
	if gaps := p.governing.Gaps; len(gaps) > 0 {
		return gaps[0].Reason
	}
	return mainReason(stem.Form, refused)
}
