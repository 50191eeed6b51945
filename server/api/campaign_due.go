package api

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign"
	"example.org/rootward/server/campaign/after"
)

// due lists what lives and was not treated since it was seen, with what would be
// prescribed for it.
func (s *Campaign) due(ctx context.Context, st *standing) []*campaignv1.DueRow {
	var list, settled []*campaignv1.DueRow
	var stems []*treatmentv1.Stem
	for _, id := range st.now().Due {
		if r := st.rows[id]; r != nil && st.now().Cut[id].Known() {
			settled = append(settled, st.cut(r, st.now().Cut[id]))
		} else if r != nil && st.now().Planned[id] != nil {
			settled = append(settled, st.planned(r, st.now().Planned[id]))
		} else if r != nil {
			list = append(list, &campaignv1.DueRow{StemId: id, Kind: r.kind, Source: r.source, Date: rulewire.EncodeDate(r.on), Why: st.why(r)})
			stems = append(stems, st.completed(r))
		}
	}
	if len(list) > 0 {
		s.prescribeDue(ctx, st, list, stems)
	}
	return append(list, settled...)
}

// planned is a row that open work treats: its plan has decided.
func (st *standing) planned(r *knownRow, w *campaign.Work) *campaignv1.DueRow {
	d := &campaignv1.DueRow{
		StemId: r.stem.ID, Kind: r.kind, Source: r.source, Date: rulewire.EncodeDate(r.on), Why: "planned, and not on record",
		Treatment: "Treat it by " + w.ID + ".", Outcome: treatmentv1.Outcome_OUTCOME_PRESCRIBED,
		TreatFrom: rulewire.EncodeDate(w.From), TreatUntil: rulewire.EncodeDate(w.Until),
	}
	if st.day < w.From {
		d.Outcome = treatmentv1.Outcome_OUTCOME_DEFERRED
	}
	return d
}

// surveySprouts is what is to be done of rows that were felled before they were treated.
const surveySprouts = "survey the sprouts, and plan anew"

// cut is a row of which no stem stands to be treated.
func (st *standing) cut(r *knownRow, felled civil.Date) *campaignv1.DueRow {
	return &campaignv1.DueRow{
		StemId: r.stem.ID, Kind: r.kind, Source: r.source, Date: rulewire.EncodeDate(r.on), Outcome: treatmentv1.Outcome_OUTCOME_UNDETERMINED,
		Why:       fmt.Sprintf("felled on %s, untreated since it was seen: %s", felled, surveySprouts),
		Treatment: "No stem stands to be treated.",
	}
}

// completed is a row to be prescribed for: a find without a species has that of the
// survey.
func (st *standing) completed(r *knownRow) *treatmentv1.Stem {
	p := proto.CloneOf(r.message)
	if p.GetScientificName() == "" {
		p.ScientificName = r.stem.Species
	}
	return p
}

// prescribeDue prescribes the rows on the day, as the site's last plan would. Where the
// amounts of the year are not known, nothing is.
func (s *Campaign) prescribeDue(ctx context.Context, st *standing, list []*campaignv1.DueRow, stems []*treatmentv1.Stem) {
	o := &openings{Campaign: s, kept: st.history.site, from: st.day, applied: st.committedIn}
	if n := len(st.plans); n > 0 {
		o.with = st.plans[n-1].GetSettings()
	}
	answer := o.on(ctx, st.day, nil, stems)
	for i, p := range answer.GetPrescriptions() {
		d := list[i]
		d.Outcome = p.GetOutcome()
		if p.Explanation == nil {
			d.Treatment = "the row cannot be read as a stem: correct the survey or the visit"
			continue
		}
		e := answer.GetExplanations()[p.GetExplanation()]
		d.Treatment, d.TreatFrom, d.TreatUntil = e.GetWhy(), e.GetDates().GetTreatFrom(), e.GetDates().GetTreatUntil()
	}
}

// committedIn is the acid equivalent of a calendar year by active ingredient: what was
// applied up to the day, and what plans have still open in that year. Two plans do not
// share one maximum twice.
func (st *standing) committedIn(year int) (amounts, string) {
	sum, unknown := st.appliedIn(year)
	if unknown != "" {
		return nil, unknown
	}
	for _, p := range st.plans {
		for _, j := range p.GetJobs() {
			from, _ := rulewire.DecodeDate(j.GetTreatFrom())
			if j.GetSite() == st.history.site.GetName() && yearOf(from) <= year && year <= yearOf(lastDay(p, j)) {
				sum.add(st.openIn(p, j))
			}
		}
	}
	return sum, ""
}

// openIn is what a job may still apply: that of its rows that no use has carried out,
// while it is open.
func (st *standing) openIn(p *campaignv1.Plan, j *campaignv1.Job) amounts {
	if lastDay(p, j) < st.day {
		return nil
	}
	done := map[string]bool{}
	for _, u := range st.Uses {
		if u.Work == workID(p.GetName(), j.GetJobId()) {
			for _, id := range u.Rows {
				done[id] = true
			}
		}
	}
	sum := amounts{}
	for _, r := range j.GetRows() {
		if !done[r.GetStemId()] && r.GetAeG() > 0 {
			sum[j.GetChoice().GetActive()] += roundedUp(r.GetAeG())
		}
	}
	return sum
}

// appliedInYear is appliedIn of the day's year.
func (st *standing) appliedInYear() (amounts, string) { return st.appliedIn(yearOf(st.day)) }

// appliedIn is the acid equivalent of a calendar year up to the day, by active
// ingredient, or what is not known of it.
func (st *standing) appliedIn(year int) (amounts, string) {
	sum := amounts{}
	for _, p := range st.records {
		u := st.use(p)
		switch {
		case u.On > st.day || u.On.Known() && yearOf(u.On) != year || p.GetFormulationId() == "":
			continue
		case !u.On.Known() || p.GetAeG() <= 0 || p.GetActive() == "":
			return nil, fmt.Sprintf("what %s applied is not known: correct it first", p.GetName())
		}
		sum[p.GetActive()] += roundedUp(p.GetAeG())
	}
	return sum, ""
}

// why says what is due of a row that lives.
func (st *standing) why(r *knownRow) string {
	if r.kind == 0 {
		return "surveyed, and not treated since: plan it"
	}
	visit := after.Visit{ID: r.source, On: r.on, Finds: []after.Find{{ID: r.stem.ID, Kind: kindOf(r.kind)}}}
	due := after.Retreatments([]after.Visit{visit}, nil, &after.Openings{Leaf: st.Demand.Leaf}, st.day)
	if len(due) == 0 {
		return ""
	}
	why, _, _ := strings.Cut(due[0].Why, "; no window")
	if due[0].Act == after.LookAtAgain && due[0].From.Known() {
		return fmt.Sprintf("%s: %s, from %s", due[0].Act, why, due[0].From)
	}
	return fmt.Sprintf("%s: %s", due[0].Act, why)
}
