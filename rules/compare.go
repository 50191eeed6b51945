package rules

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"example.org/rootward/rules/civil"
)

// Comparison is what differs between two tables.
type Comparison struct {
	Manifest []string    // one clause each, with the value before and after
	Rows     []RowChange // those that may lift first, then by kind and id
}

// RowChangeKind is what became of a row.
type RowChangeKind uint8

// The kinds of change.
const (
	RowRemoved RowChangeKind = iota + 1
	RowChanged
	RowAdded
)

// RowChange is a row that differs.
type RowChange struct {
	ID   string
	Kind RowChangeKind
	// MayLift says that what was forbidden, or was asked for, may be no longer. It is
	// false only where the tables alone show the contrary.
	MayLift bool
	Old     *Row     // nil for a row that was added
	New     *Row     // nil for a row that was removed
	Parts   []string // of a row that was changed, by name: "effect", "citation"
}

// Compare lists what differs between two tables, rows by id. A table that is nil
// has no rows. The tables must be valid, and must not change while the comparison
// is in use.
func Compare(old, new *Table) Comparison {
	c := comparison{old: cmp.Or(old, &Table{}), new: cmp.Or(new, &Table{})}
	if old != nil && new != nil {
		c.found.Manifest = c.manifest()
	}
	after := byID(c.new)
	for i := range c.old.Rows {
		c.row(&c.old.Rows[i], after[c.old.Rows[i].ID])
	}
	before := byID(c.old)
	for i := range c.new.Rows {
		if r := &c.new.Rows[i]; before[r.ID] == nil {
			c.add(RowChange{ID: r.ID, Kind: RowAdded, New: r, MayLift: r.Effect.Kind() == KindSeason})
		}
	}
	slices.SortFunc(c.found.Rows, compareChanges)
	return c.found
}

func compareChanges(a, b RowChange) int {
	lifting := func(c RowChange) int {
		if c.MayLift {
			return 0
		}
		return 1
	}
	return cmp.Or(cmp.Compare(lifting(a), lifting(b)), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
}

func byID(t *Table) map[string]*Row {
	rows := make(map[string]*Row, len(t.Rows))
	for i := range t.Rows {
		rows[t.Rows[i].ID] = &t.Rows[i]
	}
	return rows
}

// comparison is a Comparison while it is made.
type comparison struct {
	old, new *Table
	found    Comparison
}

func (c *comparison) add(r RowChange) { c.found.Rows = append(c.found.Rows, r) }

// row compares a row of the old table with that of the same id, if there is one.
func (c *comparison) row(was, is *Row) {
	if is == nil {
		c.add(RowChange{ID: was.ID, Kind: RowRemoved, Old: was, MayLift: c.lifts(was)})
		return
	}
	if parts := c.parts(was, is); len(parts) > 0 {
		c.add(RowChange{ID: was.ID, Kind: RowChanged, Old: was, New: is, Parts: parts, MayLift: c.lifts(was)})
	}
}

// parts names what differs.
func (c *comparison) parts(was, is *Row) []string {
	var parts []string
	note := func(part string, differs bool) {
		if differs {
			parts = append(parts, part)
		}
	}
	note("effect", !sameEffect(was.Effect, is.Effect))
	note("when", !sameText(was.When, is.When))
	note("unless", !sameText(was.Unless, is.Unless))
	note("during", was.During != is.During)
	note("validity", was.ValidFrom != is.ValidFrom || was.ValidTo != is.ValidTo)
	note("citation", was.Citation != is.Citation)
	note("purpose", was.Purpose != is.Purpose)
	note("supersedes", !slices.Equal(was.Supersedes, is.Supersedes))
	note("first day of the table", c.begin(c.old, was) < c.begin(c.new, is) && was.ValidFrom == is.ValidFrom)
	note("place", c.elsewhere())
	note("program that computes it", c.reprogrammed() && is.Effect.Kind() == KindComputed)
	return parts
}

// sameText compares as digests do: by what is written of a value.
func sameText(a, b any) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}

// elsewhere reports whether the new table does not govern all that the old one did.
func (c *comparison) elsewhere() bool {
	return !slices.Contains(Levels(c.old.Manifest.Scope), c.new.Manifest.Scope)
}

// reprogrammed reports whether computed rows may be computed in another way: a table
// does not hold the program that does it.
func (c *comparison) reprogrammed() bool {
	return c.old.Manifest.ID != c.new.Manifest.ID || c.old.Manifest.Version != c.new.Manifest.Version
}

