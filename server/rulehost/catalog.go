package rulehost

import (
	"cmp"
	"fmt"
	"slices"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// Catalog is the rule sets that may decide, and what could not be loaded. It is
// not changed once it is in use.
type Catalog struct {
	Sets      []*rules.Set // the widest layer first, then by id
	NotLoaded []Fault      // by name of the plugin
	// Kept is sets that decide although what is pinned could not be loaded anew.
	Kept []Fault
}

// Fault says what is wrong with one plugin, and what to do.
type Fault struct {
	Where   string // the plugin's file name
	RuleSet string // the id of the set that it holds or should hold; empty if nobody knows
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
