package api

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/campaign/after"
	"example.org/rootward/server/campaign/season"
	"example.org/rootward/server/treatment"
)

// planning is a plan while it is made.
type planning struct {
	*Campaign
	*campaignv1.Plan
	crews []season.Crew
	rates map[rules.Method]rate
	now   time.Time
	today civil.Date // at any of the sites
	work  []*planned
	sets  map[string]*rules.Set // that governed, by digest
}

// planned is a job with what its days depend on.
type planned struct {
	*campaignv1.Job
	turn    season.Turn
	method  rules.Method
	effects []effect
	from    civil.Date
	until   civil.Date
}

// effect is what a rule says that a treatment was told of.
type effect struct {
	rules.Effect
	source string
}

// site plans what lives on a site, and no open work treats.
func (w *planning) site(ctx context.Context, h *history, from civil.Date) {
	name := h.site.GetName()
	day := firstDay(from, w.now, h.site)
	// As it stands today: work that is open now is not missed by a plan that begins later.
	today := dayIn(w.now, zoneOf(h.site))
	if w.today == 0 || today < w.today {
		w.today = today
	}
	st := w.standingOn(ctx, h, today)
	now := st.now()
	if len(now.Cut) > 0 {
		w.remark("%s: felled before a treatment, and not seen since: %s; %s", name, strings.Join(slices.Sorted(maps.Keys(now.Cut)), ", "), surveySprouts)
	}
	if len(now.Unplanned) == 0 {
		w.remark("%s has nothing to plan on %s: it is %s", name, day, now.State)
		return
	}
	var stems []*treatmentv1.Stem
	for _, id := range now.Unplanned {
		stems = append(stems, st.completed(st.rows[id]))
	}
	o := openings{Campaign: w.Campaign, kept: h.site, with: w.GetSettings(), from: day, applied: st.committedIn}
	rows := o.prescribe(ctx, stems)
	w.Purchases = append(w.Purchases, o.purchases...)
	w.note(o.sets)
	w.group(st, stems, rows)
}

func (w *planning) remark(format string, args ...any) {
	w.Remarks = append(w.Remarks, fmt.Sprintf(format, args...))
}

func (w *planning) note(sets []*rules.Set) {
	for _, set := range sets {
		w.sets[set.Ref.Digest] = set
	}
}

// group makes jobs of rows that get the same treatment, in the same turn and opening, and
// misfits of those that get none.
func (w *planning) group(st *standing, stems []*treatmentv1.Stem, rows []opened) {
	turns := season.Turns(turnsOf(st, rows, stems))
	jobs, misfits := map[string]*planned{}, map[string]*campaignv1.Misfit{}
	var order []*planned
	for i := range rows {
		row := &rows[i]
		if !row.prescribed() {
			w.leave(misfits, st, row, stems[i])
			continue
		}
		known := st.rows[stems[i].GetStemId()]
		// One treatment, as the rules see it: of one species, on one land use.
		key := fmt.Sprint(turns[i], row.on, known.source, "\x00", known.stem.Species, "\x00", stems[i].GetLandUse(), string(deterministic(row.words.GetChoice())), string(deterministic(row.words.GetDates())), conditionsOf(row.words))
		j := jobs[key]
		if j == nil {
			j = w.job(st, row, known.source, turns[i])
			jobs[key] = j
			order = append(order, j)
		}
		j.add(row, &known.stem)
	}
	w.work = append(w.work, order...)
}

func deterministic(m proto.Message) []byte {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		panic(err) // it was made here
	}
	return b
}

func turnsOf(st *standing, rows []opened, stems []*treatmentv1.Stem) []season.Standing {
	list := make([]season.Standing, len(rows))
	for i := range rows {
		r := st.rows[stems[i].GetStemId()]
		list[i].Method, _ = rulewire.Decode[rules.Method](rows[i].words.GetChoice().GetMethod())
		list[i].Seeds = r.stem.SeedBearing == rules.Yes
		if at := r.ground.At; at != nil {
			list[i].Placed, list[i].Lat, list[i].Lon = true, at.Latitude, at.Longitude
		}
	}
	return list
}

