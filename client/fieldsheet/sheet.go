package fieldsheet

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"

	"example.org/rootward/client"
	"example.org/rootward/client/conditions"
	"example.org/rootward/client/measure"
)

// MaxRows is how many rows one sheet takes. At about thirty rows a page it is more
// paper than anyone carries, and the browser that prints it stays quick.
const MaxRows = 5000

// Sheet gathers the rows of an inventory. It keeps them, so it takes no more than
// MaxRows. The zero value is ready; it is for one goroutine.
type Sheet struct {
	rows []*client.Row
}

// Row adds a row. One too many is an error with the remedy.
func (s *Sheet) Row(r *client.Row) error {
	if len(s.rows) == MaxRows {
		return fmt.Errorf("a field sheet takes at most %d rows and the inventory has more; print it site by site with --site, or leave out --sheet", MaxRows)
	}
	s.rows = append(s.rows, r)
	return nil
}

// Heading is what a sheet says besides what its rows tell.
type Heading struct {
	Inventory string // the file
	Date      civil.Date
	Settings  *treatmentv1.Settings
	Units     measure.System
	Result    *client.Result
	Effects   client.Effects
}

//go:embed sheet.html
var source string

var page = template.Must(template.New("sheet").Parse(source))

// Write writes the sheet.
func (s *Sheet) Write(w io.Writer, h *Heading) error {
	v := &view{
		Heading: h, Date: h.Date.String(), Standing: standing(h.Settings), Totals: h.Result.Totals,
		RuleSets: ruleSets(h.Result.Summary), Mixes: mixCards(h.Result.Summary.GetMixes()),
	}
	sites := bySite(s.rows)
	for _, rows := range sites {
		v.Sites = append(v.Sites, newSite(h, rows))
	}
	v.Conditions = requirements(h, sites)
	v.Cautions = cautions(s.rows)
	v.Faults = faults(s.rows)
	return page.Execute(w, v)
}

// bySite keeps sites and rows in the order of the file. Rejected rows are left
// out: what cannot be read as a stem is found by its line, not on the ground.
func bySite(rows []*client.Row) [][]*client.Row {
	var sites [][]*client.Row
	at := map[string]int{}
	for _, r := range rows {
		if r.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
			continue
		}
		i, seen := at[r.Record.SiteID]
		if !seen {
			i = len(sites)
			at[r.Record.SiteID] = i
			sites = append(sites, nil)
		}
		sites[i] = append(sites[i], r)
	}
	return sites
}

// requirement is conditions by law of one kind.
type requirement struct {
	Title   string
	Entries []entry
}

// entry is a condition with the methods it is about, its source, and the sites it
// holds for where that is not all.
type entry struct {
	Text, Methods, Source, Sites string
}

// requirements gathers what holds for the whole sheet. How far to keep from water
// stands with each site.
func requirements(h *Heading, sites [][]*client.Row) []requirement {
	var all conditions.Collection
	where := map[string][]string{} // sites by rule
	var treated []string
	for _, rows := range sites {
		if !slices.ContainsFunc(rows, isPrescribed) {
			continue
		}
		site := rows[0].Record.SiteID
		treated = append(treated, site)
		for _, g := range collect(rows).Groups(h.Effects) {
			for _, c := range g.Conditions {
				where[c.RuleID()] = append(where[c.RuleID()], site)
			}
		}
		add(&all, rows)
	}
	var list []requirement
	for _, g := range all.Groups(h.Effects) {
		if g.Kind == conditions.Water {
			continue
		}
		r := requirement{Title: g.Title()}
		for _, c := range g.Conditions {
			e := newEntry(c)
			e.Sites = some(where[c.RuleID()], treated)
			r.Entries = append(r.Entries, e)
		}
		list = append(list, r)
	}
	return list
}

func newEntry(c *conditions.Condition) entry {
	return entry{Text: capital(c.Text()), Methods: c.MethodNames(), Source: c.RuleID() + ": " + c.Finding.GetCitation()}
}

// some names the sites of a condition: nothing where it holds for all, the others
// where they are fewer.
func some(where, all []string) string {
	var others []string
	for _, s := range all {
		if !slices.Contains(where, s) {
			others = append(others, s)
		}
	}
	switch {
	case len(others) == 0:
		return ""
	case len(others) < len(where):
		return "not at " + joined(others)
	}
	return "at " + joined(where)
}

func collect(rows []*client.Row) *conditions.Collection {
	c := &conditions.Collection{}
	add(c, rows)
	return c
}

func add(c *conditions.Collection, rows []*client.Row) {
	for _, r := range rows {
		if isPrescribed(r) {
			c.Add(r.Explanation.GetChoice().GetMethod(), r.Explanation.GetFindings(), 1)
		}
	}
}

func isPrescribed(r *client.Row) bool { return r.Outcome == treatmentv1.Outcome_OUTCOME_PRESCRIBED }

// caution is one of the first page, with the rows that it is about where they are few.
type caution struct{ Text, Rows string }

// maxNamed is how many rows a caution is said to be about.
const maxNamed = 12

// cautions gathers those of all prescribed rows, each once, but for those that the
// sheet's frame says already.
func cautions(rows []*client.Row) []caution {
	var list []string
	of := map[string][]string{} // ids by caution
	prescribed := 0
	for _, r := range rows {
		if !isPrescribed(r) {
			continue
		}
		prescribed++
		for _, c := range r.Explanation.GetCautions() {
			if of[c] == nil && !slices.Contains(always, c) {
				list = append(list, c)
			}
			of[c] = append(of[c], r.Record.Stem.GetStemId())
		}
	}
	out := make([]caution, len(list))
	for i, text := range list {
		out[i].Text = text
		if n := len(of[text]); n < prescribed && n <= maxNamed {
			out[i].Rows = joined(of[text])
		}
	}
	return out
}
