package rules

import (
	"cmp"
	"fmt"
	"slices"

	"example.org/rootward/rules/civil"
)

// Governing is the law of one place on one day. It does not change: a batch
// that holds one is decided by the same rows to its end.
type Governing struct {
	Place string
	On    civil.Date
	Sets  []Ref // those that govern, the widest layer first
	Gaps  []Gap // those that should govern and do not
	rows  []governed
}

// Gap is a level of the place for which no law is at hand. What nobody can read
// is never allowed: a gap makes every decision at least UNDETERMINED.
type Gap struct {
	Place  string
	Reason string // why, and what to do
}

type governed struct {
	set *Set
	row *Row
}

// Govern picks from the sets those that govern a place on a date. Every level
// of the place ("us", "us/velmora", ...) needs at least one set in force.
func Govern(placeCode string, on civil.Date, sets []*Set) *Governing {
	g := &Governing{Place: placeCode, On: on}
	levels := Levels(placeCode)
	if len(levels) == 0 || !place.MatchString(placeCode) {
		g.Gaps = append(g.Gaps, Gap{Place: placeCode, Reason: fmt.Sprintf("place %q is not of the form \"us/velmora\"; state where the stem stands", placeCode)})
		return g
	}
	for _, level := range levels {
		g.cover(level, sets)
	}
	slices.SortStableFunc(g.rows, func(a, b governed) int {
		return cmp.Or(cmp.Compare(a.set.Ref.Layer, b.set.Ref.Layer), cmp.Compare(a.set.Ref.ID, b.set.Ref.ID), cmp.Compare(a.row.ID, b.row.ID))
	})
	slices.SortStableFunc(g.Sets, func(a, b Ref) int {
		return cmp.Or(cmp.Compare(a.Layer, b.Layer), cmp.Compare(a.ID, b.ID))
	})
	return g
}

func (g *Governing) cover(level string, sets []*Set) {
	covered := false
	reason := fmt.Sprintf("no rule set governs %q; activate one, or correct the place", level)
	for _, s := range sets {
		switch m := &s.Table.Manifest; {
		case m.Scope != level:
		case !m.InForce(g.On):
			reason = fmt.Sprintf("rule set %s %s governs %q from %s to %s, not on %s; activate one that is in force",
				m.ID, m.Version, level, m.ValidFrom, openEnded(m.ValidTo), g.On)
		default:
			covered = true
			g.adopt(s)
		}
	}
	if !covered {
		g.Gaps = append(g.Gaps, Gap{Place: level, Reason: reason})
	}
}

func openEnded(d civil.Date) string {
	if !d.Known() {
		return "no stated end"
	}
	return d.String()
}

func (g *Governing) adopt(s *Set) {
	g.Sets = append(g.Sets, s.Ref)
	for i := range s.Table.Rows {
		if row := &s.Table.Rows[i]; row.InForce(g.On) {
			g.rows = append(g.rows, governed{set: s, row: row})
		}
	}
}

// SeasonOf gives the season of the year for a species at the place on the day,
// and false when no row or more than one tells.
func (g *Governing) SeasonOf(species string) (Season, bool) {
	var found Season
	for _, r := range g.rows {
		s, ok := r.row.Effect.(InSeason)
		if !ok || fitsName(r.row.When.Species, species) != matchYes || !s.During.Holds(g.On) {
			continue
		}
		if found != 0 && found != s.Season {
			return 0, false
		}
		found = s.Season
	}
	return found, found != 0
}

// Narrowed is the rows that can apply to one treatment, whatever the stem.
type Narrowed struct {
	governing *Governing
	treatment Treatment
	rows      []narrowed
}

type narrowed struct {
	governed
	match      match // by the treatment alone
	alwaysSite bool  // the surroundings have no say
	decides    bool  // the effect can do more than set a condition
}

