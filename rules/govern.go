package rules

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// Governing is the law of one place on one day. It does not change: a batch
// that holds one is decided by the same rows to its end.
type Governing struct {
	Place string
	On    civil.Date
	Sets  []Ref // those that govern, the widest layer first
	// Overdue is those of Sets whose agency was to have reviewed them by now.
	Overdue []Ref
	Gaps    []Gap // those that should govern and do not
	rows    []governed
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
// of the place ("us", "us/velmora", ...) needs a set of law in force, and of
// every set that has run out a version in force: what it forbade is not known to
// be permitted now.
func Govern(placeCode string, on civil.Date, sets []*Set) *Governing {
	g := &Governing{Place: placeCode, On: on}
	levels := Levels(placeCode)
	if len(levels) == 0 || !place.MatchString(placeCode) {
		g.gap(placeCode, "place %q is not of the form \"us/velmora\"; state where the stem stands", placeCode)
		return g
	}
	sets = slices.SortedFunc(slices.Values(sets), func(a, b *Set) int { return a.Ref.compare(&b.Ref) })
	for depth, level := range levels {
		g.cover(level, depth, sets)
	}
	slices.SortStableFunc(g.rows, func(a, b governed) int {
		return cmp.Or(a.set.Ref.compare(&b.set.Ref), cmp.Compare(a.row.ID, b.row.ID))
	})
	slices.SortStableFunc(g.Sets, func(a, b Ref) int { return a.compare(&b) })
	return g
}

// compare orders sets by layer, and is zero only for the very same content.
func (r *Ref) compare(other *Ref) int {
	return cmp.Or(cmp.Compare(r.Layer, other.Layer), cmp.Compare(r.ID, other.ID),
		cmp.Compare(r.Version, other.Version), cmp.Compare(r.Digest, other.Digest))
}

// cover adopts the sets of one level of the place and notes what is wanting.
func (g *Governing) cover(level string, depth int, sets []*Set) {
	covered := false
	current := map[string]bool{} // ids with a version in force
	var outside []*Manifest
	for _, s := range sets {
		switch m := &s.Table.Manifest; {
		case m.Scope != level:
		case m.InForce(g.On):
			g.adopt(s)
			current[m.ID] = true
			covered = covered || isLaw(m.Layer, depth)
		default:
			outside = append(outside, m)
		}
	}
	gaps := len(g.Gaps)
	for _, m := range outside {
		ranOut := m.ValidTo.Known() && m.ValidTo < g.On
		if !covered || ranOut && !current[m.ID] {
			g.gap(level, "rule set %s %s governs %q from %s to %s, not on %s; activate one that is in force",
				m.ID, m.Version, level, m.ValidFrom, openEnded(m.ValidTo), g.On)
		}
	}
	if !covered && len(g.Gaps) == gaps {
		g.gap(level, "no rule set states the law of %q; activate one, or correct the place", level)
	}
}

func (g *Governing) gap(level, format string, args ...any) {
	g.Gaps = append(g.Gaps, Gap{Place: level, Reason: fmt.Sprintf(format, args...)})
}

// isLaw reports whether a set of this layer answers for a level of a place. What
// is known of trees is no law, and an owner speaks for ground below a district
// alone: neither stands in for a state whose rules are missing.
func isLaw(l Layer, depth int) bool {
	return l != Biology && (l != Owner || depth > 2)
}

func openEnded(d civil.Date) string {
	if !d.Known() {
		return "no stated end"
	}
	return d.String()
}

func (g *Governing) adopt(s *Set) {
	g.Sets = append(g.Sets, s.Ref)
	if by := s.Table.Manifest.ReviewBy; by.Known() && by < g.On {
		g.Overdue = append(g.Overdue, s.Ref)
	}
	for i := range s.Table.Rows {
		if row := &s.Table.Rows[i]; row.InForce(g.On) {
			g.rows = append(g.rows, governed{set: s, row: row})
		}
	}
}

// SeasonOn gives the season of the year for a species at the place on a day, by
// the rows that govern, and false when no row tells, two differ, or the species
// would have to be known to tell.
func (g *Governing) SeasonOn(day civil.Date, species string) (Season, bool) {
	var found Season
	for _, r := range g.rows {
		s, ok := r.row.Effect.(InSeason)
		if !ok || !s.During.Holds(day) {
			continue
		}
		m := fitsName(r.row.When.Species, species)
		if m == matchNo {
			continue
		}
		if m == matchMaybe || found != 0 && found != s.Season {
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
	match      match    // by the treatment alone
	alwaysSite bool     // the surroundings have no say
	window     bool     // the effect is a window
	buffer     *Buffer  // the effect, if it is one
	most       Decision // the strictest it can say of any stem
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
		n.rows = append(n.rows, g.judged(r, m, &t))
	}
	return n
}

func (g *Governing) judged(r governed, m match, t *Treatment) narrowed {
	j := narrowed{governed: r, match: m, alwaysSite: r.row.When.alwaysSite()}
	j.most = weaken(r.row.Effect.judge(g.On, t), m)
	switch e := r.row.Effect.(type) {
	case Window:
		j.window = true
	case Buffer:
		j.buffer = &e
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
			decision = Stricter(decision, r.judge(site, m))
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
		d := r.judge(site, m)
		out.Decision = Stricter(out.Decision, d)
		if !r.window {
			out.Otherwise = Stricter(out.Otherwise, d)
		}
		out.Key = (out.Key ^ uint64(i<<4|int(m)<<2|int(d))) * 1099511628211
		if d == Undetermined {
			out.Key = (out.Key ^ r.wanting(site, m)) * 1099511628211
		}
	}
	return out
}

// wanting stands for the facts that keep a row from being decided.
func (r *narrowed) wanting(site *Surroundings, m match) uint64 {
	var facts uint64
	if m == matchMaybe {
		facts = site.unknown()
	}
	if r.buffer != nil {
		facts |= uint64(r.buffer.unknown(&site.Water)) << 32
	}
	return facts
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

// judge is what the row says of a stem that it applies to, or may apply to.
func (r *narrowed) judge(site *Surroundings, m match) Decision {
	if r.buffer != nil {
		return weaken(r.buffer.clears(&site.Water), m)
	}
	return weaken(r.most, m)
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
	for i := range n.rows {
		r := &n.rows[i]
		m := r.matches(site)
		if m == matchNo || r.isOtherSeason(n.governing.On) {
			continue
		}
		f := Finding{Set: r.set.Ref, Row: r.row, Decision: r.judge(site, m), Certain: m == matchYes}
		if f.Decision == Undetermined {
			f.Missing = r.missing(&n.treatment, site)
		}
		findings = append(findings, f)
	}
	return findings
}

func (r *narrowed) missing(t *Treatment, site *Surroundings) []string {
	names := r.row.When.missing(t, site)
	if r.row.Effect.Kind() == KindStanding && !Known(t.Standing) {
		names = append(names, "standing of the applicator")
	}
	if b := r.buffer; b != nil {
		for _, c := range b.unknown(&site.Water).Values() {
			names = append(names, fmt.Sprintf("distance to %s from the %s", spaced(c.String()), spaced(b.From.String())))
		}
	}
	return names
}

// HasWindow reports whether any row that can bear on the treatment is a window.
func (n *Narrowed) HasWindow() bool {
	return slices.ContainsFunc(n.rows, func(r narrowed) bool { return r.window })
}

// isOtherSeason reports whether the row names a season that is not the day's.
func (r *narrowed) isOtherSeason(day civil.Date) bool {
	s, ok := r.row.Effect.(InSeason)
	return ok && !s.During.Holds(day)
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
