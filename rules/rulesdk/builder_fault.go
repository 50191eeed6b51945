package rulesdk

import (
	"fmt"
	"strings"

	"example.org/rootward/rules"
)

// Fault is one thing that is wrong with a rule set, and the line on which its row
// begins.
type Fault struct {
	At string // "table.go:31"; empty for what is not of a row
	rules.Fault
}

// Faults is everything that is wrong with a rule set.
type Faults []Fault

// Error joins the faults, one a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		lines[i] = rules.Faults{fault.Fault}.Error()
		if fault.At != "" {
			lines[i] = fault.At + ": " + lines[i]
		}
	}
	return strings.Join(lines, "\n")
}

// Table gives the table. It panics with Faults where the rule set has any: a table
// with a fault does not load, and the kit and Main say why.
func (s RuleSet) Table() rules.Table {
	t, err := s.Build()
	if err != nil {
		panic(err)
	}
	return t
}

// Build gives the table, or Faults with all that keeps it from being loaded, the
// worked cases' outcome aside.
func (s RuleSet) Build() (rules.Table, error) {
	t := rules.Table{Manifest: s.Manifest, Cases: s.Cases}
	lines := map[string][]string{}
	var faults Faults
	for i, r := range s.Rows {
		t.Rows = append(t.Rows, r.draft.row)
		for _, name := range []string{r.draft.row.ID, fmt.Sprintf("row %d", i+1)} {
			lines[name] = append(lines[name], r.draft.at)
		}
		for _, problem := range r.draft.problems {
			faults = append(faults, Fault{r.draft.at, rules.Fault{Row: r.draft.row.ID, Problem: problem}})
		}
	}
	for _, fault := range rules.Validate(&t) {
		faults = append(faults, Fault{strings.Join(lines[fault.Row], ", "), fault})
	}
	if len(faults) > 0 {
		return rules.Table{}, faults
	}
	return t, nil
}
