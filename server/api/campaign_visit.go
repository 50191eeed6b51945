package api

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/after"
)

var visits = kind[*campaignv1.Visit]{
	word: visitKind, plural: "visits", ofSite: true, blank: func() *campaignv1.Visit { return &campaignv1.Visit{} },
	output: names("looked", "breaches"), check: checkVisit, fill: fillVisit,
}

// CreateVisit keeps what was seen or felled.
func (s *Campaign) CreateVisit(ctx context.Context, q *campaignv1.CreateVisitRequest) (*campaignv1.CreateVisitResponse, error) {
	t, err := create(ctx, s, &visits, creation[*campaignv1.Visit]{call: q, parent: q.GetParent(), id: q.GetVisitId(), request: q.GetRequestId(), thing: q.GetVisit()})
	return &campaignv1.CreateVisitResponse{Visit: t}, err
}

// GetVisit gives a visit.
func (s *Campaign) GetVisit(ctx context.Context, q *campaignv1.GetVisitRequest) (*campaignv1.GetVisitResponse, error) {
	t, err := get(ctx, s, &visits, q.GetName(), q.GetVersion())
	return &campaignv1.GetVisitResponse{Visit: t}, err
}

// UpdateVisit corrects a visit.
func (s *Campaign) UpdateVisit(ctx context.Context, q *campaignv1.UpdateVisitRequest) (*campaignv1.UpdateVisitResponse, error) {
	t, err := update(ctx, s, &visits, change[*campaignv1.Visit]{call: q, mask: q.GetUpdateMask(), request: q.GetRequestId(), thing: q.GetVisit()})
	return &campaignv1.UpdateVisitResponse{Visit: t}, err
}

// ListVisits lists a site's visits.
func (s *Campaign) ListVisits(ctx context.Context, q *campaignv1.ListVisitsRequest) (*campaignv1.ListVisitsResponse, error) {
	list, next, err := list(ctx, s, &visits, listing{parent: q.GetParent(), size: q.GetPageSize(), token: q.GetPageToken()})
	return &campaignv1.ListVisitsResponse{Visits: list, NextPageToken: next}, err
}

// Limits of a visit, beyond which a number is a slip of the pen.
const (
	maxFinds     = maxStems
	maxSearched  = 1_000_000 // minutes of search
	maxObservers = 100
)

func checkVisit(f *faults, p *campaignv1.Visit) {
	_, known := campaignv1.VisitKind_name[int32(p.GetKind())]
	f.unless(known && p.GetKind() != 0, "kind", "is not stated: use VISIT_KIND_INSPECTION or VISIT_KIND_FELLING")
	f.day("date", p.GetDate())
	f.between("search_min", p.SearchMin, 0, maxSearched, "minutes")
	f.between("searched_percent", p.SearchedPercent, 0, 100, "percent")
	f.unless(len(p.GetFound()) <= maxFinds, "found", "has %d, at most %d are taken: keep a second visit of the same day", len(p.GetFound()), maxFinds)
	f.finds(p.GetFound())
	f.felled(p)
	f.unless(len(p.GetObservers()) <= maxObservers, "observers", "has %d, at most %d are taken", len(p.GetObservers()), maxObservers)
	for i, name := range p.GetObservers() {
		f.required(fmt.Sprintf("observers[%d]", i), name, "name who was there, or leave it out")
	}
	f.text("notes", p.GetNotes(), maxNotes)
	f.corrected(p.GetVersion(), p.GetCorrection())
}

// finds checks what can be told of finds without the catalogue. What is dead needs an
// id alone.
func (f *faults) finds(list []*campaignv1.Find) {
	seen := map[string]bool{}
	for i, p := range list[:min(len(list), maxFinds)] {
		at := fmt.Sprintf("found[%d].", i)
		_, known := campaignv1.FindKind_name[int32(p.GetKind())]
		f.unless(known, at+"kind", "%d is not a word that this server knows: use one that the proto file lists, or a newer server", p.GetKind())
		id := p.GetStem().GetStemId()
		f.required(at+"stem.stem_id", id, "give the find an id; a stem that was surveyed keeps its own")
		f.unless(id == "" || !seen[id], at+"stem.stem_id", "%s is there twice: give each find an id of its own", quoted(id))
		seen[id] = true
		for _, fault := range readStem(p.GetStem()).list {
			f.add(at+"stem."+fault.Field, "%s", fault.Problem)
		}
	}
}

