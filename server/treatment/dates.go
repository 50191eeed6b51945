package treatment

import (
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// horizon is how far ahead an opening is looked for: what does not open within
// two years has no date.
const horizon = 2 * 366

// dates works out when an option may be done, and what follows on it.
func (p *Planner) dates(q *question, o *option, plan *Plan) Dates {
	windows := o.law.Windows(surroundingsOf(q.stem))
	from := p.governing.On
	if plan.Outcome == Deferred && p.feasible(q, o, windows, from) {
		// This season's share is used up: the next opening is next year's.
		year, _, _ := from.Parts()
		from = civil.Of(year+1, 1, 1)
	}
	var d Dates
	if d.TreatFrom = p.opening(q, o, windows, from); !d.TreatFrom.Known() {
		return d
	}
	d.TreatUntil = p.lastInRow(q, o, windows, d.TreatFrom)
	if o.formulation != nil && o.method.id() != rules.CutStump {
		d.FellFrom = d.TreatFrom.AddDays(daysToFelling)
	}
	d.InspectFrom = p.nextGrowing(q, d.TreatFrom)
	if d.InspectFrom.Known() {
		d.RetreatFrom = p.opening(q, o, windows, d.InspectFrom)
	}
	return d
}

// feasible reports whether the part of the year lets an option be done on a day, as
// far as the law of that day is known.
func (p *Planner) feasible(q *question, o *option, windows []civil.Window, day civil.Date) bool {
	if !o.law.Tells(day) || !civil.AllHold(windows, day) {
		return false
	}
	at := p.ask(q.stem, day)
	if e := o.evidenceFor(&at); e.class() == failing {
		return false
	}
	return o.method.fit(&at.traits)&(seasonal|SeasonUnknown|FrostUnknown) == 0
}

func (p *Planner) opening(q *question, o *option, windows []civil.Window, from civil.Date) civil.Date {
	for day := from; day < from+horizon; day++ {
		opened, ok := civil.Next(day, windows)
		if !ok || opened >= from+horizon {
			return 0
		}
		if day = opened; p.feasible(q, o, windows, day) {
			return day
		}
	}
	return 0
}

// lastInRow is the last day of an opening; no date if it does not close within a
// year.
func (p *Planner) lastInRow(q *question, o *option, windows []civil.Window, first civil.Date) civil.Date {
	for n := 1; n <= 366; n++ {
		if !p.feasible(q, o, windows, first.AddDays(n)) {
			return first.AddDays(n - 1)
		}
	}
	return 0
}

// nextGrowing is the first day of leaf in the calendar year after a day.
func (p *Planner) nextGrowing(q *question, after civil.Date) civil.Date {
	year, _, _ := after.Parts()
	return p.growingIn(year+1, q.stem.Species)
}

// waitForLeaves is for what nothing fits today: when the next growing season
// starts, sprouts can be judged anew.
func (p *Planner) waitForLeaves(q *question) Dates {
	return Dates{InspectFrom: p.nextGrowing(q, p.governing.On)}
}