// leave names a row without a treatment.
func (w *planning) leave(misfits map[string]*campaignv1.Misfit, st *standing, row *opened, stem *treatmentv1.Stem) {
	why := row.words.GetWhy()
	if row.words == nil {
		why = "the row cannot be read as a stem: correct the survey or the visit"
	}
	m := misfits[why]
	if m == nil {
		m = &campaignv1.Misfit{Site: st.history.site.GetName(), Why: why, Change: strings.Join(row.words.GetRemedies(), "; ")}
		misfits[why] = m
		w.Misfits = append(w.Misfits, m)
	}
	m.StemIds = append(m.StemIds, stem.GetStemId())
	m.Stems += st.rows[stem.GetStemId()].stem.Stems()
}

// conditionsOf is what has to hold on the day, with its source.
func conditionsOf(e *treatmentv1.Explanation) []string {
	var list []string
	for _, f := range e.GetFindings() {
		if f.GetDecision() == commonv1.Decision_DECISION_CONDITIONAL || f.GetUncertain() {
			list = append(list, fmt.Sprintf("%s [%s, %s/%s]", f.GetText(), f.GetCitation(), f.GetRuleSet().GetRuleSetId(), f.GetRuleId()))
		}
	}
	return list
}

func (w *planning) job(st *standing, row *opened, source string, turn season.Turn) *planned {
	site := st.history.site.GetName()
	_, short, _ := strings.Cut(site, "/")
	n := 1
	for _, other := range w.work {
		if other.GetSite() == site {
			n++
		}
	}
	j := &planned{Job: &campaignv1.Job{
		Site: site, Survey: source, Choice: row.words.GetChoice(), TreatFrom: rulewire.EncodeDate(row.on), TreatUntil: row.words.GetDates().GetTreatUntil(),
		Order: turn.String(), Conditions: conditionsOf(row.words), DaysToFelling: after.DaysToFelling,
	}, turn: turn, from: row.on}
	j.JobId = short // numbered in the end
	j.method, _ = rulewire.Decode[rules.Method](row.words.GetChoice().GetMethod())
	j.until, _ = rulewire.DecodeDate(row.words.GetDates().GetTreatUntil())
	if fell, _ := rulewire.DecodeDate(row.words.GetDates().GetFellFrom()); fell.Known() {
		j.DaysToFelling = int32(fell - row.on)
	}
	for _, f := range row.words.GetFindings() {
		set := w.sets[f.GetRuleSet().GetDigest()]
		if set == nil {
			continue
		}
		for i := range set.Table.Rows {
			if r := &set.Table.Rows[i]; r.ID == f.GetRuleId() {
				j.effects = append(j.effects, effect{r.Effect, fmt.Sprintf("%s [%s/%s]", r.Citation, set.Ref.ID, r.ID)})
			}
		}
	}
	return j
}

func (j *planned) add(row *opened, stem *treatment.Stem) {
	d := row.answer.GetDose()
	n := stem.Stems() // what is pulled by hand has no dose
	j.Rows = append(j.Rows, &campaignv1.PlannedRow{StemId: stem.ID, Stems: n, Cuts: d.GetCuts(), MixMl: d.GetMixMl(), ProductMl: d.GetProductMl(), AeG: d.GetAeG()})
	j.Stems += n
	j.MixL += d.GetMixMl() / 1000
	j.ProductMl += d.GetProductMl()
	j.AeG += d.GetAeG()
}

