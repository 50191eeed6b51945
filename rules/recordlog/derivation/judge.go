// Package derivation judges a use by rule tables, so that who keeps a record and who
// checks it later, without a server, come to the same.
//
// It is apart from package recordlog, which checks a log without knowing what is in it.
package derivation

import (
	"slices"

	"example.org/rootward/rules"
)

// Judge gives the decision on a treatment at one kind of surroundings, and the rules that
// it rests on, "rule set/rule", sorted: those that are as strict as it. Gaps in the law
// are not among them.
func Judge(g *rules.Governing, t rules.Treatment, site *rules.Surroundings) (rules.Decision, []string) {
	n := g.Narrow(t)
	decision := n.Decide(site)
	var names []string
	for _, f := range n.Explain(site) {
		if f.Decision == decision {
			names = append(names, f.Set.ID+"/"+f.Row.ID)
		}
	}
	slices.Sort(names)
	return decision, slices.Compact(names)
}