// Narrow keeps the rows that can apply to a treatment. The result serves any
// number of stems, from several goroutines.
func (g *Governing) Narrow(t Treatment) *Narrowed {
	n := &Narrowed{governing: g, treatment: t}
	for _, r := range g.rows {
		m := r.row.When.narrow(&t)
		if m == matchNo {
			continue
		}
		n.rows = append(n.rows, narrowed{governed: r, match: m, alwaysSite: r.row.When.alwaysSite(), decides: decides(r.row.Effect.Kind())})
	}
	return n
}

func decides(k EffectKind) bool {
	switch k {
	case KindProhibit, KindBuffer, KindWindow, KindStanding:
		return true
	}
	return false
}

// Decide gives the decision for one stem.
func (n *Narrowed) Decide(site *Surroundings) Decision {
	decision := n.floor()
	j := judged{on: n.governing.On, treatment: &n.treatment, site: site}
	for i := range n.rows {
		r := &n.rows[i]
		if !r.decides && decision >= Conditional {
			continue
		}
		if m := r.matches(site); m != matchNo {
			decision = Stricter(decision, r.judge(&j, m))
		}
	}
	return decision
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
	return min(r.match, r.row.When.site(site))
}

// judge weakens what an effect forbids to UNDETERMINED where it is not certain
// that the row applies.
func (r *narrowed) judge(j *judged, m match) Decision {
	d := r.row.Effect.judge(j)
	if m == matchMaybe && d == Prohibited {
		return Undetermined
	}
	return d
}

// Finding is what one row said of one treatment of one stem.
type Finding struct {
	Set      Ref
	Row      *Row
	Decision Decision
	Certain  bool     // false when a missing fact leaves open whether the row applies
	Missing  []string // what would have to be known, by name
}

// Explain gives the findings of every row that applies or may apply, in the
// order of the layers. The strictest of them, with the gaps, is the decision.
func (n *Narrowed) Explain(site *Surroundings) []Finding {
	var findings []Finding
	j := judged{on: n.governing.On, treatment: &n.treatment, site: site}
	for i := range n.rows {
		r := &n.rows[i]
		m := r.matches(site)
		if m == matchNo {
			continue
		}
		f := Finding{Set: r.set.Ref, Row: r.row, Decision: r.judge(&j, m), Certain: m == matchYes}
		if f.Decision == Undetermined {
			f.Missing = r.missing(site)
		}
		findings = append(findings, f)
	}
	return findings
}

func (r *narrowed) missing(site *Surroundings) []string {
	names := r.row.When.missing(site)
	if r.match == matchMaybe {
		names = append(names, "a property of the treatment")
	}
	if b, ok := r.row.Effect.(Buffer); ok {
		for _, c := range b.Water.Values() {
			if site.Water.clears(c, b.Distance, b.From) == Undetermined {
				names = append(names, fmt.Sprintf("distance to %s from the %s", spaced(c.String()), spaced(b.From.String())))
			}
		}
	}
	return names
}

// Windows lists the windows among the rows that apply for sure or perhaps.
func (n *Narrowed) Windows(site *Surroundings) []civil.Window {
	var windows []civil.Window
	for i := range n.rows {
		r := &n.rows[i]
		if w, ok := r.row.Effect.(Window); ok && r.matches(site) != matchNo {
			windows = append(windows, w.Open)
		}
	}
	return windows
}

// runCases evaluates a set's own worked cases with the set alone.
func (s *Set) runCases() Faults {
	c := &checker{}
	for i := range s.Table.Cases {
		w := &s.Table.Cases[i]
		g := &Governing{Place: s.Table.Manifest.Scope, On: w.On}
		g.adopt(s)
		n := g.Narrow(w.Treatment)
		where := "case " + w.Name
		if got := n.Decide(&w.Site); got != w.Want {
			c.add(where, "gives %s, its author expects %s", got, w.Want)
		}
		decided := map[string]bool{}
		for _, f := range n.Explain(&w.Site) {
			decided[f.Row.ID] = f.Decision == w.Want
		}
		for _, id := range w.By {
			c.require(decided[id], where, "row %s does not decide it", id)
		}
	}
	return c.faults
}