// finish puts the jobs in order and into days.
func (w *planning) finish() {
	slices.SortStableFunc(w.work, func(a, b *planned) int {
		return cmp.Or(cmp.Compare(a.turn, b.turn), cmp.Compare(a.from, b.from), cmp.Compare(a.GetSite(), b.GetSite()))
	})
	s := &season.Season{Today: w.today, Crews: w.crews, Rain: defaultRain}
	if w.RainDaysPercent != nil {
		s.Rain = int(math.Ceil(w.GetRainDaysPercent()))
	} else {
		w.remark("rain takes %d %% of the days: a default of common practice, without a source", defaultRain)
	}
	number := map[string]int{}
	for _, j := range w.work {
		number[j.GetSite()]++
		j.JobId = fmt.Sprintf("%s-%d", j.JobId, number[j.GetSite()])
		work := w.timeOf(j)
		j.Hours = work.Hours()
		w.Jobs = append(w.Jobs, j.Job)
		s.Jobs = append(s.Jobs, season.Job{
			ID: j.GetJobId(), Site: j.GetSite(), Method: j.method, Stems: j.GetStems(), Work: work, From: j.from, Until: j.until,
			Notice: j.noticeDays(), EntryDays: int(j.GetChoice().GetEntryIntervalH()+23) / 24,
		})
	}
	shifts, misfits := s.Plan()
	for _, shift := range shifts {
		w.Shifts = append(w.Shifts, &campaignv1.Shift{
			Date: rulewire.EncodeDate(shift.Day), CrewId: shift.Crew, JobId: shift.Job, Hours: shift.Work.Hours(), Stems: shift.Stems, Spare: shift.Spare,
		})
	}
	w.misfits(misfits)
	for _, j := range w.work {
		w.documents(j, shifts)
	}
	w.Purchases = together(w.GetPurchases())
	for _, set := range w.sets {
		w.RuleSets = append(w.RuleSets, rulewire.EncodeRef(set.Ref))
	}
	slices.SortFunc(w.RuleSets, func(a, b *commonv1.RuleSetRef) int { return cmp.Compare(a.GetRuleSetId(), b.GetRuleSetId()) })
}

func (w *planning) misfits(list []season.Misfit) {
	for _, m := range list {
		i := slices.IndexFunc(w.work, func(j *planned) bool { return j.GetJobId() == m.Job })
		w.Misfits = append(w.Misfits, &campaignv1.Misfit{
			JobId: m.Job, Site: w.work[i].GetSite(), Hours: m.Work.Hours(), Stems: m.Stems, Why: m.Why, Change: m.Change, Cost: m.Cost,
		})
	}
}

// timeOf is the working time of a job, rounded up to a minute.
func (w *planning) timeOf(j *planned) season.Minutes {
	r, stated := w.rates[j.method]
	if !stated {
		r = rate{perHour: cmp.Or(defaultRates[j.method], slowest), isDefault: true}
		w.rates[j.method] = r
		w.remark("%s goes at %g stems an hour of one person: a default of common practice, without a source; state your own rate", spacedWord(j.method), r.perHour)
	}
	if r.costPerStem > 0 {
		w.remark("%s: %s at %g each cost %.2f", j.GetJobId(), rules.Several(j.GetStems(), "stem"), r.costPerStem, float64(j.GetStems())*r.costPerStem)
	}
	return season.Minutes(math.Ceil(60 * (r.setup + float64(j.GetStems())/r.perHour)))
}

func spacedWord(m rules.Method) string { return strings.ReplaceAll(m.String(), "_", " ") }

// together sums what is bought of one item, and rounds it up to containers once.
func together(list []*treatmentv1.Purchase) []*treatmentv1.Purchase {
	var sums []*treatmentv1.Purchase
	for _, p := range list {
		i := slices.IndexFunc(sums, func(s *treatmentv1.Purchase) bool { return s.GetItemId() == p.GetItemId() })
		if i < 0 {
			sums = append(sums, proto.CloneOf(p))
			continue
		}
		sums[i].NeededL += p.GetNeededL()
		sums[i].SpareL += p.GetSpareL()
	}
	for _, s := range sums {
		litres := s.GetContainerGal() * litresPerGallon
		if litres > 0 {
			wanted := s.GetNeededL() + s.GetSpareL()
			s.Containers = int64(math.Ceil(wanted/litres - 1e-9))
			s.SurplusL = float64(s.GetContainers())*litres - wanted
		}
	}
	slices.SortFunc(sums, func(a, b *treatmentv1.Purchase) int { return cmp.Compare(a.GetItemId(), b.GetItemId()) })
	return sums
}

const litresPerGallon = 3.785411784 // US, exact

// keepTables keeps the rule tables by which was decided, for what is checked later.
func (s *Campaign) keepTables(ctx context.Context, sets map[string]*rules.Set) error {
	for digest, set := range sets {
		if err := s.ledger.PutTable(ctx, digest, deterministic(rulewire.EncodeTable(&set.Table))); err != nil {
			return err
		}
	}
	return nil
}
