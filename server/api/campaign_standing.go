package api

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign"
	"example.org/rootward/server/campaign/after"
	"example.org/rootward/server/treatment"
)

// standing is a site as the campaign core has it, with what it was made from.
type standing struct {
	campaign.Site
	*history
	day       civil.Date
	law       *rules.Governing // of the day
	zone      *time.Location
	catalogue *treatment.Catalogue
	sights    map[string][]*knownRow // by id, up to the day, in the order of their days
	rows      map[string]*knownRow   // the last of each
	stands    map[civil.Date]*campaign.Standing
}

// now is how the site stands on the day.
func (st *standing) now() *campaign.Standing { return st.at(st.day) }

// at is how the site stood on a day. Merging an area of many stems takes a while, and is
// done once a day.
func (st *standing) at(day civil.Date) *campaign.Standing {
	if st.stands[day] == nil {
		st.stands[day] = st.On(day)
	}
	return st.stands[day]
}

// knownRow is a row of a survey or a visit.
type knownRow struct {
	message   *treatmentv1.Stem
	stem      treatment.Stem
	suckering rules.Suckering
	kind      campaignv1.FindKind
	source    string // name of the survey or visit that saw it last
	on        civil.Date
	ground    after.Ground
}

// standingOn makes the site of the core from what is kept, under the law of a day.
func (s *Campaign) standingOn(ctx context.Context, h *history, day civil.Date) *standing {
	var f faults
	law := s.prescriber.current()
	facts := f.position("", h.site.LatitudeDeg, h.site.LongitudeDeg, h.site.ElevationM)
	st := &standing{
		history: h, day: day, zone: zoneOf(h.site), catalogue: s.prescriber.catalogue, sights: map[string][]*knownRow{}, rows: map[string]*knownRow{}, stands: map[civil.Date]*campaign.Standing{},
		law: law.at(ctx, law.Govern(h.site.GetPlace(), day), facts),
	}
	st.addSurveys()
	st.addPlans()
	st.addVisits()
	st.settle()
	st.addRecords()
	st.demand(&f)
	return st
}

// demand is what the site and the law ask for.
func (st *standing) demand(f *faults) {
	site := st.history.site
	st.ToBeFelled = word[rules.YesNo](f, "", site.GetToBeFelled())
	st.Wanted, st.SuckerReach = cleanSeasonsWanted(site), after.SuckerReach
	st.Demand = after.Demand{MinutesPerHectare: int64(math.Ceil(searchPerHectare(site)))}
	if w, ok := after.LeafWindow(allInLeaf{st.law, st.treatedSpecies()}, "", yearOf(st.day)); ok {
		st.Demand.Leaf, st.Felling.Leaf = w, &w
	}
	if w := f.fellingSeason(site); site.GetFellingSeason() != nil {
		st.Felling.Season = &w
	}
	for _, p := range st.plans {
		for _, j := range p.GetJobs() {
			if j.GetSite() == site.GetName() {
				st.Felling.Wait = max(st.Felling.Wait, int(j.GetDaysToFelling()))
			}
		}
	}
}

func yearOf(d civil.Date) int {
	year, _, _ := d.Parts()
	return year
}

// allInLeaf tells a day to be of the growing season if it is for all of the species.
type allInLeaf struct {
	law     *rules.Governing
	species []string
}

// SeasonOn is rules.Growing where all are in leaf, and else not known.
func (a allInLeaf) SeasonOn(day civil.Date, _ string) (rules.Season, bool) {
	for _, name := range a.species {
		if s, known := a.law.SeasonOn(day, name); !known || s != rules.Growing && s != rules.Translocation {
			return 0, false
		}
	}
	return rules.Growing, len(a.species) > 0
}

