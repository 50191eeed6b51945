package rules

import (
	"fmt"
	"regexp"
	"strings"

	"example.org/rootward/rules/civil"
)

// Fault is one thing that is wrong with a table: where, what, and what to do.
type Fault struct {
	Row     string // the row's id or its place in the table; empty for the manifest
	Problem string // names the value, the limit and the remedy
}

// Faults is everything that is wrong with a table.
type Faults []Fault

// Error joins the faults, one a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		where := fault.Row
		if where == "" {
			where = "manifest"
		}
		lines[i] = where + ": " + fault.Problem
	}
	return strings.Join(lines, "\n")
}

var (
	slug  = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)
	place = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*(/[a-z][a-z0-9]*(-[a-z0-9]+)*)*$`)
)

// MaxRows and MaxCases keep a faulty or hostile table from filling the host's
// memory, or its time: each case is evaluated against each row.
const (
	MaxRows  = 4_096
	MaxCases = 4_096
)

// Validate lists everything that keeps a table from being loaded.
func Validate(t *Table) Faults {
	c := &checker{}
	c.manifest(&t.Manifest)
	if n := len(t.Rows); n == 0 || n > MaxRows {
		c.add("", "the table has %d rows; it needs 1 to %d", n, MaxRows)
	}
	if n := len(t.Cases); n > MaxCases {
		c.add("", "the table has %d worked cases; it may have at most %d", n, MaxCases)
	}
	seen := map[string]bool{}
	for i := range t.Rows {
		c.row(i, &t.Rows[i], seen)
	}
	c.successions(t.Rows)
	for i := range t.Cases {
		c.workedCase(&t.Manifest, &t.Cases[i], seen)
	}
	return c.faults
}

type checker struct{ faults Faults }

func (c *checker) add(row, format string, args ...any) {
	c.faults = append(c.faults, Fault{Row: row, Problem: fmt.Sprintf(format, args...)})
}

func (c *checker) require(ok bool, row, format string, args ...any) {
	if !ok {
		c.add(row, format, args...)
	}
}

func (c *checker) manifest(m *Manifest) {
	c.require(slug.MatchString(m.ID), "", "id %q is not a lower-case slug such as \"ossel-creek\"", m.ID)
	c.require(stated(m.Version), "", "version is empty; give the content a version")
	c.require(stated(m.Title), "", "title is empty; say in a few words whose rules these are")
	c.require(stated(m.Publisher), "", "publisher is empty; name the agency that answers for the rules")
	c.require(Known(m.Layer), "", "layer is not stated; use one of %s", strings.Join(wordsLayer[1:], ", "))
	c.require(place.MatchString(m.Scope), "", "scope %q is not a place such as \"us/velmora\"", m.Scope)
	c.require(m.Layer.governs(m.Scope), "", "scope %q is no place of the layer %s: federal law governs a nation, as \"us\", a state one level below it, a district or an owner what lies below a state", m.Scope, m.Layer)
	c.require(m.ValidFrom.Known(), "", "valid-from is missing; give the first day on which the set is law")
	c.require(!m.ValidTo.Known() || m.ValidTo >= m.ValidFrom, "", "valid-to %s lies before valid-from %s", m.ValidTo, m.ValidFrom)
	c.require(!m.ReviewBy.Known() || m.ReviewBy >= m.ValidFrom, "", "review-by %s lies before valid-from %s; give the day by which the rules are looked at again", m.ReviewBy, m.ValidFrom)
}

// governs reports whether a layer of law can have a scope. What is known of trees
// holds wherever it is said to.
func (v Layer) governs(scope string) bool {
	depth := len(Levels(scope))
	switch v {
	case Federal:
		return depth <= 1
	case State:
		return depth == 2 || depth == 0
	case District, Owner:
		return depth >= 3 || depth == 0
	}
	return true
}

func (c *checker) row(i int, r *Row, seen map[string]bool) {
	id := r.ID
	if !slug.MatchString(id) {
		id = fmt.Sprintf("row %d", i+1)
		c.add(id, "id %q is not a lower-case slug such as \"stream-foliar-buffer\"", r.ID)
	}
	c.require(!seen[r.ID], id, "id is used twice; ids are unique in a table")
	seen[r.ID] = true
	c.require(strings.HasSuffix(r.Purpose, ".") && len(r.Purpose) > 10, id, "purpose %q is not one sentence that ends in a full stop", r.Purpose)
	c.require(stated(r.Citation), id, "citation is empty; a rule without a source does not load")
	c.require(r.ValidFrom.Known(), id, "valid-from is missing; give the first day on which the rule is law")
	c.require(!r.ValidTo.Known() || r.ValidTo >= r.ValidFrom, id, "valid-to %s lies before valid-from %s", r.ValidTo, r.ValidFrom)
	for _, problem := range r.When.faults() {
		c.add(id, "%s", problem)
	}
	c.exceptions(id, r)
	c.during(id, r)
	if !isEffect(r.Effect) {
		c.add(id, "effect is missing or of a kind this program does not know; a restriction that cannot be read is not skipped, so the table does not load")
		return
	}
	for _, problem := range r.Effect.faults() {
		c.add(id, "%s: %s", r.Effect.Kind(), problem)
	}
	c.require(r.Effect.Kind() != KindSeason || r.When.bySpecies() && len(r.Unless) == 0 && !r.During.Valid(), id, "a season is told by species alone; leave the other parts of the selector empty, with the exceptions and the part of the year")
}

// exceptions of a row are as many as a reader can hold against each other.
const maxExceptions = 64

func (c *checker) exceptions(id string, r *Row) {
	c.require(len(r.Unless) <= maxExceptions, id, "the row has %d exceptions; it may have at most %d, so divide it", len(r.Unless), maxExceptions)
	for i := range r.Unless {
		s := &r.Unless[i]
		c.require(!s.isEmpty(), id, "exception %d states nothing, so that the row never applies; say what is excepted", i+1)
		for _, problem := range s.faults() {
			c.add(id, "exception %d: %s", i+1, problem)
		}
	}
}

func (c *checker) during(id string, r *Row) {
	if r.During == (civil.Window{}) {
		return
	}
	if !r.During.Valid() {
		c.add(id, "%s, in which it applies, is not a part of the year", r.During)
		return
	}
	_, ends := r.During.Complement()
	c.require(ends, id, "%s, in which it applies, is all of the year; leave it out", r.During)
}

// successions checks what rows say of the rows whose place they take.
func (c *checker) successions(rows []Row) {
	ends := map[string]civil.Date{}
	for i := range rows {
		ends[rows[i].ID] = rows[i].ValidTo
	}
	for i := range rows {
		r := &rows[i]
		for _, old := range r.Supersedes {
			end, here := ends[old]
			switch {
			case !slug.MatchString(old):
				c.add(r.ID, "supersedes %q, which is not the id of a row", old)
			case old == r.ID:
				c.add(r.ID, "supersedes itself; name the row whose place it takes")
			case here && !(end.Known() && end < r.ValidFrom):
				c.add(r.ID, "supersedes row %s, which is law until %s and not to the day before %s; end it there", old, openEnded(end), r.ValidFrom)
			}
		}
	}
}

// stated reports whether a text says anything.
func stated(s string) bool { return strings.TrimSpace(s) != "" }

// isName reports whether a name has no stray spaces, which would keep it from
// ever being met.
func isName(s string) bool { return s != "" && s == strings.Join(strings.Fields(s), " ") }

// isEffect reports whether an effect is one of this package's, and the value
// itself: a pointer to one, or a type that hides one, would be judged and not
// be listed.
func isEffect(e Effect) bool {
	switch e.(type) {
	case Prohibit, Buffer, Window, InSeason, Cap, RequireStanding, Permit, Notice, Posting, WeatherLimit, Record, EntryInterval, ExclusionZone, Warn,
		Setback, DailyHours, UseThreshold, Lookup, Computed:
		return true
	}
	return false
}

func (c *checker) workedCase(m *Manifest, w *Case, rows map[string]bool) {
	where := "case " + w.Name
	c.require(w.Name != "", where, "a worked case has no name")
	c.require(m.InForce(w.On), where, "its date is %s, and the set is law from %s to %s; give a day on which it decides", w.On, m.ValidFrom, openEnded(m.ValidTo))
	c.require(w.Want <= Prohibited, where, "want %d is not a decision", w.Want)
	for _, id := range w.By {
		c.require(rows[id], where, "names row %q, which is not in the table", id)
	}
}
