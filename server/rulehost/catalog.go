package rulehost

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// Catalog is the rule sets that may decide, and what could not be loaded. It is
// not changed once it is in use.
type Catalog struct {
	Sets      []*rules.Set // the widest layer first, then by id
	NotLoaded []Fault      // by name of the plugin
}

// Fault says what is wrong with one plugin, and what to do.
type Fault struct {
	Where   string // the plugin's file name
	Scope   string // the place whose law it said it is; empty if it did not say
	Problem string // the value, the limit and the remedy
}

// Govern picks the law of a place on a day, as rules.Govern does. A plugin that
// did not load is a gap in the law of its place, even where other sets cover it:
// what it forbids nobody has read. Where it did not say whose law it is, it is a
// gap everywhere.
func (c *Catalog) Govern(place string, on civil.Date) *rules.Governing {
	g := rules.Govern(place, on, c.Sets)
	levels := rules.Levels(place)
	for _, f := range c.NotLoaded {
		if f.Scope == "" || slices.Contains(levels, f.Scope) {
			g.Gaps = append(g.Gaps, rules.Gap{Place: cmp.Or(f.Scope, place), Reason: fmt.Sprintf("rule plugin %s is not loaded: %s", f.Where, f.Problem)})
		}
	}
	return g
}

// Set gives the set of an id, and false if there is none.
func (c *Catalog) Set(id string) (*rules.Set, bool) {
	i := slices.IndexFunc(c.Sets, func(s *rules.Set) bool { return s.Ref.ID == id })
	if i < 0 {
		return nil, false
	}
	return c.Sets[i], true
}

func newCatalog(found []outcome) *Catalog {
	refuseTwins(found)
	c := &Catalog{}
	for _, o := range found {
		switch {
		case o.set != nil:
			c.Sets = append(c.Sets, o.set)
		case o.problem != "":
			c.NotLoaded = append(c.NotLoaded, Fault{Where: o.where, Scope: o.scope, Problem: o.problem})
		}
	}
	slices.SortFunc(c.Sets, func(a, b *rules.Set) int {
		return cmp.Or(cmp.Compare(a.Ref.Layer, b.Ref.Layer), cmp.Compare(a.Ref.ID, b.Ref.ID))
	})
	slices.SortFunc(c.NotLoaded, func(a, b Fault) int { return cmp.Compare(a.Where, b.Where) })
	return c
}

// refuseTwins takes out every set whose id another set also has. Which of them is
// the law cannot be known, and choosing one could allow what the other forbids.
func refuseTwins(found []outcome) {
	files := map[string][]string{}
	for _, o := range found {
		if o.set != nil {
			files[o.set.Ref.ID] = append(files[o.set.Ref.ID], o.where)
		}
	}
	for i := range found {
		o := &found[i]
		if o.set == nil || len(files[o.set.Ref.ID]) < 2 {
			continue
		}
		o.problem = fmt.Sprintf("holds rule set %q, as do others: %s; leave the one that is in force in the folder",
			o.set.Ref.ID, strings.Join(files[o.set.Ref.ID], ", "))
		o.set = nil
	}
}
