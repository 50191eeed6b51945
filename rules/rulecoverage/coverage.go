package rulecoverage

import (
	"fmt"
	"reflect"
	"slices"

	"example.org/rootward/rules"
)

// Gap is one thing that the worked cases of a rule set do not show.
type Gap struct {
	Row    string // its id
	Effect rules.EffectKind
	Says   string // what is not shown, and the case to add
	// Forbidden says that the case to add is any that the row forbids.
	Forbidden bool
	// Like and Add are a worked case and the case to add, which differs from it in one
	// fact, in its name and in what is expected of it; nil where no worked case is like it.
	Like, Add *rules.Case
}

// String gives the gap for people, in one line.
func (g Gap) String() string { return fmt.Sprintf("row %s (%s): %s", g.Row, g.Effect, g.Says) }

// Missing lists what the worked cases do not show, in the order of the rows. Each row
// is to be shown where it applies and where it does not, where it forbids, without each
// of its exceptions, and on both sides of each of its limits.
func Missing(s *rules.Set) []Gap {
	var gaps []Gap
	for i := range s.Table.Rows {
		c := newCoverage(s, &s.Table.Rows[i])
		for _, g := range c.gaps() {
			g.Row, g.Effect = c.row.ID, c.row.Effect.Kind()
			gaps = append(gaps, g)
		}
	}
	return gaps
}

// Explain gives what each row of the set that applies to a case, or may apply, says of it.
func Explain(s *rules.Set, c *rules.Case) []rules.Finding {
	g := rules.Govern(s.Table.Manifest.Scope, c.On, []*rules.Set{s})
	return g.Narrow(c.Treatment).Explain(&c.Site)
}

// coverage is what the worked cases of a set show of one row.
type coverage struct {
	set   *rules.Set
	row   *rules.Row
	alone *rules.Set // with the row and nothing else
	cases []rules.Case
	said  []verdict // by case
}

// verdict is what a row says of a case.
type verdict struct {
	applies, certain bool
	decision         rules.Decision
}

func newCoverage(s *rules.Set, r *rules.Row) *coverage {
	c := &coverage{set: s, row: r, alone: &rules.Set{Ref: s.Ref}}
	c.alone.Table = rules.Table{Manifest: s.Table.Manifest, Rows: []rules.Row{*r}}
	for i := range s.Table.Cases {
		c.cases = append(c.cases, s.Table.Cases[i])
		c.said = append(c.said, c.verdict(&s.Table.Cases[i]))
	}
	return c
}

func (c *coverage) verdict(w *rules.Case) verdict {
	for _, f := range Explain(c.alone, w) {
		return verdict{true, f.Certain, f.Decision}
	}
	return verdict{}
}

func (c *coverage) shows(what func(verdict) bool) bool { return slices.ContainsFunc(c.said, what) }

func applies(v verdict) bool { return v.applies && v.certain }
func misses(v verdict) bool  { return !v.applies }
func forbids(v verdict) bool { return v.decision == rules.Prohibited }

func (c *coverage) gaps() []Gap {
	var gaps []Gap
	switch {
	case !c.shows(applies):
		return []Gap{{Says: "no worked case is one that it applies to; add one"}}
	case c.canForbid() && !c.shows(forbids):
		gaps = append(gaps, Gap{Says: "no worked case is forbidden by it; add one", Forbidden: true})
	}
	if c.canMiss() && !c.shows(misses) {
		gaps = append(gaps, Gap{Says: "it applies to every worked case; add one that differs in what the row selects by, so that the row does not apply"})
	}
	for i := range c.row.Unless {
		if !c.showsException(i) {
			gaps = append(gaps, Gap{Says: fmt.Sprintf("no worked case is one that it would apply to but for exception %d (%s); add one, for an exception allows what the row forbids", i+1, c.row.Unless[i].Text())})
		}
	}
	for _, l := range limitsOfRow(c.row, &c.set.Table.Manifest) {
		gaps = append(gaps, c.sides(l)...)
	}
	return gaps
}

