package rules

import "strings"

// runCases evaluates a set's own worked cases with the set alone.
func (s *Set) runCases() Faults {
	c := &checker{}
	for i := range s.Table.Cases {
		w := &s.Table.Cases[i]
		g := &Governing{Place: s.Table.Manifest.Scope, On: w.On}
		g.adopt(s)
		n := g.Narrow(w.Treatment)
		where := "case " + w.Name
		findings := n.Explain(&w.Site)
		if got := n.Decide(&w.Site); got != w.Want {
			c.add(where, "gives %s, its author expects %s%s", got, w.Want, deciding(findings, got))
		}
		decided := map[string]bool{}
		for _, f := range findings {
			decided[f.Row.ID] = f.Decision == w.Want
		}
		for _, id := range w.By {
			c.require(decided[id], where, "row %s does not decide it", id)
		}
	}
	return c.faults
}

// deciding names the rows that speak against a case so, and what they would have to know.
func deciding(findings []Finding, d Decision) string {
	var said strings.Builder
	for _, f := range findings {
		switch {
		case f.Decision != d || d == Allowed:
		case len(f.Missing) > 0:
			said.WriteString("; row " + f.Row.ID + ": not known: " + strings.Join(f.Missing, ", "))
		default:
			said.WriteString("; row " + f.Row.ID + " decides it")
		}
	}
	return said.String()
}
