package rulesdk

import (
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// RuleSet is a table as its author writes it, with rows that begin with Row. A
// table may as well be written as a rules.Table; the rows of a RuleSet are checked
// where they are written.
type RuleSet struct {
	Manifest rules.Manifest
	Rows     []Rule
	Cases    []rules.Case
}

// Rule is a finished row.
type Rule struct{ draft draft }

// draft is a row on its way, with the line that began it.
type draft struct {
	row      rules.Row
	at       string
	problems []string
}

func (d *draft) unless(ok bool, format string, args ...any) {
	if !ok {
		d.problems = slices.Concat(d.problems, []string{fmt.Sprintf(format, args...)})
	}
}

// Row begins a row. What a row must have follows step by step, each step the only
// one that its value offers, so that a row without one of them does not compile:
//
//	rulesdk.Row("stream-buffer").
//		Purpose("No leaf is sprayed within 100 ft of a stream.").
//		Citation("District bylaws, 2026 edition, section 4").
//		From(2026, time.January, 1).
//		When(rules.Selector{Methods: rules.AnyOf(rules.LowVolumeFoliar)}).
//		Then(rules.Buffer{Water: rules.AnyOf(rules.PerennialStream), From: rules.BankTop}, 100*quantity.Foot)
func Row(id string) NeedsPurpose {
	d := draft{row: rules.Row{ID: id}, at: "an unknown line"}
	if _, file, line, ok := runtime.Caller(1); ok {
		d.at = fmt.Sprintf("%s:%d", filepath.Base(file), line)
	}
	return NeedsPurpose{d}
}

// NeedsPurpose is a row that has an id.
type NeedsPurpose struct{ draft draft }

// Purpose says in one sentence for people what the row is for.
func (s NeedsPurpose) Purpose(sentence string) NeedsCitation {
	s.draft.row.Purpose = sentence
	return NeedsCitation(s)
}

// NeedsCitation is a row that has a purpose.
type NeedsCitation struct{ draft draft }

// Citation names the law or the publication, with its edition.
func (s NeedsCitation) Citation(source string) NeedsValidity {
	s.draft.row.Citation = source
	return NeedsValidity(s)
}

// NeedsValidity is a row that has a citation.
type NeedsValidity struct{ draft draft }

// From gives the first day on which the row is law.
func (s NeedsValidity) From(year int, month time.Month, day int) NeedsEffect {
	s.draft.row.ValidFrom = s.draft.date("From", year, month, day)
	return NeedsEffect(s)
}

func (d *draft) date(step string, year int, month time.Month, day int) civil.Date {
	on := civil.Of(year, month, day)
	y, m, n := on.Parts()
	d.unless(y == year && m == month && n == day,
		"%s(%d, %d, %d) is not a day of the calendar; write the year, the month and the day", step, year, month, day)
	return on
}

// NeedsEffect is a row that is whole but for what it does. To whom it applies may be
// narrowed; Then ends it.
type NeedsEffect struct{ draft draft }

// Until gives the last day on which the row is law.
func (s NeedsEffect) Until(year int, month time.Month, day int) NeedsEffect {
	s.draft.row.ValidTo = s.draft.date("Until", year, month, day)
	return s
}

// When says to which treatments the row applies; without it, to all. Limits of a
// measure go to Where, which takes them with their unit.
func (s NeedsEffect) When(selector rules.Selector) NeedsEffect {
	s.draft.unless(len(selector.Ranges) == 0, "When holds ranges, where Go takes a number without a unit; give them to Where")
	selector.Ranges = s.draft.row.When.Ranges
	s.draft.row.When = selector
	return s
}

// Where limits the row to a part of the scale of measures, all of which must hold.
func (s NeedsEffect) Where(limits ...Limit) NeedsEffect {
	ranges := slices.Clone(s.draft.row.When.Ranges)
	for _, l := range limits {
		s.draft.unless(l.problem == "", "%s", l.problem)
		ranges = append(ranges, l.held)
	}
	s.draft.row.When.Ranges = ranges
	return s
}

// Unless states exceptions: the row does not apply where one of them fits.
func (s NeedsEffect) Unless(exceptions ...rules.Selector) NeedsEffect {
	for _, e := range exceptions {
		s.draft.unless(len(e.Ranges) == 0, "Unless holds ranges, where Go takes a number without a unit; give them to UnlessWhere")
	}
	s.draft.row.Unless = slices.Concat(s.draft.row.Unless, exceptions)
	return s
}

// UnlessWhere states an exception for what a selector fits within limits.
func (s NeedsEffect) UnlessWhere(exception rules.Selector, limits ...Limit) NeedsEffect {
	inner := NeedsEffect{draft{problems: slices.Clone(s.draft.problems)}}.When(exception).Where(limits...)
	s.draft.problems = inner.draft.problems
	s.draft.row.Unless = slices.Concat(s.draft.row.Unless, []rules.Selector{inner.draft.row.When})
	return s
}

// During limits the row to a part of every year.
func (s NeedsEffect) During(w civil.Window) NeedsEffect {
	s.draft.row.During = w
	return s
}

// Supersedes names rows of this or an earlier version whose place the row takes.
func (s NeedsEffect) Supersedes(ids ...string) NeedsEffect {
	s.draft.row.Supersedes = slices.Concat(s.draft.row.Supersedes, ids)
	return s
}

// Then says what the row does, and ends it. Quantities of the effect are left out of
// its value, in whose fields Go would take a number without a unit, and follow it:
// each goes to the effect's next field of its type, in the order of the fields, those of
// parts of which nothing else is stated passed over.
func (s NeedsEffect) Then(effect rules.Effect, quantities ...Quantity) Rule {
	var problems []string
	s.draft.row.Effect, problems = filled(effect, quantities)
	s.draft.problems = slices.Concat(s.draft.problems, problems)
	return Rule(s)
}
