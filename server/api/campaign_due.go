package api

import (
	"context"
	"fmt"
	"math"
	"strings"

	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/after"
	"example.org/rootward/server/treatment"
)

// due lists what lives and was not treated since it was seen, with what would be
// prescribed for it.
func (s *Campaign) due(ctx context.Context, st *standing) []*campaignv1.DueRow {
	var list []*campaignv1.DueRow
	var stems []*treatmentv1.Stem
	for _, id := range st.now().Due {
		if r := st.rows[id]; r != nil {
			list = append(list, &campaignv1.DueRow{StemId: id, Kind: r.kind, Source: r.source, Date: rulewire.EncodeDate(r.on), Why: st.why(r)})
			stems = append(stems, st.completed(r))
		}
	}
	if len(list) > 0 {
		s.prescribeDue(ctx, st, list, stems)
	}
	return list
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
	applied, unknown := st.appliedInYear()
	if unknown != "" {
		for _, d := range list {
			d.Outcome, d.Treatment = treatmentv1.Outcome_OUTCOME_UNDETERMINED, unknown
		}
		return
	}
	var f faults
	var with *treatmentv1.Settings
	if n := len(st.plans); n > 0 {
		with = st.plans[n-1].GetSettings()
	}
	kept := st.history.site
	area, _ := f.real("", siteArea, kept.AreaM2)
	at := &site{place: kept.GetPlace(), facts: f.position("", kept.LatitudeDeg, kept.LongitudeDeg, kept.ElevationM), Site: treatment.Site{
		ID: kept.GetName(), Area: quantity.SquareMillimetres(area), Applied: applied, Granted: f.granted("", kept.GetGrantedReductions()),
	}}
	b := newSession(st.catalogue, s.prescriber.current(), st.day, f.settings(with, st.catalogue))
	b.measuring = f.positions(with)
	b.measuring.layers = s.prescriber.layers()
	answer := b.prescribe(ctx, at, stems)
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

// appliedInYear is the acid equivalent of the calendar year up to the day, by active
// ingredient, or what is not known of it.
func (st *standing) appliedInYear() (map[string]quantity.MicrogramsAE, string) {
	sum := map[string]quantity.MicrogramsAE{}
	for _, p := range st.records {
		u := st.use(p)
		switch {
		case u.On > st.day || u.On.Known() && yearOf(u.On) != yearOf(st.day) || p.GetFormulationId() == "":
			continue
		case !u.On.Known() || p.GetAeG() <= 0 || p.GetActive() == "":
			return nil, fmt.Sprintf("what %s applied is not known: correct it first", p.GetName())
		}
		// Rounded up: what is held against a maximum is never understated.
		sum[p.GetActive()] += quantity.MicrogramsAE(math.Ceil(p.GetAeG() * float64(quantity.GramAE)))
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
