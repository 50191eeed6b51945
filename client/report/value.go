package report

import (
	"math"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

func text(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func list(lines []string) any {
	if len(lines) == 0 {
		return nil
	}
	return lines
}

func number(v *float64) any {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	return *v
}

// positive leaves out a quantity that is not there: zero is never a dose.
func positive(v float64) any {
	if !(v > 0) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

func some(n int64) any {
	if n == 0 {
		return nil
	}
	return n
}

func outcome(r *client.Row) any { return wording.Outcome(r.Outcome) }

func why(r *client.Row) any {
	if r.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
		return "the row cannot be read as a stem; see faults"
	}
	return text(r.Explanation.GetWhy())
}

func form(r *client.Row) string { return rules.GrowthForm(r.Record.Stem.GetForm()).String() }

func methodWord(c *treatmentv1.Choice) string { return rules.Method(c.GetMethod()).String() }

func decision(c *treatmentv1.Choice) string { return wording.Decision(c.GetDecision()) }

func equipment(c *treatmentv1.Choice) string { return rules.Equipment(c.GetEquipment()).String() }

func dose(r *client.Row) *treatmentv1.Dose { return r.Dose }

// prescribed reads the chosen treatment of a prescribed row.
func prescribed(value func(*treatmentv1.Choice) any) func(*client.Row) any {
	return func(r *client.Row) any {
		if r.Outcome != treatmentv1.Outcome_OUTCOME_PRESCRIBED {
			return nil
		}
		return value(r.Explanation.GetChoice())
	}
}

// candidate reads the treatment that would be next for a row without one.
func candidate(value func(*treatmentv1.Choice) any) func(*client.Row) any {
	return func(r *client.Row) any {
		if r.Outcome == treatmentv1.Outcome_OUTCOME_PRESCRIBED || r.Explanation.GetChoice() == nil {
			return nil
		}
		return value(r.Explanation.GetChoice())
	}
}

func second(value func(*treatmentv1.Choice) any) func(*client.Row) any {
	return func(r *client.Row) any {
		if r.Second == nil || r.Explanation.GetSecondPass() == nil {
			return nil
		}
		return value(r.Explanation.GetSecondPass())
	}
}

func treatFrom(d *treatmentv1.Dates) *date.Date   { return d.GetTreatFrom() }
func treatUntil(d *treatmentv1.Dates) *date.Date  { return d.GetTreatUntil() }
func fellFrom(d *treatmentv1.Dates) *date.Date    { return d.GetFellFrom() }
func inspectFrom(d *treatmentv1.Dates) *date.Date { return d.GetInspectFrom() }
func retreatFrom(d *treatmentv1.Dates) *date.Date { return d.GetRetreatFrom() }

// day gives a date of a row. An undetermined row has none: a date beside it would
// read as leave to treat.
func day(r *client.Row, of func(*treatmentv1.Dates) *date.Date) any {
	if r.Outcome == treatmentv1.Outcome_OUTCOME_UNDETERMINED {
		return nil
	}
	return text(wording.Date(of(r.Explanation.GetDates())))
}

func alternativeName(a *treatmentv1.Alternative) string {
	name := wording.Method(a.GetMethod())
	if a.GetFormulationId() != "" {
		name += " with " + a.GetFormulationId()
	}
	return name
}

// Finding states in one line what a rule said, where it stands, and its source.
func Finding(f *rulesetv1.Finding) string {
	line := wording.Decision(f.GetDecision()) + ": " + f.GetRuleSet().GetRuleSetId() + "/" + f.GetRuleId() + ": " + f.GetText()
	if len(f.GetMissing()) > 0 {
		line += "; not known: " + strings.Join(f.GetMissing(), ", ")
	}
	return line + " [" + f.GetCitation() + "]"
}