// treatedSpecies are those that were treated, and all that are known before that.
func (st *standing) treatedSpecies() []string {
	var all, treated []string
	for _, r := range st.rows {
		if r.stem.Species != "" {
			all = append(all, r.stem.Species)
		}
	}
	for _, u := range st.Uses {
		for _, id := range u.Rows {
			if r := st.rows[id]; r != nil && r.stem.Species != "" {
				treated = append(treated, r.stem.Species)
			}
		}
	}
	if len(treated) > 0 {
		all = treated
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// row reads a stem of a survey or visit, and notes it if it is of the day or before.
func (st *standing) row(p *treatmentv1.Stem, kind campaignv1.FindKind, source string, on civil.Date) campaign.Row {
	read := readStem(p)
	r := &knownRow{message: p, stem: read.stem, kind: kind, source: source, on: on, ground: groundOf(read)}
	for i := range st.catalogue.Species {
		if c := &st.catalogue.Species[i]; c.Name == r.stem.Species {
			r.suckering = c.Suckering
		}
	}
	if on <= st.day {
		st.sights[r.stem.ID] = append(st.sights[r.stem.ID], r)
	}
	return campaign.Row{ID: r.stem.ID, Suckering: r.suckering, Ground: r.ground, Kind: kindOf(kind)}
}

// settle puts the sights of each row in order. What a later one does not tell of species
// and place is as it was before.
func (st *standing) settle() {
	for id, list := range st.sights {
		slices.SortStableFunc(list, func(a, b *knownRow) int { return cmp.Compare(a.on, b.on) })
		for i, r := range list[1:] {
			old := list[i]
			if r.stem.Species == "" {
				r.stem.Species, r.suckering = old.stem.Species, old.suckering
			}
			if r.ground.At == nil && len(r.ground.Outline) == 0 {
				r.ground = old.ground
			}
		}
		st.rows[id] = list[len(list)-1]
	}
}

// rowAt is a row as it was known on a day, nil if it was not.
func (st *standing) rowAt(id string, day civil.Date) *knownRow {
	var last *knownRow
	for _, r := range st.sights[id] {
		if r.on <= day {
			last = r
		}
	}
	return last
}

// groundOf is where a row stands. The place of one of several stems is not that of the
// others: without an area, an outline or an uncertainty nobody knows how far they reach.
func groundOf(r *row) after.Ground {
	g := after.Ground{ID: r.stem.ID, Uncertainty: r.position.uncertainty, Size: r.stem.Area}
	alone := r.stem.Stems() == 1 || r.stem.Area > 0 || r.position.hasUncertainty
	if r.position.known && alone {
		g.At = &after.Position{Latitude: r.position.at.Latitude, Longitude: r.position.at.Longitude}
	}
	for _, part := range r.position.outline {
		rings := make([][]after.Position, len(part))
		for i, ring := range part {
			for _, p := range ring {
				rings[i] = append(rings[i], after.Position{Latitude: p.Latitude, Longitude: p.Longitude})
			}
		}
		g.Outline = append(g.Outline, rings)
	}
	return g
}

// kindOf is what was found; what is not stated stays so, and counts as alive.
func kindOf(k campaignv1.FindKind) after.Kind {
	return map[campaignv1.FindKind]after.Kind{
		campaignv1.FindKind_FIND_KIND_STUMP_SPROUT: after.StumpSprout, campaignv1.FindKind_FIND_KIND_ROOT_SUCKER: after.RootSucker,
		campaignv1.FindKind_FIND_KIND_SURVIVOR: after.Survivor, campaignv1.FindKind_FIND_KIND_MISSED_STEM: after.MissedStem,
		campaignv1.FindKind_FIND_KIND_SEEDLING: after.Seedling, campaignv1.FindKind_FIND_KIND_DOUBTFUL: after.Doubtful,
		campaignv1.FindKind_FIND_KIND_DEAD: after.Dead,
	}[k]
}

func (st *standing) addSurveys() {
	for _, p := range st.surveys {
		on, _ := rulewire.DecodeDate(p.GetDate())
		survey := campaign.Survey{ID: p.GetName(), On: on, Sampled: p.GetSample() != nil}
		for _, stem := range p.GetStems() {
			survey.Rows = append(survey.Rows, st.row(stem, 0, p.GetName(), on))
		}
		st.Surveys = append(st.Surveys, survey)
	}
}

func (st *standing) addVisits() {
	for _, p := range st.visits {
		v := st.visit(p)
		for i, find := range p.GetFound() {
			v.Finds[i] = st.row(find.GetStem(), find.GetKind(), p.GetName(), v.On)
		}
		st.Visits = append(st.Visits, v)
	}
}

// visit is a visit as the core has it. Of a day of felling what it found counts, and
// not that it found nothing.
func (st *standing) visit(p *campaignv1.Visit) campaign.Visit {
	on, _ := rulewire.DecodeDate(p.GetDate())
	v := campaign.Visit{ID: p.GetName(), On: on, Felled: p.GetFelledStemIds()}
	for _, find := range p.GetFound() {
		read := readStem(find.GetStem())
		v.Finds = append(v.Finds, campaign.Row{ID: read.stem.ID, Ground: groundOf(read), Kind: kindOf(find.GetKind())})
	}
	inspection := p.GetKind() == campaignv1.VisitKind_VISIT_KIND_INSPECTION
	v.Looked = inspection || slices.ContainsFunc(v.Finds, func(r campaign.Row) bool { return r.Kind.Alive() })
	if inspection {
		v.Minutes = int64(p.GetSearchMin())
		// Rounded down: half a share is not the whole.
		v.Walked = quantity.PerMillion(math.Floor(p.GetSearchedPercent() * 10_000))
	}
	return v
}

// workID names planned work.
func workID(plan, job string) string { return plan + "/" + job }

func (st *standing) addPlans() {
	for _, p := range st.plans {
		from, _ := rulewire.DecodeDate(p.GetFrom())
		for _, j := range p.GetJobs() {
			if j.GetSite() != st.history.site.GetName() {
				continue
			}
			w := campaign.Work{ID: workID(p.GetName(), j.GetJobId()), PlannedOn: from, Rows: rowsOf(j)}
			w.From, _ = rulewire.DecodeDate(j.GetTreatFrom())
			w.Until = lastDay(p, j)
			st.Works = append(st.Works, w)
		}
	}
}

// lastDay is the last day on which a job may be done by its plan. What never closes is of the
// calendar year in which it opens, and of the days that its plan gives it: or no later plan
// would take what was left undone (common practice, no source).
func lastDay(p *campaignv1.Plan, j *campaignv1.Job) civil.Date {
	if until, _ := rulewire.DecodeDate(j.GetTreatUntil()); until.Known() {
		return until
	}
	from, _ := rulewire.DecodeDate(j.GetTreatFrom())
	last := civil.Of(yearOf(from), 12, 31)
	for _, s := range p.GetShifts() {
		if s.GetJobId() == j.GetJobId() {
			on, _ := rulewire.DecodeDate(s.GetDate())
			last = max(last, on)
		}
	}
	return last
}

func rowsOf(j *campaignv1.Job) []string {
	var ids []string
	for _, r := range j.GetRows() {
		ids = append(ids, r.GetStemId())
	}
	return ids
}

// addRecords adds the uses. What is treated as a stump was felled on that day.
func (st *standing) addRecords() {
	for _, p := range st.records {
		u := st.use(p)
		st.Uses = append(st.Uses, u)
		if p.GetMethod() == commonv1.Method_METHOD_CUT_STUMP {
			st.Visits = append(st.Visits, campaign.Visit{ID: p.GetName(), On: u.On, Felled: u.Rows})
		}
	}
}

func (st *standing) use(p *campaignv1.Record) campaign.Use {
	u := campaign.Use{ID: p.GetName(), Work: workID(p.GetPlan(), p.GetJobId()), Rows: p.GetStemIds(), Systemic: p.GetFormulationId() != ""}
	if p.GetEndTime() != nil {
		u.On = dayIn(p.GetEndTime().AsTime(), st.zone)
	}
	if _, job := st.job(p.GetPlan(), p.GetJobId()); len(u.Rows) == 0 && job != nil {
		u.Rows = rowsOf(job)
	}
	return u
}

// gone reports whether a row was felled by the day.
func (st *standing) gone(id string) bool {
	return slices.ContainsFunc(st.Visits, func(v campaign.Visit) bool { return v.On <= st.day && slices.Contains(v.Felled, id) })
}