// canForbid reports whether the effect forbids some treatments.
func (c *coverage) canForbid() bool {
	switch e := c.row.Effect.(type) {
	case rules.Prohibit, rules.Window, rules.RequireStanding:
		return true
	case rules.Buffer:
		return e.Activity != rules.MixAndLoad
	case rules.Setback:
		return !e.Hours.Stated()
	}
	return false
}

// canMiss reports whether there are treatments that the row does not apply to.
func (c *coverage) canMiss() bool {
	return len(c.row.Unless) > 0 || c.row.During.Valid() || selects(&c.row.When) || c.row.Effect.Kind() == rules.KindSeason
}

// showsException reports whether the row would say otherwise of some case without one
// of its exceptions.
func (c *coverage) showsException(i int) bool {
	without := *c.row
	without.Unless = slices.Delete(slices.Clone(c.row.Unless), i, i+1)
	other := newCoverage(c.set, &without)
	return !slices.Equal(c.said, other.said)
}

// selects reports whether any part of the selector is stated.
func selects(s *rules.Selector) bool {
	v := reflect.ValueOf(*s)
	for i := range v.NumField() {
		if f := v.Field(i); f.Kind() == reflect.Slice && f.Len() > 0 || f.Kind() != reflect.Slice && !f.IsZero() {
			return true
		}
	}
	return false
}

// sides lists the sides of a limit that no case shows. A case shows a side when it
// lies there and the row would say otherwise of it on the other side.
func (c *coverage) sides(l limit) []Gap {
	var gaps []Gap
	for _, s := range [][2]side{{l.one, l.other}, {l.other, l.one}} {
		if !slices.ContainsFunc(c.cases, func(w rules.Case) bool { return s[0].at(&w) && c.decides(w, s[0], s[1]) }) {
			gaps = append(gaps, c.wanted(l, s[0], s[1]))
		}
	}
	return gaps
}

// decides reports whether the two sides of a limit make a difference to a case.
func (c *coverage) decides(w rules.Case, here, there side) bool {
	a, b := w, w
	here.put(&a)
	there.put(&b)
	return c.verdict(&a) != c.verdict(&b)
}

// freest gives, of the cases to which the two sides of a limit make a difference, the
// first of which the set says least; nil where there is none. What other rows say of a
// case would stand beside what the limit decides.
func (c *coverage) freest(here, there side) *rules.Case {
	var found *rules.Case
	for i := range c.cases {
		if w := &c.cases[i]; (found == nil || w.Want < found.Want) && c.decides(*w, here, there) {
			found = w
		}
	}
	return found
}

// wanted describes the case to add: like one that there is, and on the side of the
// limit that is not shown.
func (c *coverage) wanted(l limit, here, there side) Gap {
	base := c.freest(here, there)
	if base == nil {
		return Gap{Says: fmt.Sprintf("no worked case has %s, %s; add one in which that side of the limit decides", here.says, l.name)}
	}
	like, add := base, *base
	here.put(&add)
	add.Name = c.row.ID + ", " + here.says
	add.Want, add.By = c.outcome(&add)
	return Gap{
		Says: fmt.Sprintf("no worked case has %s, %s; add one like %q with it, which gives %s", here.says, l.name, like.Name, add.Want),
		Like: like, Add: &add,
	}
}

// outcome is what the whole set says of a case, and the row's id where it is among
// those that say it.
func (c *coverage) outcome(w *rules.Case) (rules.Decision, []string) {
	decision := rules.Allowed
	for _, f := range Explain(c.set, w) {
		decision = rules.Stricter(decision, f.Decision)
	}
	if v := c.verdict(w); v.applies && v.decision == decision && decision != rules.Allowed {
		return decision, []string{c.row.ID}
	}
	return decision, nil
}
