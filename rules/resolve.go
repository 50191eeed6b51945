package rules

import (
	"encoding/binary"
	"slices"

	"example.org/rootward/rules/civil"
)

// ComputedRow is a row of a governing law whose effect is Computed.
type ComputedRow struct {
	Set    *Set
	Row    *Row
	Answer *Answer // nil while there is none; it must not be changed
}

// Computed lists the computed rows, answered or not, in the order of the layers.
func (g *Governing) Computed() []ComputedRow {
	var rows []ComputedRow
	for _, r := range g.rows {
		if r.row.isComputed() {
			rows = append(rows, ComputedRow{Set: r.set, Row: r.row, Answer: r.answer})
		}
	}
	return rows
}

func (r *Row) isComputed() bool {
	_, ok := r.Effect.(Computed)
	return ok
}

// Resolve gives the law with the answers to its computed rows, which act as windows
// from then on, or leave the treatment closed or not restricted. A row without an
// answer, or with one that says FactMissing or cannot be read, stays UNDETERMINED;
// an answer to a row that is not computed is of no account.
func (g *Governing) Resolve(answers map[*Row]Answer) *Governing {
	resolved := *g
	resolved.rows = slices.Clone(g.rows)
	for i := range resolved.rows {
		r := &resolved.rows[i]
		if a, ok := answers[r.row]; ok && r.row.isComputed() {
			r.answer = &a
		}
	}
	return &resolved
}

// ResolveAll gives the law at each of some sites, one that is shared by the sites with
// equal answers. There is a list of answers, one a site, for each of the rows.
func (g *Governing) ResolveAll(rows []ComputedRow, answers [][]Answer, sites int) []*Governing {
	laws := make([]*Governing, sites)
	numbers := map[Answer]int{} // equal for equal answers
	known := map[string]*Governing{}
	var key []byte
	for site := range laws {
		key = key[:0]
		said := make(map[*Row]Answer, len(rows))
		for i, r := range rows {
			a := answers[i][site]
			if _, ok := numbers[a]; !ok {
				numbers[a] = len(numbers)
			}
			key = binary.AppendUvarint(key, uint64(numbers[a]))
			said[r.Row] = a
		}
		if known[string(key)] == nil {
			known[string(key)] = g.Resolve(said)
		}
		laws[site] = known[string(key)]
	}
	return laws
}

// readable gives what the answer says; one that is not there or cannot be read says
// that a fact is missing.
func (a *Answer) readable() AnswerKind {
	if a == nil || !Known(a.Kind) || a.Kind == OpenDuring && !a.Open.Valid() {
		return FactMissing
	}
	return a.Kind
}

// open is the window that the answer acts as, or nil.
func (a *Answer) open() *civil.Window {
	if a.readable() != OpenDuring {
		return nil
	}
	return &a.Open
}

func (a *Answer) judge(on civil.Date) Decision {
	switch a.readable() {
	case NotRestricted:
		return Allowed
	case OpenDuring:
		return Window{Open: a.Open}.judge(on, nil)
	case Closed:
		return Prohibited
	}
	return Undetermined
}

func (a *Answer) text() string {
	text := ""
	switch a.readable() {
	case NotRestricted:
		text = "not restricted here"
	case OpenDuring:
		text = "here from " + a.Open.String()
	case Closed:
		text = "closed here all year"
	default:
		text = "not computed here"
	}
	if a.Words != "" {
		text += " (" + a.Words + ")"
	}
	return text
}

// missing names what keeps the row from being computed.
func (c *Computed) missing(a *Answer) []string {
	switch {
	case a.readable() != FactMissing:
		return nil
	case a != nil && a.Words != "":
		return []string{a.Words}
	}
	return []string{c.Method + " of the place, which needs its " + spaced(c.Needs.String())}
}
