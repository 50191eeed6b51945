package rules

import (
	"slices"
	"strings"
	"time"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Narrowed is the rows that can apply to one treatment, whatever the stem.
type Narrowed struct {
	governing *Governing
	treatment Treatment
	rows      []narrowed
	ofWeather bool // something was computed from the weather of the year
}

type narrowed struct {
	governed
	match      match         // by the treatment alone
	most       Decision      // the strictest it can say of any stem
	alwaysSite bool          // the surroundings have no say in whether it applies
	seasonal   bool          // it can forbid in a part of the year alone
	offSeason  bool          // and the day is in no such part
	unless     *exception    // the first of those on which the surroundings have a say
	buffer     *nearWater    // the effect, if it keeps from water
	setback    *Setback      // the effect, if it keeps from places
	open       *civil.Window // when the row leaves the treatment open, if it says so
}

// Narrow keeps the rows that can apply to a treatment. The result serves any
// number of stems, from several goroutines.
func (g *Governing) Narrow(t Treatment) *Narrowed {
	n := &Narrowed{governing: g, treatment: t, rows: make([]narrowed, 0, len(g.rows))}
	for _, r := range g.rows {
		m := r.row.When.narrow(&t)
		if m == matchNo {
			continue
		}
		if m, unless := r.row.except(m, &t); m != matchNo {
			n.ofWeather = n.ofWeather || r.ofWeather()
			n.rows = append(n.rows, g.judged(r, m, unless, &t))
		}
	}
	return n
}

func (g *Governing) judged(r governed, m match, unless *exception, t *Treatment) narrowed {
	j := narrowed{governed: r, match: m, unless: unless, alwaysSite: unless == nil && r.row.When.alwaysSite()}
	j.seasonal = r.row.IsSeasonal()
	j.offSeason = j.seasonal && !r.row.During.Holds(g.On)
	j.most = weaken(r.row.Effect.judge(g.On, t), m)
	switch e := r.row.Effect.(type) {
	case Window:
		j.open = &e.Open
	case Buffer:
		j.buffer = e.nearWater(t, r.name)
	case Setback:
		j.setback = &e
	case Computed:
		j.open = r.answer.open()
		j.most = weaken(r.answer.judge(g.On), m)
	}
	return j
}

// weaken turns what is forbidden into UNDETERMINED where it is not certain that
// the row applies.
func weaken(d Decision, m match) Decision {
	if m == matchMaybe && d == Prohibited {
		return Undetermined
	}
	return d
}

// Decide gives the decision for one stem.
func (n *Narrowed) Decide(site *Surroundings) Decision {
	decision := n.floor()
	for i := range n.rows {
		r := &n.rows[i]
		if r.most <= decision {
			continue
		}
		if m := r.matches(site); m != matchNo {
			decision = Stricter(decision, r.onTheDay(r.says(site, m)))
		}
	}
	return decision
}

// Judgement is a decision with what a planner needs to work round it.
type Judgement struct {
	Decision Decision
	// Otherwise is what the decision would be with every window open.
	Otherwise Decision
	// Key is equal for stems on which the same rows said the same, for want of
	// the same facts.
	Key uint64
}

// Judge gives the decision for one stem, as Decide does, and more about it.
func (n *Narrowed) Judge(site *Surroundings) Judgement {
	out := Judgement{Decision: n.floor(), Otherwise: n.floor(), Key: 14695981039346656037}
	for i := range n.rows {
		r := &n.rows[i]
		m := r.matches(site)
		if m == matchNo {
			continue
		}
		says := r.says(site, m)
		out.Decision = Stricter(out.Decision, r.onTheDay(says))
		out.Otherwise = Stricter(out.Otherwise, r.otherwise(says))
		out.Key = (out.Key ^ uint64(i<<4|int(m)<<2|int(says))) * 1099511628211
		if says == Undetermined {
			out.Key = (out.Key ^ r.wanting(site, m)) * 1099511628211
		}
	}
	return out
}

// wanting stands for the facts that keep a row from being decided.
func (r *narrowed) wanting(site *Surroundings, m match) uint64 {
	var facts, excepted uint64
	if m == matchMaybe {
		facts = site.unknown()
		for e := r.unless; e != nil; e = e.next {
			excepted = excepted*3 + uint64(e.selector.site(site)) // one that may fit has facts of its own
		}
	}
	switch {
	case r.buffer != nil:
		facts |= r.buffer.wants(&site.Water)
	case r.setback != nil:
		facts |= uint64(r.setback.unknown(&site.Places)) << 32
	}
	facts ^= excepted * 0x9e3779b97f4a7c15
	return (facts ^ facts>>32) * 0xbf58476d1ce4e5b9 // high bits alone would be lost to those above them
}

// Cap gives the strictest annual limit on an active ingredient among the rows
// that apply for sure or perhaps, and the row that sets it.
//
// A limit for some land uses alone counts on ground of that use, and so is left
// out where everyUse asks for what holds on all of a site.
func (n *Narrowed) Cap(site *Surroundings, active string, everyUse bool) (quantity.ArealRate, *Row) {
	var strictest quantity.ArealRate
	var by *Row
	for i := range n.rows {
		r := &n.rows[i]
		c, ok := r.row.Effect.(Cap)
		if !ok || !strings.EqualFold(c.Active, active) || everyUse && !r.row.When.LandUses.Empty() || by != nil && c.Rate >= strictest || r.matches(site) == matchNo {
			continue
		}
		strictest, by = c.Rate, r.row
	}
	return strictest, by
}

// IsLike reports whether two treatments of one Governing are told the same of every
// stem, if the same is known of both.
func (n *Narrowed) IsLike(other *Narrowed) bool {
	return n.governing == other.governing && slices.EqualFunc(n.rows, other.rows, func(a, b narrowed) bool {
		return a.isLike(&b) && a.row.exceptsAlike(&n.treatment, &other.treatment)
	})
}

// exceptsAlike reports whether each of the row's exceptions fits two treatments alike.
func (r *Row) exceptsAlike(t, other *Treatment) bool {
	for i := range r.Unless {
		if r.Unless[i].narrow(t) != r.Unless[i].narrow(other) {
			return false
		}
	}
	return true
}

// CapsAlike reports whether Cap is the same for every stem.
func (n *Narrowed) CapsAlike(active string) bool {
	return !slices.ContainsFunc(n.rows, func(r narrowed) bool {
		c, ok := r.row.Effect.(Cap)
		return ok && strings.EqualFold(c.Active, active) && !r.alwaysSite
	})
}

// floor is the decision before any row is looked at.
func (n *Narrowed) floor() Decision {
	if len(n.governing.Gaps) > 0 {
		return Undetermined
	}
	return Allowed
}

func (r *narrowed) matches(site *Surroundings) match {
	if r.alwaysSite {
		return r.match
	}
	return r.matchesSite(site)
}

func (r *narrowed) matchesSite(site *Surroundings) match {
	m := min(r.match, r.row.When.site(site))
	for e := r.unless; e != nil && m != matchNo; e = e.next {
		m = min(m, e.leaves(site))
	}
	return m
}

// says is what the row says of a stem that it applies to, or may apply to, in the
// part of the year in which it applies.
func (r *narrowed) says(site *Surroundings, m match) Decision {
	switch {
	case r.buffer != nil:
		return weaken(r.buffer.clears(&site.Water), m)
	case r.setback != nil:
		return weaken(r.setback.clears(&site.Places), m)
	}
	return weaken(r.most, m)
}

// onTheDay is what a row that says so says on the day of the treatment.
func (r *narrowed) onTheDay(says Decision) Decision {
	if r.offSeason && says >= Undetermined {
		return Allowed
	}
	return says
}

// otherwise is what a row that says so says on a day on which all windows are open.
func (r *narrowed) otherwise(says Decision) Decision {
	if says >= Undetermined && (r.seasonal || r.open != nil) {
		return Allowed
	}
	return says
}

// Finding is what one row said of one treatment of one stem.
type Finding struct {
	Set      Ref
	Row      *Row
	Decision Decision
	Certain  bool     // false when a missing fact leaves open whether the row applies
	Missing  []string // what would have to be known, by name
	Answer   *Answer  // to a computed row; nil while there is none
}

// Text is what the row says, for people, with what was computed.
func (f *Finding) Text() string {
	if f.Answer != nil {
		return f.Row.Text() + ": " + f.Answer.text()
	}
	return f.Row.Text()
}

// Explain gives the findings of every row that applies or may apply, in the
// order of the layers. The strictest of them, with the gaps, is the decision. A
// row that forbids in another part of the year alone is among them, and allows.
func (n *Narrowed) Explain(site *Surroundings) []Finding {
	var findings []Finding
	for i := range n.rows {
		r := &n.rows[i]
		m := r.matches(site)
		if m == matchNo || r.isOtherSeason(n.governing.On) {
			continue
		}
		f := Finding{Set: r.set.Ref, Row: r.row, Decision: r.onTheDay(r.says(site, m)), Certain: m == matchYes, Answer: r.answer}
		if f.Decision == Undetermined {
			f.Missing = r.missing(&n.treatment, site)
		}
		findings = append(findings, f)
	}
	return findings
}

func (r *narrowed) missing(t *Treatment, site *Surroundings) []string {
	names := r.row.missing(t, site)
	switch e := r.row.Effect.(type) {
	case RequireStanding:
		names = append(names, e.missing(t)...)
	case Computed:
		names = append(names, e.missing(r.answer)...)
	}
	switch {
	case r.buffer != nil:
		names = append(names, r.buffer.missing(&site.Water)...)
	case r.setback != nil:
		names = append(names, r.setback.missing(&site.Places)...)
	}
	return names
}

// HasWindow reports whether any row that can bear on the treatment on the day says when
// it is open. A season in which something is forbidden does not: it is no reason to
// treat in the rest of the year.
func (n *Narrowed) HasWindow() bool {
	return slices.ContainsFunc(n.rows, func(r narrowed) bool { return r.open != nil && !r.offSeason })
}

// Tells reports whether the rows tell of a day: until other rows or sets are law, and,
// where something was computed from the weather, to the end of its year.
func (n *Narrowed) Tells(day civil.Date) bool {
	g := n.governing
	if g.changes.Known() && day >= g.changes {
		return false
	}
	year, _, _ := g.On.Parts()
	return !n.ofWeather || day <= civil.Of(year, time.December, 31)
}

func (r *governed) ofWeather() bool {
	c, ok := r.row.Effect.(Computed)
	return ok && r.answer != nil && c.Needs.Has(FactTemperatures)
}

// isOtherSeason reports whether the row names a season that is not the day's.
func (r *narrowed) isOtherSeason(day civil.Date) bool {
	s, ok := r.row.Effect.(InSeason)
	return ok && !s.During.Holds(day)
}

// Windows lists the windows among the rows that apply for sure or perhaps, and, of
// rows that keep the stem back in a part of the year alone, the rest of the year.
func (n *Narrowed) Windows(site *Surroundings) []civil.Window {
	var windows []civil.Window
	for i := range n.rows {
		r := &n.rows[i]
		if r.open == nil && !r.seasonal {
			continue
		}
		if m := r.matches(site); m != matchNo {
			windows = append(windows, r.windows(site, m)...)
		}
	}
	return windows
}

func (r *narrowed) windows(site *Surroundings, m match) []civil.Window {
	switch {
	case r.open == nil && r.says(site, m) < Undetermined:
		return nil
	case r.open == nil:
		return outside(r.row.During)
	case !r.seasonal:
		return []civil.Window{*r.open}
	}
	return outside(r.row.During.Except(*r.open)...)
}

// outside gives the rest of the year of each.
func outside(closed ...civil.Window) []civil.Window {
	var windows []civil.Window
	for _, c := range closed {
		if rest, ok := c.Complement(); ok {
			windows = append(windows, rest)
		}
	}
	return windows
}