func (f *faults) felled(p *campaignv1.Visit) {
	list := p.GetFelledStemIds()
	felling := p.GetKind() == campaignv1.VisitKind_VISIT_KIND_FELLING
	f.unless(felling || len(list) == 0, "felled_stem_ids", "stands in a visit that is no felling: keep a visit of kind VISIT_KIND_FELLING")
	f.unless(!felling || len(list) > 0, "felled_stem_ids", "is empty: name the rows that were felled")
	f.unless(len(list) <= maxFinds, "felled_stem_ids", "has %d, at most %d are taken: keep a second visit of the same day", len(list), maxFinds)
	seen := map[string]bool{}
	for i, id := range list[:min(len(list), maxFinds)] {
		at := fmt.Sprintf("felled_stem_ids[%d]", i)
		f.required(at, id, "name the row that was felled, or leave it out")
		f.unless(id == "" || !seen[id], at, "%s is there twice: name it once", quoted(id))
		seen[id] = true
	}
}

// fillVisit says whether a visit counts as having looked, and in what it departs from
// what was due. What happened is kept, also where it should not have.
func fillVisit(f *filling[*campaignv1.Visit]) error {
	p := f.thing
	on, _ := rulewire.DecodeDate(p.GetDate())
	var faults faults
	today := dayIn(f.now, zoneOf(f.site))
	faults.unless(on <= today.AddDays(1), "visit.date", "%s is after %s: keep a visit once it was made", on, today)
	for i, find := range p.GetFound() {
		if find.GetKind() == campaignv1.FindKind_FIND_KIND_DEAD {
			continue
		}
		for _, fault := range readStem(find.GetStem()).all(f.prescriber.catalogue) {
			faults.add(fmt.Sprintf("visit.found[%d].stem.%s", i, fault.Field), "%s", fault.Problem)
		}
	}
	if err := faults.err(); err != nil {
		return err
	}
	earlier := *f.history
	earlier.visits = slices.DeleteFunc(slices.Clone(f.visits), func(v *campaignv1.Visit) bool { return v.GetName() == p.GetName() })
	st := f.standingOn(f.Context, &earlier, on)
	p.Looked, p.Breaches = st.looked(p), st.tooEarly(p.GetFelledStemIds())
	return nil
}

// dayIn is the day at a place.
func dayIn(t time.Time, zone *time.Location) civil.Date {
	year, month, day := t.In(zone).Date()
	return civil.Of(year, month, day)
}

// looked is what a visit amounts to, and what it lacks.
func (st *standing) looked(p *campaignv1.Visit) string {
	look, lacks := st.judge(p)
	if len(lacks) == 0 {
		return look.String()
	}
	return look.String() + ": " + strings.Join(lacks, "; ")
}

// judge holds a visit against the area that was to be inspected on its day.
func (st *standing) judge(p *campaignv1.Visit) (after.Look, []string) {
	v := st.visit(p)
	if p.GetKind() != campaignv1.VisitKind_VISIT_KIND_INSPECTION && len(v.Finds) == 0 {
		return after.NotLooked, []string{"a day of felling is no inspection: keep a visit of its own for that"}
	}
	core := after.Visit{ID: v.ID, On: v.On, Minutes: v.Minutes, Walked: v.Walked}
	for _, r := range v.Finds {
		core.Finds = append(core.Finds, after.Find{ID: r.ID, Kind: r.Kind, Stems: 1})
	}
	return after.Judge(&core, &st.at(v.On).Area, &st.Demand)
}

// tooEarly names rows that should not have been felled on the day.
func (st *standing) tooEarly(felled []string) []string {
	var list []string
	if len(felled) == 0 {
		return nil
	}
	may := map[string]after.Felling{}
	for _, r := range st.now().Felling {
		may[r.ID] = r.Felling
	}
	for _, id := range felled {
		f, treated := may[id]
		row, known := st.rows[id]
		switch {
		case !known:
			list = append(list, fmt.Sprintf("felled %s, which no survey and no visit names", quoted(id)))
			continue
		case st.gone(id):
			list = append(list, fmt.Sprintf("felled %s, which was felled before", quoted(id)))
			continue
		case !treated:
			f = after.Fell(&after.Stem{ID: id, Suckering: row.suckering}, &st.Felling, st.day)
		}
		switch {
		case !f.From.Known():
			list = append(list, fmt.Sprintf("felled %s on %s: %s", quoted(id), st.day, f.Why))
		case !f.MayFell(st.day):
			list = append(list, fmt.Sprintf("felled %s on %s, before %s: %s", quoted(id), st.day, f.From, f.Why))
		}
	}
	slices.Sort(list)
	return list
}
