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
	// Overdue is those of Sets whose agency was to have reviewed them by now.
	Overdue []Ref
	Gaps    []Gap // those that should govern and do not
	rows    []governed
	// changes is the first day after On on which other rows or sets are law; no date if
	// none is known.
	changes civil.Date
}

// Gap is a level of the place for which no law is at hand. What nobody can read
// is never allowed: a gap makes every decision at least UNDETERMINED.
type Gap struct {
	Place  string
	Reason string // why, and what to do
}

type governed struct {
	set    *Set
	row    *Row
	answer *Answer // to a computed row; nil while there is none
}

// name is the row's name among all sets.
func (r *governed) name() string { return r.set.Ref.ID + "/" + r.row.ID }

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
			g.changing(m.ValidFrom, m.ValidTo)
		default:
			outside = append(outside, m)
			g.changing(m.ValidFrom, m.ValidTo)
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
		row := &s.Table.Rows[i]
		if row.InForce(g.On) {
			g.rows = append(g.rows, governed{set: s, row: row})
		}
		if row.Effect.Kind() != KindWarn {
			g.changing(row.ValidFrom, row.ValidTo)
		}
	}
}

// changing notes the days from and to which something is law.
func (g *Governing) changing(from, to civil.Date) {
	for _, day := range []civil.Date{from, to.AddDays(1)} {
		if day > g.On && (!g.changes.Known() || day < g.changes) {
			g.changes = day
		}
	}
}

// SeasonsAlike reports whether all species have the same seasons.
func (g *Governing) SeasonsAlike() bool {
	return !slices.ContainsFunc(g.rows, func(r governed) bool {
		return r.row.Effect.Kind() == KindSeason && len(r.row.When.Species) > 0
	})
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
