package report

import (
	"fmt"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/conditions"
	"example.org/rootward/client/wording"
)

// Tally counts the rows of an inventory for a summary. The zero value is ready;
// it is for one goroutine.
type Tally struct {
	methods    []*methodSum
	dates      groups
	unknown    groups // by remedy
	later      groups // by opening and reason
	rejected   []*client.Row
	cautions   groups
	conditions conditions.Collection
	shared     sharedExplanations
	places     map[sharing]*toCount
}

// maxRejected is how many rejected rows a summary names; all are in the tables.
const maxRejected = 20

// methodSum is what one method with one formulation takes.
type methodSum struct {
	name              string
	rows, stems, cuts int64
	mixML, productML  float64
	secondRows        int64
}

// Row counts one row.
func (t *Tally) Row(r *client.Row) error {
	switch r.Outcome {
	case treatmentv1.Outcome_OUTCOME_PRESCRIBED:
		t.prescribed(r)
	case treatmentv1.Outcome_OUTCOME_DEFERRED:
		t.deferredTo(r.Explanation).add(r)
	case treatmentv1.Outcome_OUTCOME_UNDETERMINED:
		for _, g := range t.undecided(r.Explanation) {
			g.add(r)
		}
	default:
		if len(t.rejected) < maxRejected {
			t.rejected = append(t.rejected, r)
		}
	}
	return nil
}

func (t *Tally) prescribed(r *client.Row) {
	c := r.Explanation.GetChoice()
	name := wording.Choice(c.GetMethod(), c.GetFormulation())
	t.method(name).add(r)
	t.dates.of(name, Dates(r.Explanation.GetDates())).add(r)
	if t.shared.add(r.Explanation, 1, r.Record.Stem.GetStemId()) {
		t.settle()
	}
}

// method finds a sum by its name. There are as many as the catalogue has uses, so
// a search does.
func (t *Tally) method(name string) *methodSum {
	for _, m := range t.methods {
		if m.name == name {
			return m
		}
	}
	m := &methodSum{name: name}
	t.methods = append(t.methods, m)
	return m
}

func (m *methodSum) add(r *client.Row) {
	m.rows++
	m.stems += r.Stems()
	m.cuts += r.Dose.GetCuts()
	m.mixML += r.Dose.GetMixMl()
	m.productML += r.Dose.GetProductMl()
	if r.Second != nil {
		m.secondRows++
	}
}

// deferredTo is the group of the rows with this opening and this reason.
func (t *Tally) deferredTo(e *treatmentv1.Explanation) *group {
	return t.later.of(e.GetWhy(), wording.Date(e.GetDates().GetTreatFrom()))
}

// undecided is the groups of the rows that want these remedies.
func (t *Tally) undecided(e *treatmentv1.Explanation) []*group {
	remedies := e.GetRemedies()
	if len(remedies) == 0 {
		remedies = []string{e.GetWhy()}
	}
	list := make([]*group, len(remedies))
	for i, remedy := range remedies {
		list[i] = t.unknown.of(remedy, "")
	}
	return list
}

// settle counts what rows share.
func (t *Tally) settle() {
	t.shared.drain(func(e *treatmentv1.Explanation, by *sharers) {
		t.conditions.Add(e.GetChoice().GetMethod(), e.GetFindings(), by.rows)
		for _, caution := range e.GetCautions() {
			t.cautions.of(caution, "").addRows(by.rows, by.ids...)
		}
	})
}

// sharedExplanations counts by explanation, as rows share them: what they say is
// then looked at once for many rows.
type sharedExplanations struct {
	rows  map[*treatmentv1.Explanation]*sharers
	order []*treatmentv1.Explanation
}

// sharers are the rows of an explanation, with the first few ids.
type sharers struct {
	rows int64
	ids  []string
}

// maxShared bounds the explanations that wait to be looked at.
const maxShared = 1024

// add reports whether it is time to drain.
func (s *sharedExplanations) add(e *treatmentv1.Explanation, rows int64, ids ...string) bool {
	if s.rows == nil {
		s.rows = map[*treatmentv1.Explanation]*sharers{}
	}
	by := s.rows[e]
	if by == nil {
		by = &sharers{}
		s.rows[e] = by
		s.order = append(s.order, e)
	}
	by.rows += rows
	by.ids = append(by.ids, ids[:min(len(ids), maxIDs-len(by.ids))]...)
	return len(s.order) >= maxShared
}

func (s *sharedExplanations) drain(use func(e *treatmentv1.Explanation, by *sharers)) {
	for _, e := range s.order {
		use(e, s.rows[e])
	}
	clear(s.rows)
	clear(s.order)
	s.order = s.order[:0]
}

// Dates gives the dates of a treatment in one line. The wait before felling counts
// from the day on which a stem is treated, which may be any day of the opening.
func Dates(d *treatmentv1.Dates) string {
	line := "treat from " + wording.Date(d.GetTreatFrom())
	for _, part := range []struct{ label, date string }{
		{" to ", wording.Date(d.GetTreatUntil())},
		{"; ", felling(d)},
		{"; inspect from ", wording.Date(d.GetInspectFrom())},
		{"; treat again from ", wording.Date(d.GetRetreatFrom())},
	} {
		if part.date != "" {
			line += part.label + part.date
		}
	}
	return line
}

// felling says how long a treated stem must stand.
func felling(d *treatmentv1.Dates) string {
	if d.GetFellFrom() == nil || d.GetTreatFrom() == nil {
		return ""
	}
	return fmt.Sprintf("fell no sooner than %s after the day of treatment (%s if treated on the first day)",
		wording.Count(days(d.GetTreatFrom(), d.GetFellFrom()), "day"), wording.Date(d.GetFellFrom()))
}

func days(from, to *date.Date) int64 {
	at := func(d *date.Date) time.Time {
		return time.Date(int(d.GetYear()), time.Month(d.GetMonth()), int(d.GetDay()), 0, 0, 0, 0, time.UTC)
	}
	return int64(at(to).Sub(at(from)) / (24 * time.Hour))
}
