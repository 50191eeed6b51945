package api

import (
	"context"
	"fmt"
	"slices"
	"strings"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign"
	"example.org/rootward/server/campaign/after"
)

// GetProgress says how a site stands on a day. Nothing of it is kept: it is worked out
// anew from what is, under the law of that day.
func (s *Campaign) GetProgress(ctx context.Context, q *campaignv1.GetProgressRequest) (*campaignv1.GetProgressResponse, error) {
	if err := s.keeping(); err != nil {
		return nil, err
	}
	var f faults
	on := f.day("date", q.GetDate())
	site, ok := strings.CutSuffix(q.GetName(), "/progress")
	f.unless(ok, "name", "%s is not a name of the form %q", quoted(q.GetName()), "sites/ID/progress")
	if ok {
		f.resource("name", site, "sites")
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	h, err := s.history(ctx, site)
	if err != nil {
		return nil, err
	}
	st := s.standingOn(ctx, h, on)
	p := st.progress()
	p.Due = s.due(ctx, st)
	p.Totals, p.Thresholds = st.totals(st.records, st.day)
	return &campaignv1.GetProgressResponse{Progress: p}, nil
}

// progress writes how the site stands.
func (st *standing) progress() *campaignv1.Progress {
	now := st.now()
	p := &campaignv1.Progress{
		Name: st.history.site.GetName() + "/progress", Date: rulewire.EncodeDate(st.day),
		State: campaignv1.SiteState(now.State), NotFinished: now.NotFinished,
		CleanSeasons: int32(now.Finish.Clean), CleanSeasonsWanted: int32(st.Wanted),
		Decline: st.decline(), InspectionArea: st.writeArea(now), ToMend: st.toMend(),
	}
	for _, step := range now.Steps {
		p.Steps = append(p.Steps, &campaignv1.Step{What: step.What, From: rulewire.EncodeDate(step.From), Until: rulewire.EncodeDate(step.Until), Why: step.Why})
	}
	if step := st.onceMore(now); step != nil {
		p.Steps = append(p.Steps, step)
	}
	for _, s := range now.Finish.Seasons {
		p.Seasons = append(p.Seasons, writeSeason(&s))
	}
	for _, r := range now.Felling {
		p.Felling = append(p.Felling, &campaignv1.FellingDate{StemId: r.ID, From: rulewire.EncodeDate(r.From), Until: rulewire.EncodeDate(r.Until), Why: r.Why})
	}
	for _, day := range st.roundsBegan() {
		p.Treated = append(p.Treated, rulewire.EncodeDate(day))
	}
	return p
}

// onceMore is the look at a finished site some years after its last treatment; nil if
// that is not due, or past.
func (st *standing) onceMore(now *campaign.Standing) *campaignv1.Step {
	var last civil.Date
	for _, u := range st.Uses {
		if u.On <= st.day {
			last = max(last, u.On)
		}
	}
	from, until, known := after.LookAgain(st.Demand.Leaf, last)
	if now.State != campaign.Finished || !known || until.Until < st.day {
		return nil
	}
	return &campaignv1.Step{
		What: "look once more", From: rulewire.EncodeDate(max(from.From, st.day)), Until: rulewire.EncodeDate(until.Until),
		Why: fmt.Sprintf("two to five years after the last treatment, of %s, what is said to be dead is looked at again", last),
	}
}

func writeSeason(s *after.SeasonRecord) *campaignv1.GrowingSeason {
	p := &campaignv1.GrowingSeason{
		Year: int32(yearOf(s.From)), State: s.State.String(), Why: s.Why,
		From: rulewire.EncodeDate(s.From), Until: rulewire.EncodeDate(s.Until),
	}
	if s.State == after.SeasonOpen {
		p.State = "under way"
	}
	return p
}

func (st *standing) writeArea(now *campaign.Standing) *campaignv1.InspectionArea {
	a := &now.Area
	p := &campaignv1.InspectionArea{RadiusM: st.SuckerReach.Metres(), WithoutPosition: a.Unplaced, Unknown: a.Unknown()}
	if a.Known() {
		size := a.Size.SquareMetres()
		p.AreaM2 = &size
	}
	if a.Widest > 0 {
		widest := a.Widest.Metres()
		p.UncertaintyM, p.UncertainStemId = &widest, a.WidestID
	}
	if minutes, known := st.Demand.MinutesFor(a); known {
		p.SearchMin = &minutes
	}
	for _, polygon := range a.Rings {
		for i, ring := range polygon {
			p.Rings = append(p.Rings, writeRing(ring, i > 0))
		}
	}
	p.Places = st.places()
	return p
}

func writeRing(ring []after.Position, hole bool) *treatmentv1.Ring {
	p := &treatmentv1.Ring{Hole: hole}
	for _, at := range ring {
		p.LatitudeDeg, p.LongitudeDeg = append(p.LatitudeDeg, at.Latitude), append(p.LongitudeDeg, at.Longitude)
	}
	return p
}

// places are treated rows, and those found alive, by id.
func (st *standing) places() []*campaignv1.InspectionPlace {
	treated := map[string]civil.Date{}
	for _, u := range st.Uses {
		for _, id := range u.Rows {
			if u.On <= st.day {
				treated[id] = max(treated[id], u.On)
			}
		}
	}
	var list []*campaignv1.InspectionPlace
	for id, r := range st.rows {
		on, isTreated := treated[id]
		state := "treated"
		switch {
		case st.gone(id) || r.kind == campaignv1.FindKind_FIND_KIND_DEAD:
			state = "gone"
		case r.source != "" && kindOf(r.kind) != 0 && r.on > on, r.kind == 0 && isTreated && r.on > on:
			state = "alive"
		case !isTreated:
			continue
		}
		if at := r.ground.At; at != nil {
			list = append(list, &campaignv1.InspectionPlace{StemId: id, LatitudeDeg: at.Latitude, LongitudeDeg: at.Longitude, State: state})
		}
	}
	slices.SortFunc(list, func(a, b *campaignv1.InspectionPlace) int { return strings.Compare(a.GetStemId(), b.GetStemId()) })
	return list
}

// toMend names what is missing in records, and where records and visits depart from
// what was due. A departure stays: only a correction that says otherwise takes it away.
func (st *standing) toMend() []string {
	var list []string
	for _, p := range st.records {
		if p.GetEndTime() != nil && dayIn(p.GetEndTime().AsTime(), st.zone) > st.day {
			continue
		}
		for _, d := range p.GetDuties() {
			if len(d.GetMissing()) > 0 {
				list = append(list, fmt.Sprintf("%s lacks %s, which %s asks for", p.GetName(), strings.Join(d.GetMissing(), ", "), d.GetRule()))
			}
			if d.GetDueTime() != nil && !d.GetOnTime() {
				list = append(list, fmt.Sprintf("%s was kept after %s, when %s asks for it", p.GetName(), d.GetDueTime().AsTime().In(st.zone).Format("2006-01-02 15:04"), d.GetRule()))
			}
		}
		for _, b := range p.GetBreaches() {
			list = append(list, p.GetName()+": "+b)
		}
	}
	for _, p := range st.visits {
		if on, _ := rulewire.DecodeDate(p.GetDate()); on > st.day {
			continue
		}
		for _, b := range p.GetBreaches() {
			list = append(list, p.GetName()+": "+b)
		}
	}
	return list
}