// lifts reports whether something that a row of the old table restricts may be free
// of it: unless its successor, or a row that says it takes its place, restricts all
// of it at least as much.
func (c *comparison) lifts(was *Row) bool {
	if was.Effect.Kind() == KindWarn {
		return false
	}
	if c.elsewhere() || was.Effect.Kind() == KindComputed && c.reprogrammed() {
		return true
	}
	return !slices.ContainsFunc(c.new.Rows, func(is Row) bool {
		return (is.ID == was.ID || slices.Contains(is.Supersedes, was.ID)) && c.lasts(was, &is) && is.covers(was)
	})
}

// lasts reports whether a row is law on every day on which another was. Before the
// first day of a nation's or a state's table, and after the last day of any, the
// law is not known there, so that nothing is lifted.
func (c *comparison) lasts(was, is *Row) bool {
	m := &c.new.Manifest
	first := c.begin(c.old, was)
	if m.isAlone() {
		first = max(first, m.ValidFrom)
	}
	end := is.ValidTo
	return c.begin(c.new, is) <= first &&
		(!end.Known() || was.ValidTo.Known() && was.ValidTo <= end || m.ValidTo.Known() && m.ValidTo <= end)
}

// begin is the first day on which a row of a table is law, its own if the table's is
// that of all law of its level.
func (c *comparison) begin(t *Table, r *Row) civil.Date {
	if c.new.Manifest.isAlone() {
		return r.ValidFrom
	}
	return max(r.ValidFrom, t.Manifest.ValidFrom)
}

// isAlone reports whether no other set can state the law of the manifest's level, so
// that it is not known while the set is not in force.
func (m *Manifest) isAlone() bool { return m.Layer == Federal || m.Layer == State }

// manifest lists what differs beside the rows.
func (c *comparison) manifest() []string {
	var list []string
	note := func(part, was, is string) {
		if was != is {
			list = append(list, fmt.Sprintf("%s: %s, was %s", part, is, was))
		}
	}
	a, b := &c.old.Manifest, &c.new.Manifest
	note("rule set", a.ID, b.ID)
	note("version", a.Version, b.Version)
	note("title", a.Title, b.Title)
	note("publisher", a.Publisher, b.Publisher)
	note("layer", a.Layer.String(), b.Layer.String())
	note("place", a.Scope, b.Scope)
	note("law from", a.ValidFrom.String(), b.ValidFrom.String())
	note("law to", openEnded(a.ValidTo), openEnded(b.ValidTo))
	note("review by", openEnded(a.ReviewBy), openEnded(b.ReviewBy))
	if !sameText(c.old.Cases, c.new.Cases) {
		list = append(list, fmt.Sprintf("worked cases: %d, not the same as the %d before", len(c.new.Cases), len(c.old.Cases)))
	}
	if c.reordered() {
		list = append(list, "the rows stand in another order, which decides nothing")
	}
	return list
}

// reordered reports whether the rows of both tables stand in another order.
func (c *comparison) reordered() bool {
	ids := func(of *Table, also map[string]*Row) (list []string) {
		for i := range of.Rows {
			if id := of.Rows[i].ID; also[id] != nil {
				list = append(list, id)
			}
		}
		return list
	}
	return !slices.Equal(ids(c.old, byID(c.new)), ids(c.new, byID(c.old)))
}

// OldText states the row as it was, with whatever else of it differs; nothing for a
// row that was added.
func (c *RowChange) OldText() string { return c.text(c.Old) }

// NewText states the row as it is, with whatever else of it differs; nothing for a
// row that was removed.
func (c *RowChange) NewText() string { return c.text(c.New) }

func (c *RowChange) text(r *Row) string {
	if r == nil {
		return ""
	}
	parts := []string{r.Text()}
	if s := r.When.Text(); s != "" {
		parts = append(parts, "for "+s)
	}
	if slices.Contains(c.Parts, "validity") {
		parts = append(parts, fmt.Sprintf("law from %s to %s", r.ValidFrom, openEnded(r.ValidTo)))
	}
	if slices.Contains(c.Parts, "citation") {
		parts = append(parts, r.Citation)
	}
	if slices.Contains(c.Parts, "purpose") {
		parts = append(parts, r.Purpose)
	}
	return strings.Join(parts, "; ")
}
