package rules

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"example.org/rootward/rules/quantity"
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

// maxRows and maxCases keep a faulty or hostile table from filling the host's
// memory, or its time: each case is evaluated against each row.
const (
	maxRows  = 4_096
	maxCases = 4_096
)

// Validate lists everything that keeps a table from being loaded.
func Validate(t *Table) Faults {
	c := &checker{}
	c.manifest(&t.Manifest)
	if n := len(t.Rows); n == 0 || n > maxRows {
		c.add("", "the table has %d rows; it needs 1 to %d", n, maxRows)
	}
	if n := len(t.Cases); n > maxCases {
		c.add("", "the table has %d worked cases; it may have at most %d", n, maxCases)
	}
	seen := map[string]bool{}
	for i := range t.Rows {
		c.row(i, &t.Rows[i], seen)
	}
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
	c.require(m.ValidFrom.Known(), "", "valid-from is missing; give the first day on which the set is law")
	c.require(!m.ValidTo.Known() || m.ValidTo >= m.ValidFrom, "", "valid-to %s lies before valid-from %s", m.ValidTo, m.ValidFrom)
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
	if !isEffect(r.Effect) {
		c.add(id, "effect is missing or of a kind this program does not know; a restriction that cannot be read is not skipped, so the table does not load")
		return
	}
	for _, problem := range r.Effect.faults() {
		c.add(id, "%s: %s", r.Effect.Kind(), problem)
	}
	c.require(r.Effect.Kind() != KindSeason || r.When.bySpecies(), id, "a season is told by species alone; leave the other parts of the selector empty")
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
	case Prohibit, Buffer, Window, InSeason, Cap, RequireStanding, Permit, Notice, Posting, WeatherLimit, Record, EntryInterval, ExclusionZone, Warn:
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

func (s *Selector) faults() []string {
	var problems []string
	checks := []struct {
		name string
		ok   bool
	}{
		{"suckering", s.Suckering.valid()}, {"forms", s.Forms.valid()}, {"methods", s.Methods.valid()},
		{"equipment", s.Equipment.valid()}, {"formulations", s.Formulations.valid()},
		{"soil activity", s.SoilActivity.valid()}, {"aquatic label", s.AquaticLabel.valid()},
		{"restricted use", s.RestrictedUse.valid()}, {"toxicity", s.Toxicity.valid()},
		{"droplets", s.Droplets.valid()}, {"land uses", s.LandUses.valid()}, {"soil", s.Soil.valid()},
		{"bark", s.Bark.valid()}, {"desirable", s.Desirable.valid()},
	}
	for _, check := range checks {
		if !check.ok {
			problems = append(problems, "the selector's "+check.name+" holds a word this program does not know")
		}
	}
	for _, name := range slices.Concat(s.Species, s.Actives) {
		if !isName(name) {
			problems = append(problems, fmt.Sprintf("the name %q is empty or has stray spaces, so that it fits nothing", name))
		}
	}
	for i, r := range s.Ranges {
		if !Known(r.Of) {
			problems = append(problems, "a range is about a measure this program does not know")
		}
		for _, other := range s.Ranges[:i+1] {
			if other.Of == r.Of && !r.meets(&other) {
				problems = append(problems, fmt.Sprintf("no value lies in both %s and %s, so that the row never applies", other, r))
			}
		}
	}
	return problems
}

// meets reports whether a whole number lies in both ranges.
func (r *Range) meets(other *Range) bool {
	v := max(r.lowest(), other.lowest())
	return r.Holds(v) && other.Holds(v)
}

func (r *Range) lowest() int64 {
	if r.MinOpen && r.Min < math.MaxInt64 {
		return r.Min + 1
	}
	return r.Min
}

// problems gathers what does not hold.
type problems []string

func (p *problems) unless(ok bool, format string, args ...any) {
	if !ok {
		*p = append(*p, fmt.Sprintf(format, args...))
	}
}

const (
	maxBuffer = 50 * quantity.Mile
	// maxDays bounds lead times and deadlines: more than ten years is a slip.
	maxDays = 3_660
)

func (Prohibit) faults() []string { return nil }

func (b Buffer) faults() []string {
	var p problems
	p.unless(!b.Water.Empty() && b.Water.valid(), "water names no class that this program knows")
	p.unless(b.Distance > 0 && b.Distance <= maxBuffer, "distance %d µm is not above 0 and at most 50 miles", b.Distance)
	p.unless(Known(b.From), "it is not said where the distance starts; use one of %s", strings.Join(wordsDistanceOrigin[1:], ", "))
	return p
}

func (w Window) faults() []string {
	var p problems
	p.unless(w.Open.Valid(), "%s is not a part of the year", w.Open)
	return p
}

func (s InSeason) faults() []string {
	var p problems
	p.unless(Known(s.Season), "the season is not one of %s", strings.Join(wordsSeason[1:], ", "))
	p.unless(s.During.Valid(), "%s is not a part of the year", s.During)
	return p
}

func (c Cap) faults() []string {
	var p problems
	p.unless(isName(c.Active), "the active ingredient %q is not a name, or has stray spaces", c.Active)
	p.unless(c.Rate > 0 && c.Rate <= quantity.PoundsPerAcre(100), "rate %.4g lb ae/acre is not above 0 and at most 100", c.Rate.PoundsPerAcre())
	return p
}

func (r RequireStanding) faults() []string {
	var p problems
	p.unless(Known(r.AtLeast), "the standing is not one of %s", strings.Join(wordsStanding[1:], ", "))
	return p
}

func (r Permit) faults() []string {
	var p problems
	p.unless(r.Name != "" && r.From != "", "name the permit and who gives it")
	return p
}

func (n Notice) faults() []string {
	var p problems
	p.unless(n.To != "", "it is not said who is told")
	p.unless(n.MinDays >= 0 && n.MinDays <= maxDays, "%d days before is not 0 to %d", n.MinDays, maxDays)
	p.unless(n.MaxDays == 0 || n.MaxDays >= n.MinDays && n.MaxDays <= maxDays, "the earliest day, %d before, lies after the latest, %d before", n.MaxDays, n.MinDays)
	p.unless(n.Within >= 0 && n.RainDates >= 0, "a distance or a number of dates is below zero")
	return p
}

func (g Posting) faults() []string {
	var p problems
	p.unless(g.Says != "", "it is not said what the sign says")
	p.unless(g.Every >= 0 && g.EarliestHours >= 0 && g.RemoveWithinDays >= 0, "a spacing or a time is below zero")
	return p
}

func (w WeatherLimit) faults() []string {
	var p problems
	p.unless(Known(w.Factor), "the factor is not one of %s", strings.Join(wordsWeatherFactor[1:], ", "))
	p.unless(w.HasMin || w.HasMax, "neither a lower nor an upper limit is stated")
	p.unless(finite(w.Min) && finite(w.Max), "a limit is not a finite number")
	p.unless(!w.HasMin || !w.HasMax || w.Min <= w.Max, "the lower limit %g lies above the upper, %g", w.Min, w.Max)
	return p
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (r Record) faults() []string {
	var p problems
	p.unless(len(r.Fields) > 0 && !slices.Contains(r.Fields, ""), "it is not said what is recorded")
	p.unless(r.WithinDays >= 0 && r.WithinDays <= maxDays && r.KeepYears >= 0 && r.KeepYears <= 100, "the deadline or the years to keep are out of range")
	return p
}

func (e EntryInterval) faults() []string {
	var p problems
	p.unless(e.Hours > 0 && e.Hours <= 24*365, "%d hours is not 1 to 8760", e.Hours)
	return p
}

func (e ExclusionZone) faults() []string {
	var p problems
	p.unless(e.Radius >= 0 && e.Radius <= quantity.Mile, "radius %d µm is not 0 to one mile", e.Radius)
	return p
}

func (w Warn) faults() []string {
	var p problems
	p.unless(w.Message != "", "the warning says nothing")
	return p
}
